"""What was said at the benches, on disk before anybody is answered: a line of JSON for each entry, only ever added to.

A line that was cut off, by an end at once or a full disk, was never answered: it is taken away when the log is opened.
"""

from __future__ import annotations

import asyncio
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from shimopt.errors import InputError
from shimopt.machine import settle_folder

Entry = dict[str, Any]
# what nobody waits for is on disk after so long [s]
_SOON = 0.5


class ReadingsLog:
    """The log in a file; `entries` are those that it held when it was opened. Raises InputError."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._waiting: list[tuple[Entry, asyncio.Future[None]]] = []
        self._writing: asyncio.Task[None] | None = None
        try:
            path.parent.mkdir(mode=0o700, exist_ok=True)
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            self.entries = self._read()
            settle_folder(path.parent)
        except OSError as error:
            raise self._refused(error) from None
        self.last = self.entries[-1]["seq"] if self.entries else 0

    def _read(self) -> list[Entry]:
        raw = b""
        while part := os.read(self._file, 1 << 20):
            raw += part
        found, good = entries_of(raw)
        if good <= raw.rfind(b"\n"):
            rule = f"line {len(found) + 1} of the log of readings is none of its entries"
            raise InputError.at(self._path, rule, "put it right, or move the file elsewhere and begin a new one")
        os.ftruncate(self._file, good)
        os.lseek(self._file, good, os.SEEK_SET)
        return found

    def add(self, entry: Mapping[str, Any], *, urgent: bool = True) -> tuple[Entry, asyncio.Future[None]]:
        """The entry under its number, and when it is on disk. That raises InputError where it cannot be.

        Parameter: urgent, whether somebody waits for that; else it goes there with the next that is, or soon.
        """
        self.last += 1
        numbered = {"seq": self.last, **entry}
        loop = asyncio.get_running_loop()
        done: asyncio.Future[None] = loop.create_future()
        self._waiting.append((numbered, done))
        if urgent:
            self._begin()
        else:
            loop.call_later(_SOON, self._begin)
        return numbered, done

    def _begin(self) -> None:
        if self._waiting and (self._writing is None or self._writing.done()):
            self._writing = asyncio.create_task(self._write())

    async def _write(self) -> None:
        """Bring to the disk what waits, all of it at once, until nothing does."""
        while self._waiting:
            now, self._waiting = self._waiting, []
            try:
                await asyncio.to_thread(self._put, _lines(now))
            except OSError as error:
                for _, done in now:
                    done.set_exception(self._refused(error))
                continue
            for _, done in now:
                if not done.done():
                    done.set_result(None)

    def _put(self, raw: bytes) -> None:
        at = os.lseek(self._file, 0, os.SEEK_CUR)
        try:
            left = memoryview(raw)
            while left:
                left = left[os.write(self._file, left) :]
            os.fsync(self._file)
        except OSError:
            # what is only half there was never answered
            os.ftruncate(self._file, at)
            os.lseek(self._file, at, os.SEEK_SET)
            raise

    def _refused(self, error: OSError) -> InputError:
        rule = f"readings cannot be kept there ({error.strerror})"
        return InputError.at(self._path, rule, "check the folder, its rights and the disk")

    def close(self) -> None:
        """Close the file, with what was not urgent."""
        with suppress(OSError):
            self._put(_lines(self._waiting))
        os.close(self._file)


def entries_of(raw: bytes) -> tuple[list[Entry], int]:
    """The entries that a log begins with, and how many bytes they are; what was cut off is none."""
    found, good = list[Entry](), 0
    for line in raw[: raw.rfind(b"\n") + 1].splitlines(keepends=True):
        try:
            entry = json.loads(line)
        except ValueError:
            break
        if not isinstance(entry, dict) or not isinstance(entry.get("seq"), int):
            break
        found.append(entry)
        good += len(line)
    return found, good


def _lines(entries: list[tuple[Entry, asyncio.Future[None]]]) -> bytes:
    return "".join(json.dumps(entry, ensure_ascii=True) + "\n" for entry, _ in entries).encode()
