"""How time grows with gaps, sizes and pieces per stack: CPU seconds and exponents.

An exponent from the first count to the last hides what a small job costs anyway; that of the last step does not.
Nothing is asserted about time. The table names its machine and is kept in `growth.md`:

    python -m pytest tests/speed/test_speed_of_growth.py --benchmark-enable -s               # all rows
    python -m pytest tests/speed/test_speed_of_growth.py --benchmark-enable -s -k sizes      # one row
"""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from math import inf, isfinite, log
from pathlib import Path
from time import process_time

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import Job
from shimopt.planner import decide
from shimopt.watch import Watch
from tests.jobs import shim
from tests.large_jobs import with_drawer
from tests.speed.bench_jobs import gaps_in_pairs

_TABLE = Path(__file__).with_name("growth.md")
_SEEDS = range(3)
_LONGEST = 30.0


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
    "gaps": (of_gaps, (25, 100, 400, 1_600)),
    "sizes": (of_sizes, (7, 14, 28, 56)),
    "pieces per stack": (of_pieces, (1, 2, 3, 4, 5)),
}


@pytest.mark.parametrize("what", GROWTH)
def test_how_time_grows(what: str, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]) -> None:
    decide(gaps_in_pairs(4, 0))
    row = benchmark.pedantic(_row, args=(what,), rounds=1)  # type: ignore[no-untyped-call]
    before = _TABLE.read_text(encoding="utf-8").splitlines() if _TABLE.exists() else []
    rows = {line.split(" | ")[0]: line for line in before} | {f"| {what}": row}
    kept = [rows[f"| {name}"] for name in GROWTH if f"| {name}" in rows]
    _TABLE.write_text("\n".join([*_head(), *kept, ""]), encoding="utf-8")
    with capsys.disabled():
        print(f"\n{row}")


def _head() -> Sequence[str]:
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    solvers = ", ".join(f"{name} {version(name)}" for name in ("highspy", "ortools"))
    return (
        f"CPU seconds of a whole plan with its reasons, median (and worst) of {len(_SEEDS)} jobs. {cores} cores of",
        f"{_processor()}, {platform.system()}, Python {platform.python_version()}, {solvers}. Exponent: how",
        "time grows with the count. Load: how many processes wanted these cores at the end.",
        "",
        "| what grows | seconds by count | exponent, first to last | last step | load |",
        "| --- | --- | --- | --- | --- |",
    )


def _row(what: str) -> str:
    make, counts = GROWTH[what]
    seconds = {count: sorted(_seconds(make(count, seed)) for seed in _SEEDS) for count in counts}
    told = ", ".join(
        f"{count:,}: {_told(times[len(times) // 2])} ({_told(times[-1])})" for count, times in seconds.items()
    )
    done = [(count, times[len(times) // 2]) for count, times in seconds.items() if isfinite(times[len(times) // 2])]
    over_all, last = (log(done[-1][1] / done[at][1]) / log(done[-1][0] / done[at][0]) for at in (0, -2))
    return f"| {what} | {told} | {over_all:.1f} | {last:.1f} | {os.getloadavg()[0]:.0f} |"


def _seconds(of: Job) -> float:
    """CPU seconds until every level is proven; inf where that is not so after the longest wait."""
    start = process_time()
    found = decide(of, watch=Watch(_LONGEST))
    return process_time() - start if found.proven else inf


def _told(seconds: float) -> str:
    return f"{seconds:.2f}" if isfinite(seconds) else f"not proven in {_LONGEST:.0f} s of wall time"


def _processor() -> str:
    """Its name, where the system tells it."""
    known = Path("/proc/cpuinfo")
    lines = known.read_text(encoding="utf-8").splitlines() if known.exists() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, platform.processor() or platform.machine())
