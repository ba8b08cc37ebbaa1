"""Hypothesis strategies for orders: small jobs with suppliers, on a grid of 5 µm, so that ties and holes abound."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Seat, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading

__all__ = ["order_jobs"]

STEP = 5_000
_MONEY = [Decimal("0"), Decimal("0.50"), Decimal("1"), Decimal("2.25"), Decimal("3")]


@st.composite
def order_gaps(draw: st.DrawFn, name: str) -> Gap:
    """A gap read too large for its window, closed by shims, or opened by them under a cover."""
    low = draw(st.integers(0, 6)) * 2
    window = Window(low * STEP, (low + draw(st.integers(4, 12))) * STEP, "test")
    if draw(st.integers(0, 5)) == 0:
        window = Window(None, window.max, "test")
    start, width = draw(st.integers(low, low + 24)), draw(st.integers(0, 3)) * 2
    bracket = Bracket.between(start * STEP, (start + width) * STEP)
    again = draw(st.sampled_from([None, None, (Fraction(0), Fraction(0)), (Fraction(STEP), Fraction(2 * STEP))]))
    seat = draw(st.sampled_from([None, None, None, Seat("hard", shims_allowed=False, why="hardened")]))
    effect = Fraction(draw(st.sampled_from([-1, -1, -1, 1])))
    if effect > 0:
        bracket = Bracket.between(-(start + width) * STEP, -start * STEP)
    return Gap(name, Reading(bracket, "feeler"), window, ((name, effect),), seat, again=again)


@st.composite
def order_places(draw: st.DrawFn, gap: Gap, most: int, lines: int) -> Place:
    """A place that may hold a piece or two already, and may have to hold some."""
    pieces = draw(st.lists(st.integers(0, lines - 1), max_size=min(most, 2)))
    return Place(
        gap.name, gap.seat, most, draw(st.sampled_from([0, 0, 1, most])), tuple(sorted(pieces)), draw(st.booleans())
    )


@st.composite
def bundled(draw: st.DrawFn, offer: Offer) -> Offer:
    """The same offer, at times cheaper from two or three packs on, and cheaper still from one more."""
    if offer.price is None or not offer.price or draw(st.integers(0, 2)) == 0:
        return offer
    first = draw(st.integers(2, 3))
    half = offer.price * draw(st.sampled_from([Decimal("0.75"), Decimal("0.5")]))
    more = draw(st.sampled_from([(), ((first + 1, half / 2),)]))
    return replace(offer, price_from=((first, half), *more))


@st.composite
def order_jobs(
    draw: st.DrawFn,
    *,
    most_gaps: int = 2,
    most_lines: int = 3,
    most_pieces: int = 2,
    unpriced: bool = True,
    held: bool = False,
    bundles: bool = False,
) -> Job:
    """A job small enough that every purchase can be tried.

    With `held`, places with pieces in them; with `bundles`, prices that fall with the number of packs, and parts of two
    makers that are of one size.
    """
    names = [f"gap {n}" for n in range(draw(st.integers(1, most_gaps)))]
    gaps = [draw(order_gaps(name)) for name in names]
    smallest = st.sampled_from([Decimal(0), Decimal(0), Decimal(4)])
    suppliers = [Supplier(name, draw(st.sampled_from(_MONEY)), draw(smallest)) for name in ("north", "south")]
    prices = [*_MONEY[1:], None] if unpriced else _MONEY[1:]
    stock = []
    for n in range(draw(st.integers(1, most_lines))):
        size = draw(st.integers(4, 24)) * STEP
        if bundles and stock and draw(st.booleans()):
            size = int(stock[-1].part.thickness.best)
        half = draw(st.sampled_from([0, 0, STEP]))
        terms = st.builds(
            Offer,
            st.sampled_from(prices),
            st.sampled_from([1, 2, 5]),
            st.just(""),
            st.sampled_from(["north", "south"]),
            st.sampled_from([1, 3, 7]),
        )
        offers = [draw(terms) for _ in range(draw(st.sampled_from([0, 1, 1, 2])))]
        if bundles:
            offers = [draw(bundled(offer)) for offer in offers]
        part = Part(f"S-{n}", Bracket.between(size - half, size + half))
        stock.append(StockLine(part, draw(st.sampled_from([0, 0, 1, 2])), tuple(dict.fromkeys(offers))))
    most = draw(st.integers(1, most_pieces))
    places = tuple(
        draw(order_places(gap, most, len(stock))) if held else Place(gap.name, gap.seat, most) for gap in gaps
    )
    return Job("test", "mm", tuple(gaps), places, (), tuple(stock), suppliers=tuple(suppliers))
