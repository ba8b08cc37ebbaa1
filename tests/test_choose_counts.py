"""Plans against a second formulation of the same decision, solved by HiGHS: whole counts of pieces, no stacks."""

from __future__ import annotations

from random import Random

import pytest

from shimopt.choose import choose
from shimopt.job import Balance, Job, Seat
from shimopt.lengths import Bracket
from shimopt.seats import screen
from tests.counts_model import values_by_counts
from tests.jobs import gap, job, shim, window


def medium_job(seed: int) -> Job:
    """Six to eight gaps, six sizes, too few pieces; some seats with a shaft that some parts do not suit."""
    rng = Random(seed)
    shafted = Seat("shafted", Bracket.between(16_000_000, 16_000_000), None, 2)
    limits = [(4, 9), (5, 8), (4, None), (None, 9)]
    gaps = [
        gap(f"gap {n}", low, low + rng.randint(0, 2), window(*rng.choice(limits)), seat=rng.choice([None, shafted]))
        for n, low in enumerate(rng.randint(6, 26) for _ in range(rng.randint(6, 8)))
    ]
    bores = [None, 15_900_000, 16_100_000, 16_700_000]
    stock = [
        shim(size, rng.randint(0, 4), half=rng.choice([0, 0, 12_700]), inner=rng.choice(bores))
        for size in rng.sample(range(2, 13), 6)
    ]
    within = [None, 0, 25_400, 50_800]
    rows = [Balance(f"row {n}", (f"gap {2 * n}", f"gap {2 * n + 1}"), rng.choice(within)) for n in range(3)]
    return job(gaps, stock, most=3, balances=rows)


@pytest.mark.parametrize("seed", range(25))
def test_every_level_is_as_low_as_whole_counts_can_make_it(seed: int) -> None:
    of = medium_job(seed)
    screening = screen(of)
    values = values_by_counts(of, screening)
    choice = choose(of, screening)
    assert {level.name: level.value for level in choice.levels if level.name in values} == values
    assert all(level.proven for level in choice.levels)
