"""How long jobs of every size take, against one flat model of the same job in HiGHS and in CP-SAT in the same run.

Nothing is asserted about time; what is printed are CPU seconds and the ratio of ours to each. A flat model is stopped
after so many seconds; then the ratio is at most what is told. Prices, reasons and ties count as ours: the flat models
bring down the levels alone. The flat models of 10,000 gaps take 2.5 GB and two minutes; 100,000 are not tried.

    python -m pytest tests/speed/test_speed_of_sizes.py --benchmark-enable -s
"""

from __future__ import annotations

from time import process_time

import pytest
from ortools.math_opt.python import mathopt
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import Job
from shimopt.planner import decide
from tests.large_jobs import mixed_job, plentiful, with_drawer
from tests.speed.bench_flat import solved_flat
from tests.speed.bench_jobs import equal_gaps, gaps_in_pairs, singly_measured, to_be_bought
from tests.speed.bench_places import eight_in_a_ring, pairs_together

_FLAT_SECONDS = 20.0

JOBS = {
    "20 gaps, one scarce drawer": with_drawer(gaps_in_pairs(20, 1), 0.12, 0.25, seed=1),
    "50 gaps, one scarce drawer": with_drawer(gaps_in_pairs(50, 1), 0.12, 0.25, seed=1),
    "300 gaps, one scarce drawer": with_drawer(gaps_in_pairs(300, 1), 0.12, 0.25, seed=1),
    "300 equal gaps": equal_gaps(300, 1),
    "300 gaps in rows of up to four": plentiful(mixed_job(1, 300)),
    "1,000 gaps, one scarce drawer": with_drawer(gaps_in_pairs(1_000, 1), 0.12, 0.25, seed=1),
    "1,000 gaps, one in seven not served": with_drawer(gaps_in_pairs(1_000, 1), 0.06, 0.18, seed=1),
    "10,000 gaps, one scarce drawer": with_drawer(gaps_in_pairs(10_000, 1), 0.12, 0.25, seed=1),
    "20 gaps, all to be bought": to_be_bought(20, 1),
    "100 gaps, all to be bought": to_be_bought(100, 1),
    "50 places in pairs": pairs_together(50, 1),
    "8 places in a ring": eight_in_a_ring(0),
    "4 gaps, 100 pieces measured singly": singly_measured(4, 100, 0, paired=True),
    "12 gaps, 100 pieces measured singly": singly_measured(12, 100, 0, paired=False),
}


@pytest.fixture(autouse=True, scope="module")
def _solvers_loaded() -> None:
    decide(gaps_in_pairs(4, 0))


@pytest.mark.parametrize("name", JOBS)
def test_a_job_against_flat_models(name: str, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]) -> None:
    of = JOBS[name]
    buy = not any(line.on_hand for line in of.stock)
    ours, proven = _ours(of, buy)
    benchmark.pedantic(lambda: None, rounds=1)  # type: ignore[no-untyped-call]
    told = []
    for kind in (mathopt.SolverType.HIGHS, mathopt.SolverType.CP_SAT):
        stopped_at, seconds = solved_flat(of, kind, _FLAT_SECONDS, buy=buy)
        benchmark.extra_info[kind.name] = ours / seconds
        ratio = f"ratio {ours / seconds:.2f}{f' or less, stopped at {stopped_at}' if stopped_at else ''}"
        told.append(f"{kind.name} {seconds:.2f} s, {ratio}")
    with capsys.disabled():
        print(f"\n{name}: {ours:.2f} s, {proven}; {'; '.join(told)}")


def _ours(of: Job, buy: bool) -> tuple[float, str]:
    start = process_time()
    found = decide(of, buy=buy)
    return process_time() - start, "proven" if found.proven else "not proven at every level"
