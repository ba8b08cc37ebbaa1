"""How long large jobs take, all levels; against flat models: the jobs of `test_speed_of_sizes`.

Nothing is asserted about time. Targets on two cores: 1,000 gaps in pairs with 14 sizes and at most 3 pieces 2 s (10 s
where a hundred go unserved), 10,000 gaps 30 s, 100,000 gaps 5 minutes and under 4 GB; `outside`, `unproven` and
`pieces` within one of their bounds, `spread` within 0.1 %.

    python -m pytest tests/speed/test_speed_of_large_jobs.py --benchmark-enable -s                     # 1,000 gaps
    SHIMOPT_LARGEST=100000 python -m pytest tests/speed/test_speed_of_large_jobs.py --benchmark-enable -s

The second draws the curve of time against gaps anew (`curve.svg`).
"""

from __future__ import annotations

import os
from pathlib import Path
from time import perf_counter
from typing import Any, cast

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import Job
from shimopt.planner import Decision, decide
from tests.large_jobs import with_drawer
from tests.speed.bench_jobs import gaps_in_pairs
from tests.speed.curve import drawn_curve

_CURVE = Path(__file__).with_name("curve.svg")
_LARGEST = int(os.environ.get("SHIMOPT_LARGEST", "1000"))
_SIZES = [size for size in (1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000) if size <= _LARGEST]
# pieces of each size for each gap, from least to most
_DRAWERS = {"scarce": (0.12, 0.25), "so scarce that one gap in seven is not served": (0.06, 0.18)}
_SECONDS: dict[str, list[tuple[int, float]]] = {}


def large_job(gaps: int, drawer: str) -> Job:
    return with_drawer(gaps_in_pairs(gaps, 1), *_DRAWERS[drawer], seed=1)


@pytest.fixture(autouse=True, scope="module")
def _solvers_loaded() -> None:
    decide(gaps_in_pairs(4, 0))


def timed(benchmark: BenchmarkFixture, of: Job) -> Decision:
    return cast(Decision, cast(Any, benchmark).pedantic(decide, args=(of,), rounds=1, warmup_rounds=0))


def near_its_bounds(of: Decision) -> None:
    for level in of.levels:
        assert level.bound is not None
        if level.name in ("outside", "unproven", "pieces"):
            assert level.value - level.bound <= 1
        if level.name == "spread":
            assert level.value - level.bound <= level.value / 1000


@pytest.mark.parametrize("drawer", _DRAWERS)
@pytest.mark.parametrize("gaps", _SIZES)
def test_a_large_job_comes_near_its_bounds(
    gaps: int, drawer: str, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    of = large_job(gaps, drawer)
    start = perf_counter()
    found = timed(benchmark, of)
    seconds = perf_counter() - start
    near_its_bounds(found)
    _SECONDS.setdefault(drawer, []).append((gaps, seconds))
    with capsys.disabled():
        outside = found.outcome.levels["outside"]
        print(f"\n{gaps:,} gaps, {drawer}: {seconds:.1f} s, {outside} outside")
    if gaps == 100_000 and all(len(points) == len(_SIZES) for points in _SECONDS.values()):
        _CURVE.write_text(drawn_curve(_SECONDS), encoding="utf-8")
