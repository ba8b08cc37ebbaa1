"""What a section drawing shows, in mm as floats: a picture decides nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.face import held_by
from shimopt.seats.shaft import allowed_play

__all__ = ["Geometry", "geometry_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """Radii and lengths of a part on a seat by their best estimates [mm].

    `shift` is full shift; `held` the radius that holds the part; `reach` the largest radius shown; `detail` half the
    height of an enlarged window; `sizes` holds the exact diameters that are written beside it [nm].
    """

    shaft: float
    bore: float
    outside: float
    thickness: float
    edge: float
    shift: float
    face_inner: float
    face_outer: float
    chamfer: float
    fillet: float
    grooves: tuple[tuple[float, float, float], ...]
    counterbore: float | None
    next_ring: float | None
    face_known: bool
    outside_known: bool
    reach: float
    detail: float
    held: float
    sizes: Mapping[str, Fraction | int]


def _radius(diameter: Fraction | int) -> float:
    return float(diameter) / 2_000_000


def geometry_of(part: Part, seat: Seat) -> Geometry | None:
    """The geometry of a part on a seat; None where bore or shaft is not known."""
    if part.inner is None or seat.shaft is None:
        return None
    shaft, bore = _radius(seat.shaft.best), _radius(part.inner.best)
    outside = _radius(part.outer.best) if part.outer else max(shaft, bore) * 1.25
    counterbore = _radius(seat.bore.best) if seat.bore else None
    next_ring = _radius(seat.next_ring.best) if seat.next_ring else None
    held = held_by(part, seat) or seat.shaft
    shift = max(Fraction(0), part.inner.best - held.best)
    if seat.bore and part.outer:
        shift = max(Fraction(0), min(shift, seat.bore.best - part.outer.best))
    moved = _radius(shift)
    face_outer = _radius(seat.face.outer.best) if seat.face else outside * 1.08
    reach = max(outside + moved, face_outer, counterbore or 0.0, (next_ring or 0.0) * 1.05, shaft)
    # the enlarged windows hold the whole play twice over, and never less than 0.3 mm either way
    depth = max([abs(bore - _radius(held.best)), *(shaft - _radius(g.diameter.best) for g in seat.grooves or ())])
    detail = min(max(0.3, 3 * depth, 1.5 * (seat.fillet or 0) / 1e6), reach * 0.6)
    sizes: dict[str, Fraction | int] = {
        "shaft": seat.shaft.best,
        "bore": part.inner.best,
        "held": held.best,
        "play": part.inner.best - held.best,
        "allowed": allowed_play(seat, seat.shaft),
        "shift": shift / 2,
    }
    return Geometry(
        shaft=shaft,
        bore=bore,
        outside=outside,
        thickness=float(part.thickness.best) / 1e6,
        edge=(part.edge or 0) / 1e6,
        shift=moved,
        face_inner=_radius(seat.face.inner.best) if seat.face else shaft,
        face_outer=face_outer,
        chamfer=seat.chamfer / 1e6,
        fillet=(seat.fillet or 0) / 1e6,
        grooves=tuple((_radius(g.diameter.best), g.start / 1e6, g.end / 1e6) for g in seat.grooves or ()),
        counterbore=counterbore,
        next_ring=next_ring,
        face_known=seat.face is not None,
        outside_known=part.outer is not None,
        reach=reach,
        detail=detail,
        held=_radius(held.best),
        sizes=sizes,
    )
