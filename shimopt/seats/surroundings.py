"""What stands round the part: the counterbore it goes into, and the next ring it must stay clear of."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.rule import Answer, Broken, Unknown
from shimopt.seats.shift import full_shift

__all__ = ["clear_of_next_ring", "outside_in_counterbore"]


def outside_in_counterbore(part: Part, seat: Seat) -> Answer:
    """The largest outside against the least counterbore: a part that may not go in must not be planned for."""
    if "bore" in seat.absent:
        return None
    if seat.bore is None:
        return Unknown("no_counterbore")
    if part.outer is None:
        return Unknown("no_outside")
    if part.outer.high > seat.bore.low:
        return Broken("stop", "outside_too_large", {"largest_outside": part.outer.high, "least_bore": seat.bore.low})
    return None


def clear_of_next_ring(part: Part, seat: Seat) -> Answer:
    """A stop where the part can touch the next ring at full shift, a caution where it comes closer than the limit.

    Where it is not known how far the part can shift, it is judged in the middle.
    """
    if "next_ring" in seat.absent:
        return None
    if seat.next_ring is None:
        return Unknown("no_next_ring")
    if part.outer is None:
        return Unknown("no_outside")
    shift = full_shift(part, seat) or Fraction(0)
    clear = (seat.next_ring.low - part.outer.high) / 2 - shift
    lengths: dict[str, Fraction | int] = {
        "outside": part.outer.best,
        "next_ring": seat.next_ring.best,
        "shift": shift,
        "clear": max(clear, Fraction(0)),
        "over": max(-clear, Fraction(0)),
        "allowed": seat.limits.clear,
    }
    if clear <= 0:
        return Broken("stop", "rubs_next_ring", lengths)
    if clear < seat.limits.clear:
        return Broken("caution", "near_next_ring", lengths)
    return None
