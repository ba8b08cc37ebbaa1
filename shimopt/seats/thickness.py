"""The part's own proportions: wall against thickness, and how thin it may be."""

from __future__ import annotations

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["thick_enough", "wide_enough"]

# common practice, no source: thinner pieces fold and cut, so they are noted even where the seat says nothing
_FOLDS = 50_000


def wide_enough(part: Part, seat: Seat) -> Answer:
    """A ring's wall of at least so many thicknesses; broken only where it surely is. A spacer is meant to be thick."""
    if part.form == "spacer":
        return None
    if part.inner is None or part.outer is None:
        return Unknown("no_bore" if part.inner is None else "no_outside")
    wall = (part.outer.high - part.inner.low) / 2
    if wall >= seat.limits.wall * part.thickness.low:
        return None
    lengths = {"wall": (part.outer.best - part.inner.best) / 2, "thickness": part.thickness.best}
    return Broken("caution", "thin_wall", lengths, numbers={"times": seat.limits.wall})


def thick_enough(part: Part, seat: Seat) -> Answer:
    """A stop for a part that is surely thinner than the seat allows; a note for one so thin that it folds."""
    thickest = part.thickness.high
    if seat.thinnest is not None:
        if thickest < seat.thinnest:
            return Broken("stop", "too_thin", {"thickness": part.thickness.best, "allowed": seat.thinnest})
        return None
    if thickest < _FOLDS:
        return Broken("note", "very_thin", {"thickness": part.thickness.best, "folds": _FOLDS})
    return None
