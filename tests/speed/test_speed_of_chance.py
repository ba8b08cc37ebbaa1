"""How long the chance of 1,000 gaps takes, each with errors of its own; nothing is asserted about time.

Target on two cores: under 1 s.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any, cast

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.probability import Even, Student, probability
from shimopt.probability.errors_of import Error

_GAPS = 1_000


def pulled(rng: Random) -> tuple[Error, ...]:
    """Five pulls on a dial, its graduation and error, a shift, two pieces [nm]."""
    return (
        Student(Fraction(rng.randint(1_000, 6_000)) ** 2, 4),
        Even(Fraction(5_000)),
        *(Even(Fraction(rng.randint(2_000, 20_000))) for _ in range(4)),
    )


def built_up(rng: Random) -> tuple[Error, ...]:
    """Five dimensions, a shift, two pieces [nm]."""
    return tuple(Even(Fraction(rng.randint(2_000, 20_000))) for _ in range(8))


@pytest.mark.parametrize("kind", [pulled, built_up])
def test_the_chance_of_a_thousand_gaps(kind: Any, benchmark: BenchmarkFixture) -> None:
    rng = Random(7)
    budgets = [kind(rng) for _ in range(_GAPS)]

    def chances() -> list[float]:
        return [float(probability(errors, Fraction(-40_000), Fraction(30_000))) for errors in budgets]

    found = cast(Any, benchmark).pedantic(chances, rounds=1, warmup_rounds=0)
    assert len(found) == _GAPS
    assert all(0 <= chance <= 1 for chance in found)
