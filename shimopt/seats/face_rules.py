"""What the face asks of a part, and what stands round it: counterbore and next ring.

A part can hang off centre: what of the land it then still covers, what share of the face it carries, at what pressure.
At full shift e the ring's bore touches the shaft on one side (or its outside the counterbore). On the other side the
contact runs from max(land inside, bore + e) to min(land outside, outside + e), all as radii; on the touching side with
-e. The worst case is taken: largest bore, smallest outside, smallest shaft.
"""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.seats import part_facts as facts
from shimopt.seats.annulus import least_overlap
from shimopt.seats.finding import Answer, Broken, Lack, Unknown
from shimopt.seats.shaft_rules import share_over


def held_by(part: Part, seat: Seat) -> Bracket | None:
    """The diameter that holds the part: the shaft, or a groove's where the part stands over it with its whole width."""
    if not seat.grooves:
        return seat.shaft
    thickness = part.thickness.best
    over = [g.diameter for g in seat.grooves if share_over(g, Fraction(0), thickness) == 1]
    return min(over, key=lambda diameter: diameter.low) if over else seat.shaft


def full_shift(part: Part, seat: Seat) -> Fraction | None:
    """How far the part can move off the middle [nm]: until its bore meets the shaft, or its outside the counterbore.

    None where neither pair of diameters is known.
    """
    plays = []
    holder = held_by(part, seat)
    if part.inner is not None and seat.shaft is not None and holder is not None:
        plays.append(part.inner.high - holder.low)
    if part.outer is not None and seat.bore is not None:
        plays.append(seat.bore.high - part.outer.low)
    return max(Fraction(0), min(plays) / 2) if plays else None


def land(seat: Seat) -> tuple[Fraction, Fraction] | None:
    """Inner and outer diameter of what a part can bear on [nm]: the face without its chamfer, at its smallest."""
    if seat.face is None:
        return None
    return seat.face.inner.high, seat.face.outer.low - 2 * seat.chamfer


def covers_land_at_full_shift(part: Part, seat: Seat) -> Answer:
    """Whether the part still bears on the land all the way round when it hangs fully to one side."""
    found, shift = land(seat), full_shift(part, seat)
    if found is None:
        return Unknown(Lack.NO_FACE)
    if part.inner is None or part.outer is None:
        return Unknown(Lack.NO_BORE if part.inner is None else Lack.NO_OUTSIDE)
    if shift is None:
        return Unknown(Lack.NO_SHAFT_DIAMETER)
    inside, outside = found[0] / 2, found[1] / 2
    bore, edge = part.inner.high / 2, part.outer.low / 2

    def width(moved: Fraction) -> Fraction:
        return min(outside, edge + moved) - max(inside, bore + moved)

    centred, least = width(Fraction(0)), min(width(shift), width(-shift))
    left = max(least, Fraction(0))
    if centred <= 0:
        # nothing is carried even in the middle: the share of the face says so
        return None
    if least <= 0:
        return Broken("stop", facts.OffCentreUncovered(shift=shift, width=left, centred=centred))
    if least < (wanted := seat.limits.width) * centred:
        return Broken("caution", facts.OffCentreUneven(shift=shift, width=left, centred=centred, allowed_share=wanted))
    return None


def _overlap(part: Part, seat: Seat, *, centred: bool = False) -> tuple[Fraction, Fraction] | Unknown:
    """Share of the land, and area [mm²]: smallest part on smallest land at the worst shift, or in the middle."""
    found = land(seat)
    if found is None:
        return Unknown(Lack.NO_FACE)
    if part.inner is None or part.outer is None:
        return Unknown(Lack.NO_BORE if part.inner is None else Lack.NO_OUTSIDE)
    shift = full_shift(part, seat)
    if shift is None:
        return Unknown(Lack.NO_SHAFT_DIAMETER)
    return least_overlap((part.inner.high, part.outer.low), found, Fraction(0) if centred else shift)


def share_of_face(part: Part, seat: Seat) -> Answer:
    """A stop where the part does not meet the land at all, a caution where it carries less than the limit."""
    found = _overlap(part, seat)
    if isinstance(found, Unknown):
        return found
    share, allowed = found[0], seat.limits.carried
    if share == 0:
        return Broken("stop", facts.CarriesNothing(share=share, allowed_share=allowed))
    if share < allowed:
        return Broken("caution", facts.CarriesTooLittle(share=share, allowed_share=allowed))
    return None


def pressure_on_face(part: Part, seat: Seat) -> Answer:
    """The load over the carried area against the stated limit [N/mm²]; looked at only where the seat states a load.

    A stop where it is over the limit even in the middle, a caution where only at full shift; where it passes by a limit
    that is from memory, a note.
    """
    if seat.load is None:
        return None
    limit = seat.limits.pressure
    if limit is None:
        return Unknown(Lack.NO_LIMIT_PRESSURE)
    worst, centred = _overlap(part, seat), _overlap(part, seat, centred=True)
    if isinstance(worst, Unknown) or isinstance(centred, Unknown):
        return worst if isinstance(worst, Unknown) else None
    if worst[1] == 0:
        return None
    pressure = seat.load / worst[1]
    if pressure <= limit.value:
        if not limit.memory:
            return None
        passes = facts.PressureLimitFromMemory(
            load=seat.load, area=worst[1], pressure=pressure, limit=limit.value, source=limit.source
        )
        return Broken("note", passes)
    surely = centred[1] == 0 or seat.load / centred[1] > limit.value
    fact = (facts.PressureTooHigh if surely else facts.PressureMayBeTooHigh)(
        load=seat.load,
        area=worst[1],
        pressure=pressure,
        limit=limit.value,
        source=limit.source + (" (from memory)" if limit.memory else ""),
    )
    return Broken("stop" if surely else "caution", fact)


def outside_in_counterbore(part: Part, seat: Seat) -> Answer:
    """The largest outside against the least counterbore: a part that may not go in must not be planned for."""
    if "bore" in seat.absent:
        return None
    if seat.bore is None:
        return Unknown(Lack.NO_COUNTERBORE)
    if part.outer is None:
        return Unknown(Lack.NO_OUTSIDE)
    if part.outer.high > seat.bore.low:
        return Broken("stop", facts.OutsideTooLarge(largest_outside=part.outer.high, least_bore=seat.bore.low))
    return None


def clear_of_next_ring(part: Part, seat: Seat) -> Answer:
    """A stop where the part can touch the next ring at full shift, a caution where it comes closer than the limit.

    Where it is not known how far the part can shift, it is judged in the middle.
    """
    if "next_ring" in seat.absent:
        return None
    if seat.next_ring is None:
        return Unknown(Lack.NO_NEXT_RING)
    if part.outer is None:
        return Unknown(Lack.NO_OUTSIDE)
    shift = full_shift(part, seat) or Fraction(0)
    clear = (seat.next_ring.low - part.outer.high) / 2 - shift
    if clear >= seat.limits.clear and clear > 0:
        return None
    fact = (facts.NearNextRing if clear > 0 else facts.RubsNextRing)(
        outside=part.outer.best,
        next_ring=seat.next_ring.best,
        shift=shift,
        clear=max(clear, Fraction(0)),
        over=max(-clear, Fraction(0)),
        allowed=seat.limits.clear,
    )
    return Broken("caution" if clear > 0 else "stop", fact)
