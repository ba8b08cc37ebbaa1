"""Large markets: few sizes first, then all stacks that an order as good can hold. Tried on markets small enough."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.job import Job, Supplier
from shimopt.ordering import cheapest_order, large_market_search, large_market_stacks, order_request, supplier_branch
from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.large_market_bound import MarketBound
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.purchase import Books
from shimopt.ordering.stretches import first_purchase
from shimopt.parts import Offer, StockLine
from shimopt.watch import Watch
from tests.jobs import gap, job, shim, window
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import order_jobs
from tests.speed.bench_orders import gaps_to_order_for


def ordered(job: Job, few: int, stacks: int, *, many: bool = False, suppliers: int | None = None) -> Order:
    """The order when any market counts as large: so many sizes are looked at first, and so many stacks at most.

    Parameter: many, whether any number of gaps counts as many.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(large_market_stacks, "_LARGE", 0)
        patch.setattr(order_request, "FEW", few)
        patch.setattr(order_request, "_MOST_STACKS", stacks)
        if many:
            patch.setattr(cheapest_order, "_MANY_GAPS", 0)
            patch.setattr(supplier_branch, "_FEW_GAPS", 0)
        return make_order([job], suppliers=suppliers)


def test_of_one_supplier_what_comes_sooner_is_found_and_a_limit_that_is_met_changes_nothing() -> None:
    """By hand: 45 less 20 or less 30 is inside. Both cost 1.00; the first to be looked at comes in 9 days."""
    sooner, later = (Offer(Decimal(1), 1, "", "north", days) for days in (2, 9))
    stock = (replace(shim(20, 0, unit="um"), offers=(later,)), replace(shim(30, 0, unit="um"), offers=(sooner,)))
    of = job([gap("arm", 45, 45, window(10, 30, unit="um"), unit="um")], stock, most=1, unit="um")
    of = replace(of, suppliers=(Supplier("north", Decimal(2), Decimal(0)),))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(order_request.Case, "closed", lambda *_: (0, None))
        order, limited = ordered(of, 1, 3), ordered(of, 1, 3, suppliers=1)
    assert (order.cost, order.arrives_in_days) == (3, 2)
    assert limited.lines == order.lines


@settings(max_examples=75, deadline=None)
@given(
    order_jobs(most_gaps=2, most_lines=4, unpriced=False, bundles=True),
    st.integers(1, 3),
    st.sampled_from([1, 3, 12, 1000]),
    st.booleans(),
)
def test_what_is_proven_is_the_best_of_all_and_what_is_not_has_a_bound_that_holds(
    job: Job, few: int, stacks: int, many: bool
) -> None:
    """Every purchase is tried."""
    order, best = ordered(job, few, stacks, many=many), best_levels(job)
    assert lacks_nothing(order)
    assert levels_of(order)[:3] == best[:3]
    if order.proven:
        assert levels_of(order) == best
    cost = next(level for level in order.levels if level.name == "cost")
    assert cost.value >= best[3]
    if cost.proven:
        assert cost.value == best[3]
    elif cost.bound is not None:
        assert cost.bound <= best[3]


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=2, most_lines=4, unpriced=False), st.integers(1, 3))
def test_with_room_for_all_stacks_everything_is_proven(job: Job, few: int) -> None:
    assert ordered(job, few, 10_000).proven


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=2, most_lines=4, unpriced=False, bundles=True))
def test_no_order_costs_less_than_the_bound_and_what_is_as_good_is_made_of_the_stacks_that_are_kept(job: Job) -> None:
    """Every purchase is tried; the order that the bound starts from is seldom a good one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(large_market_stacks, "_LARGE", 0)
        case = order_request.case_of([job], None, None)
    best, narrowed = best_levels(job), case.narrowed
    books = case.whole_market().books
    order = first_purchase(books, buying=True)
    if narrowed is None or books.value_of("open", order) or not all(coverage.whole for coverage in books.coverages):
        return
    bound = MarketBound(narrowed, books, order, 10_000, Watch())
    assert bound.least <= best[3] * books.market.price_unit <= bound.cost
    assert bound.stacks is not None
    coverages, _ = case.supply.coverages(case.demands, bound.stacks)
    hunt = Hunt(Books(coverages, books.stock, books.market), None, Watch())
    assert [step.value for step in list(hunt.levels())[-1] if step.level in ("arrival", "bought")] == [*best[4:]]
    assert hunt.books.value_of("cost", hunt.best) == best[3] * books.market.price_unit


def test_no_stack_of_more_pieces_than_there_are_is_counted_on() -> None:
    """By hand: 75 - 20 = 55 needs two of 30, of which there is one that nobody sells; 30 + 20 leaves 25."""
    offer = Offer(Decimal("0.50"), 1, "", "north", 1)
    stock = (shim(30, 1, unit="um"), replace(shim(20, 0, unit="um"), offers=(offer,)))
    of = job([gap("arm", 75, 75, window(None, 20, unit="um"), unit="um")], stock, most=2, unit="um")
    order = ordered(replace(of, suppliers=(Supplier("north", Decimal(0), Decimal(0)),)), 1, 10_000)
    assert order.proven
    assert [(level.name, level.value) for level in order.levels[:2]] == [("open", 1), ("missing", 0)]


def test_what_costs_less_but_serves_one_gap_of_two_is_not_the_best() -> None:
    """By hand: both need 10 to 40 and more at their larger readings; one 50 is there, another 30 costs 0.50, filled up
    to 4. For nothing the one piece serves either gap alone, never both.
    """
    offer = Offer(Decimal("0.50"), 1, "", "north", 7)
    stock = (
        replace(shim(30, 0, unit="um", half=5_000), offers=(offer,)),
        shim(20, 0, unit="um"),
        shim(50, 1, unit="um", half=5_000),
    )
    of = job([gap(name, 0, 20, window(None, 20, unit="um"), unit="um") for name in "ab"], stock, most=2, unit="um")
    of = replace(of, suppliers=(Supplier("north", Decimal(0), Decimal(4)),))
    for few, stacks in ((3, 6), (3, 1_000), (1, 6)):
        order = ordered(of, few, stacks)
        assert levels_of(order)[:4] == best_levels(of)[:4] == (0, 0, 0, 4)
        assert lacks_nothing(order)


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=2, most_lines=4, held=True, bundles=True), st.sampled_from([0, 1, 3]))
def test_an_order_made_cheaper_gap_by_gap_is_one_that_works_and_what_is_proven_of_it_holds(
    job: Job, improved: int
) -> None:
    """As for many gaps: any number counts as many. Every purchase is tried."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cheapest_order, "_MANY_GAPS", 0)
        patch.setattr(cheapest_order, "_MOST_IMPROVED", improved)
        patch.setattr(supplier_branch, "_FEW_GAPS", 0)
        order = make_order([job])
    best = best_levels(job)
    assert lacks_nothing(order)
    found = levels_of(order)
    if order.proven:
        assert found == best
    for name, at in (("open", 0), ("missing", 1), ("unpriced", 2), ("cost", 3)):
        level = next(level for level in order.levels if level.name == name)
        if found[:at] == best[:at]:
            assert found[at] >= best[at]
            assert level.bound is None or level.bound <= best[at]
        if level.proven:
            assert found[at] == best[at]


def test_two_hundred_sizes_of_six_suppliers_are_proven_and_no_worse_than_forty() -> None:
    """The same market with only its 40 thinnest sizes is part of it: its best order can be bought here, too."""
    many = gaps_to_order_for(1, drawer=False, gaps=3, sizes=200, suppliers=6)
    thin = tuple(sorted(many.stock, key=lambda line: line.part.thickness.high)[:60])
    some = make_order([Job(many.title, many.unit, many.gaps, many.places, (), thin, suppliers=many.suppliers)])
    order = make_order([many])
    assert some.proven
    assert order.cost is not None
    assert some.cost is not None
    assert order.cost <= some.cost
    assert order.proven


def two_cheap_or_one_dearer() -> Job:
    """Two gaps that two suppliers serve with what costs little and much postage, or one with what costs more."""

    def sold(size: int, price: str, by: str) -> StockLine:
        return replace(shim(size, 0, unit="um"), offers=(Offer(Decimal(price), 1, "", by, 1),))

    stock = (sold(60, "0.10", "north"), sold(130, "0.10", "south"), sold(70, "1.00", "east"), sold(140, "1.00", "east"))
    arms = [
        gap("a", 80, 80, window(0, 20, unit="um"), unit="um"),
        gap("b", 150, 150, window(0, 20, unit="um"), unit="um"),
    ]
    of = job(arms, stock, most=1, unit="um")
    posts = (("north", 9), ("south", 9), ("east", 2))
    return replace(of, suppliers=tuple(Supplier(name, Decimal(post), Decimal(0)) for name, post in posts))


def test_where_pieces_from_several_suppliers_are_the_cheapest_each_one_alone_is_still_tried() -> None:
    """By hand: 80 and 150 with 0 to 20 left need 60 to 80 and 130 to 150. The two cheapest sizes cost 0.10 each, and
    9.00 postage from either of two; one supplier has 70 and 140 at 1.00 each and asks 2.00 for postage: 4.00.
    """

    order = ordered(two_cheap_or_one_dearer(), 2, 3, many=True)
    assert order.cost == 4


@pytest.mark.parametrize("large", [True, False])
def test_where_nothing_is_proven_an_order_is_no_dearer_than_from_one_supplier(
    large: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same market, of which the first look finds only what the two cheapest sizes cost: 18.20."""
    of = two_cheap_or_one_dearer()
    if large:
        monkeypatch.setattr(large_market_search, "best_from", lambda *_: None)
        monkeypatch.setattr(order_request.Case, "closed", lambda *_: (0, None))
        order, limited = ordered(of, 2, 100), ordered(of, 2, 100, suppliers=1)
    else:
        monkeypatch.setattr(cheapest_order, "_MANY_GAPS", 0)
        monkeypatch.setattr(cheapest_order, "_MOST_IMPROVED", 0)
        monkeypatch.setattr(cheapest_order, "cheaper", lambda _, known: known)
        order, limited = make_order([of]), make_order([of], suppliers=1)
    assert order.cost == limited.cost == 4
