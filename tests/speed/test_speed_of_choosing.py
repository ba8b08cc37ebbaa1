"""How long choosing takes, and how that compares with the same job as plain counts; nothing is asserted about time.

Targets on two cores, all levels proven: 20 gaps under 3 s, 5 gaps under 0.3 s, 4 gaps with 100 singly measured pieces
under 5 s; against counts in the same solver at most the same time.
"""

from __future__ import annotations

from time import perf_counter
from typing import Any, cast

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.choose import Choice, choose
from shimopt.job import Job
from shimopt.seats import Screening, screen
from tests.counts_model import NotProvenError, values_by_counts
from tests.speed.bench_jobs import gaps_in_pairs, singly_measured

_LONGEST = 30.0  # seconds for one level of the plain counts, so that a run comes to an end

JOBS = {
    **{f"20 gaps in pairs, drawer {seed}": gaps_in_pairs(20, seed) for seed in range(4)},
    **{f"5 gaps, drawer {seed}": gaps_in_pairs(5, seed) for seed in range(4)},
    "4 gaps, 100 pieces measured singly": singly_measured(4, 100, 0, paired=False),
    "4 gaps, 100 pieces measured singly, a pair": singly_measured(4, 100, 0, paired=True),
    "4 gaps, 100 pieces measured singly, a pair within 0.01 mm": singly_measured(4, 100, 2, paired=True, within="0.01"),
}


@pytest.fixture(autouse=True, scope="module")
def _solvers_loaded() -> None:
    """The first solve also imports ortools, which is no part of choosing."""
    of = gaps_in_pairs(4, 0)
    choose(of, screen(of))


def timed(benchmark: BenchmarkFixture, of: Job, screening: Screening) -> Choice:
    return cast(Choice, cast(Any, benchmark).pedantic(choose, args=(of, screening), rounds=1, warmup_rounds=0))


@pytest.mark.parametrize("name", JOBS)
def test_choosing_with_every_level_proven(name: str, benchmark: BenchmarkFixture) -> None:
    of = JOBS[name]
    screening = screen(of)
    choice = timed(benchmark, of, screening)
    assert all(level.proven for level in choice.levels)


@pytest.mark.parametrize("seed", range(2))
def test_choosing_takes_no_longer_than_plain_counts(
    seed: int, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    of = gaps_in_pairs(20, seed)
    screening = screen(of)
    start = perf_counter()
    choice = timed(benchmark, of, screening)
    ours = perf_counter() - start
    start = perf_counter()
    finished = _counted(of, {level.name: level.value for level in choice.levels})
    counts = perf_counter() - start
    benchmark.extra_info["ratio"] = ours / counts
    with capsys.disabled():
        more = "" if finished else " or less, counts were stopped"
        print(f"\ndrawer {seed}: {ours:.2f} s against {counts:.2f} s by counts, ratio {ours / counts:.3f}{more}")


def _counted(of: Job, ours: dict[str, object]) -> bool:
    """Whether plain counts came to an end; if so, with the same values."""
    try:
        values = values_by_counts(of, screen(of), _LONGEST)
    except NotProvenError:
        return False
    assert values == {level: ours[level] for level in values}
    return True
