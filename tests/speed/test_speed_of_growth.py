"""How time grows with gaps, sizes and pieces per stack: CPU seconds, and the exponent from the first to the last.

Nothing is asserted about time. The table names its machine and is kept in `growth.md`:

    python -m pytest tests/speed/test_speed_of_growth.py --benchmark-enable -s
"""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import replace
from math import log
from pathlib import Path
from time import process_time

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import Job
from shimopt.planner import decide
from tests.jobs import shim
from tests.large_jobs import with_drawer
from tests.speed.bench_jobs import gaps_in_pairs

_TABLE = Path(__file__).with_name("growth.md")
_SEEDS = range(3)


def of_gaps(count: int, seed: int) -> Job:
    """So many gaps in pairs, 14 sizes, at most three pieces."""
    return with_drawer(gaps_in_pairs(count, seed), 0.12, 0.25, seed=seed)


def of_sizes(count: int, seed: int) -> Job:
    """Thirty gaps, so many sizes from 0.1 to 1 mm, two pieces of all for each gap."""
    stock = [shim(f"{0.1 + 0.9 * n / (count - 1):.3f}", max(1, 60 // count), unit="mm") for n in range(count)]
    return replace(gaps_in_pairs(30, seed), stock=tuple(stock))


def of_pieces(most: int, seed: int) -> Job:
    """Thirty gaps, 14 sizes, at most so many pieces."""
    of = of_gaps(30, seed)
    return replace(of, places=tuple(replace(place, most_pieces=most) for place in of.places))


GROWTH = {
    "gaps": (of_gaps, (25, 50, 100, 200)),
    "sizes": (of_sizes, (7, 14, 28)),
    "pieces per stack": (of_pieces, (1, 2, 3, 4)),
}


def test_how_time_grows(benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]) -> None:
    decide(gaps_in_pairs(4, 0))
    rows = benchmark.pedantic(lambda: [_row(what) for what in GROWTH], rounds=1)  # type: ignore[no-untyped-call]
    text = "\n".join([*_head(), *rows, ""])
    _TABLE.write_text(text, encoding="utf-8")
    with capsys.disabled():
        print(f"\n{text}")


def _head() -> Sequence[str]:
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return (
        f"CPU seconds of a whole plan with its reasons, median of {len(_SEEDS)} jobs; {cores} cores, {_processor()},",
        f"Python {platform.python_version()}. Exponent: how time grows with the count, from the first to the last.",
        "",
        "| what grows | seconds by count | exponent |",
        "| --- | --- | --- |",
    )


def _row(what: str) -> str:
    make, counts = GROWTH[what]
    times = [_seconds([make(count, seed) for seed in _SEEDS]) for count in counts]
    exponent = log(times[-1] / times[0]) / log(counts[-1] / counts[0])
    told = ", ".join(f"{count}: {time:.2f}" for count, time in zip(counts, times, strict=True))
    return f"| {what} | {told} | {exponent:.1f} |"


def _seconds(jobs: Sequence[Job]) -> float:
    found = []
    for of in jobs:
        start = process_time()
        decide(of)
        found.append(process_time() - start)
    return sorted(found)[len(found) // 2]


def _processor() -> str:
    """Its name, where the system tells it."""
    known = Path("/proc/cpuinfo")
    lines = known.read_text(encoding="utf-8").splitlines() if known.exists() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.processor() or platform.machine())
