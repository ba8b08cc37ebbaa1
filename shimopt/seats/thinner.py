"""Whether a thicker piece may be made thinner by hand: within what the seat and the piece's hardness allow.

All of it common practice without a published source. A hard piece may be hard in its skin only, and how deep that goes
no table states: it is left as it is, and so is one of which nobody said how hard it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.standards import hardness_of
from shimopt.seats.finding import Broken
from shimopt.seats.made import LEAST_HARDNESS, thick_enough

__all__ = ["may_be_made_thinner", "to_make_thinner"]

# never more than a fifth of a piece comes off
_MOST_OFF = Fraction(1, 5)


def may_be_made_thinner(part: Part, seat: Seat | None, to: Bracket) -> bool:
    """Whether a piece may be brought down to a thickness [nm]: soft throughout, not by much, and still thick enough."""
    now = part.thickness
    if to.low <= 0 or now.low < to.high or now.high - to.best > _MOST_OFF * now.low or not _soft_throughout(part):
        return False
    thinner = Part(part.name, Bracket(to.best, to.best, to.best))
    if seat is None:
        return True
    # against what turns it would be the soft face itself
    return not seat.moving_face and not isinstance(thick_enough(thinner, seat), Broken)


def to_make_thinner(lines: Iterable[int], stock: Sequence[StockLine], seat: Seat | None, to: Bracket) -> int | None:
    """The thinnest of these stock lines that may be brought down to a thickness [nm], None where none may."""
    may = [i for i in lines if may_be_made_thinner(stock[i].part, seat, to)]
    return min(may, key=lambda i: (stock[i].part.thickness.low, i), default=None)


def _soft_throughout(part: Part) -> bool:
    """Whether a piece is known to have no hard skin."""
    if not part.hardness:
        return False
    hardness = hardness_of(part.hardness)
    if hardness.scale == "word":
        return hardness.word == "soft"
    return hardness.number < LEAST_HARDNESS[hardness.scale].number
