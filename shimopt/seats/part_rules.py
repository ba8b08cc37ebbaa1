"""What a part itself is like: form, tab, material, hardness, its wall against its thickness, how thin it may be.

And whether a thicker piece may be made thinner by hand, within what the seat and the piece's hardness allow: common
practice without a published source. A hard piece may be hard in its skin only, and how deep that goes no table states:
it is left as it is, and so is one of which nobody said how hard it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from fractions import Fraction

from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.standards import Hardness, hardness_of
from shimopt.seats import part_facts as facts
from shimopt.seats.finding import Answer, Broken, Lack, Unknown

# common practice, no source: least hardness against a face that turns, where the seat states none
LEAST_HARDNESS = {"HV": Hardness("HV", Fraction(350)), "HRC": Hardness("HRC", Fraction(35))}


# common practice, no published source: what a clamp crushes, and oil swells or shrinks
_GIVES_WAY = frozenset(["paper", "card", "cardboard", "cork", "felt", "fibre", "fiber", "rubber", "leather", "gasket"])


def part_taken(part: Part, seat: Seat) -> Answer:
    """A part that the seat takes by its name."""
    return named_among(part, seat.parts, "seat")


def named_among(part: Part, taken: tuple[str, ...], by: str) -> Broken | None:
    """A part that is named among those that a seat or place (`by`) takes: `W-*` is every name that begins so."""
    if not taken or any(fnmatchcase(part.name, name) for name in taken):
        return None
    return Broken("stop", facts.PartNotTaken(by=by, taken=taken))


def sets_clearance(part: Part, seat: Seat) -> Answer:
    """A spring is no shim. A seat whose forms name it all the same must press it flat.

    What is crushed by the clamp sets a clearance that does not stay, unless the seat's materials say that it is meant.
    """
    if spring := part.spring:
        named = spring in seat.forms
        fact = facts.TakesUpPlay(form=spring, named=named, by_name=not part.form)
        return Broken("caution" if named else "stop", fact)
    soft = gives_way(part)
    return Broken("caution", facts.GivesWay(material=soft)) if soft and not seat.materials else None


def gives_way(part: Part) -> str:
    """What a part is made of that a clamp crushes, or that it is called a gasket, or lies among them; else empty."""
    words = re.findall("[a-z]+", f"{part.material} {part.form}".casefold())
    called = re.search("gasket", f"{part.name} {part.at} {part.note}", re.IGNORECASE)
    # what it is made of says more than its tin
    known = "" if called is None or part.material else "gasket"
    return next((word for word in words if word in _GIVES_WAY), known)


def form_allowed(part: Part, seat: Seat) -> Answer:
    """A form that the seat takes; a slotted shim against a turning face can work its way out."""
    if (seat.forms or seat.moving_face) and not part.form:
        return Unknown(Lack.NO_FORM) if seat.forms else None
    if seat.forms and part.form not in seat.forms:
        return Broken("stop", facts.FormNotAllowed(form=part.form, allowed=seat.forms))
    if part.form == "slotted" and seat.moving_face is None:
        return Unknown(Lack.NO_MOVING_FACE)
    if part.form == "slotted" and seat.moving_face:
        return Broken("caution", facts.SlottedOnMovingFace())
    return None


def tab_finds_room(part: Part, seat: Seat) -> Answer:
    """A tab needs a keyway or notch; a seat that holds its shims by a tab needs a tab."""
    if seat.tab and not part.form:
        return Unknown(Lack.NO_FORM)
    if seat.tab and part.form != "tabbed":
        return Broken("stop", facts.NeedsTab(form=part.form))
    if part.form != "tabbed" or seat.tab or seat.keyway:
        return None
    if seat.tab is None and seat.keyway is None:
        return Unknown(Lack.NO_KEYWAY)
    return Broken("stop", facts.TabHasNoRoom())


def material_allowed(part: Part, seat: Seat) -> Answer:
    """A material that the seat takes: `steel` allows `steel` and `steel C60`."""
    if not seat.materials:
        return None
    if not part.material:
        return Unknown(Lack.NO_MATERIAL)
    named = part.material.casefold()
    if any(named == allowed.casefold() or named.startswith(f"{allowed.casefold()} ") for allowed in seat.materials):
        return None
    return Broken("stop", facts.MaterialNotAllowed(material=part.material, allowed=seat.materials))


def hard_enough(part: Part, seat: Seat) -> Answer:
    """Against a moving face: neither soft nor brittle, nor below the least hardness; scales are not converted."""
    if seat.moving_face is None:
        return Unknown(Lack.NO_MOVING_FACE)
    if not seat.moving_face:
        return None
    if not part.hardness:
        return Unknown(Lack.NO_HARDNESS)
    hardness, alone = hardness_of(part.hardness), seat.most_pieces == 1
    if hardness.scale == "word":
        if hardness.word == "hard":
            return None
        return Broken("caution", facts.SoftOnMovingFace(hardness=hardness.word, least="", alone=alone))
    asked = bool(seat.limits.hardness)
    stated = hardness_of(seat.limits.hardness) if seat.limits.hardness else LEAST_HARDNESS[hardness.scale]
    if stated.scale != hardness.scale:
        return Unknown(Lack.OTHER_HARDNESS_SCALE)
    if hardness.number >= stated.number:
        return None
    fact = facts.SoftOnMovingFace(hardness=str(hardness), least=str(stated), alone=alone, asked=asked)
    return Broken("caution", fact)


# common practice, no source: thinner pieces fold and cut, so they are noted even where the seat says nothing
_FOLDS = 50_000


def wide_enough(part: Part, seat: Seat) -> Answer:
    """A ring's wall of at least so many thicknesses; broken only where it surely is. A spacer is meant to be thick."""
    if part.form == "spacer":
        return None
    if part.inner is None or part.outer is None:
        return Unknown(Lack.NO_BORE if part.inner is None else Lack.NO_OUTSIDE)
    if part.outer.high - part.inner.low >= 2 * seat.limits.wall * part.thickness.low:
        return None
    wide = (part.outer.best - part.inner.best) / 2
    return Broken("caution", facts.ThinWall(wall=wide, thickness=part.thickness.best, times=seat.limits.wall))


def thick_enough(part: Part, seat: Seat) -> Answer:
    """A stop for a part that is surely thinner than the seat allows; a note for one so thin that it folds."""
    thickest = part.thickness.high
    if seat.thinnest is not None:
        if thickest < seat.thinnest:
            return Broken("stop", facts.TooThin(thickness=part.thickness.best, allowed=seat.thinnest))
        return None
    if thickest < _FOLDS:
        return Broken("note", facts.VeryThin(thickness=part.thickness.best, folds=_FOLDS))
    return None


# never more than a fifth of a piece comes off
_MOST_OFF = Fraction(1, 5)


def may_be_made_thinner(part: Part, seat: Seat | None, to: Bracket) -> bool:
    """Whether a piece may be brought down to a thickness [nm]: soft throughout, not by much, and still thick enough.

    Against what turns it would be the soft face itself, so somebody must have said that nothing does.
    """
    now = part.thickness
    if to.low <= 0 or now.low < to.high or least_left(part) > to.high or not _soft_throughout(part):
        return False
    thinner = Part(part.name, Bracket(to.best, to.best, to.best))
    return seat is not None and seat.moving_face is False and not isinstance(thick_enough(thinner, seat), Broken)


def least_left(part: Part) -> Fraction:
    """What is left of a piece [nm] where as much comes off as may."""
    return part.thickness.high - _MOST_OFF * part.thickness.low


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
