"""Kinds of orders that are easily overlooked, against every purchase tried out; and many orders at the same time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, combinations_with_replacement

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering import cheapest_order
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading
from shimopt.watch import Watch
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import STEP, order_jobs
from tests.speed.bench_orders import gaps_to_order_for

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


def renamed(job: Job, names: dict[str, str]) -> Job:
    """The job with its gaps and places called otherwise."""
    gaps = tuple(
        replace(gap, name=names[gap.name], effects=((names[gap.name], gap.effects[0][1]),)) for gap in job.gaps
    )
    return replace(job, gaps=gaps, places=tuple(replace(place, name=names[place.name]) for place in job.places))


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_gaps=1), order_jobs(most_gaps=1))
def test_several_jobs_at_once_are_one_job_with_all_their_gaps(job: Job, other: Job) -> None:
    # the second job names the same parts; whether there are any, the first says
    second = renamed(
        replace(other, stock=tuple(replace(line, on_hand=0) for line in job.stock), suppliers=job.suppliers),
        {"gap 0": "gap 1"},
    )
    together = replace(job, gaps=job.gaps + second.gaps, places=job.places + second.places)
    order = make_order([job, second])
    assert order.proven
    assert levels_of(order) == best_levels(together)


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(), st.booleans())
def test_suppliers_that_are_not_settled_beforehand(job: Job, budget: bool) -> None:
    spend = Decimal(4) if budget else None
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cheapest_order, "MOST_SUPPLIERS", 0)
        order = make_order([job], spend=spend)
    assert order.proven
    assert levels_of(order) == best_levels(job, None if spend is None else Fraction(spend))
    assert lacks_nothing(order)


@settings(max_examples=15, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_lines=3, most_pieces=1), st.lists(st.sampled_from([0, 1, 2]), min_size=8, max_size=8))
def test_eight_suppliers(job: Job, postage: list[int]) -> None:
    """Each sells one part, and the first parts are sold by several of them."""
    names = [f"s{n}" for n in range(8)]
    stock = list(job.stock)
    for n, name in enumerate(names):
        at = n % len(stock)
        offers = stock[at].offers if n >= len(stock) else ()
        stock[at] = replace(stock[at], offers=(*offers, Offer(Decimal(n % 3 + 1), 1 + n // 4, "", name, 1 + n % 2)))
    suppliers = tuple(Supplier(name, Decimal(money)) for name, money in zip(names, postage, strict=True))
    of = replace(job, stock=tuple(stock), suppliers=suppliers)
    order = make_order([of])
    assert order.proven
    assert levels_of(order) == best_levels(of)


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_gaps=1), st.sampled_from([-1, 1]))
def test_a_gap_that_nothing_serves_is_left_and_the_others_are_served(job: Job, effect: int) -> None:
    bracket = Bracket.between(900 * STEP, 902 * STEP)
    far = Gap("far", Reading(bracket, "feeler"), Window(0, 4 * STEP, "test"), (("far", Fraction(effect)),))
    of = replace(job, gaps=(far, *job.gaps), places=(Place("far", None, 2), *job.places))
    order = make_order([of])
    assert order.proven
    assert levels_of(order) == best_levels(of)
    assert not order.whole


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_lines=2), st.lists(st.integers(1, 3), min_size=3, max_size=3))
def test_a_drawer_that_is_nearly_enough(job: Job, there: list[int]) -> None:
    stock = tuple(replace(line, on_hand=count) for line, count in zip(job.stock, there, strict=False))
    of = replace(job, stock=stock)
    order = make_order([of])
    assert order.proven
    assert levels_of(order) == best_levels(of)
    assert lacks_nothing(order)


def told(order: Order) -> tuple[object, ...]:
    """What an order comes to."""
    return levels_of(order), order.lines, order.cards, order.options


def test_eight_orders_at_the_same_time_are_those_made_alone() -> None:
    jobs = [gaps_to_order_for(seed, drawer=seed % 2 == 0, gaps=3, sizes=12, suppliers=3) for seed in range(8)]
    alone = [told(make_order([job])) for job in jobs]
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(lambda job: told(make_order([job])), jobs))
    assert together == alone


def test_an_order_that_is_stopped_is_whole_and_its_bounds_hold() -> None:
    job = gaps_to_order_for(1, drawer=False, gaps=5, sizes=20)
    best = make_order([job])
    watch = Watch(seconds=0.0)
    order = make_order([job], watch=watch)
    assert order.whole
    assert not order.proven
    for level, right in zip(order.levels, best.levels, strict=True):
        assert level.bound is None or level.bound <= right.value
        if level.value != right.value:
            break


def test_an_order_that_is_stopped_at_once_costs_no_more_than_it_may() -> None:
    job = gaps_to_order_for(1, drawer=False, gaps=5, sizes=20)
    begun = make_order([job], watch=Watch(seconds=0.0))
    assert begun.cost is not None
    spend = Decimal(int(begun.cost) - 1)
    order = make_order([job], spend=spend, watch=Watch(seconds=0.0))
    assert order.cost is not None
    assert order.cost <= spend


@pytest.mark.parametrize("sizes", [20, 40])
def test_one_gap_with_many_sizes_of_almost_one_price_is_proven(sizes: int) -> None:
    """Readings of 0.5 mm, a window of 0.1 mm, sizes in steps of 0.03 mm for about 1 each: four or five are bought.

    Against every set of up to five pieces tried out.
    """
    gap = Gap(
        "g",
        Reading(Bracket.between(150 * STEP, 250 * STEP), "feeler"),
        Window(20 * STEP, 40 * STEP, "test"),
        (("g", Fraction(-1)),),
        again=(Fraction(2 * STEP), Fraction(2 * STEP)),
    )
    stock = tuple(
        StockLine(
            Part(f"S-{n:02}", Bracket.between((20 + 6 * n) * STEP, (20 + 6 * n) * STEP)),
            0,
            (Offer(Decimal(98 + n * 7 % 6) / 100, 1, "", "north", 2),),
        )
        for n in range(sizes)
    )
    job = Job("t", "mm", (gap,), (Place("g", None, 3),), (), stock, suppliers=(Supplier("north", Decimal(3)),))
    order = make_order([job], watch=Watch(steps=2000))
    assert order.whole
    assert order.proven
    assert order.cost == _cheapest_by_hand(sizes)


def _cheapest_by_hand(sizes: int) -> Fraction:
    """Postage and the cheapest few sizes of which some stack of up to three serves every half step of the range.

    A stack of thickness t serves readings from t + 22 to t + 38 steps.
    """
    prices = [98 + n * 7 % 6 for n in range(sizes)]
    for count in range(1, 6):
        # the cheapest first; one piece more costs more than any choice among so many pieces saves
        dear = [
            (sum(prices[n] for n in chosen), chosen) for chosen in combinations_with_replacement(range(sizes), count)
        ]
        for price, chosen in sorted(dear):
            if _serve_all(sorted({sum(20 + 6 * n for n in s) for k in (1, 2, 3) for s in combinations(chosen, k)})):
                return 3 + Fraction(price, 100)
    raise AssertionError("more than five pieces")


def _serve_all(thicknesses: list[int]) -> bool:
    reached = 150
    for t in thicknesses:
        if t + 22 <= reached:
            reached = max(reached, t + 38)
    return reached >= 250
