"""Who changes a file holds its lock: other threads and processes wait, and a lock left behind is named."""

from __future__ import annotations

import errno
import os
import subprocess
import threading
import time
from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.tables.edit import read_to_change
from shimopt.tables.locking import locked
from tests.processes import started


def drawer(folder: Path) -> Path:
    path = folder / "drawer.csv"
    path.write_text("part,on_hand\nA,100\n")
    return path


def take_one(path: Path) -> None:
    with locked(path):
        found = read_to_change(path)
        found.with_cells({(2, "on_hand"): str(int(found.cell(2, "on_hand")) - 1)}).save()


def no_locks_here(monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    """A file system that answers every lock with an error, as some network shares do."""
    import fcntl

    def refuse(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(fcntl, "flock", refuse)


def threads_take(path: Path, count: int) -> None:
    threads = [threading.Thread(target=lambda: [take_one(path) for _ in range(5)]) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)


def test_threads_that_take_pieces_at_once_lose_none(tmp_path: Path) -> None:
    path = drawer(tmp_path)
    threads_take(path, 8)
    assert path.read_text() == "part,on_hand\nA,60\n"
    assert [entry.name for entry in tmp_path.iterdir()] == ["drawer.csv"]


@pytest.mark.parametrize("code", [errno.ENOSYS, errno.ENOTSUP, errno.ENOLCK, errno.EINVAL])
def test_a_file_system_without_locks_is_not_taken_for_a_busy_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    path = drawer(tmp_path)
    no_locks_here(monkeypatch, code)
    start = time.monotonic()
    threads_take(path, 4)
    # it once took 20 s to be told that nobody could have a lock
    assert time.monotonic() - start < 10
    assert path.read_text() == "part,on_hand\nA,80\n"
    assert [entry.name for entry in tmp_path.iterdir()] == ["drawer.csv"]


def test_a_lock_left_behind_elsewhere_is_named_with_its_age_and_how_to_be_rid_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, lock = drawer(tmp_path), tmp_path / ".drawer.csv.held"
    # another machine's: whether its holder lives cannot be seen from here
    lock.write_text("4711\nworkshop-pc\n")
    os.utime(lock, (time.time() - 3 * 86_400 - 60,) * 2)
    no_locks_here(monkeypatch, errno.ENOSYS)
    with pytest.raises(InputError) as refused, locked(path, 0.1):
        pytest.fail("two held one lock")
    said = str(refused.value)
    assert "or was cut off while it did" in said
    assert f"{lock}, 3 days old" in said
    assert f"delete {lock}" in said
    lock.unlink()
    take_one(path)


def test_a_lock_of_another_user_is_named_with_its_age_and_never_passed_by(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in a folder of all, where the system lets nobody open what another has made. Nothing is changed then."""
    path, lock = drawer(tmp_path), tmp_path / ".drawer.csv.lock"
    lock.write_text("")
    os.utime(lock, (time.time() - 3 * 3_600 - 60,) * 2)
    opened = os.open

    def of_another(name: str, *more: int) -> int:
        if os.fspath(name) == str(lock):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(lock))
        return opened(name, *more)

    monkeypatch.setattr(os, "open", of_another)
    with pytest.raises(InputError) as refused:
        take_one(path)
    said = str(refused.value)
    assert "belongs to another user" in said
    assert f"{lock}, 3 hours old" in said
    assert f"have {lock} deleted" in said
    assert path.read_text() == "part,on_hand\nA,100\n"
    assert lock.exists()


def test_who_waits_is_told_which_lock_and_how_old(tmp_path: Path) -> None:
    path, said = drawer(tmp_path), r"another program is changing the drawer \(here: .*\.lock, 0 seconds old\)"
    with locked(path), pytest.raises(InputError, match=said), locked(path, 0.05):
        pytest.fail("two held one lock")


HOLDS = """
import sys
from pathlib import Path
from shimopt.tables.locking import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""
JOB = """
unit = "mm"
window = { min = 0.1, max = 0.2, source = "s" }
[[gap]]
name = "g"
value = "0.15 mm ± 0.01 mm"
"""
WHO = ("--after", "g=0.15", "--person", "M. Hale", "--instrument", "blades", "--date", "2026-05-03")


def test_a_lock_of_somebody_else_is_told_when_the_wait_begins(tmp_path: Path) -> None:
    """Two processes: the second tells of its wait while the first still holds the job, and goes on when it lets go."""
    job = tmp_path / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    pipe = subprocess.PIPE
    with started(job, program=HOLDS, stdin=pipe, stdout=pipe) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        record = started("record", job, *WHO, stdout=subprocess.DEVNULL, stderr=pipe)
        assert record.stderr is not None
        said = record.stderr.readline()
        still_waits = record.poll() is None and "[[record]]" not in job.read_text(encoding="utf-8")
        holder.stdin.close()
        rest = record.stderr.read()
        record.stderr.close()
    assert said == "shimopt: waiting for another program to let go of job.toml ...\n"
    assert (still_waits, record.wait(60), rest) == (True, 0, "")
    assert "[[record]]" in job.read_text(encoding="utf-8")


def test_a_lock_that_cannot_be_taken_away_is_no_failure_of_what_was_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, unlink = drawer(tmp_path), Path.unlink

    def held_open(self: Path, missing_ok: bool = False) -> None:
        if self.suffix == ".lock":
            raise PermissionError(errno.EACCES, "the file is open in another program")
        unlink(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", held_open)
    take_one(path)
    take_one(path)
    assert path.read_text() == "part,on_hand\nA,98\n"


def test_where_nothing_can_be_written_the_folder_is_blamed(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no lock can be made beside the drawer"), locked(tmp_path / "gone" / "d.csv"):
        pytest.fail("there is no such folder")


def test_an_error_while_the_lock_is_held_frees_it(tmp_path: Path) -> None:
    path = drawer(tmp_path)
    with pytest.raises(ZeroDivisionError), locked(path):
        _ = 1 / 0
    take_one(path)
