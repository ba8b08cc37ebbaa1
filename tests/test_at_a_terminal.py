"""Questions at a terminal, as somebody types the answers: `new` and `record`, told in words what is wanted."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from shimopt.job import load_job
from tests.command import Run
from tests.terminal import Person

DEMO = Path(__file__).parents[1] / "demo_data"


def two_gaps(person: Person, *, cover: bool) -> int:
    """Answer everything for two gaps; how many questions that took."""
    read = ("Thickest blade", "Thinnest blade")
    steps = [
        ("What is it called", "Felt roll"),
        ("Unit of", "mm"),
        ("Least clearance", "0,08"),
        ("Largest", "0,15"),
        ("Who states", "mill drawing 4471, sheet 2"),
        ("Name of the gap", "drive side"),
        ("Where do its shims go", "cover" if cover else "gap"),
        *([] if cover else [("How is it read", "")]),
        (read[0], "0,25"),
        (read[1], "0,30"),
        ("lay under the cover before" if cover else "Shims in it while it was read", ""),
        ("Name of the next gap", "tending side"),
        ("Where do its shims go", ""),
        *([] if cover else [("How is it read", "")]),
        (read[0], "0,35"),
        (read[1], "0,40"),
        ("lay under the cover before" if cover else "Shims in it while it was read", ""),
        ("Name of the next gap", ""),
        *([] if cover else [("Its diameter", "")]),
        ("The drawer", "0.05 x 6, 0.1 x 4, 0.2 x 3, 0.3 x 2"),
        ("Write it?", ""),
        ("Make the sheet", ""),
    ]
    for question, answer in steps:
        person.hears(question).types(answer)
    return len(steps)


@pytest.mark.parametrize("cover", [False, True])
def test_two_gaps_take_few_questions_and_end_with_a_sheet(tmp_path: Path, cover: bool) -> None:
    """About five seconds for each question: two minutes hold 24."""
    with Person(tmp_path, "new", "felt") as person:
        count = two_gaps(person, cover=cover)
        assert person.ends() == 0
        shown = person.shown
    assert count <= 22
    # what was understood is shown before it is written; a flat pack under a cover has neither shaft nor bore
    understood = " ".join(shown[shown.index("Understood:") : shown.index("Write it?")].split())
    stands = "drive side: without shims the cover stands 0.25 to 0.30 mm off, nothing came out"
    reads = "drive side: between the parts, reads 0.25 to 0.30 mm, nothing in"
    assert (stands if cover else reads) in understood
    assert ("their bores are not checked" in understood) is not cover
    assert ("diameter" in shown) is not cover
    assert "0.08 to 0.15 mm, by mill drawing 4471, sheet 2" in understood
    assert (tmp_path / "felt" / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert len(load_job(tmp_path / "felt").gaps) == 2


def test_from_another_job_only_the_gaps_are_asked_for(tmp_path: Path) -> None:
    shutil.copytree(DEMO / "swing-bridge", tmp_path / "bridge")
    with Person(tmp_path, "new", "second", "--from", "bridge") as person:
        for question, answer in (
            ("What is it called", "Second bridge"),
            ("Name of the gap", "upper 1"),
            ("Where do its shims go", ""),
            ("Its seat", "plain"),
            ("How is it read", ""),
            ("Thickest blade", "17"),
            ("Thinnest blade", "18"),
            ("Shims in it while it was read", "R-99"),
            ("Shims in it while it was read", ""),
            ("Name of the next gap", ""),
            ("Write it?", "no"),
            ("Throw away", "yes"),
        ):
            person.hears(question).types(answer)
        assert person.ends() == 0
        shown = person.shown
    assert "The drawer has no R-99" in shown
    understood = " ".join(shown[shown.index("Understood:") :].split())
    assert "Second bridge, in thou" in understood
    assert "upper 1: between the parts, reads 17 to 18 thou, nothing in" in understood
    # what comes of the other job is named too
    assert "from Swing bridge drive, idler shafts: window 4 to 12 thou, by works drawings 1931, sheet 7;" in understood
    assert "drawer bridge/drawer.csv" in understood
    assert not (tmp_path / "second").exists()


def test_enter_without_an_answer_and_a_wrong_one_are_told_what_is_wanted(tmp_path: Path) -> None:
    with Person(tmp_path, "new", "felt") as person:
        person.hears("What is it called").types("")
        person.hears("Unit of").types("furlong")
        person.hears("Please write thou, mm, in or um.").hears("Unit of").types("mm")
        for question, wanted, answer in (
            ("Least clearance", "Please write a number", "0.08"),
            ("Largest", "Please write a number", "0.15"),
            ("Who states", "Please write a few words", "sheet 2"),
        ):
            person.hears(question).types("")
            person.hears(wanted).hears(question).types(answer)
        person.hears("Name of the gap").types("")
        person.hears("Please write a few words").hears("Name of the gap").types("drive side")
        person.hears("Where do its shims go").types("nowhere")
        person.hears("Please write gap or cover.").hears("Where do its shims go").types("c")
        assert "Error" not in person.shown


def bridge(folder: Path) -> Path:
    shutil.copytree(DEMO / "swing-bridge", folder / "bridge")
    return folder / "bridge"


def test_a_reading_in_place_of_yes_is_told_what_comes_first(tmp_path: Path) -> None:
    job = bridge(tmp_path)
    with Person(tmp_path, "record", job) as person:
        person.hears("Fitted as planned?").types("10,5")
        person.hears("What the gaps read is asked next").hears("write yes or no.")
        person.hears("Fitted as planned?").types("y")
        person.hears("upper 1, predicted").types("10,5")
        for gap in ("upper 2", "upper 3", "lower 1", "lower 2"):
            person.hears(f"{gap}, predicted").types("")
        person.hears("Who read it").types("")
        person.hears("Please write it: the record keeps it.").hears("Who read it").types("M. Hale")
        person.hears("With which instrument").types("blades")
        assert person.ends() == 0
        assert "Error" not in person.shown
        shown = person.shown
    assert load_job(job).records[-1].person == "M. Hale"
    assert max(len(line) for line in shown.replace(str(tmp_path), "").splitlines()) <= 80
    # first read by blades 17 and 18: known to half a thou, and that is told
    assert "upper 1: 10.5 thou is taken as 10 to 11 thou, as closely as it was known" in shown


def test_passing_over_every_gap_ends_in_words_that_fit(tmp_path: Path) -> None:
    job = bridge(tmp_path)
    with Person(tmp_path, "record", job) as person:
        assert person.answers({}) == 2
        assert "No gap was read, so nothing is recorded." in person.shown
        assert "--after" not in person.shown
    assert not load_job(job).records


def test_as_planned_may_be_said(run_unfolded: Run, tmp_path: Path) -> None:
    job = bridge(tmp_path)
    who = ("--person", "M. Hale", "--instrument", "blades")
    code, out, err = run_unfolded("record", job, "--fitted", "as planned", "--after", "upper 1=10 to 11", *who)
    assert (code, err) == (0, "")
    assert "Fitted as planned: R-07 at upper 1; W-08 at lower 2." in out


@pytest.mark.parametrize("width", [40, 80])
def test_what_is_wrong_is_folded_at_words_and_hangs_below_its_first_line(tmp_path: Path, width: int) -> None:
    job = bridge(tmp_path) / "job.toml"
    job.write_text(
        job.read_text(encoding="utf-8").replace('seat = "plain end"', 'seat = "plane end"'), encoding="utf-8"
    )
    with Person(tmp_path, "plan", "bridge", env={"COLUMNS": str(width)}) as person:
        assert person.ends() == 2
        lines = person.shown.replace("\r\n", "\n").splitlines()
    assert max(map(len, lines)) <= width
    assert all(line.startswith(("shimopt: ", "  ")) for line in lines)
    assert "there is no such seat (here: plane end). Did you mean plain end?" in " ".join(" ".join(lines).split())
