"""What changes at every place: the list is checked against jobs worked by hand, and replayed on jobs at random."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Changes, Shift, changes_of
from shimopt.cli.main import cli
from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.reasons.gap_reasons import NoSizeBetween
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.customer_words import because
from shimopt.words.headline import headline
from shimopt.words.letter_words import grounds
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.job_files import write_job
from tests.jobs import gap, job, shim, window
from tests.place_strategies import jobs_of_places

DEMOS, DATA = Path(__file__).parents[1] / "demo_data", Path(__file__).parent / "data"


def named(of: Job, changes: Changes, place: str) -> tuple[list[tuple[str, str]], list[str], list[tuple[str, str]]]:
    """Out and where to, stays, in and where from, by the names of the parts."""
    change, parts = changes.at[place], [line.part for line in of.stock]

    def name(line: int) -> str:
        return parts[line].piece or parts[line].name

    return (
        [(name(piece.line), piece.other) for piece in change.out],
        [name(line) for line in change.stays],
        [(name(piece.line), piece.other) for piece in change.into],
    )


def test_a_ring_that_comes_out_is_a_change_though_nothing_goes_in() -> None:
    # read 0.05 to 0.10 with S-20 in; without it 0.25 to 0.30, inside 0.15 to 0.35
    found = decide(load_job(DATA / "installed" / "ring-comes-out"))
    assert named(found.job, found.changes, "arm") == ([("S-20", DRAWER)], [], [])
    assert found.changes.opened == ["arm"]
    assert not found.changes.nothing


def test_five_of_twelve_buckets_are_opened_and_seven_stay() -> None:
    # the shims are worked by hand in test_moves: 1i and 3i, 1e and 4e change places, B-2.35 comes for 6i
    found = decide(load_job(DEMOS / "twelve-valve"))
    assert named(found.job, found.changes, "1 inlet") == ([("1i", "3 inlet")], [], [("3i", "3 inlet")])
    assert named(found.job, found.changes, "6 inlet") == ([("6i", DRAWER)], [], [("B-2.35", DRAWER)])
    assert named(found.job, found.changes, "2 inlet") == ([], ["2i"], [])
    changes = found.changes
    assert changes.opened == ["1 inlet", "1 exhaust", "3 inlet", "4 exhaust", "6 inlet"]
    assert (len(changes.left), changes.filled, changes.empty) == (7, [], [])
    assert len(changes.between_places) == 4
    assert (len(changes.going_in(DRAWER)), len(changes.to_drawer), changes.going_in(ORDER)) == (1, 1, [])
    totals = plan_object(found)["totals"]
    assert (totals["places_opened"], totals["places_left"], totals["pieces_between_places"]) == (5, 7, 4)


def test_a_place_that_held_nothing_is_filled_and_one_left_alone_is_empty() -> None:
    # 8 in a window of 1 to 5: 5 leave 3; 4 is inside as read
    one, two = gap("wide", 8, 8, window(1, 5)), gap("right", 4, 4, window(1, 5))
    of = job([one, two], [shim(5, 1)])
    found = decide(of)
    assert named(of, found.changes, "wide") == ([], [], [("S-5", DRAWER)])
    assert (found.changes.filled, found.changes.empty, found.changes.opened) == (["wide"], ["right"], [])


def test_pieces_that_only_change_sides_are_one_shift() -> None:
    # the winch's caps: S-10 of 0.10 goes from one to the other, no other piece moves
    of = load_job(DEMOS / "slipway-winch")
    name = {line.part.name: i for i, line in enumerate(of.stock) if not line.part.measured}
    big, small = name["BC-0.30"], name["BC-0.20"]
    right = of.place["right cap"].installed
    moved = changes_of(of, {"left cap": (big,), "right cap": tuple(sorted((*right, small)))})
    assert moved.shift == Shift("left cap", "right cap", of.stock[small].part.thickness.best, True)
    # with one piece more from the drawer it is not
    more = changes_of(of, {"left cap": (big,), "right cap": tuple(sorted((*right, small, name["BC-0.05"])))})
    assert more.shift is None


_SLOW = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])


@_SLOW
@given(jobs_of_places(buying=True), st.data())
def test_out_stays_and_in_make_the_stacks_and_every_piece_has_two_ends(of: Job, data: st.DataObject) -> None:
    """Any stacks, also such that no plan would choose."""
    lines = st.sampled_from(range(len(of.stock)))
    stacks = {place.name: tuple(sorted(data.draw(st.lists(lines, max_size=3)))) for place in of.places}
    changes = changes_of(of, stacks)
    for place in of.places:
        change = changes.at[place.name]
        out, into = [p.line for p in change.out], [p.line for p in change.into]
        assert sorted([*change.stays, *out]) == list(place.installed)
        assert sorted([*change.stays, *into]) == list(stacks[place.name])
        assert not {p.other for p in (*change.out, *change.into)} & {place.name}
        assert change.changed == (stacks[place.name] != place.installed)
    # what one place gives another gets
    given = Counter((p.line, c.place, p.other) for c in changes for p in c.out if p.other != DRAWER)
    got = Counter((p.line, p.other, c.place) for c in changes for p in c.into if p.other not in (BENCH, DRAWER, ORDER))
    assert given == got
    # and what came out for the reading goes in somewhere, or stays out; into its own place before another's piece
    on_bench = Counter((i, place.name) for place in of.places for i in place.came_out)
    from_bench = Counter((p.line, p.out_of) for p in changes.going_in(BENCH))
    stays_out = Counter((i, c.place) for c in changes for i in c.stays_out)
    assert from_bench + stays_out == on_bench
    assert not any(
        stays_out[p.line, c.place] for c in changes for p in c.into if p.other == BENCH and p.out_of != c.place
    )
    # nothing is ordered, and nothing goes back to the drawer, while it could serve
    for line, stock in enumerate(of.stock):
        taken = sum(p.line == line for p in changes.going_in(DRAWER))
        ordered = sum(p.line == line for p in changes.going_in(ORDER))
        back = sum(p.line == line for p in changes.to_drawer)
        lay, left = (sum(many for (i, _), many in of_it.items() if i == line) for of_it in (on_bench, stays_out))
        # what lies on the bench is counted as on hand, and lies in no drawer
        assert taken <= stock.on_hand - lay
        assert not ordered or taken == stock.on_hand - lay
        assert not (left and (ordered or taken))
        # from the bench a place takes its own, though another's comes out: nobody carries one like it over
        others = sum(p.line == line and p.out_of != c.place for c in changes for p in c.into if p.other == BENCH)
        assert not (back and (ordered or taken or others))


def test_the_screen_says_that_the_ring_comes_out() -> None:
    done = CliRunner().invoke(cli, ["plan", str(DATA / "installed" / "ring-comes-out")])
    assert done.exit_code == 0
    out = done.output
    assert out.splitlines()[0] == "Take S-20 out of arm: 0.05 to 0.10 becomes 0.25 to 0.30 mm."
    assert re.search(r"0\.05 to 0\.10 +S-20 +nothing", out)
    assert "Take out what is listed, then measure again" in out
    assert "Nothing to fit" not in out
    assert "Leave it as it is" not in out


def test_the_letter_says_that_the_ring_comes_out() -> None:
    content = letter_content(decide(load_job(DATA / "installed" / "ring-comes-out")), "mm", "2026-05-03")
    assert content["answer"] == "The clearance will be as it should be: what was in comes out."
    [told] = content["gaps"]
    assert told["status"] == "a shim comes out"
    # 0.15 less 0.075 is 0.075; 0.05 to 0.10 and 0.20 more are 0.25 to 0.30
    allowed = told["row"].pop(1)
    assert told["row"] == ["0.05 to 0.10 mm", "a shim comes out: S-20 out", "0.25 to 0.30 mm"]
    assert content["charts"][0]["alt"] == (
        f"arm: found 0.05 to 0.10 mm with S-20 in, then 0.25 to 0.30 mm with nothing in; allowed {allowed}"
    )


def test_why_tells_what_comes_out() -> None:
    out = CliRunner().invoke(cli, ["why", str(DATA / "installed" / "ring-comes-out"), "arm"]).output
    assert "arm: take S-20 out, fit nothing; that loosens it by 0.20 mm." in " ".join(out.split())


def test_the_letter_names_what_must_not_be_run_and_asks_for_no_shim_where_none_may_go() -> None:
    content = letter_content(decide(load_job(DATA / "advice" / "no-shims-allowed")), "thou", "2026-05-03")
    # 15 to 16 where 4 to 12 is allowed, read at 15.5: 3.5 over; 2.5 is 1.5 under; 13.5 is 1.5 over
    assert content["warnings"] == [
        "Do not run it like this: idler is 3.5 thou too loose, tumbler is 1.5 thou too tight, "
        "feed is 1.5 thou too loose.",
        "Do not turn it under power where it is too tight (tumbler): it can seize.",
    ]
    assert [gap["name"] for gap in content["gaps"]] == ["idler", "tumbler", "feed", "quadrant"]
    idler = " ".join(content["gaps"][0]["sentences"])
    assert "What is needed is a shim" not in idler
    # 16 less 12 to 15 less 4
    assert "It has to come down by 4 to 11 thou: restore the dimension that sets it" in idler
    assert content["watch"][0] == "First of all: idler, tumbler and feed."
    assert not any("running in and" in said or "quadrant" in said for said in content["watch"])


def test_the_letter_of_the_engine_says_five_get_others_and_seven_keep_theirs() -> None:
    content = letter_content(decide(load_job(DEMOS / "twelve-valve")), "mm", "2026-05-03")
    assert content["answer"] == (
        "All twelve clearances will be as they should be: five get other shims; seven keep their shims."
    )
    told = {gap["name"]: gap for gap in content["gaps"]}
    assert (told["1 inlet"]["status"], told["2 inlet"]["status"]) == ("gets another shim", "left as it is")
    # read at 0.30 to 0.32 with 2.446 in: 2.547 ± 0.002 in its place leaves 0.195 to 0.223
    assert told["1 inlet"]["row"] == [
        "0.30 to 0.32 mm",
        "0.15 to 0.25 mm",
        "gets another shim: B-2.55 for B-2.45",
        "0.195 to 0.223 mm",
    ]


def test_the_row_of_the_letter_says_what_stays_and_what_goes_over() -> None:
    """The winch keeps 0.30 and 0.50 mm; in the crown wheel 0.10 mm goes from one side to the other."""
    winch = letter_content(decide(load_job(DEMOS / "slipway-winch")), "mm", "2026-05-03")["gaps"][0]["row"]
    assert winch[2] == (
        "left cap: BC-0.05 for BC-0.20, BC-0.30 stays; right cap: BC-0.30 + BC-0.05 for BC-0.10 (measured 0.103 mm), "
        "BC-0.50 stays"
    )
    wheel = letter_content(decide(load_job(DATA / "crown-wheel")), "mm", "2026-05-03")["gaps"]
    done = {gap["name"]: gap["row"][2] for gap in wheel}
    assert done["backlash"].startswith(
        "to be settled first: S 0.10 from left side to right side; left side: 2 x S 0.50"
    )


def test_the_sheet_says_what_to_take_out_first_where_it_goes_and_where_the_new_pieces_are() -> None:
    content = sheet_content(decide(load_job(DEMOS / "slipway-winch")), "mm", "2026-05-03")
    # BC-0.20 lies in tin 5 by the drawer; the measured BC-0.10 has no tin
    assert {place["name"]: place["out"] for place in content["places"]} == {
        "left cap": ["BC-0.20 (0.20 mm), to the drawer (tin 5)"],
        "right cap": ["BC-0.10 (measured 0.103 mm), to the drawer"],
    }
    left, right = ([(piece["name"], piece["at"]) for piece in place["pieces"]] for place in content["places"])
    assert left == [("BC-0.30", "stays in"), ("BC-0.05", "tin 4")]
    assert right == [("BC-0.50", "stays in"), ("BC-0.05", "tin 4"), ("BC-0.30", "tin 5")]
    # what stays in is not measured anew
    assert [piece["known"] for piece in content["places"][0]["pieces"]] == ["", "as marked"]


def test_the_sheet_of_the_ring_has_it_taken_out_and_nothing_fitted() -> None:
    content = sheet_content(decide(load_job(DATA / "installed" / "ring-comes-out")), "mm", "2026-05-03")
    assert content["answer"] == "Take S-20 out of arm."
    [arm] = content["places"]
    assert arm["out"] == ["S-20 (0.20 mm), to the drawer"]
    assert (arm["pieces"], arm["nothing"]) == ([], "take S-20 out, fit nothing")
    assert arm["then"][0]["expected"] == "0.25 to 0.30 mm"


def test_the_sheet_of_the_engine_opens_five_and_leaves_seven() -> None:
    content = sheet_content(decide(load_job(DEMOS / "twelve-valve")), "mm", "2026-05-03")
    assert content["answer"] == "Open 5 of 12: four shims change places, B-2.35 comes from the drawer; leave 7 alone."
    places = {place["name"]: place for place in content["places"]}
    assert places["1 inlet"]["out"] == ["B-2.45 [1i] (2.446 mm), into 3 inlet"]
    assert [(piece["name"], piece["at"]) for piece in places["1 inlet"]["pieces"]] == [
        ("B-2.55 [3i]", "out of 3 inlet")
    ]
    assert (places["2 inlet"]["pieces"], places["2 inlet"]["nothing"]) == ([], "leave B-2.50 [2i] in")


def test_the_sheet_warns_first_and_asks_for_no_shim_where_none_may_go() -> None:
    content = sheet_content(decide(load_job(DATA / "advice" / "no-shims-allowed")), "thou", "2026-05-03")
    assert content["warnings"][0].startswith("Do not run it like this: idler is 3.5 thou")
    idler = content["places"][0]
    assert idler["nothing"] == "no shim goes here: it stays 3.5 thou too loose"
    assert content["answer"] == (
        "Nothing to fit. See below: feed cannot be put right with the parts in the drawer; idler and tumbler cannot "
        "be put right by shims."
    )


@pytest.mark.parametrize(("folder", "fits"), [(DATA / "installed" / "ring-comes-out", 0), (DEMOS / "slipway-winch", 1)])
def test_the_sheet_says_in_which_order_to_fit_only_where_something_goes_in(
    tmp_path: Path, folder: Path, fits: int
) -> None:
    CliRunner().invoke(cli, ["sheet", str(folder), "-o", str(tmp_path / "sheet.html")])
    text = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert text.count("First take out") == 1
    assert text.count("piece 1 against the fixed face") == fits


def test_the_letter_of_the_ring_says_what_it_rests_on_and_that_nothing_was_measured() -> None:
    ring = decide(load_job(DATA / "installed" / "ring-comes-out"))
    assert grounds(ring, {"readings": (1, 1), "part_sizes": (2, 2), "measured_sizes": (0, 2)})[:2] == [
        "The measurement is taken as exact (no ± given).",
        "All shims are taken as marked; none was measured.",
    ]
    assert grounds(ring, {"readings": (1, 3), "part_sizes": (2, 4), "measured_sizes": (0, 4)})[:2] == [
        "One of 3 measurements is taken as exact (no ± given).",
        "Two of 4 kinds of shim are taken as marked, without tolerance.",
    ]


def test_nothing_is_fitted_is_not_told_where_what_was_in_stays_in() -> None:
    tight = NoSizeBetween(about="arm", stack=(0,), after=100_000, off=50_000, in_now=False)
    say = Speaker("mm", (shim(0.2, 1, unit="mm", name="S-20"),))
    assert because(tight, say).endswith("outside. Nothing is fitted.")
    assert because(tight, say, held=True).endswith("outside.")


def test_what_came_out_for_the_reading_comes_from_the_bench_and_what_goes_in_nowhere_is_told(tmp_path: Path) -> None:
    """w held S-10 and S-03 before; read without them 0.18 to 0.20, window 0.05 to 0.15: S-10 alone goes back."""
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand,at\nS-10,0.10,0,tin 1\nS-03,0.03,0,tin 2\n")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.05\nmax = 0.15\nsource = "sheet"\n'
        '[[place]]\nname = "w"\ncame_out = ["S-10", "S-03"]\n'
        '[[gap]]\nname = "w"\nfeeler = { go = 0.18, no_go = 0.20 }\n'
    )
    decision = decide(load_job(tmp_path))
    change, stock = decision.changes.at["w"], decision.job.stock
    assert [(stock[p.line].part.name, p.other, p.out_of) for p in change.into] == [("S-10", BENCH, "w")]
    assert [stock[i].part.name for i in change.stays_out] == ["S-03"]
    screen = CliRunner().invoke(cli, ["plan", str(tmp_path)]).output
    assert re.search(r"0\.18 to 0\.20 +S-10 +bench, came out here", screen)
    assert "w: S-03, out for the reading, stays out." in screen
    assert "tin" not in screen
    # on paper too
    told = str(sheet_content(decision, "mm", "2026-05-03"))
    assert "from the bench, came out here" in told
    assert "w: S-03, out for the reading, stays out" in told


def places_of(folder: Path, places: str, reads: dict[str, str], *, drawer: str, more: str = "") -> Path:
    """A job of written-out places; each gap is to come into 0.05 to 0.15, or into what it reads where that is wide."""
    gaps = "".join(f'[[gap]]\nname = "{name}"\nvalue = "{read} mm"\n' for name, read in reads.items())
    head = f'unit = "mm"\ndrawer = "drawer.csv"\n{more}[window]\nmin = 0.05\nmax = 0.15\nsource = "sheet"\n'
    wide = 'window = { min = 0.30, max = 0.40, source = "sheet" }\n'
    return write_job(folder, head + places + gaps.replace('value = "0.35 mm"\n', f'value = "0.35 mm"\n{wide}'), drawer)


@pytest.mark.parametrize(
    ("places", "out_of", "stays_out"),
    [
        ('[[place]]\nname = "a"\ncame_out = ["S-30"]\n[[place]]\nname = "b"\n', "a", ""),
        # its own goes back into it, though that of a lies there before it
        ('[[place]]\nname = "a"\ncame_out = ["S-30"]\n[[place]]\nname = "b"\ncame_out = ["S-30"]\n', "b", "a: S-30"),
    ],
    ids=["of another place", "its own first"],
)
def test_what_came_out_of_another_place_for_the_reading_comes_from_the_bench(
    run: Run, tmp_path: Path, places: str, out_of: str, stays_out: str
) -> None:
    """a is right at 0.35 without what came out of it; b reads 0.40 and takes 0.30, and no S-30 lies in the drawer."""
    path = places_of(tmp_path, places, {"a": "0.35", "b": "0.40"}, drawer="part,thickness_mm,on_hand\nS-30,0.30,0\n")
    screen = run("plan", path)[1]
    came = "came out here" if out_of == "b" else f"out of {out_of}"
    assert re.search(rf"^b +0\.40 +S-30 +bench, {came} +0\.10", screen, re.MULTILINE)
    assert (f"{stays_out}, out for the reading, stays out." if stays_out else "") in screen
    assert "to buy" not in screen
    into_b = [move for move in json.loads(run("plan", path, "--json")[1])["moves"] if move["to"] == "b"]
    assert [(move["part"], move["from"], move["out_of"]) for move in into_b] == [("S-30", "bench", out_of)]


def test_what_lies_on_the_bench_lies_in_no_drawer_too(run: Run, tmp_path: Path) -> None:
    """b and c take an S-30 each; there is one, which came out of a: the other is to buy."""
    names = "".join(f'[[place]]\nname = "{name}"\n' for name in "bc")
    path = places_of(
        tmp_path,
        f'[[place]]\nname = "a"\ncame_out = ["S-30"]\n{names}',
        {"a": "0.35", "b": "0.40", "c": "0.40"},
        drawer="part,thickness_mm,on_hand\nS-30,0.30,0\n",
        more='catalogues = ["more.csv"]\n',
    )
    (tmp_path / "more.csv").write_text("part,thickness_mm,price\nS-30,0.30,1\n")
    told = json.loads(run("plan", path, "--buy", "--json")[1])
    assert [piece["from"] for change in told["changes"] for piece in change["in"]] == ["bench", "order"]
    totals = told["totals"]
    assert (totals["pieces_from_drawer"], totals["pieces_to_buy"]) == (0, 1)


def test_two_rings_that_come_out_are_told_in_the_first_line(run: Run, tmp_path: Path) -> None:
    """a and b read 0.02 with S-10 in: without it 0.12, inside 0.05 to 0.15, and c is so with its own in."""
    held = "".join(f'[[place]]\nname = "{name}"\ninstalled = ["S-10"]\n' for name in "abc")
    path = places_of(
        tmp_path,
        held,
        {"a": "0.02", "b": "0.02", "c": "0.10"},
        drawer="part,thickness_mm,on_hand\nS-10,0.10,0\n",
    )
    assert run("plan", path)[1].startswith("Open 2 of 3 (a, b): 2 x S-10 come out; leave 1 place alone.")
    totals = json.loads(run("plan", path, "--json")[1])["totals"]
    assert (totals["places_opened"], totals["places_left"], totals["pieces_to_drawer"]) == (2, 1, 2)


def test_a_plan_row_names_the_place_that_a_shim_comes_out_of(tmp_path: Path) -> None:
    """a holds S-30 and reads 0.25, window 0.05 to 0.15: K-40 goes in; c reads 0.40 and takes the S-30, out of a."""
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand,at\nS-30,0.30,0,tin 1\nK-42,0.42,1,tin 2\n")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.05\nmax = 0.15\nsource = "sheet"\n'
        '[[place]]\nname = "a"\ninstalled = ["S-30"]\n[[place]]\nname = "c"\n'
        '[[gap]]\nname = "a"\nvalue = "0.25 mm"\n[[gap]]\nname = "c"\nvalue = "0.40 mm"\n'
    )
    screen = CliRunner().invoke(cli, ["plan", str(tmp_path)]).output
    assert re.search(r"c +0\.40 +S-30 +a ", screen)
    assert "tin 1" not in screen


def test_what_stays_in_stands_in_the_order_of_all_that_is_in_then(run: Run, tmp_path: Path) -> None:
    """Read 0.25 too loose with 0.50, 0.20 and 0.10 in: 0.30 goes in beside them, thin pieces between thick ones.

    By hand: of all four the thickest two stand at the ends, 0.50 first and 0.30 last, 0.20 beside 0.50 and 0.10 beside
    0.30. What stays keeps these places; by itself it would be laid 0.50, 0.10, 0.20.
    """
    text = (
        'unit = "mm"\ndrawer = "drawer.csv"\n[[place]]\nname = "left"\ninstalled = ["D-10", "D-20", "D-50"]\n'
        'pieces = { min = 1, max = 4 }\n[[gap]]\nname = "left"\nvalue = "0.40 mm ± 0.01 mm"\n'
        'window = { min = 0.05, max = 0.15, source = "s" }\n'
    )
    drawer = "part,thickness_mm,on_hand\nD-50,0.50,0\nD-30,0.30,1\nD-20,0.20,0\nD-10,0.10,0\n"
    path = write_job(tmp_path, text, drawer)
    said = run("plan", "--full", path)[1]
    assert "leave D-50 + D-20 + D-10 in, add D-30: D-50 + D-20 + D-10 + D-30," in " ".join(said.split())
    assert "left: D-30 in, from the drawer; D-50 + D-20 + D-10 stay in." in " ".join(said.split())
    assert "D-50 + D-20 + D-10 D-30 drawer" in " ".join(run("plan", path)[1].split())


def test_what_only_comes_out_is_counted_beside_what_changes_places(tmp_path: Path) -> None:
    # a: 2 with 13 in, and 8 out leave 10. b: 16 with 5 in, and 12 for 5 leaves 9, for
    # c gives its 12, and nothing goes in there: 1 becomes 13
    place = '[[place]]\nname = "{0}"\ninstalled = [{1}]\n[[gap]]\nname = "{0}"\nvalue = "{2} thou ± 0.2 thou"\n'
    job = 'title = "T"\nunit = "thou"\ndrawer = "drawer.csv"\n[window]\nmin = 6\nmax = 14\nsource = "s"\n'
    job += place.format("a", '"K-05", "K-08"', 2) + place.format("b", '"K-05"', 16) + place.format("c", '"K-12"', 1)
    drawer = "part,thickness_thou,on_hand\nK-05,5,0\nK-08,8,0\nK-12,12,0\n"
    found = decide(load_job(write_job(tmp_path, job, drawer)))
    said = headline(found, Speaker.of(found.job))
    assert "open 3 of 3 (a, b, c): one shim changes places, K-05 and K-08 come out." in said
