"""Orders against every purchase, every card and every reading on a fine grid."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.job import Job
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import STEP, order_jobs


@settings(max_examples=60, deadline=None)
@given(order_jobs())
def test_no_purchase_is_better_at_any_level_and_sure_means_sure(job: Job) -> None:
    order = make_order([job])
    assert order.proven
    assert levels_of(order) == best_levels(job)
    assert lacks_nothing(order)


@settings(max_examples=60, deadline=None)
@given(order_jobs(held=True))
def test_pieces_that_are_in_and_least_numbers_of_pieces_are_kept_to(job: Job) -> None:
    order = make_order([job])
    assert order.proven
    assert levels_of(order) == best_levels(job)
    assert lacks_nothing(order)


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_lines=2), st.sampled_from(["0.50", "1", "3", "4.25", "6"]))
def test_within_a_budget_as_much_as_possible_is_covered(job: Job, spend: str) -> None:
    order = make_order([job], spend=Decimal(spend))
    assert levels_of(order) == best_levels(job, Fraction(spend))
    assert order.cost is not None
    assert order.cost <= Fraction(spend)
    assert lacks_nothing(order)


def _rank(job: Job) -> tuple[Fraction, ...]:
    return levels_of(make_order([job]))[:4]


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=5, most_pieces=3, unpriced=False), st.data())
def test_a_narrower_bracket_never_makes_it_worse(job: Job, data: st.DataObject) -> None:
    n = data.draw(st.integers(0, len(job.gaps) - 1))
    gap = job.gaps[n]
    read = gap.reading.bracket
    half = (read.high - read.low) / 2
    again = gap.again or (half, half)
    cut = data.draw(st.sampled_from([Fraction(0), half / 2, half]))
    narrow = replace(
        gap, reading=replace(gap.reading, bracket=Bracket.between(read.low + cut, read.high - cut)), again=again
    )
    narrowed = replace(job, gaps=(*job.gaps[:n], narrow, *job.gaps[n + 1 :]))
    assert _rank(narrowed) <= _rank(job)


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=5, most_pieces=3, unpriced=False), st.data())
def test_a_cheaper_price_or_a_fuller_drawer_never_makes_it_worse(job: Job, data: st.DataObject) -> None:
    n = data.draw(st.integers(0, len(job.stock) - 1))
    line = job.stock[n]
    cheaper = tuple(replace(offer, price=(offer.price or Decimal(0)) / 2) for offer in line.offers)
    better = data.draw(st.sampled_from([replace(line, offers=cheaper), replace(line, on_hand=line.on_hand + 1)]))
    assert _rank(replace(job, stock=(*job.stock[:n], better, *job.stock[n + 1 :]))) <= _rank(job)


@settings(max_examples=20, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=5, most_pieces=3))
def test_the_same_job_gets_the_same_order(job: Job) -> None:
    first, again = make_order([job]), make_order([job])
    assert (first.lines, first.cards) == (again.lines, again.cards)


def test_the_brute_force_can_fail() -> None:
    """A job whose least cost is worked out by hand: 0.50 + 1 postage for the one shim that serves."""
    from shimopt.job import Gap, Place, Supplier, Window
    from shimopt.parts import Offer, Part, StockLine
    from shimopt.readings import Reading

    gap = Gap(
        "g",
        Reading(Bracket.between(20 * STEP, 22 * STEP), "feeler"),
        Window(4 * STEP, 10 * STEP, "t"),
        (("g", Fraction(-1)),),
    )
    shim = StockLine(Part("S", Bracket.between(14 * STEP, 14 * STEP)), 0, (Offer(Decimal("0.5"), 1, "", "north", 2),))
    job = Job("t", "mm", (gap,), (Place("g", None, 1),), (), (shim,), suppliers=(Supplier("north", Decimal(1)),))
    # served readings: 4 + 14 + 1 = 19 to 10 + 14 - 1 = 23 steps, which holds 20 to 22
    assert best_levels(job) == (0, 0, 0, Fraction(3, 2), 2, 1)
    assert levels_of(make_order([job])) == best_levels(job)
    with pytest.raises(AssertionError):
        assert best_levels(replace(job, stock=())) == best_levels(job)
