"""What serves at a reading that no row of a card serves: for whoever stands there with nothing but the card."""

from __future__ import annotations

from fractions import Fraction

from shimopt.ordering.cards import BladeRow
from shimopt.ordering.order_result import Order
from shimopt.ordering.unserved_readings import read_in
from shimopt.words.speaker import Speaker

HOLE = "not covered: stop"
NO_SHIM = "no shim goes here: stop"
_CONTRADICTS = "stop: not what the trial showed; plan again from this reading"
_AGAIN = "stop: read again; if it stays so, plan again"
_NO_BLADE = "stop: it may be tight; plan again from this reading"
# nobody makes a piece to so little, and no micrometer of a shop tells it [nm] (common practice, no source)
_LEAST_ROOM = 10_000


def stop_text(order: Order, number: int, row: BladeRow, say: Speaker) -> str:
    """Why a row of blades fits nothing, and what would serve there."""
    demand = order.demands[number]
    if row.contradicts:
        # where there are doubts, today's reading was not taken as in service
        return _CONTRADICTS if demand.doubts else _AGAIN
    middle = demand.gap.reading.sign * Fraction(row.go + row.no_go) / 2
    return not_covered(order, number, middle, middle, say) if row.go else _NO_BLADE


def not_covered(order: Order, number: int, start: Fraction, end: Fraction, say: Speaker) -> str:
    """That nothing is fitted at final best estimates from .. to, and what would serve there."""
    if not order.demands[number].place.takes_shims:
        return NO_SHIM
    return f"{HOLE}{_would_serve(order, number, start, end, say)}"


def _would_serve(order: Order, number: int, start: Fraction, end: Fraction, say: Speaker) -> str:
    """`; 0.63 to 0.68 mm of shims would serve`: at final best estimates from .. to; empty where no sizes are missing.

    Only where a place moves its gap one for one and nothing is in it: then what is read and the window alone say it.
    """
    demand = order.demands[number]
    missing = any(
        hole.gap == number and hole.cause in ("sizes", "kept back") and hole.start <= end and start <= hole.end
        for hole in order.holes
    )
    start, end = read_in(demand, start, end)
    window = demand.gap.window
    if (
        not missing
        or demand.place.installed
        or {*demand.moves} != {Fraction(1)}
        or window.min is None
        or window.max is None
    ):
        return ""
    if demand.effect < 0:
        least, most = end + demand.above - window.max, start - demand.below - window.min
    else:
        least, most = window.min - start + demand.below, window.max - end - demand.above
    if least <= 0 or most - least < _LEAST_ROOM:
        return ""
    return f"; {say.bracket(least, most)} of shims would serve"
