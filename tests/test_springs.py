"""A wavy or spring washer takes up play and sets none: it is never planned as a shim, and every voice says why."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.candidates.make_thickness import make_thickness, nearest_thickness
from shimopt.cli.main import main
from shimopt.job import load_job
from shimopt.parts import load_stock
from shimopt.planner import decide
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.job_files import write_job

JOB = """\
title = "Pump spindle"
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "works manual, page 9"
[[seat]]
name = "shoulder"
[[gap]]
name = "end play"
seat = "shoulder"
value = "0.65 mm ± 0.01 mm"
"""
SPRINGS = ["wavy", "spring", "disc spring"]
# of the right thickness (0.65 less 0.50 is 0.15), and first by name
DRAWER = "part,thickness_mm,on_hand,form\nA-1,0.5,4,{form}\nS-3,0.3,1,ring\nS-2,0.2,1,\n"


def ran(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    with pytest.raises(SystemExit):
        main(list(args))
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("form", SPRINGS)
@pytest.mark.parametrize("seat", ['seat = "shoulder"\n', ""])
def test_a_spring_is_never_planned_as_a_shim(tmp_path: Path, form: str, seat: str) -> None:
    """With a seat and without one: the two rings make 0.50, the spring washer stays in its tin."""
    job = JOB.replace('seat = "shoulder"\n', seat)
    found = decide(load_job(write_job(tmp_path, job, DRAWER.format(form=form))))
    assert sorted(found.job.stock[i].part.name for i in found.stacks["end play"]) == ["S-2", "S-3"]
    told = {finding_words(f, Speaker("mm")) for f in found.findings if f.code == "takes_up_play"}
    called = {"wavy": "a wavy washer", "spring": "a spring washer", "disc spring": "a disc spring"}[form]
    assert told == {f"is {called}: it takes up play and sets none, so it is never planned as a shim"}


def test_a_seat_that_names_it_takes_it_with_a_caution(tmp_path: Path) -> None:
    job = JOB.replace('name = "shoulder"', 'name = "shoulder"\nforms = ["wavy"]')
    found = decide(load_job(write_job(tmp_path, job, "part,thickness_mm,on_hand,form\nA-1,0.5,4,wavy\n")))
    assert [found.job.stock[i].part.name for i in found.stacks["end play"]] == ["A-1"]
    (told,) = (f for f in found.findings if f.code == "takes_up_play")
    assert told.grade == "caution"
    assert "counts only where it lies pressed flat" in finding_words(told, Speaker("mm"))


def test_every_screen_and_letter_says_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_job(tmp_path, JOB, "part,thickness_mm,on_hand,form\nA-1,0.5,4,Wavy\n")
    said = "is a wavy washer: it takes up play and sets none"
    for command in ("plan", "why", "fit"):
        assert said in ran(capsys, command, str(tmp_path)), command
    ran(capsys, "letter", str(tmp_path), "-o", str(tmp_path / "letter.html"))
    assert said in " ".join((tmp_path / "letter.html").read_text().split())


def test_a_spring_that_was_in_during_the_reading_is_a_caution(tmp_path: Path) -> None:
    job = JOB.replace("[[gap]]", '[[place]]\nname = "end play"\ninstalled = ["A-1", "A-1", "S-2"]\n[[gap]]')
    found = decide(load_job(write_job(tmp_path, job, DRAWER.format(form="wavy"))))
    told = [f for f in found.findings if f.code == "spring_was_in"]
    assert [(f.place, f.part, f.grade) for f in told] == [("end play", "A-1", "caution")]
    assert finding_words(told[0], Speaker("mm")) == (
        "was in during the reading and is a wavy washer: it gives, and is counted as 0.50 mm thick all the same. Read "
        "the gap again without it before it is changed"
    )


@given(
    sizes=st.lists(st.tuples(st.integers(1, 8), st.sampled_from(["", "ring", *SPRINGS])), min_size=1, max_size=5),
    read=st.integers(2, 12),
)
def test_as_brute_force_over_what_is_no_spring(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[tuple[int, str]], read: int
) -> None:
    """All stacks of at most three pieces: inside where one of no springs is, with the fewest pieces of these."""
    rows = "".join(f"P-{at},{size / 10},1,{form}\n" for at, (size, form) in enumerate(sizes))
    job = JOB.replace("0.65 mm ± 0.01 mm", f"{read / 10} mm")
    folder = tmp_path_factory.mktemp("job")
    held = load_job(write_job(folder, job, "part,thickness_mm,on_hand,form\n" + rows))
    found = decide(held)
    firm = [size for size, form in sizes if form not in SPRINGS]
    counts = [n for n in range(4) for stack in combinations(firm, n) if 1 <= read - sum(stack) <= 2]
    assert (found.outcome.gaps["end play"].verdict != "outside") == bool(counts)
    assert len(found.stacks["end play"]) == min(counts, default=0)
    assert not any(held.stock[i].part.form in SPRINGS for i in found.stacks["end play"])
    stock = load_stock(folder / "drawer.csv", []).lines
    made = make_thickness(read * 100_000, 0, stock, 3)
    assert (made is not None) == any(sum(stack) == read for n in range(1, 4) for stack in combinations(firm, n))
    assert not any(stock[i].part.form in SPRINGS for i in (*(made or ()), *nearest_thickness(read * 100_000, stock, 3)))


FAN = """
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "leaflet"
[[place]]
name = "front"
installed = ["WV-1", "P-50"]
[[gap]]
name = "front"
feeler = { go = 0.20, no_go = 0.25 }
[[place]]
name = "rear"
installed = ["P-30"]
[[gap]]
name = "rear"
feeler = { go = 0.28, no_go = 0.30 }
"""


def test_nothing_goes_in_where_a_wavy_washer_was_in_before_it_is_read_again(run_unfolded: Run, tmp_path: Path) -> None:
    """WV-1 is 0.40 as marked; pressed to 0.25 when read, front is 0.45 to 0.50 without it: P-50 would lock it."""
    drawer = (
        "part,thickness_mm,tolerance_mm,on_hand,form\nWV-1,0.40,0.02,0,wavy\nP-50,0.50,0.005,1,\nP-30,0.30,0.005,0,\n"
        "P-15,0.15,0.004,1,\n"
    )
    path = write_job(tmp_path, FAN, drawer)
    sheet = sheet_content(decide(load_job(path)), "mm", "2026-05-03")
    assert sheet["answer"] == "Then plan again: nothing goes in at front before."
    assert "front: take WV-1 out of front before it is read" in sheet["read"]
    front, rear = sheet["places"]
    assert (front["pieces"], front["out"], front["then"][0]["expected"]) == ([], [], "")
    assert front["nothing"].startswith("read front without what gave way in it, then plan again")
    assert [piece["name"] for piece in rear["pieces"]] == ["P-30", "P-15"]
    # how likely it is inside nobody knows, and a finer gauge would not tell
    plan, letter = run_unfolded("plan", path)[1], tmp_path / "letter.html"
    run_unfolded("letter", path, "-o", letter)
    for text in (plan, letter.read_text(encoding="utf-8")):
        for false in ("probably", "finer", "more finely", "As well as all is known"):
            assert false not in text


@pytest.mark.parametrize(
    ("row", "called"),
    [
        ("A-1 wavy washer,0.5,4,,", "a wavy washer"),
        ("A-1,0.5,4,,spring lock washer M16", "a spring washer"),
        ("A-1,0.5,4,,disc springs", "a disc spring"),
    ],
)
def test_what_is_called_a_spring_is_one_until_its_form_says_otherwise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], row: str, called: str
) -> None:
    head = "part,thickness_mm,on_hand,form,note\n"
    folder = write_job(tmp_path, JOB, f"{head}{row}\nS-5,0.5,1,,spring steel\n")
    assert decide(load_job(folder)).job.stock[decide(load_job(folder)).stacks["end play"][0]].part.name == "S-5"
    said = ran(capsys, "fit", str(folder))
    assert f"is {called} by its name or note: it takes up play and sets none" in said
    assert "if it is none, write its `form`" in said
    stated = decide(load_job(write_job(tmp_path, JOB, f"{head}{row.replace('0.5,4,,', '0.5,4,ring,')}\n")))
    assert stated.stacks["end play"]


def test_a_spring_that_a_seat_names_is_never_called_sure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0.64 to 0.66 less 0.50, if it lies pressed flat: the first line of plan, why, sheet and letter says so."""
    job = JOB.replace('name = "shoulder"', 'name = "shoulder"\nforms = ["wavy"]')
    folder = write_job(tmp_path, job, "part,thickness_mm,on_hand,form\nA-1,0.5,4,wavy\n")
    for command in ("plan", "why"):
        said = ran(capsys, command, str(folder))
        assert said.startswith(
            "As it is read: fit A-1 at end play. But this holds only if A-1 at end play lies pressed"
        )
    assert '"sure": true' not in ran(capsys, "plan", str(folder), "--json")
    assert "A-1 at end play lies pressed flat: it is a spring" in " ".join(
        sheet_content(decide(load_job(folder)), "mm", "2026-05-03")["warnings"]
    )
    ran(capsys, "letter", str(folder), "-o", str(tmp_path / "letter.html"))
    page = " ".join((tmp_path / "letter.html").read_text().split())
    assert "see that A-1 at end play lies pressed flat: it is a spring." in page
    assert "as it should be" not in page
