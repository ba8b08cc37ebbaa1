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
# made once: to make a strategy takes longer than to draw from it
_NAMES = st.sampled_from(["north", "south"])
_SMALLEST, _POSTAGE = st.sampled_from([Decimal(0), Decimal(0), Decimal(4)]), st.sampled_from(_MONEY)
_PACKS, _DAYS = st.sampled_from([1, 2, 5]), st.sampled_from([1, 3, 7])
_PRICED = st.builds(Offer, st.sampled_from(_MONEY[1:]), _PACKS, st.just(""), _NAMES, _DAYS)
_UNPRICED = st.builds(Offer, st.sampled_from([*_MONEY[1:], None]), _PACKS, st.just(""), _NAMES, _DAYS)
_HALF, _OFFERS, _THERE = st.sampled_from([0, 0, STEP]), st.sampled_from([0, 1, 1, 2]), st.sampled_from([0, 0, 1, 2])
_SIZE, _LOW, _TALL, _WIDE, _SIDED = (st.integers(*ends) for ends in ((4, 24), (0, 6), (4, 12), (0, 3), (0, 5)))
_AGAIN = st.sampled_from([None, None, (Fraction(0), Fraction(0)), (Fraction(STEP), Fraction(2 * STEP))])
_SEAT = st.sampled_from([None, None, None, Seat("hard", shims_allowed=False, why="hardened")])
_EFFECT, _BEYOND = st.sampled_from([-1, -1, -1, 1]), st.integers(0, 24)


@st.composite
def order_gaps(draw: st.DrawFn, name: str) -> Gap:
    """A gap read too large for its window, closed by shims, or opened by them under a cover."""
    low = draw(_LOW) * 2
    window = Window(low * STEP, (low + draw(_TALL)) * STEP, "test")
    if draw(_SIDED) == 0:
        window = Window(None, window.max, "test")
    start, width = low + draw(_BEYOND), draw(_WIDE) * 2
    bracket = Bracket.between(start * STEP, (start + width) * STEP)
    again, seat, effect = draw(_AGAIN), draw(_SEAT), Fraction(draw(_EFFECT))
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
    suppliers = [Supplier(name, draw(_POSTAGE), draw(_SMALLEST)) for name in ("north", "south")]
    terms, stock = _UNPRICED if unpriced else _PRICED, []
    for n in range(draw(st.integers(1, most_lines))):
        size = draw(_SIZE) * STEP
        if bundles and stock and draw(st.booleans()):
            size = int(stock[-1].part.thickness.best)
        half = draw(_HALF)
        offers = [draw(terms) for _ in range(draw(_OFFERS))]
        if bundles:
            offers = [draw(bundled(offer)) for offer in offers]
        part = Part(f"S-{n}", Bracket.between(size - half, size + half))
        stock.append(StockLine(part, draw(_THERE), tuple(dict.fromkeys(offers))))
    most = draw(st.integers(1, most_pieces))
    places = tuple(
        draw(order_places(gap, most, len(stock))) if held else Place(gap.name, gap.seat, most) for gap in gaps
    )
    return Job("test", "mm", tuple(gaps), places, (), tuple(stock), suppliers=tuple(suppliers))
