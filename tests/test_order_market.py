"""What a market can be: prices that fall with the number, parts of one size from two makers, several currencies.

Every purchase of a tiny market is tried (`order_brute_force`).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.job import Gap, Job, Money, Place, Rate, Supplier, Window
from shimopt.job.money import in_one_currency
from shimopt.lengths import Bracket
from shimopt.ordering import cheapest_order
from shimopt.ordering.order import make_order
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import STEP, order_jobs

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(bundles=True))
def test_bundle_prices_are_exact_in_the_cost(job: Job) -> None:
    order = make_order([job])
    assert order.proven
    assert levels_of(order) == best_levels(job)
    assert lacks_nothing(order)


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_lines=2, bundles=True), st.sampled_from(["1", "3", "4.25", "6"]))
def test_bundle_prices_within_a_budget(job: Job, spend: str) -> None:
    order = make_order([job], spend=Decimal(spend))
    assert levels_of(order) == best_levels(job, Fraction(spend))
    assert lacks_nothing(order)


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(bundles=True))
def test_bundle_prices_of_suppliers_that_are_not_settled_beforehand(job: Job) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cheapest_order, "MOST_SUPPLIERS", 0)
        order = make_order([job])
    assert order.proven
    assert levels_of(order) == best_levels(job)


@settings(max_examples=20, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(bundles=True), st.sampled_from(["1.001", "3.333", "137.01"]))
def test_prices_of_three_decimals_leave_no_level_unsearched(job: Job, dear: str) -> None:
    """Every amount times an odd one: the model's numbers are large then, and its prices finer than usual."""
    stock = tuple(replace(line, offers=tuple(_times(offer, dear) for offer in line.offers)) for line in job.stock)
    suppliers = tuple(
        replace(s, postage=s.postage * Decimal(dear), smallest_order=s.smallest_order * Decimal(dear))
        for s in job.suppliers
    )
    odd = replace(job, stock=stock, suppliers=suppliers)
    order = make_order([odd])
    assert order.proven
    assert levels_of(order) == best_levels(odd)


def test_one_piece_is_bought_where_a_pack_of_ten_costs_the_same() -> None:
    # 0.42 to 0.44 read, 0.10 to 0.30 allowed: 0.22 and 0.23 both serve, for 1.50 each, from one supplier
    def line(name: str, thickness: int, pack: int) -> StockLine:
        part = Part(name, Bracket.between(thickness, thickness))
        return StockLine(part, 0, (Offer(Decimal("1.5"), pack, "EUR", "S", 1),))

    gap = Gap(
        "g", Reading(Bracket.between(420_000, 440_000), "value"), Window(100_000, 300_000, "m"), (("g", Fraction(-1)),)
    )
    stock = (line("B1", 230_000, 1), line("P10", 220_000, 10))
    sender = Supplier("S", Decimal("3.333"), Decimal(0))
    job = Job("test", "mm", (gap,), (Place("g", None, 3),), (), stock, suppliers=(sender,))
    order = make_order([job])
    assert [(one.part, one.pieces) for one in order.lines] == [(0, 1)]
    assert (order.cost, order.proven) == (Fraction("4.833"), True)


@settings(max_examples=20, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(bundles=True), st.sampled_from(["0.863725", "0.86", "1.25", "0.0052", "163.4"]))
def test_what_one_supplier_charges_in_another_currency_is_exact_in_the_cost(job: Job, rate: str) -> None:
    """South charges in EUR: every price, its postage and smallest order times the rate, worked out here once more."""
    foreign = tuple(replace(s, currency="EUR" if s.name == "south" else "GBP") for s in job.suppliers)
    money = Money("GBP", {"EUR": Rate(Decimal(rate))})
    stock, suppliers, _ = in_one_currency(job.stock, foreign, money)
    order = make_order([replace(job, stock=stock, suppliers=suppliers, money=money)])
    by_hand = replace(
        job,
        stock=tuple(replace(line, offers=tuple(_times(offer, rate) for offer in line.offers)) for line in job.stock),
        suppliers=tuple(
            replace(s, postage=s.postage * Decimal(rate), smallest_order=s.smallest_order * Decimal(rate))
            if s.name == "south"
            else s
            for s in job.suppliers
        ),
    )
    assert levels_of(order) == best_levels(by_hand)
    assert order.proven
    for bill in order.bills:
        own = next(s for s in job.suppliers if s.name == bill.supplier.name)
        assert Fraction(bill.supplier.postage) / Fraction(bill.supplier.rate) == Fraction(own.postage)


def test_a_rate_of_six_decimals_leaves_no_level_unproven() -> None:
    """By hand: 0.50 EUR are 0.4318625 GBP, less than 0.50 GBP; one piece, and either is here in one day.

    A reading of 20 µm ± 10 µm may be 30 µm, and 20 µm are allowed: the one ring serves.
    """
    sold = tuple(Offer(Decimal("0.50"), 1, "", supplier, lead_days=1) for supplier in ("north", "south"))
    ring = StockLine(Part("S-0", Bracket.between(20_000, 20_000)), 0, sold)
    reading = Reading(Bracket.between(0, 20_000), "feeler")
    gap = Gap("gap", reading, Window(None, 20_000, "test"), (("gap", Fraction(-1)),), None)
    terms = (Supplier("north", Decimal(0), currency="GBP"), Supplier("south", Decimal(0), currency="EUR"))
    money = Money("GBP", {"EUR": Rate(Decimal("0.863725"))})
    stock, suppliers, _ = in_one_currency((ring,), terms, money)
    order = make_order(
        [Job("test", "mm", (gap,), (Place("gap", None, 1),), (), stock, suppliers=suppliers, money=money)]
    )
    assert order.proven
    assert (order.cost, order.arrives_in_days) == (Fraction("0.4318625"), 1)


def _times(offer: Offer, rate: str) -> Offer:
    if offer.supplier != "south" or offer.price is None:
        return offer
    bundles = tuple((packs, price * Decimal(rate)) for packs, price in offer.price_from)
    return replace(offer, price=offer.price * Decimal(rate), price_from=bundles)


def _one_gap(stock: tuple[StockLine, ...], places: int, suppliers: tuple[Supplier, ...]) -> Job:
    """Gaps that one shim of 14 steps serves each: it serves readings of 4 + 14 + 1 = 19 to 10 + 14 - 1 = 23 steps."""
    bracket, window = Bracket.between(20 * STEP, 22 * STEP), Window(4 * STEP, 10 * STEP, "t")
    names = [f"g{n}" for n in range(places)]
    gaps = tuple(Gap(name, Reading(bracket, "feeler"), window, ((name, Fraction(-1)),)) for name in names)
    return Job("t", "mm", gaps, tuple(Place(name, None, 1) for name in names), (), stock, suppliers=suppliers)


def _part(name: str) -> Part:
    return Part(name, Bracket.between(14 * STEP, 14 * STEP))


@pytest.mark.parametrize(
    ("needed", "bought", "cost"), [(7, 7, "7.00"), (8, 8, "8.00"), (9, 10, "8.00"), (11, 11, "8.80")]
)
def test_ten_at_80_are_bought_where_nine_would_cost_more(needed: int, bought: int, cost: str) -> None:
    """By hand: singly 1.00, from 10 on 0.80: 9 cost 9.00 and 10 cost 8.00; 8 cost 8.00 either way, and 8 are fewer."""
    offer = Offer(Decimal("1.00"), 1, "", "north", 2, price_from=((10, Decimal("0.80")),))
    job = _one_gap((StockLine(_part("S"), 0, (offer,)),), needed, (Supplier("north", Decimal(0)),))
    order = make_order([job])
    assert order.proven
    assert ([line.pieces for line in order.lines], order.cost) == ([bought], Fraction(cost))


def test_a_bundle_is_charged_as_one_where_a_smallest_order_hides_it() -> None:
    """Four of them cost 2.40 as a bundle, and not 4.00, though either way the bill is the smallest order of 9."""
    offer = Offer(Decimal("1.00"), 1, "", "north", 2, price_from=((4, Decimal("0.60")),))
    job = _one_gap((StockLine(_part("S"), 0, (offer,)),), 4, (Supplier("north", Decimal(1), Decimal(9)),))
    order = make_order([job])
    assert [(line.pieces, line.cost) for line in order.lines] == [(4, Fraction("2.4"))]
    assert [(bill.goods, bill.top_up, bill.total) for bill in order.bills] == [(Fraction("2.4"), Fraction("6.6"), 10)]


def test_one_size_of_two_makers_counts_as_one() -> None:
    """Three gaps; A is in the drawer once, and of B, as thick, two are bought: no more of A, which costs more."""
    a = StockLine(_part("A"), 1, (Offer(Decimal(3), 1, "", "north", 2),))
    b = StockLine(_part("B"), 0, (Offer(Decimal(1), 1, "", "south", 2),))
    job = _one_gap((a, b), 3, (Supplier("north", Decimal(0)), Supplier("south", Decimal(0))))
    order = make_order([job])
    assert [(job.stock[line.part].part.name, line.pieces) for line in order.lines] == [("B", 2)]
    assert (order.whole, order.cost) == (True, 2)
    assert levels_of(order) == best_levels(job)


def test_the_brute_force_knows_bundles() -> None:
    """Without the bundle price the least cost of nine is 9, with it 8: the check above can fail."""
    offer = Offer(Decimal("1.00"), 1, "", "north", 2, price_from=((3, Decimal("0.60")),))
    stock = (StockLine(_part("S"), 0, (offer,)),)
    job = _one_gap(stock, 2, (Supplier("north", Decimal(0)),))
    # two singly cost 2.00, three of the bundle 1.80
    assert best_levels(job)[3:] == (Fraction("1.8"), 2, 3)
    plain = replace(job, stock=(replace(stock[0], offers=(replace(offer, price_from=()),)),))
    assert best_levels(plain)[3:] == (2, 2, 2)


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(order_jobs(most_lines=3, bundles=True, unpriced=False))
def test_what_may_be_spent_beyond_the_cost_changes_nothing(job: Job) -> None:
    free = make_order([job])
    assert free.cost is not None
    limited = make_order([job], spend=Decimal(free.cost.numerator) / free.cost.denominator + 1)
    assert levels_of(limited) == levels_of(free)
    assert limited.proven == free.proven
    assert [(line.part, line.pieces) for line in limited.lines] == [(line.part, line.pieces) for line in free.lines]
