"""How long places that act together take, all levels, proven; nothing is asserted about time.

Targets on two cores: 2 places with 30 sizes and 4 pieces under 2 s; 24 bucket gaps with 24 installed shims under 1 s; 8
coupled places of 20 sizes under 4 s, 50 places in pairs under 2 s, 1,000 of them under 20 s (one of the rings cannot be
done: its windows fight).
"""

from __future__ import annotations

from typing import Any, cast

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.choose import Choice, choose
from shimopt.job import Job
from shimopt.seats import screen
from tests.speed.bench_places import buckets, eight_in_a_ring, pairs_together, sum_and_difference

CASES = {
    "sum and difference, 2 places, 30 sizes, 4 pieces": (sum_and_difference, 0),
    "sum and difference, another": (sum_and_difference, 2),
    "24 bucket gaps, 24 shims in": (buckets, 1),
    "50 places in pairs": (lambda seed: pairs_together(50, seed), 1),
    "50 places in pairs, three gaps of which cannot be inside": (lambda seed: pairs_together(50, seed), 2),
    "1,000 places in pairs": (lambda seed: pairs_together(1_000, seed), 1),
    "8 places in a ring, 20 sizes": (eight_in_a_ring, 1),
    "8 places in a ring, tighter": (eight_in_a_ring, 0),
    "8 places in a ring whose windows fight": (eight_in_a_ring, 2),
}


@pytest.mark.parametrize("case", CASES)
def test_places_that_act_together_are_proven(case: str, benchmark: BenchmarkFixture) -> None:
    make, seed = CASES[case]
    job: Job = make(seed)
    screening = screen(job)

    def chosen() -> Choice:
        return choose(job, screening)

    choice = cast(Any, benchmark).pedantic(chosen, rounds=1, warmup_rounds=1 if job.title != "ring" else 0)
    assert all(level.proven for level in choice.levels)
