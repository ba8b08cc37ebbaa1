"""`shimopt make` and `shimopt parts`."""

from __future__ import annotations

import json
from itertools import combinations_with_replacement
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.candidates.make_thickness import make_thickness, nearest_thickness
from tests.command import Run
from tests.jobs import shim
from tests.readme import ROOT
from tests.test_fit_command import DEMO, squeezed

DRAWER = f"{DEMO}/drawer.csv"


@pytest.mark.parametrize(
    ("sizes", "counts", "wanted", "fewest"),
    [
        # change making with limited counts (public test data, seen, recomputed by dynamic programming)
        ("10 15 20 30 50 100", "2 2 2 2 2 1", 175, 4),
        ("4 6 9", "1 2 1", 19, 3),
        ("18 9 23 20 59 61 70 75 76 30", "1 2 3 2 1 1 1 2 1 2", 190, 3),
        # plenty of each (public tables, seen, recomputed)
        ("1 3 4", "9 9 9", 6, 2),
        ("1 4 5 8 11", "9 9 9 9 9", 29, 4),
        ("16 17 23 24 39 40", "9 9 9 9 9 9", 100, 6),
        ("5 9 13", "9 9 9", 19, 3),
    ],
)
def test_the_fewest_pieces_are_found_where_greed_does_not_find_them(
    sizes: str, counts: str, wanted: int, fewest: int
) -> None:
    stock = [shim(size, int(count)) for size, count in zip(sizes.split(), counts.split(), strict=True)]
    stack = make_thickness(wanted * 25_400, 0, stock, 8)
    assert stack is not None
    assert len(stack) == fewest
    assert sum(int(sizes.split()[i]) for i in stack) == wanted


def test_what_cannot_be_made_is_not_made() -> None:
    # 43 is the Frobenius number of 6, 9 and 20
    assert make_thickness(43 * 25_400, 0, [shim(6, 9), shim(9, 9), shim(20, 9)], 8) is None


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 12), st.integers(0, 3)), min_size=1, max_size=4),
    st.integers(1, 30),
    st.integers(0, 3),
    st.integers(1, 4),
)
def test_a_made_thickness_is_that_of_brute_force(
    kinds: list[tuple[int, int]], wanted: int, tolerance: int, most: int
) -> None:
    stock = [shim(size, count, name=f"S{at}") for at, (size, count) in enumerate(kinds)]
    every = [
        stack
        for pieces in range(most + 1)
        for stack in combinations_with_replacement(range(len(kinds)), pieces)
        if all(stack.count(i) <= kinds[i][1] for i in set(stack))
    ]

    def off(stack: tuple[int, ...]) -> int:
        return abs(sum(kinds[i][0] for i in stack) - wanted)

    within = [stack for stack in every if stack and off(stack) <= tolerance]
    made = make_thickness(wanted * 25_400, tolerance * 25_400, stock, most)
    assert made == min(within, key=lambda s: (len(s), off(s), s), default=None)
    assert off(nearest_thickness(wanted * 25_400, stock, most)) == min(map(off, every))


def test_rings_of_different_bores_are_never_put_together() -> None:
    stock = [
        shim("0.3", 1, unit="mm", inner=50_200_000),
        shim("0.6", 1, unit="mm", inner=56_200_000),
        shim("0.2", 3, unit="mm", inner=50_200_000),
    ]
    assert make_thickness(900_000, 0, stock, 4) == (0, 2, 2, 2)
    assert make_thickness(1_100_000, 0, stock, 4) is None
    assert nearest_thickness(1_100_000, stock, 4) == (0, 2, 2, 2)


def test_make_says_what_it_took_and_how_sure_it_is(run: Run) -> None:
    code, out, _ = run("make", "10 thou", "--from", DRAWER, "--unit", "thou")
    assert code == 0
    assert out.startswith("R-07 + R-03 makes 10 thou.\n")
    assert "Taken as exact, for no tolerance is stated: 2 of 2 pieces." in out
    code, out, _ = run("make", "0.5mm", "--from", str(ROOT / "demo_data/quarry-tram/drawer.csv"), "--json")
    told = json.loads(out)
    # measured 0.489 ± 0.003 mm
    assert (code, told["made"]["stack"][0]["part"], told["made"]["thickness"]["low"]) == (0, "PS50-0.5", 0.486)


def test_make_names_the_nearest_where_nothing_is_within(run: Run) -> None:
    code, out, _ = run("make", "1 in", "--from", DRAWER, "--unit", "thou")
    assert code == 1
    # the four thickest of one bore: 8 + 8 + 4 + 4 are 24, and 1000 less 24 are 976; thin ones between thick ones
    assert "The nearest is W-08 + 2 x W-04 + W-08: 24 thou, 976 thou under." in squeezed(out)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["make", "9", "--from", DRAWER], "carries its own unit"),
        (["make", "0mm", "--from", DRAWER], "above zero"),
        (["make", "2mm", "--from", DRAWER, "--tolerance", "-1mm"], "not negative"),
        (["make", "2mm", "--from", "nowhere.csv"], "no such drawer"),
        (["make", "2mm"], "name yours: --drawer FILE"),
        (["make", "2mm", "--unit", "inch"], "did you mean in?"),
        (["parts", "--inner", "16furlong"], "this unit is too long for anything in a machine (here: 16furlong)"),
        (["parts", "--inner", "16"], "carries its own unit"),
        (["parts", "--inner", "17..16 mm"], "from the smaller to the larger"),
        (["parts", "--suits", DEMO], "names a job and one of its seats"),
        (["parts", "--suits", f"{DEMO}:plane end"], "did you mean plain end?"),
        (["parts", "--catalogue", "din989"], "did you mean din988?"),
    ],
)
def test_a_wrong_call_is_told_how_to_mend_it(run: Run, arguments: list[str], words: str) -> None:
    code, _, err = run(*arguments)
    assert code == 2
    assert words.casefold() in err.casefold()


def test_parts_are_found_by_size_and_say_where_their_figures_are_from(run: Run) -> None:
    code, out, _ = run("parts", "--inner", "16mm", "--thickness", "0.3 mm")
    assert code == 0
    # DIN 988: 16 x 22; 16 D12 is 16.050 to 16.230 (ISO 286: EI 50, IT12 180 µm)
    assert "PS 16x22x0.3 0.30 16.05-16.23" in squeezed(out)
    code, out, _ = run("parts", "--inner", "60..62mm", "--thickness", "0.3..0.5 mm")
    assert code == 0
    assert "wholly or partly unconfirmed (from memory or second hand" in squeezed(out)
    # the catalogue's own word stays in the file and in the JSON
    assert " unconfirmed\n" in out
    assert " memory\n" not in out
    assert max(map(len, out.splitlines())) <= 80
    assert run("parts", "--inner", "600mm")[0] == 1


def test_parts_that_suit_a_seat_leave_out_those_that_must_not_be_fitted(run: Run) -> None:
    _, out, _ = run("parts", "--suits", f"{DEMO}:plain end", "--json")
    parts = json.loads(out)["parts"]
    assert {part["verdict"] for part in parts} <= {"suits", "caution"}
    # on a shaft of 15.87 mm only a bore of 16 D12 leaves less than 0.4 mm of play
    bores = {part["inner"]["low"] for part in parts if part["inner"]}
    assert bores == {16.05}
    _, screen, _ = run("parts", "--suits", f"{DEMO}:plain end")
    unknown = sum(part["inner"] is None for part in parts)
    assert f"Not checked whether the bore suits: {unknown} parts" in squeezed(screen)


def test_a_shops_own_catalogue_is_searched_like_a_built_in_one(tmp_path: Path, run: Run) -> None:
    own = tmp_path / "own.csv"
    own.write_text("part,thickness_mm,inner_mm\nX-1,0.3,16.1\n", encoding="utf-8")
    assert "X-1" in run("parts", "--catalogue", str(own), "--inner", "16mm")[1]
    own.write_text("part,thickness_mm,inner_mm\nX-1,0.3,16 q1\n", encoding="utf-8")
    code, _, err = run("parts", "--catalogue", str(own))
    assert (code, "row 2, column inner_mm" in err) == (2, True)


def test_what_is_made_is_told_in_the_unit_that_was_asked_and_what_nobody_said_is_called_so(run: Run) -> None:
    said = " ".join(run("make", "10 thou", "--drawer", DRAWER)[1].split())
    # by hand: 0.02 mm are 0.79 thou
    assert "makes 10 thou. Asked for: 10 thou ± 0.79 thou (common practice); met exactly." in said
    said = " ".join(run("make", "10 thou", "--drawer", DRAWER, "--unit", "mm", "--tolerance", "0.01mm")[1].split())
    assert "Asked for: 0.254 mm ± 0.01 mm; met exactly." in said
