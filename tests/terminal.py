"""A person at a terminal: a command started on one, what it shows there, and what is typed when it asks."""

from __future__ import annotations

import os
import pty
import re
import select
import subprocess
import time
from codecs import getincrementaldecoder
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType

from tests.processes import started

__all__ = ["Person", "shown_to"]

_LONGEST = 60.0


class Person:
    """Somebody who has called shimopt on a terminal of 80 columns. Leaving ends what still runs."""

    def __init__(
        self, folder: Path, *arguments: str | Path, env: Mapping[str, str] | None = None, errors: bool = True
    ) -> None:
        self._ours, its = pty.openpty()
        self.shown = ""
        # a sign may come in two blocks
        self._decoder = getincrementaldecoder("utf-8")(errors="replace")
        self._read = 0
        self._process = started(
            *arguments,
            cwd=folder,
            stdin=its,
            stdout=its,
            stderr=its if errors else subprocess.DEVNULL,
            env={**os.environ, "COLUMNS": "80", "TERM": "dumb", "PYTHONIOENCODING": "utf-8", **(env or {})},
        )
        os.close(its)

    def __enter__(self) -> Person:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.kill()
        self._process.wait(_LONGEST)
        os.close(self._ours)

    def hears(self, question: str) -> Person:
        """Wait until this is shown, after what was heard before."""
        ends = time.monotonic() + _LONGEST
        while question not in self.shown[self._read :]:
            assert self._more(ends), f"it was never asked {question!r}:\n{self.shown}"
        self._read = self.shown.index(question, self._read) + len(question)
        return self

    def types(self, answer: str) -> None:
        """Type a line."""
        os.write(self._ours, os.fsencode(f"{answer}\n"))

    def answers(self, known: Mapping[str, str]) -> int:
        """Answer every question by the first words of it that are known, else by its default; the exit code."""
        ends, said = time.monotonic() + _LONGEST, ""
        while self._more(ends):
            # a long question is folded: what follows its first line stands further in
            question = re.split(r"\n(?!    )", self.shown)[-1]
            if question.endswith(": ") and self.shown != said:
                said = self.shown
                self.types(next((answer for words, answer in known.items() if words in question), ""))
        return self._process.wait(_LONGEST)

    def ends(self) -> int:
        """Wait for the end; the exit code."""
        ends = time.monotonic() + _LONGEST
        while self._more(ends):
            pass
        return self._process.wait(_LONGEST)

    def _more(self, ends: float) -> bool:
        """Read what is shown next; whether there was anything."""
        if not select.select([self._ours], [], [], max(0.0, ends - time.monotonic()))[0]:
            return False
        try:
            block = os.read(self._ours, 65_536)
        except OSError:
            # the other end has gone
            return False
        self.shown += self._decoder.decode(block)
        return bool(block)


def shown_to(folder: Path, *arguments: str | Path, env: Mapping[str, str] | None = None) -> str:
    """What a command shows on standard output to somebody who types nothing."""
    with Person(folder, *arguments, env=env, errors=False) as person:
        assert person.ends() in (0, 1)
        return person.shown.replace("\r\n", "\n")
