"""The fillet between shaft and face under the bore's edge.

A fillet of radius r rises above the face at every distance below r from the shaft. A part whose edge is broken by c and
which lies p away from the shaft begins at p + c: it seats if p + c >= r. Where it does not, it is lifted by
h = r - sqrt(r² - (r - p - c)²).
"""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["clears_fillet", "lift"]


def lift(radius: int, away: Fraction) -> int:
    """How far a part that begins `away` from the shaft is lifted off the face by a fillet [nm], rounded down."""
    if away >= radius:
        return 0
    into = radius - away
    return radius - isqrt(int(radius * radius - into * into))


def clears_fillet(part: Part, seat: Seat) -> Answer:
    """A stop where the part stands on the fillet even when centred, a caution where it does so at full shift."""
    if seat.fillet is None:
        return Unknown("no_fillet")
    if seat.fillet == 0:
        return None
    if part.edge is None:
        return Unknown("no_edge")
    if part.edge >= seat.fillet:
        return None
    touching = lift(seat.fillet, Fraction(part.edge))
    lengths: dict[str, Fraction | int] = {"fillet": seat.fillet, "edge": part.edge, "lift": touching}
    if part.inner is None or seat.shaft is None:
        return Broken("caution", "may_stand_on_fillet", lengths)
    centred = max(Fraction(0), (part.inner.best - seat.shaft.best) / 2) + part.edge
    if centred >= seat.fillet:
        return Broken("caution", "may_stand_on_fillet", lengths)
    return Broken("stop", "stands_on_fillet", {**lengths, "lift": lift(seat.fillet, centred)})
