"""How long it takes to read a drawer of different rings and to hold each against a seat.

Target: `shimopt fit` on 100,000 of them in 3 CPU seconds. What is asserted is a ratio within one run: it takes at most
15 times as long as reading the same cells as exact numbers with the standard library.
"""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path
from time import process_time
from typing import Any, cast

from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import load_job
from shimopt.render.json.parts_json import SeatFits
from shimopt.render.screens.fit_screen import fit_lines
from shimopt.render.screens.layout import ASCII, Line
from shimopt.seats import on_seat_all

_RINGS = 100_000
_MOST = 15
_JOB = """\
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.05, max = 0.15, source = "sheet 2" }

[[seat]]
name = "plain end"
shaft = "16 h6"
face = { inner = 18, outer = 24 }

[[gap]]
name = "drum"
seat = "plain end"
value = 0.5
"""
_LENGTHS = ("thickness_mm", "tolerance_mm", "inner_mm", "outer_mm")


def rings(path: Path) -> None:
    """41 bores by 32 outsides by as many thicknesses as it takes: no two rings are alike."""
    with open(path, "w", encoding="utf-8") as file:
        file.write("part,thickness_mm,tolerance_mm,inner_mm,outer_mm,at,on_hand\n")
        for n in range(_RINGS):
            bore, edge, thick = n % 41, n // 41 % 32, n // (41 * 32)
            inner = 10.2 + bore / 2
            file.write(f"R-{n},{0.05 + thick / 100:.2f},0.005,{inner:.1f},{inner + 4 + edge / 2:.1f},bin {n % 300},1\n")


def test_a_drawer_of_a_hundred_thousand_different_rings_on_a_seat(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    rings(tmp_path / "drawer.csv")
    (tmp_path / "job.toml").write_text(_JOB, encoding="utf-8")
    started = process_time()
    with open(tmp_path / "drawer.csv", newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            _ = [Decimal(row[name]) for name in _LENGTHS]
    bare = process_time() - started

    def told() -> list[Line]:
        job = load_job(tmp_path / "job.toml")
        answers = on_seat_all([line.part for line in job.stock], job.seats[0], to_first_stop=True)
        return fit_lines(
            [SeatFits(job.seats[0], job.stock, tuple(answers))], "mm", 80, ASCII, findings=False, every=False
        )

    started = process_time()
    lines = cast(Any, benchmark).pedantic(told, rounds=1, warmup_rounds=0)
    ratio = (process_time() - started) / bare
    benchmark.extra_info["ratio"] = ratio
    assert any("100,000 parts" in text for text, _ in lines)
    assert ratio <= _MOST
