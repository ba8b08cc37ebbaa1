"""How far a part can hang off centre, and what of the land it then still covers.

At full shift e the ring's bore touches the shaft on one side (or its outside the counterbore). On the other side the
contact runs from max(land inside, bore + e) to min(land outside, outside + e), all as radii; on the touching side with
-e. The worst case is taken: largest bore, smallest outside, smallest shaft.
"""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.seats.grooves import share_over
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["covers_land_at_full_shift", "full_shift", "held_by", "land"]


def held_by(part: Part, seat: Seat) -> Bracket | None:
    """The diameter that holds the part: the shaft, or a groove's where the part stands over it with its whole width."""
    thickness = part.thickness.best
    over = [g.diameter for g in seat.grooves or () if share_over(g, Fraction(0), thickness) == 1]
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
        return Unknown("no_face")
    if part.inner is None or part.outer is None:
        return Unknown("no_bore" if part.inner is None else "no_outside")
    if shift is None:
        return Unknown("no_shaft_diameter")
    inside, outside = found[0] / 2, found[1] / 2
    bore, edge = part.inner.high / 2, part.outer.low / 2

    def width(moved: Fraction) -> Fraction:
        return min(outside, edge + moved) - max(inside, bore + moved)

    centred, least = width(Fraction(0)), min(width(shift), width(-shift))
    lengths: dict[str, Fraction | int] = {"shift": shift, "width": max(least, Fraction(0)), "centred": centred}
    if centred <= 0:
        # nothing is carried even in the middle: the share of the face says so
        return None
    if least <= 0:
        return Broken("stop", "off_centre_uncovered", lengths)
    if least < seat.limits.width * centred:
        return Broken("caution", "off_centre_uneven", lengths, numbers={"allowed_share": seat.limits.width})
    return None
