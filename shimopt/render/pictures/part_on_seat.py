"""A part on a seat in section, seen through one window of whatever scale.

What is drawn is in mm as floats: a picture decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import cos, pi, sin

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.render.pictures.picture_colours import AGAINST, FAINT, FILLET, INK, METAL, OTHER, SUITS
from shimopt.render.pictures.svg import Svg
from shimopt.seats.face_rules import held_by
from shimopt.seats.shaft_rules import allowed_play


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


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the picture: where it lies [px], which point of the section [mm] is at its `x`, `y`, and its scales."""

    left: float
    top: float
    width: float
    height: float
    x: float
    y: float
    along: float
    across: float

    def at(self, axial: float, radial: float) -> tuple[float, float]:
        """A point of the section in the picture."""
        return self.x + axial * self.along, self.y - radial * self.across


def draw_section(svg: Svg, window: Window, g: Geometry, moved: float, colour: str) -> None:
    """The section through one window; `moved` is how far the ring is pushed down off the middle [mm]."""
    svg.begin(window.left, window.top, window.width, window.height)
    far, behind = window.width / window.along * 2, -window.width / window.along * 2
    for side in (1.0, -1.0):
        _surroundings(svg, window, g, side, behind, far)
    _shaft(svg, window, g, behind, far)
    for side in (1.0, -1.0):
        inner, outer = g.bore - side * moved, g.outside - side * moved
        _ring(svg, window, g, side, (inner, outer), colour)
        _contact(svg, window, g, side, inner, outer)
    svg.line(
        window.left,
        window.y,
        window.left + window.width,
        window.y,
        "axis",
        stroke=FAINT,
        stroke_dasharray="14 3 3 3",
        stroke_width="0.7",
    )
    svg.end()


def _surroundings(svg: Svg, window: Window, g: Geometry, side: float, behind: float, far: float) -> None:
    """The body with its face, the counterbore and the next ring, on one side of the axis."""
    inside, outside = g.shaft, g.face_outer
    body = [(behind, inside), (0.0, inside), (0.0, outside - g.chamfer), (-g.chamfer, outside), (behind, outside)]
    style = {"fill": "url(#hatch)", "stroke": FAINT} | ({} if g.face_known else {"stroke_dasharray": "4 3"})
    svg.polygon([window.at(x, side * y) for x, y in body], "body", **style)
    if g.fillet:
        arc = [
            (g.fillet * (1 - cos(a)), g.shaft + g.fillet * (1 - sin(a))) for a in (pi / 2 * n / 12 for n in range(13))
        ]
        svg.polygon([window.at(x, side * y) for x, y in [(0.0, g.shaft), *arc]], "fillet", fill=FILLET)
    high = g.reach * 3
    if g.counterbore is not None:
        block = [
            (0.0, g.counterbore),
            (far, g.counterbore),
            (far, high),
            (behind, high),
            (behind, outside),
            (0.0, outside),
        ]
        svg.polygon([window.at(x, side * y) for x, y in block], "counterbore", fill="url(#hatch)", stroke=FAINT)
    if g.next_ring is not None:
        block = [(g.thickness, g.next_ring), (far, g.next_ring), (far, high), (g.thickness, high)]
        svg.polygon([window.at(x, side * y) for x, y in block], "next-ring", fill=OTHER, stroke=INK)


def _shaft(svg: Svg, window: Window, g: Geometry, behind: float, far: float) -> None:
    profile = [(behind, g.shaft)]
    for radius, start, end in g.grooves:
        profile += [(start, g.shaft), (start, radius), (min(end, far), radius), (min(end, far), g.shaft)]
    profile.append((far, g.shaft))
    both = [*profile, *((x, -y) for x, y in reversed(profile))]
    svg.polygon([window.at(x, y) for x, y in both], "shaft", fill=METAL, stroke=INK)


def _ring(svg: Svg, window: Window, g: Geometry, side: float, ring: tuple[float, float], colour: str) -> None:
    """The ring, the play under it, and where it would stand inside the shaft, the counterbore or the next ring."""
    inner, outer = ring
    shape = [(0.0, inner + g.edge), (g.edge, inner), (g.thickness, inner), (g.thickness, outer), (0.0, outer)]
    dashed = {} if g.outside_known else {"stroke_dasharray": "4 3"}
    svg.polygon(
        [window.at(x, side * y) for x, y in shape], "ring", fill=colour, fill_opacity="0.8", stroke=INK, **dashed
    )
    clashes = [(inner, g.held)] if inner < g.held else []
    if g.counterbore is not None and outer > g.counterbore:
        clashes.append((g.counterbore, outer))
    bands = [("clash", low, high, AGAINST) for low, high in clashes]
    allowed = g.held + float(g.sizes["allowed"]) / 1e6
    if inner > g.held:
        bands.append(("play", g.held, min(inner, allowed), "url(#play)"))
    if inner > allowed:
        bands.append(("gap", allowed, inner, "url(#gap)"))
    for kind, low, high, fill in bands:
        band = [(0.0, low), (g.thickness, low), (g.thickness, high), (0.0, high)]
        svg.polygon([window.at(x, side * y) for x, y in band], kind, fill=fill)
    if g.next_ring is not None and outer > g.next_ring:
        svg.line(
            *window.at(g.thickness, side * g.next_ring),
            *window.at(g.thickness, side * outer),
            "clash",
            stroke=AGAINST,
            stroke_width="6",
        )


def _contact(svg: Svg, window: Window, g: Geometry, side: float, inner: float, outer: float) -> None:
    """The face: thick where the ring bears on it, thin and red where it is bare."""
    if not g.face_known:
        return
    inside, outside = g.face_inner, g.face_outer - g.chamfer
    svg.line(*window.at(0, side * inside), *window.at(0, side * outside), "bare", stroke=AGAINST, stroke_width="2.5")
    low, high = max(inside, inner), min(outside, outer)
    if low < high:
        svg.line(*window.at(0, side * low), *window.at(0, side * high), "carried", stroke=SUITS, stroke_width="5")
