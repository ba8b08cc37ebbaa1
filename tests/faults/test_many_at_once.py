"""Many at once at one drawer, one job, one output: what was taken, by a book kept outside, is what is gone."""

from __future__ import annotations

import csv
import tomllib
from collections import Counter
from pathlib import Path

from tests.faults.harness import Ended, Faults, files_of, litter
from tests.faults.test_every_point import CAME, DAY, DRAWER, JOB, RECORD, a_parcel
from tests.job_files import write_job
from tests.terminal import Person
from tests.test_accept import ARRIVED, HEAD, ROW

TRIALS = 16
SAID = ("--person", "M. Hale", "--instrument", "blades", *DAY)
BOTH_HAVE_READ = "shimopt.recording.recorded_once.opened"
LEFT = DRAWER.replace(",10\n", ",9\n")


def counts(drawer: Path) -> Counter[str]:
    with open(drawer, encoding="utf-8", newline="") as file:
        return Counter({row["part"]: int(row["on_hand"]) for row in csv.DictReader(file)})


def records(job: Path) -> list[dict[str, str]]:
    found = tomllib.loads(job.read_text(encoding="utf-8")).get("record", [])
    assert isinstance(found, list)
    return found


def raced(faults: Faults, folder: Path, *commands: tuple[str, ...], job: str = JOB) -> list[Ended]:
    """A job recorded by several at once, each of whom has read it before any of them writes."""
    folder.mkdir()
    write_job(folder, job, DRAWER)
    found = faults.at_once(folder, [(*command, "--update-drawer") for command in commands], meet=BOTH_HAVE_READ)
    assert litter(files_of(folder)) == []
    return found


def test_the_same_recorded_by_two_at_once_is_recorded_once(faults: Faults, tmp_path: Path) -> None:
    for trial in range(TRIALS):
        folder = tmp_path / str(trial)
        ends = raced(faults, folder, RECORD, RECORD)
        assert [ended.code for ended in ends] == [0, 0]
        assert all("waiting for another program" in line for ended in ends for line in ended.err.splitlines())
        assert (folder / "drawer.csv").read_text() == LEFT
        assert [record["drawer"] for record in records(folder / "job.toml")] == ["done"]


def test_of_two_who_read_something_else_one_is_told_to_look_again(faults: Faults, tmp_path: Path) -> None:
    for trial in range(TRIALS):
        folder = tmp_path / str(trial)
        ends = raced(faults, folder, RECORD, ("record", ".", "--after", "drum=9 to 10", *SAID))
        assert sorted(ended.code for ended in ends) == [0, 2]
        said = next(ended.err for ended in ends if ended.code)
        assert "somebody else changed the job since it was read" in said
        assert (folder / "drawer.csv").read_text() == LEFT
        assert len(records(folder / "job.toml")) == 1


def asked(folder: Path) -> Person:
    """Somebody who records the job at a terminal, has answered all questions but the last, and is asked that."""
    person = Person(folder, "record", ".", "--update-drawer", *DAY)
    read_to_the_last(person)
    return person


def read_to_the_last(person: Person) -> None:
    person.hears("Fitted as planned?").types("y")
    person.hears("reads (empty: not read)").types("10 to 11")
    person.hears("Who read it").types("M. Hale")
    person.hears("With which instrument")


def test_what_another_records_while_one_is_asked_is_recorded_once(faults: Faults, tmp_path: Path) -> None:
    write_job(tmp_path, JOB, DRAWER)
    with asked(tmp_path) as person:
        assert faults.run(tmp_path, *RECORD, "--update-drawer").code == 0
        person.types("blades")
        assert person.ends() == 0
        assert "The same was recorded before" in person.shown
    assert (tmp_path / "drawer.csv").read_text() == LEFT
    assert [record["drawer"] for record in records(tmp_path / "job.toml")] == ["done"]


def test_where_another_records_something_else_while_one_is_asked_it_is_asked_again(
    faults: Faults, tmp_path: Path
) -> None:
    write_job(tmp_path, JOB, DRAWER)
    other = ("record", ".", "--after", "drum=9 to 10", *SAID, "--update-drawer")
    with asked(tmp_path) as person:
        assert faults.run(tmp_path, *other).code == 0
        person.types("blades")
        person.hears("somebody else changed the job")
        read_to_the_last(person)
        person.types("blades")
        assert person.ends() == 0
    # the piece went in once, whoever has read it how often
    assert (tmp_path / "drawer.csv").read_text() == LEFT
    assert [record["drawer"] for record in records(tmp_path / "job.toml")] == ["done"] * 2


NEW = {"Least": "0.1", "Largest": "0.3", "Who states": "sheet 7", "Name of the gap": "drum", "Thickest": "0.4"}
NEW |= {"Thinnest": "0.45", "The drawer": "0.2 x 4"}


def test_what_somebody_typed_for_a_new_job_goes_elsewhere_where_another_came_before(
    faults: Faults, tmp_path: Path
) -> None:
    with Person(tmp_path, "new", "winch") as person:
        person.hears("What is it called?").types("Winch")
        person.hears("Unit of your blades")
        assert faults.run(tmp_path, "new", "winch", "--yes").code == 0
        there = files_of(tmp_path)
        person.types("mm")
        assert person.answers({**NEW, "what you typed goes to": "winch of mine"}) == 0
        assert "winch: somebody else has written there meanwhile, and nothing is overwritten." in person.shown
    assert files_of(tmp_path / "winch") == {name.removeprefix("winch/"): raw for name, raw in there.items()}
    assert tomllib.loads((tmp_path / "winch of mine" / "job.toml").read_text(encoding="utf-8"))["unit"] == "mm"


OLD_RECORD = """
[[record]]
id = "a1"
date = 2026-05-03
person = "M. Hale"
place = [{ name = "drum", installed = [{ part = "S-7", thickness = "7 thou" }] }]
gap = [{ name = "drum", predicted = "10.5 thou ± 0.5 thou", read = "10.5 thou ± 0.5 thou" }]
"""


def test_a_drawer_brought_into_line_by_two_at_once_gives_its_pieces_once(faults: Faults, tmp_path: Path) -> None:
    for trial in range(TRIALS):
        folder = tmp_path / str(trial)
        ends = raced(faults, folder, ("record", "."), ("record", "."), job=JOB + OLD_RECORD)
        assert [ended.code for ended in ends] == [0, 0]
        assert (folder / "drawer.csv").read_text() == LEFT
        assert [record["drawer"] for record in records(folder / "job.toml")] == ["done"]


def test_a_settled_doubt_is_settled_once(faults: Faults, tmp_path: Path) -> None:
    """Somebody changed the drawer while a record was cut off; two say at once that its piece is still to be taken."""
    pending = OLD_RECORD.replace("person", f'drawer = "pending"\ndrawer_before = "{"0" * 64}"\nperson')
    for trial in range(TRIALS):
        folder = tmp_path / str(trial)
        settle = ("record", ".", "--settle", "apply")
        ends = raced(faults, folder, settle, settle, job=JOB + pending)
        assert [ended.code for ended in ends] == [0, 0]
        assert (folder / "drawer.csv").read_text() == LEFT
        assert [record["drawer"] for record in records(folder / "job.toml")] == ["done"]


def test_of_many_jobs_at_one_drawer_each_gets_what_its_record_says(faults: Faults, tmp_path: Path) -> None:
    """The book: what the records of all jobs say that was fitted. Ten pieces lie there, and eleven want one."""
    write_job(tmp_path, "", DRAWER)
    jobs = [f"{number:02d}" for number in range(11)]
    for name in jobs:
        (tmp_path / name).mkdir()
        text = JOB.replace('"drawer.csv"', '"../drawer.csv"').replace("drum", f"drum {name}")
        (tmp_path / name / "job.toml").write_text(text, encoding="utf-8")
    commands = [("record", name, "--after", f"drum {name}=10 to 11", *SAID, "--update-drawer") for name in jobs]
    ends = faults.at_once(tmp_path, commands, meet=BOTH_HAVE_READ)
    book: Counter[str] = Counter()
    for name, ended in zip(jobs, ends, strict=True):
        written = records(tmp_path / name / "job.toml")
        assert (ended.code, len(written)) in ((0, 1), (2, 0))
        for record in written:
            assert record["drawer"] == "done"
            book.update(piece["part"] for place in record["place"] for piece in place.get("installed", ()))
    assert book == {"S-7": 10}
    assert counts(tmp_path / "drawer.csv") == {"S-7": 0}
    assert "S-7" in next(ended.err for ended in ends if ended.code == 2)


def test_pieces_accepted_by_many_at_once_are_all_there_and_once(faults: Faults, tmp_path: Path) -> None:
    write_job(tmp_path, drawer=HEAD + ROW)
    names = [f"{number}.csv" for number in (0, 1, 2, 3, 0, 1)]
    for number in range(4):
        told = ARRIVED.replace(",a,", f",a{number},").replace(",b,", f",b{number},")
        (tmp_path / f"{number}.csv").write_text(told, encoding="utf-8")
    commands = [("fit", ".", "--measured", name, "--accept") for name in names]
    ends = faults.at_once(tmp_path, commands, meet="shimopt.parts.csv_drawer.locked")
    assert [ended.code for ended in ends] == [0] * 6
    with open(tmp_path / "drawer.csv", encoding="utf-8", newline="") as file:
        tags = [row["piece"] for row in csv.DictReader(file)]
    assert sorted(tags) == ["", *(f"{letter}{number}" for letter in "ab" for number in range(4))]
    assert litter(files_of(tmp_path)) == []


def test_a_parcel_put_into_the_drawer_by_many_at_once_is_there_once(faults: Faults, tmp_path: Path) -> None:
    for trial in range(4):
        folder = tmp_path / str(trial)
        folder.mkdir()
        a_parcel(folder)
        ends = faults.at_once(folder, [CAME] * 3, meet="shimopt.parts.csv_drawer.locked")
        assert [ended.code for ended in ends] == [0] * 3
        with open(folder / "job" / "drawer.csv", encoding="utf-8", newline="") as file:
            there = [(row["part"], row["piece"], row["on_hand"]) for row in csv.DictReader(file)]
        assert there == [("S-30", "", "10"), ("S-7", "a", "1")]
        assert litter(files_of(folder)) == []


def test_a_new_job_asked_for_by_many_at_once_is_written_by_one(faults: Faults, tmp_path: Path) -> None:
    ends = faults.at_once(tmp_path, [("new", "winch", "--yes")] * 6, meet="shimopt.cli.new_command.write_new")
    assert sorted(ended.code for ended in ends) == [0, 2, 2, 2, 2, 2]
    assert faults.run(tmp_path, "plan", "winch", "--quiet").code == 0


def test_the_same_output_written_by_many_at_once_is_whole(faults: Faults, tmp_path: Path) -> None:
    write_job(tmp_path, JOB, DRAWER)
    ends = faults.at_once(tmp_path, [("plan", ".", "-o", "plan.json", "--quiet")] * 6)
    assert [ended.code for ended in ends] == [0] * 6
    alone = faults.run(tmp_path, "plan", ".", "--json")
    assert (tmp_path / "plan.json").read_text(encoding="utf-8") == alone.out
    assert litter(files_of(tmp_path)) == []
