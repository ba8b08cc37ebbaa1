"""At most so many suppliers: the best of all choices of them, each tried by every purchase."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from hypothesis import given, settings

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading
from tests.command import Run
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import order_jobs


def only(job: Job, supplier: str) -> Job:
    """The job with what one supplier offers."""
    stock = tuple(replace(x, offers=tuple(o for o in x.offers if o.supplier == supplier)) for x in job.stock)
    return replace(job, stock=stock)


@settings(max_examples=80, deadline=None)
@given(order_jobs())
def test_one_supplier_is_the_best_of_the_two(job: Job) -> None:
    order = make_order([job], suppliers=1)
    assert len(order.bills) <= 1
    assert lacks_nothing(order)
    assert levels_of(order) == min(best_levels(only(job, name)) for name in ("north", "south"))


@settings(max_examples=30, deadline=None)
@given(order_jobs())
def test_as_many_as_there_are_changes_nothing(job: Job) -> None:
    assert levels_of(make_order([job], suppliers=2)) == levels_of(make_order([job]))


def test_for_places_that_act_together_the_one_supplier_is_the_cheapest_too() -> None:
    """By hand: 500 in all less 101 to 140 needs 360 to 399, which 200 + 170 are. From both: 2.00; from ash 10.00, from
    birch 5.00. Two of one size do not serve: 400 and 340.
    """
    um, stock = 1_000, list[StockLine]()
    for size, prices in ((170, {"ash": "1", "birch": "4"}), (200, {"ash": "9", "birch": "1"})):
        offers = tuple(Offer(Decimal(price), 1, "", name, 3) for name, price in prices.items())
        stock.append(StockLine(Part(f"S-{size}", Bracket.between(size * um, size * um)), 0, offers))
    read = Reading(Bracket.between(500 * um, 500 * um), "value")
    moves = (("a", Fraction(-1)), ("b", Fraction(-1)))
    total = Gap("sum", read, Window(101 * um, 140 * um, "t"), moves, again=(Fraction(0), Fraction(0)))
    places = tuple(Place(name, None, 1) for name in "ab")
    suppliers = tuple(Supplier(name, Decimal(0)) for name in ("ash", "birch"))
    of = Job("t", "mm", (total,), places, (), tuple(stock), suppliers=suppliers)
    assert (make_order([of]).cost, make_order([of], suppliers=1).cost) == (2, 5)


def test_the_command_takes_a_number_above_nought(run: Run) -> None:
    code, out, _ = run("order", Path("demo_data/fulling-mill"), "--suppliers", "1", "--json")
    assert code == 0
    assert len(json.loads(out)["suppliers"]) == 1
    assert run("order", Path("demo_data/fulling-mill"), "--suppliers", "0")[0] == 2
