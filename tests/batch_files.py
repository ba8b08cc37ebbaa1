"""Batches from the command line, for tests: files in, exit code, rows and words out."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

from shimopt.cli import main

PARTS = "part,thickness_mm\nS-10,0.10\nS-20,0.20\nS-50,0.50\n"
WINDOW = ("--min", "0.10 mm", "--max", "0.25 mm")
COLUMNS = ["gap", "stack", "after_low_mm", "after_best_mm", "after_high_mm", "verdict", "chance", "reason"]


@dataclass(frozen=True)
class Ended:
    """How a call ended: exit code, standard output and error, the rows of the table that it wrote."""

    code: int
    out: str
    err: str
    rows: list[dict[str, str]]


class Batches:
    """Calls `shimopt batch` in a folder."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.capsys = folder, capsys
        self.out = folder / "out.csv"
        (folder / "parts.csv").write_text(PARTS, encoding="utf-8")

    def of(self, gaps: str | bytes, *options: str) -> Ended:
        """A batch of a CSV with this content, by the parts and window above unless `options` say otherwise."""
        table = self.folder / "gaps.csv"
        table.write_bytes(gaps.encode() if isinstance(gaps, str) else gaps)
        return self.call(table, "--parts", self.folder / "parts.csv", *(options or WINDOW), "-o", self.out)

    def call(self, *arguments: str | Path) -> Ended:
        """Any call."""
        self.out.unlink(missing_ok=True)
        with pytest.raises(SystemExit) as ended:
            main(["batch", *map(str, arguments)])
        out, err = self.capsys.readouterr()
        rows = []
        if self.out.exists():
            with open(self.out, encoding="utf-8", newline="") as file:
                rows = list(csv.DictReader(file))
        code = ended.value.code
        assert isinstance(code, int)
        return Ended(code, out, err, rows)
