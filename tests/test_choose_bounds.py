"""Bounds are true whatever the prices are, and no option of a best choice is ever struck."""

from __future__ import annotations

from itertools import product

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from shimopt.candidates import Scale, place_options
from shimopt.choose.bounds import exact_bound, left_over
from shimopt.choose.chooser import supply_of
from shimopt.choose.model import Model, build_model
from shimopt.job import Job
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
        place_options(of, scale, place, gap, screening.suits[place.name], counts, frozenset(), place.most_pieces)
        for place, gap in zip(of.places, of.gaps, strict=True)
    ]
    return build_model(of, scale, options, supply)


def least_value(model: Model, level: str) -> tuple[int, list[tuple[int, ...]]]:
    """By brute force: the least value of a level, and all choices that have it."""
    choices = [chosen for chosen in product(*model.groups) if not model.short_of(chosen)]
    values = [model.value_of(level, chosen) for chosen in choices]
    least = min(values)
    return least, [chosen for chosen, value in zip(choices, values, strict=True) if value == least]


@_SETTINGS
@given(jobs(buying=True), _LEVELS, st.booleans(), st.data())
def test_any_prices_give_a_bound_below_every_choice_and_strike_no_best_one(
    of: Job, level: str, buy: bool, data: st.DataObject
) -> None:
    model = model_of(of, buy)
    objective = model.levels[level]
    assume(objective)
    price = st.floats(-1000, 10, allow_nan=False)
    prices = data.draw(st.lists(price, min_size=len(model.rows), max_size=len(model.rows)))
    least, best = least_value(model, level)
    bound = exact_bound(model, model.groups, model.rows, objective, prices)
    assert bound.rounded_up(1) <= least
    kept = left_over(model.groups, bound, least)
    for chosen in best:
        assert all(column in group for column, group in zip(chosen, kept, strict=True))


def test_a_bound_of_two_gaps_that_want_one_piece_is_one_gap_outside() -> None:
    """By hand: a price of -1 on the only piece costs 1, and each place then pays 1 fitted or 1 outside: 2 - 1 = 1."""
    two = job([gap(name, 15, 15, window(8, 10)) for name in ("left", "right")], [shim(6, 1)], most=1)
    model = model_of(two, False)
    bound = exact_bound(model, model.groups, model.rows, model.levels["outside"], [-1.0])
    assert bound.rounded_up(1) == 1
