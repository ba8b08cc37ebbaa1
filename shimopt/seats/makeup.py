"""What a part is made like: form, tab, material, hardness."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.parts.standards import Hardness, hardness_of
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["form_allowed", "hard_enough", "material_allowed", "tab_finds_room"]

# common practice, no source: least hardness against a face that turns, where the seat states none
_LEAST_HARDNESS = {"HV": Hardness("HV", Fraction(350)), "HRC": Hardness("HRC", Fraction(35))}


def form_allowed(part: Part, seat: Seat) -> Answer:
    """A form that the seat takes; a slotted shim against a turning face can work its way out."""
    if (seat.forms or seat.moving_face) and not part.form:
        return Unknown("no_form") if seat.forms else None
    if seat.forms and part.form not in seat.forms:
        return Broken("stop", "form_not_allowed", texts={"form": part.form, "allowed": ", ".join(seat.forms)})
    if seat.moving_face and part.form == "slotted":
        return Broken("caution", "slotted_on_moving_face", texts={"form": part.form})
    return None


def tab_finds_room(part: Part, seat: Seat) -> Answer:
    """A tab needs a keyway or notch; a seat that holds its shims by a tab needs a tab."""
    if seat.tab and not part.form:
        return Unknown("no_form")
    if seat.tab and part.form != "tabbed":
        return Broken("stop", "needs_tab", texts={"form": part.form})
    if part.form != "tabbed" or seat.tab or seat.keyway:
        return None
    if seat.tab is None and seat.keyway is None:
        return Unknown("no_keyway")
    return Broken("stop", "tab_has_no_room", texts={"form": part.form})


def material_allowed(part: Part, seat: Seat) -> Answer:
    """A material that the seat takes: `steel` allows `steel` and `steel C60`."""
    if not seat.materials:
        return None
    if not part.material:
        return Unknown("no_material")
    named = part.material.casefold()
    if any(named == allowed.casefold() or named.startswith(f"{allowed.casefold()} ") for allowed in seat.materials):
        return None
    return Broken(
        "stop", "material_not_allowed", texts={"material": part.material, "allowed": ", ".join(seat.materials)}
    )


def hard_enough(part: Part, seat: Seat) -> Answer:
    """Against a moving face: neither soft nor brittle, nor below the least hardness; scales are not converted."""
    if not seat.moving_face:
        return None
    if not part.hardness:
        return Unknown("no_hardness")
    hardness = hardness_of(part.hardness)
    if hardness.scale == "word":
        if hardness.word == "hard":
            return None
        return Broken("caution", "soft_on_moving_face", texts={"hardness": hardness.word, "least": ""})
    stated = hardness_of(seat.limits.hardness) if seat.limits.hardness else _LEAST_HARDNESS[hardness.scale]
    if stated.scale != hardness.scale:
        return Unknown("other_hardness_scale")
    if hardness.number >= stated.number:
        return None
    return Broken("caution", "soft_on_moving_face", texts={"hardness": str(hardness), "least": str(stated)})
