"""Reasons of places that act together, in words."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.gap_reasons import Reason
from shimopt.words.digits import of_a_gauge
from shimopt.words.outside_words import done_for
from shimopt.words.speaker import Speaker, begun, listed, loose_or_tight

_STATE_IT = "a [[balance]] of these places would state it, or `equal`"


def together_words(reason: Reason, say: Speaker) -> str:
    """The reason as a sentence, without the name of what it is about. Raises TypeError for reasons of other kinds."""
    names = listed(reason.names)
    match reason:
        case shared.NoPlaceMoves():
            reads = (
                f"reads {say.clearance(reason.read, reason.read)}, {say(reason.off)} outside"
                if reason.off
                else f"{_inside(reason.sure)} as read ({say.clearance(reason.read, reason.read)})"
            )
            return f"no place moves it; {reads}."
        case shared.PlaceStays():
            gaps = f": {names} {'is' if len(reason.names) == 1 else 'are'} inside" if reason.names else ""
            return f"{say.stack(reason.stack, reason.about)} stays in{gaps}."
        case shared.Together():
            return f"{_together(reason, names, say)}."
        case shared.TogetherNearest():
            return f"{nearest_told(reason, say)}; that is not fitted."
        case shared.WindowsFight():
            if len(reason.names) == 1:
                return (
                    f"The window of {names} is {say(reason.short)} beyond all thickness that can go where it is moved."
                )
            return (
                f"The windows of {names} cannot all be met, whatever thickness goes where: together they are "
                f"{say(reason.short)} apart."
            )
        case shared.NoStacksForAll():
            together = " together" if len(reason.names) > 1 else ""
            alike = f" that match at {listed(reason.alike, 4)}" if reason.alike else ""
            return f"Some thickness would bring {names} inside{together}, but no stacks {say.had}{alike} do."
        case shared.ShiftThickness():
            one, two = (shown(name) for name in reason.names)
            return f"Moving {say(reason.step)} from {one} to {two} {_changes(reason, say)}."
        case shared.SplitByName():
            return f"nothing states how {names} share the thickness; {_STATE_IT}."
        case shared.SplitNotStated():
            return (
                f"nothing states how {names} share the thickness; as few places are changed as can be, with as few "
                "pieces; of what is as good by all that, it is the nearest to what was in. "
                f"{begun(_STATE_IT)}."
            )
        case shared.MoreThickness():
            return f"{say(reason.step)} more there {_changes(reason, say)}."
    raise TypeError(f"no words for {type(reason).__name__}")


def nearest_told(reason: shared.TogetherNearest, say: Speaker) -> str:
    """`the nearest there is, S-10 at left and nothing at right, leaves it 0.03 mm too tight`."""
    told = [f"{say.stack(stack, place) if stack else 'nothing'} at {shown(place)}" for place, stack in reason.stacks]
    laid = f"{', '.join(told[:-1])} and {told[-1]}" if told[1:] else told[0]
    return f"the nearest there is, {laid}, leaves it {say(reason.still)} {loose_or_tight(reason.side_after)}"


def _together(reason: shared.Together, places: str, say: Speaker) -> str:
    was = say.misses(reason.read, of_a_gauge(say, reason.off), reason.side, reason.preload)
    moved = f"{places} {'bring' if len(reason.names) > 1 else 'brings'} it to"
    after = say.clearance(reason.after, reason.after)
    match reason:
        case shared.TogetherLeft():
            return f"{was if reason.off else _inside(reason.sure)} as read, and nothing is changed at {places}"
        case shared.TogetherMoved():
            return f"reads {was}; {moved} {after}"
        case shared.TogetherStillInside():
            # what goes in at one place may cancel what comes out at another
            inside = "still inside" if reason.sure else _inside(reason.sure) if reason.sure_before else "still so"
            still = f"it stays at {after}" if reason.after == reason.read else f"{moved} {after}, {inside}"
            return f"{_inside(reason.sure_before)} as read; {still}"
        case shared.TogetherOutside():
            outside = f"{after}, {say(reason.still)} outside its window"
            if reason.still <= reason.off:
                return f"{moved} {outside}"
            read = f"reads {was}" if reason.off else f"{_inside(not reason.doubt)} as read"
            return f"{read}, but {done_for(reason)} brings it to {outside}"
    raise TypeError(f"no words for {type(reason).__name__}")


def _inside(sure: bool) -> str:
    return "inside" if sure else "inside by its best estimate"


def _changes(reason: shared.MoreThickness, say: Speaker) -> str:
    """What a shift does to each gap: tightens it, loosens it, leaves it as it is; of a preload this is plain, too."""
    said = []
    for gap, moved in reason.changes:
        name, amount = shown(gap), say(max(moved, -moved))
        if moved == 0:
            said.append(f"leaves {name} as it is")
        else:
            said.append(f"{'tightens' if moved < 0 else 'loosens'} {name} by {amount}")
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else "".join(said) or "changes no gap"
