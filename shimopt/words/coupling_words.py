"""Reasons of places that act together, or that held pieces already, in words."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.reasons import Reason
from shimopt.words.speaker import Speaker, listed

__all__ = ["coupling_words"]


def coupling_words(reason: Reason, say: Speaker) -> str:
    """The reason as a sentence. Raises KeyError for reasons of other kinds."""
    about, places = shown(reason.about), listed(reason.names)
    stack = say.stack(reason.stack)

    def told(key: str) -> str:
        return say(reason.lengths.get(key, Fraction(0)))

    def clear(key: str) -> str:
        return say.clearance(reason.lengths[key], reason.lengths[key])

    side = reason.texts.get("side", "")
    match reason.code:
        case "no_place_moves":
            reads = (
                f"reads {told('read')}, {told('off')} outside"
                if reason.lengths["off"]
                else f"inside as read ({told('read')})"
            )
            return f"{about}: no place moves it; {reads}."
        case "stays":
            return f"{about}: {told('read')} with {stack} in, inside; it stays."
        case "stays_outside":
            return f"{about}: {told('read')} with {stack} in, {told('off')} outside; what was in stays in."
        case "swapped":
            return (
                f"{about}: reads {told('off')} {side} its window; {stack} in place of "
                f"{say.stack(reason.nearest)} makes it {told('after')}."
            )
        case "swapped_inside":
            return (
                f"{about}: inside as read ({told('read')}); {stack} in place of "
                f"{say.stack(reason.nearest)} makes it {told('after')}."
            )
        case "place_stays":
            gaps = (
                f": {listed(reason.names)} {'is' if len(reason.names) == 1 else 'are'} inside" if reason.names else ""
            )
            return f"{about}: {stack} stays in{gaps}."
        case "too_few_pieces":
            return (
                f"{about}: asks for at least {reason.texts['fewest']} pieces, and the drawer cannot give them "
                f"({reason.texts['there']} that suit are there); nothing is fitted."
            )
        case "together_left":
            inside = f"{told('off')} {side} its window" if reason.lengths["off"] else "inside"
            return f"{about}: {inside} as read, and nothing is changed at {places}."
        case "together_moved":
            return f"{about}: reads {told('off')} {side} its window; {places} {_bring(reason)} it to {clear('after')}."
        case "together_still_inside":
            return f"{about}: inside as read; {places} {_bring(reason)} it to {clear('after')}, still inside."
        case "together_outside":
            return f"{about}: {places} {_bring(reason)} it to {clear('after')}, {told('still')} outside its window."
        case "windows_fight":
            if len(reason.names) == 1:
                return f"The window of {places} is {told('short')} beyond all thickness that can go where it is moved."
            return (
                f"The windows of {places} cannot all be met, whatever thickness goes where: together they are "
                f"{told('short')} apart."
            )
        case "no_stacks_for_all":
            together = " together" if len(reason.names) > 1 else ""
            return f"Some thickness would bring {places} inside{together}, but no stacks that can be had do."
        case "more_thickness":
            return f"{about}: {told('step')} more there {_changes(reason, say)}."
        case "shift_thickness":
            one, two = (shown(name) for name in reason.names)
            return f"Moving {told('step')} from {one} to {two} {_changes(reason, say)}."
    raise KeyError(reason.code)


def _bring(reason: Reason) -> str:
    return "bring" if len(reason.names) > 1 else "brings"


def _changes(reason: Reason, say: Speaker) -> str:
    """What a shift does to each gap: takes some off, adds some, leaves it as it is."""
    said = []
    for key, length in reason.lengths.items():
        if not key.startswith("gap "):
            continue
        moved = Fraction(length)
        name = shown(key.removeprefix("gap "))
        if moved == 0:
            said.append(f"leaves {name} as it is")
        else:
            amount = say(abs(moved))
            said.append(f"takes {amount} off {name}" if moved < 0 else f"adds {amount} to {name}")
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else "".join(said) or "changes no gap"
