"""The share of the face that the part carries at its worst shift, and the pressure there."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.annulus import least_overlap
from shimopt.seats.rule import Answer, Broken, Unknown
from shimopt.seats.shift import full_shift, land

__all__ = ["pressure_on_face", "share_of_face"]


def _overlap(part: Part, seat: Seat, *, centred: bool = False) -> tuple[Fraction, Fraction] | Unknown:
    """Share of the land, and area [mm²]: smallest part on smallest land at the worst shift, or in the middle."""
    found = land(seat)
    if found is None:
        return Unknown("no_face")
    if part.inner is None or part.outer is None:
        return Unknown("no_bore" if part.inner is None else "no_outside")
    shift = full_shift(part, seat)
    if shift is None:
        return Unknown("no_shaft_diameter")
    return least_overlap((part.inner.high, part.outer.low), found, Fraction(0) if centred else shift)


def share_of_face(part: Part, seat: Seat) -> Answer:
    """A stop where the part does not meet the land at all, a caution where it carries less than the limit."""
    found = _overlap(part, seat)
    if isinstance(found, Unknown):
        return found
    numbers = {"share": found[0], "allowed_share": seat.limits.carried}
    if found[0] == 0:
        return Broken("stop", "carries_nothing", numbers=numbers)
    if found[0] < seat.limits.carried:
        return Broken("caution", "carries_too_little", numbers=numbers)
    return None


def pressure_on_face(part: Part, seat: Seat) -> Answer:
    """The load over the carried area against the stated limit [N/mm²]; looked at only where the seat states a load.

    A stop where it is over the limit even in the middle, a caution where only at full shift.
    """
    if seat.load is None:
        return None
    limit = seat.limits.pressure
    if limit is None:
        return Unknown("no_limit_pressure")
    worst, centred = _overlap(part, seat), _overlap(part, seat, centred=True)
    if isinstance(worst, Unknown) or isinstance(centred, Unknown):
        return worst if isinstance(worst, Unknown) else None
    if worst[1] == 0:
        return None
    pressure = seat.load / worst[1]
    if pressure <= limit.value:
        return None
    numbers = {"load": seat.load, "area": worst[1], "pressure": pressure, "limit": limit.value}
    texts = {"source": limit.source + (" (from memory)" if limit.memory else "")}
    if centred[1] == 0 or seat.load / centred[1] > limit.value:
        return Broken("stop", "pressure_too_high", texts=texts, numbers=numbers)
    return Broken("caution", "pressure_may_be_too_high", texts=texts, numbers=numbers)
