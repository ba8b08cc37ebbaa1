"""Two ways to try a command: cut off at every point where it touches a file, and many at once.

Cut off, each file is as it was before or as a whole run leaves it, and the same command again comes to the same end.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.processes import started

__all__ = ["Ended", "Faults", "files_of", "litter", "try_every_point"]

Files = dict[str, bytes]
_ROOT = Path(__file__).parents[2]
# what a process that was killed may leave: locks, files half written, pieces of a batch that goes on from them
_LITTER = re.compile(r"(.*/)?(\..*\.(part|lock|held)(/.*)?|[^/]*\.unfinished(/.*)?)")
_DRAWN = re.compile(r"\.[0-9a-f]{8}(?=\.part$)")
_ID = re.compile(rb"\b[0-9a-f]{12}\b")


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended, the points that it passed, and the processes that are left of those that it started."""

    code: int
    out: str
    err: str
    points: list[str]
    left: list[str]


class Faults:
    """Runs commands through one process that has everything loaded."""

    def __init__(self) -> None:
        self._server = started(module="tests.faults.forks", cwd=_ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def close(self) -> None:
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.close()
        self._server.wait(20)
        self._server.stdout.close()

    def run(self, folder: Path, *arguments: str | Path, do: str | None = None, at: int = 0, **more: Any) -> Ended:
        """One command in a folder.

        Parameters: do, "kill" or "fail" it at the point with the number `at`; or "kill" or "interrupt" it once it has
        gone through a function `after=(name, times)`.
        """
        return self.at_once(folder, [arguments], do=do, at=at, **more)[0]

    def at_once(
        self,
        folder: Path,
        commands: Sequence[Sequence[str | Path]],
        *,
        meet: str | None = None,
        typed: str | None = None,
        settings: Mapping[str, object] | None = None,
        do: str | None = None,
        at: int = 0,
        after: tuple[str, int] | None = None,
    ) -> list[Ended]:
        """Commands that run at once.

        Parameters: meet, the function (`module.name`) from which all go on together, else from the start; typed, what
        somebody answers on a terminal; settings, values of modules by `module.name`.
        """
        request = {
            "folder": str(folder),
            "commands": [[str(word) for word in command] for command in commands],
            "do": do,
            "at": at,
            "after": after,
            "meet": meet,
            "typed": typed,
            "set": dict(settings or {}),
        }
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        print(json.dumps(request), file=self._server.stdin, flush=True)
        found = [Ended(**ended) for ended in json.loads(self._server.stdout.readline())]
        for ended in found:
            assert "Traceback" not in ended.err, ended.err
            assert ended.code in (0, 1, 2, 130, -9), ended
        return found


def files_of(folder: Path) -> Files:
    """The content of every file below a folder; the names of records, which are drawn by lot, are all alike."""
    return {
        path.relative_to(folder).as_posix(): _ID.sub(b"(id)", path.read_bytes())
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def litter(files: Files) -> list[str]:
    """The names of those files that only a process that was killed may leave behind."""
    return [name for name in files if _LITTER.fullmatch(name)]


def try_every_point(
    faults: Faults,
    place: Path,
    make: Callable[[Path], object],
    command: Sequence[str | Path],
    *,
    on_the_way: Mapping[str, bytes] | None = None,
    only: Sequence[str] = (),
    **how: Any,
) -> None:
    """Kill a command, and have it fail, at every point of its way in a folder that `make` fills.

    Parameters: on_the_way, what stands in a file of this name that is neither old nor new yet, of which the command
    knows how to go on; only, the kinds of points that are looked at, all if not given; how, as `Faults.at_once`.
    """
    template, work = place / "template", place / "work"
    template.mkdir()
    make(template)
    before = files_of(template)

    def fresh() -> None:
        shutil.rmtree(work, ignore_errors=True)
        shutil.copytree(template, work)

    fresh()
    whole = faults.run(work, *command, **how)
    after = files_of(work)
    assert whole.code in (0, 1), whole
    assert after != before
    assert not litter(after)
    assert len(whole.points) >= 3
    begun = set[frozenset[tuple[str, bytes]]]()
    for do in ("kill", "fail"):
        for at, point in enumerate(whole.points, 1):
            if (do == "fail" and point.startswith("opened")) or (only and not point.startswith(tuple(only))):
                continue
            fresh()
            ended = faults.run(work, *command, do=do, at=at, **how)
            here = f"{do} at point {at}, {point}: {ended.code}\n{ended.err}"
            found = files_of(work)
            _old_or_new(found, before, after, on_the_way or {}, here)
            if do == "kill":
                assert ended.code == -9, here
            else:
                assert ended.code in (2, whole.code), here
                assert ended.code != 2 or "No space left on device" in ended.err or "Permission" in ended.err, here
                assert ended.code != whole.code or _without_litter(found) == after, f"said to be done: {here}"
                left = [name for name in litter(found) if name.endswith(".part") and name not in ended.points[at - 1]]
                assert left == [], here
                all_or_none = on_the_way or _without_litter(found) in (before, after)
                assert all_or_none, f"some of it was written: {here}"
            # many points leave the same behind, be it under another name drawn by lot: from there it goes on alike
            state = frozenset((_DRAWN.sub("", name), content) for name, content in found.items())
            if found != before and state not in begun:
                begun.add(state)
                again = faults.run(work, *command, **how)
                # what is never written over was there already, and whole
                whole_already = _without_litter(found) == after and "is there already" in again.err
                assert again.code == whole.code or whole_already, f"{here}\nthen again: {again}"
                assert _without_litter(files_of(work)) == after, f"{here}\nthen again: {again}"


def _old_or_new(found: Files, before: Files, after: Files, on_the_way: Mapping[str, bytes], here: str) -> None:
    for name in {*found, *before, *after} - set(litter(found)):
        is_now = found.get(name)
        known = is_now is not None and name in on_the_way and on_the_way[name] in is_now
        assert known or is_now in (before.get(name), after.get(name)), f"{name} is neither old nor new. {here}"


def _without_litter(files: Files) -> Files:
    return {name: content for name, content in files.items() if not _LITTER.fullmatch(name)}
