"""Bounds are true whatever the prices are, and no option of a best choice is ever struck."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from shimopt.candidates import Scale, Usable, place_options
from shimopt.choose.chooser import supply_of
from shimopt.choose.model_rows import build_model
from shimopt.choose.whole_model import Model
from shimopt.job import Job
from shimopt.proof.exact_bounds import Bound, Range, Sums
from shimopt.seats import screen
from tests.jobs import gap, job, shim, window
from tests.strategies import jobs

_LEVELS = st.sampled_from(
    ["outside", "miss", "unproven", "doubt", "excess", "bought", "pieces", "cautions", "spread", "target", "cost"]
)
_SETTINGS = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])


def model_of(of: Job, buy: bool) -> Model:
    screening, scale, supply = screen(of), Scale.of(of), supply_of(of, buy)
    counts = [supply[i] for i in range(len(of.stock))]
    options = [
        place_options(
            of, scale, place, gap, Usable(screening.suits[place.name], counts, frozenset(), place.most_pieces)
        )
        for place, gap in zip(of.places, of.gaps, strict=True)
    ]
    return build_model(of, scale, options, supply)


def bound_of(model: Model, level: str, prices: Sequence[float], fine: bool) -> Bound:
    """The bound that these prices of the rows give, with every option left."""
    sums = Sums(model.groups, len(model.columns) + len(model.helpers), model.rows)
    sums = sums.and_held([]) if fine else sums
    low = np.array([0] * len(model.columns) + [helper.low for helper in model.helpers], np.int64)
    high = np.array([1] * len(model.columns) + [helper.high for helper in model.helpers], np.int64)
    whole = np.array([min(0, round(price * sums.parts)) for price in prices], dtype=object)
    small = all(abs(price) < 1 << 60 for price in whole.tolist())
    bound = sums.bound(sums.terms(model.levels[level]), whole.astype(np.int64) if small else whole, Range(low, high))
    assert bound is not None
    return bound


def least_value(model: Model, level: str) -> tuple[int, list[tuple[int, ...]]]:
    """By brute force: the least value of a level, and all choices that have it."""
    choices = [chosen for chosen in product(*model.groups) if not model.short_of(chosen)]
    values = [model.value_of(level, chosen) for chosen in choices]
    least = min(values)
    return least, [chosen for chosen, value in zip(choices, values, strict=True) if value == least]


@_SETTINGS
@given(jobs(buying=True), _LEVELS, st.booleans(), st.booleans(), st.data())
def test_any_prices_give_a_bound_below_every_choice_and_strike_no_best_one(
    of: Job, level: str, buy: bool, fine: bool, data: st.DataObject
) -> None:
    model = model_of(of, buy)
    objective = model.levels[level]
    assume(objective)
    price = st.one_of(st.floats(-1000, 10, allow_nan=False), st.floats(-1e15, 0, allow_nan=False))
    prices = data.draw(st.lists(price, min_size=len(model.rows), max_size=len(model.rows)))
    least, best = least_value(model, level)
    bound = bound_of(model, level, prices, fine)
    assert bound.rounded_up(1) <= least
    struck = bound.too_dear(least + 1)
    for chosen in best:
        assert not any(struck[column] for column in chosen)


def test_a_bound_of_two_gaps_that_want_one_piece_is_one_gap_outside() -> None:
    """By hand: a price of -1 on the only piece costs 1, and each place then pays 1 fitted or 1 outside: 2 - 1 = 1."""
    two = job([gap(name, 15, 15, window(8, 10)) for name in ("left", "right")], [shim(6, 1)], most=1)
    model = model_of(two, False)
    bound = bound_of(model, "outside", [-1.0], False)
    assert bound.rounded_up(1) == 1
