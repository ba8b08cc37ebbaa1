"""Whole covers: against every set of pieces tried out, and the order found with them against the one found without."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations_with_replacement
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.choose.whole_model import Row
from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering import cover_prices, stretches
from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.cover_prices import CoverPrices, Priced
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.covers import Covers, Prices
from shimopt.ordering.order import make_order
from shimopt.ordering.purchase import Books
from shimopt.ordering.suppliers_settled import Settled
from shimopt.parts import Offer, Part, StockLine
from shimopt.proof.branch_and_bound import Closing, closed
from shimopt.proof.exact_bounds import FINE, Range, Sums
from shimopt.proof.highs import Relaxation, Relaxed
from shimopt.readings import Reading
from shimopt.watch import Few, Watch
from tests.order_brute_force import best_levels, levels_of
from tests.order_strategies import STEP, order_jobs

_MOST_PIECES = 5


def line_of(name: str, size: int, there: int, price: str, supplier: str) -> StockLine:
    """A size [steps] that is sold by the piece."""
    part = Part(name, Bracket.between(size * STEP, size * STEP))
    return StockLine(part, there, (Offer(Decimal(price), 1, "", supplier, 1),))


def books_of(job: Job) -> Books:
    """What the search for this job's order is given."""
    seen: list[Hunt] = []
    with pytest.MonkeyPatch.context() as patch:
        levels = Hunt.levels
        patch.setattr(Hunt, "levels", lambda hunt: (seen.append(hunt), levels(hunt))[1])
        make_order([job])
    return seen[0].books


def serves_everywhere(coverage: Coverage, pieces: Counter[int]) -> bool:
    """Whether each stretch that anything serves is served by a stack of these pieces."""
    made = [c for c in coverage.candidates if Counter(c.scarce) <= pieces]
    return all(
        any(c.start <= s.start and s.end <= c.end for c in made)
        for s in coverage.segments
        if not any(h.start <= s.start and s.end <= h.end for h in coverage.hopeless)
    )


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_lines=4, most_pieces=3, unpriced=False, held=False), st.data())
def test_all_covers_within_a_price_are_listed_and_nothing_else(job: Job, data: st.DataObject) -> None:
    prices = st.integers(0, 5)
    for coverage in books_of(job).coverages:
        lines = sorted({line for c in coverage.candidates for line in c.scarce})
        further = {line: data.draw(prices) for line in lines}
        first = {line: further[line] + data.draw(prices) for line in lines}
        most = data.draw(st.integers(0, 20))
        found = Covers(coverage).within(Prices(first, further), most, 100_000)
        assert found is not None
        listed = {cover: cost for cost, cover in found if len(cover) <= _MOST_PIECES}
        tried: dict[tuple[int, ...], int] = {}
        for size in range(_MOST_PIECES + 1):
            for cover in combinations_with_replacement(lines, size):
                counts = Counter(cover)
                if any(Counter(less) <= counts for less in tried) or not serves_everywhere(coverage, counts):
                    continue
                tried[cover] = sum(first[x] + (n - 1) * further[x] for x, n in counts.items())
        assert listed == {cover: cost for cover, cost in tried.items() if cost <= most}
        if tried:
            least, cheapest = Covers(coverage).cheapest(Prices(first, further), 100_000)
            assert least == min(tried.values())
            assert cheapest
            for cover in cheapest:
                counts = Counter(cover)
                assert serves_everywhere(coverage, counts)
                assert sum(first[x] + (n - 1) * further[x] for x, n in counts.items()) == least
            # none is told that costs as much as what is known already
            assert Covers(coverage).cheapest(Prices(first, further), 100_000, least) == (least, [])


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=4, most_lines=7, most_pieces=3, unpriced=False))
def test_an_order_by_covers_is_as_good_as_one_by_stretches(job: Job) -> None:
    by_covers = make_order([job])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(CoverPrices, "at_least", lambda *_: None)
        by_stretches = make_order([job])
    assert by_covers.proven
    assert by_stretches.proven
    assert levels_of(by_covers) == levels_of(by_stretches)


@settings(max_examples=25, deadline=None)
@given(order_jobs(most_gaps=4, most_lines=7, most_pieces=3, unpriced=False), st.integers(0, 1))
def test_an_order_is_as_good_where_only_some_sets_of_suppliers_go_by_covers(job: Job, odd: int) -> None:
    at_least = CoverPrices.at_least

    def sometimes(self: CoverPrices) -> Priced | None:
        return at_least(self) if len(self.lines) % 2 == odd else None

    with pytest.MonkeyPatch.context() as patch:
        # one stretch is looked at first: the others do it over, round after round
        patch.setattr(stretches, "_telling", lambda coverage: stretches._servable(coverage)[:1])
        patch.setattr(CoverPrices, "at_least", sometimes)
        mixed = make_order([job])
        patch.setattr(CoverPrices, "at_least", lambda *_: None)
        by_stretches = make_order([job])
    assert mixed.proven
    assert levels_of(mixed) == levels_of(by_stretches)


def test_a_level_done_over_again_by_covers_ends_at_the_best_order() -> None:
    """A supplier alone serves not all; with both, stretches not looked at at first make the level begin anew."""
    window = Window(0, 7 * STEP, "test")
    at, again = Bracket.between(26 * STEP, 37 * STEP), (Fraction(STEP), Fraction(STEP))
    gap = Gap("g", Reading(at, "feeler"), window, (("g", Fraction(-1)),), again=again)
    stock = (
        line_of("A", 3, 0, "1", "north"),
        line_of("B", 4, 0, "3", "north"),
        line_of("C", 9, 0, "3", "south"),
        line_of("D", 16, 1, "3", "south"),
        replace(line_of("E", 19, 2, "3", "north"), offers=()),
        line_of("F", 21, 0, "3", "north"),
    )
    suppliers = (Supplier("north", Decimal(0)), Supplier("south", Decimal(1)))
    job = Job("test", "mm", (gap,), (Place("g", None, 2),), (), stock, suppliers=suppliers)
    assert levels_of(make_order([job])) == best_levels(job)


def test_a_bound_holds_for_covers_not_known_however_odd_the_prices() -> None:
    """A at 1 and B at 5: known is A + B for 6, not known is A + A for 2.

    Readings of 30 steps and a window of 8 to 10 ask for 20 to 22 steps: 10 + 10 and 10 + 12, but neither 10, nor 12,
    nor 12 + 12. At a price of 10 for A and 5 for B, A + B is the cheaper of the two, and a pack of A costs 9 less than
    nothing: were it one pack at most, as A + B asks for, the bound would be 10 + 5 - 9 = 6. It may be two: 10 + 5 - 18.
    """
    window = Window(8 * STEP, 10 * STEP, "test")
    at = Bracket.between(30 * STEP, 30 * STEP)
    gap = Gap("g", Reading(at, "feeler"), window, (("g", Fraction(-1)),), again=(Fraction(0), Fraction(0)))
    stock = (line_of("A", 10, 0, "1", "north"), line_of("B", 12, 0, "5", "north"))
    suppliers = (Supplier("north", Decimal(0)),)
    books = books_of(Job("test", "mm", (gap,), (Place("g", None, 2),), (), stock, suppliers=suppliers))
    covers = [Covers(coverage) for coverage in books.coverages]
    known = CoverPrices(books, Settled(books.market, books.stock, frozenset([0])), covers)
    program = known.program([{(0, 1)}])
    prices = np.zeros(len(program.rows), np.int64)
    holding = program.buying.holding
    prices[holding[0]], prices[holding[1]] = -10 * FINE, -5 * FINE
    nothing = Priced(-(1 << 60), [], [], [frozenset({(0, 1)})])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Relaxation, "solved", lambda *_: Relaxed(prices, np.zeros(0)))
        patch.setattr(cover_prices, "_MOST_ROUNDS", 1)
        found = known.tightened(nothing, None)
    assert found is not None
    assert found.bound == -3 * FINE


def test_one_piece_is_not_bounded_at_the_price_of_ten() -> None:
    """A at 1.00, from ten on at 0.60: a gap that asks for one A costs 1.00, also where parts of packs may be bought."""
    window = Window(8 * STEP, 10 * STEP, "test")
    at = Bracket.between(20 * STEP, 20 * STEP)
    gap = Gap("g", Reading(at, "feeler"), window, (("g", Fraction(-1)),), again=(Fraction(0), Fraction(0)))
    offer = Offer(Decimal("1.00"), 1, "", "north", 1, price_from=((10, Decimal("0.60")),))
    stock = (replace(line_of("A", 11, 0, "1", "north"), offers=(offer,)),)
    job = Job("test", "mm", (gap,), (Place("g", None, 2),), (), stock, suppliers=(Supplier("north", Decimal(0)),))
    books = books_of(job)
    covers = CoverPrices(
        books, Settled(books.market, books.stock, frozenset([0])), [Covers(coverage) for coverage in books.coverages]
    )
    least = covers.at_least()
    assert least is not None
    found = covers.tightened(least, None)
    assert found is not None
    assert -(-found.bound // FINE) == books.market.coins(Decimal("1.00"))


def test_what_is_better_is_found_where_what_is_known_is_no_multiple_of_the_unit() -> None:
    """At least one pack of 10 coins is to be bought; an order of 13 is known: 10 is better, and nothing is below."""
    sums = Sums([], 1, [Row({0: -1}, -1)])
    read: list[int] = []

    def worth(values: Any) -> int:
        read.append(round(values[0]))
        return 10 * read[-1]

    within = Range(np.array([0]), np.array([5]))
    task = Closing(sums, sums.terms({0: 10}), 10, within, np.array([1]), worth)
    assert closed(task, 13, Few(10, Watch())) == 10
    assert read == [1]
