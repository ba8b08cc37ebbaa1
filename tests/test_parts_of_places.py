"""Which parts a place takes: a gasket is no shim, a thrust washer lies in no plate's place."""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import shimopt
from shimopt.cli.main import main
from shimopt.job import Job, load_job
from shimopt.planner import decide
from tests.job_files import write_job

JOB = """\
title = "Gearbox, shaft and cover"
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "works manual, page 9"
[[place]]
name = "shaft"
parts = ["W-*"]
[[place]]
name = "cover"
parts = ["G-*", "P-1"]
[[gap]]
name = "end play"
value = "0.65 mm ± 0.01 mm"
effects = { shaft = -1 }
[[gap]]
name = "cover lift"
value = "0.65 mm ± 0.01 mm"
effects = { cover = -1 }
"""
# the paper gasket G-5 is of the right thickness for both, and its name comes first
DRAWER = "part,thickness_mm,on_hand\nG-5,0.5,2\nP-1,0.5,1\nW-3,0.3,1\nW-2,0.2,1\n"


def loaded(folder: Path, job: str = JOB, drawer: str = DRAWER) -> Job:
    return load_job(write_job(folder, job, drawer))


def ran(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    with pytest.raises(SystemExit):
        main(list(args))
    return capsys.readouterr().out


def test_a_place_gets_only_the_parts_that_it_names(tmp_path: Path) -> None:
    """0.65 less 0.50 is 0.15, inside: one gasket would do on the shaft, the two washers are what it takes."""
    found = decide(loaded(tmp_path))
    names = {place: [found.job.stock[i].part.name for i in stack] for place, stack in found.stacks.items()}
    assert {place: sorted(stack) for place, stack in names.items()} == {"shaft": ["W-2", "W-3"], "cover": ["G-5"]}
    assert "seats_asked" not in {finding.code for finding in found.findings}


def test_places_that_name_no_parts_share_the_drawer_and_are_asked_about(tmp_path: Path) -> None:
    bare = JOB.replace('parts = ["W-*"]\n', "").replace('parts = ["G-*", "P-1"]\n', "")
    found = decide(loaded(tmp_path, bare))
    assert [len(found.stacks[place]) for place in ("shaft", "cover")] == [1, 1]
    assert "seats_asked" in {finding.code for finding in found.findings}


def test_seats_that_name_their_parts_tell_them_apart_too(tmp_path: Path) -> None:
    seats = (
        '[[seat]]\nname = "s"\nparts = "W-*"\n[[seat]]\nname = "c"\nparts = ["G-*", "P-1"]\n[[place]]\nname = "shaft"'
    )
    by_seat = JOB.replace('[[place]]\nname = "shaft"', seats, 1).replace('parts = ["W-*"]', 'seat = "s"')
    by_seat = by_seat.replace('name = "cover"\nparts = ["G-*", "P-1"]', 'name = "cover"\nseat = "c"')
    found = decide(loaded(tmp_path, by_seat))
    assert [len(found.stacks[place]) for place in ("shaft", "cover")] == [2, 1]
    assert "seats_asked" not in {finding.code for finding in found.findings}


def test_why_says_what_kept_a_part_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loaded(tmp_path)
    said = " ".join(ran(capsys, "why", str(tmp_path), "end play").split())
    assert "G-5 (0.50 mm) would serve by its thickness but is none of the parts that this place takes: W-*." in said


def test_why_says_it_of_a_place_with_pieces_in_it_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Read 0.35 over a washer of 0.2: without it 0.55, and 0.05 too loose or more with each of these in its place."""
    job = JOB.replace("0.65 mm", "0.35 mm", 1).replace('parts = ["W-*"]', 'parts = ["W-*"]\ninstalled = ["W-2"]')
    loaded(tmp_path, job, "part,thickness_mm,on_hand\nG-4,0.4,2\nG-2,0.2,2\nP-1,0.5,1\nW-2,0.2,0\n")
    said = " ".join(ran(capsys, "why", str(tmp_path), "end play").split())
    # 0.55 - 0.40 is 0.15, inside; 0.55 - 0.20 is 0.35, so G-2 would not serve
    assert "G-4 (0.40 mm) would serve by its thickness but is none of the parts that this place takes: W-*." in said
    assert "G-2 (" not in said


def test_fit_holds_parts_against_places_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loaded(tmp_path)
    said = ran(capsys, "fit", str(tmp_path))
    assert "shaft: takes only W-*\n" in said
    assert "cover: takes only G-*, P-1\n" in said
    rows = json.loads(ran(capsys, "fit", str(tmp_path), "--json"))["fits"]
    suits = {(row["place"], row["part"]) for row in rows if row["verdict"] == "suits"}
    frame = shimopt.fit(tmp_path)
    assert set(zip(*frame[frame["verdict"] == "suits"][["place", "part"]].to_numpy().T, strict=True)) == suits
    assert suits == {("shaft", "W-2"), ("shaft", "W-3"), ("cover", "G-5"), ("cover", "P-1")}


def test_another_piece_fitted_where_it_is_not_taken_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loaded(tmp_path)
    said = " ".join(
        ran(
            capsys,
            "record",
            str(tmp_path),
            "--fitted",
            "shaft=G-5",
            "--after",
            "end play=0.15",
            "--person",
            "Jo",
            "--instrument",
            "dial 4",
        ).split()
    )
    assert "is none of the parts that this place takes: W-*" in said


@given(
    takes=st.tuples(*[st.sampled_from([[], ["W-*"], ["W-2", "G-*"], ["?-5"], ["nothing"]])] * 2),
    on_seat=st.sampled_from([[], ["W-*", "P-1"]]),
)
def test_no_plan_breaks_what_a_place_and_its_seat_take(
    tmp_path_factory: pytest.TempPathFactory, takes: tuple[list[str], list[str]], on_seat: list[str]
) -> None:
    """Against the slow obvious answer: all stacks of at most three pieces, of parts whose names suit seat and place."""
    folder = tmp_path_factory.mktemp("job")
    job = JOB.replace('parts = ["W-*"]', f'seat = "end"\nparts = {json.dumps(takes[0])}')
    job = job.replace('parts = ["G-*", "P-1"]', f"parts = {json.dumps(takes[1])}")
    job = job.replace("[[place]]", f'[[seat]]\nname = "end"\nparts = {json.dumps(on_seat)}\n[[place]]', 1)
    found = decide(loaded(folder, job))

    def taken(name: str, asked: list[str]) -> bool:
        return not asked or any(
            name == one or (one[-1] == "*" and name.startswith(one[:-1])) or (one[0] == "?" and name[1:] == one[1:])
            for one in asked
        )

    pieces = [(line.part.name, line.part.thickness.best, i) for i, line in enumerate(found.job.stock)]
    pieces = [piece for piece in pieces for _ in range(found.job.stock[piece[2]].on_hand)]
    allowed = {
        "shaft": [k for k, piece in enumerate(pieces) if taken(piece[0], takes[0]) and taken(piece[0], on_seat)],
        "cover": [k for k, piece in enumerate(pieces) if taken(piece[0], takes[1])],
    }
    stacks = {
        place: [()] + [tuple(sorted(set(three))) for three in product(held, repeat=3)]
        for place, held in allowed.items()
    }
    inside = {
        place: {one for one in set(of) if 450_000 <= sum(pieces[k][1] for k in one) <= 550_000}
        for place, of in stacks.items()
    }
    most = max(
        (bool(a) + bool(b) for a, b in product(inside["shaft"] | {()}, inside["cover"] | {()}) if not set(a) & set(b)),
        default=0,
    )
    assert sum(gap.verdict != "outside" for gap in found.outcome.gaps.values()) == most
    for place, stack in found.stacks.items():
        assert set(stack) <= {pieces[k][2] for k in allowed[place]}
