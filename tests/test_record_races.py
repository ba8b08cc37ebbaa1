"""One job recorded by two at once, as real processes: its pieces leave the drawer once, and it gets one record."""

from __future__ import annotations

import io
import tomllib
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from multiprocessing import get_context
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from pathlib import Path

from shimopt.job import Job

TRIALS = 16
JOB = """\
unit = "thou"
drawer = "drawer.csv"
window = { min = 4, max = 12, source = "sheet 7" }
gap = [{ name = "drum", feeler = { go = 17, no_go = 18 } }]
"""
DRAWER = "part,thickness_thou,on_hand\nS-7,7,10\n"
SAID = ("--person", "M. Hale", "--instrument", "blades", "--date", "2026-05-04")
READ = ("--after", "drum=10 to 11")
Ends = list[tuple[int, str]]


def records_each(folders: list[Path], after: tuple[str, ...], start: Barrier, ends: Queue[Ends]) -> None:
    """In a process of its own: record every job, each time from the moment at which the other has read it too."""
    from shimopt.cli import main
    from shimopt.recording import session

    opened, waited = session.opened, set[Path]()

    def opened_together(job: Job, **how: bool) -> object:
        # once for each job: who finds it changed may look again
        if job.sources is not None and job.sources.job not in waited:
            waited.add(job.sources.job)
            start.wait(30)
        return opened(job, **how)

    session.opened = opened_together  # type: ignore[assignment]
    found: Ends = []
    for folder in folders:
        with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()) as said:
            try:
                main(["record", str(folder), *after, *SAID, "--update-drawer"])
            except SystemExit as ended:
                found.append((ended.code if isinstance(ended.code, int) else -1, said.getvalue()))
    ends.put(found)


def raced(
    tmp_path: Path, *reads: tuple[str, ...], job: str = JOB
) -> Iterator[tuple[Path, tuple[int, str], tuple[int, str]]]:
    """The folder of every trial, and how each of the two ended."""
    folders = [tmp_path / str(trial) for trial in range(TRIALS)]
    for folder in folders:
        folder.mkdir()
        (folder / "job.toml").write_text(job)
        (folder / "drawer.csv").write_text(DRAWER)
    context = get_context("spawn")
    start, ends = context.Barrier(2), [context.Queue(), context.Queue()]
    both = [
        context.Process(target=records_each, args=(folders, read, start, end))
        for read, end in zip(reads, ends, strict=True)
    ]
    for process in both:
        process.start()
    first, second = (end.get(timeout=120) for end in ends)
    for process in both:
        process.join(60)
    yield from zip(folders, first, second, strict=True)


def recorded(folder: Path) -> list[dict[str, object]]:
    found = tomllib.loads((folder / "job.toml").read_text()).get("record", [])
    assert isinstance(found, list)
    return found


def test_the_same_recorded_by_two_at_once_is_recorded_once(tmp_path: Path) -> None:
    for folder, one, other in raced(tmp_path, READ, READ):
        assert (one, other) == ((0, ""), (0, ""))
        assert (folder / "drawer.csv").read_text() == DRAWER.replace(",10\n", ",9\n")
        assert [record["drawer"] for record in recorded(folder)] == ["done"]


def test_of_two_who_read_something_else_one_is_told_to_look_again(tmp_path: Path) -> None:
    for folder, *ends in raced(tmp_path, READ, ("--after", "drum=9 to 10")):
        assert sorted(code for code, _ in ends) == [0, 2]
        said = next(said for code, said in ends if code)
        assert "somebody else changed the job since it was read" in said
        assert (folder / "drawer.csv").read_text() == DRAWER.replace(",10\n", ",9\n")
        assert len(recorded(folder)) == 1


def test_a_drawer_brought_into_line_by_two_at_once_gives_its_pieces_once(tmp_path: Path) -> None:
    record = """
[[record]]
id = "a1"
date = 2026-05-03
person = "M. Hale"
place = [{ name = "drum", installed = [{ part = "S-7", thickness = "7 thou" }] }]
gap = [{ name = "drum", predicted = "10.5 thou ± 0.5 thou", read = "10.5 thou ± 0.5 thou" }]
"""
    for folder, one, other in raced(tmp_path, (), (), job=JOB + record):
        assert (one[0], other[0]) == (0, 0)
        assert (folder / "drawer.csv").read_text() == DRAWER.replace(",10\n", ",9\n")
        assert [record["drawer"] for record in recorded(folder)] == ["done"]
