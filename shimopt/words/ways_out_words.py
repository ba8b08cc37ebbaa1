"""Ways in which a gap that is left outside could come inside after all: for the screen, and for the letter."""

from __future__ import annotations

from collections.abc import Callable

from shimopt.errors import shown
from shimopt.reasons import remedies as ways
from shimopt.reasons.gap_reasons import Length, Reason
from shimopt.reasons.kept_back import EvenIfOpened, OpenedToo
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker, begun, ended, listed, loose_or_tight


def way_out_words(reason: Reason, say: Speaker) -> str:
    """The way as a sentence about a gap that is named already; empty for reasons of other kinds."""
    stack = _stack(reason, say)

    def clear(length: Length) -> str:
        return say.clearance(length, length)

    match reason:
        case ways.ShimsNotAllowed():
            return (
                f"{say(reason.off)} {loose_or_tight(reason.side)}, and its seat takes no shims: {ended(reason.why)} "
                f"{begun(_restore(reason, say.bracket))}."
            )
        case ways.OneMorePiece():
            return (
                f"one piece more than the {reason.pieces} allowed there would do: {stack} "
                f"would make it {clear(reason.after)}. Allow it (`most_pieces`) only where the seat bears it."
            )
        case ways.FewerPieces():
            return f"{stack} would make it {clear(reason.after)}, but its seat takes at least {reason.fewest} pieces."
        case ways.StackDoesNotSuit():
            return f"{stack} would be of the right thickness, but {_refused(reason, say)}."
        case OpenedToo():
            own, best = reason.names == (reason.about,), "" if reason.right else " by best estimate"
            who = "what is in stays" if own else f"what is in at {listed(reason.names)} stays"
            how = f"{opened_words(reason)}{less_sure_words(reason)}"
            then = f"With keep = false there it would come {how}: {_all(reason, say)}."
            return f"{who}, being inside{best}. {then}"
        case EvenIfOpened():
            best = "" if reason.right else " by best estimate"
            return (
                f"what is in at {listed(reason.names)} stays, being inside{best}. With keep = false there it would be "
                f"even to {say(reason.spread)}, as is asked{less_sure_words(reason)}: {_all(reason, say)}."
            )
        case ways.MadeThinner():
            thinner = made_thinner_words(stack, say.bracket(reason.least, reason.most))
            return f"what could be done is {thinner}."
    return ""


def opened_words(reason: OpenedToo) -> str:
    """How surely it would be inside."""
    if reason.unproven:
        return "inside by its best estimate"
    return "surely inside" if reason.sure else "inside"


def _all(reason: OpenedToo | EvenIfOpened, say: Speaker) -> str:
    """What every place would get that is not as planned."""
    return ", ".join(f"{shown(place)}: {say.stack(stack, place)}" for place, stack in reason.stacks)


def less_sure_words(reason: OpenedToo | EvenIfOpened) -> str:
    """What it costs the gaps that are sure today; empty where it costs nothing."""
    if not reason.less_sure:
        return ""
    are = "is" if len(reason.less_sure) == 1 else "are"
    return f", but {listed(reason.less_sure, 4)} {are} no longer surely inside then"


def _some(reason: ways.OneMorePiece | ways.FewerPieces) -> str:
    """Pieces without their codes, which nobody outside the shop can use."""
    return "A single shim" if len(reason.stack) == 1 else f"A stack of {len(reason.stack)} shims"


def way_out_told(reason: Reason, told: Callable[[Length, Length], str], say: Speaker) -> str:
    """The way without jargon, for the letter; empty for reasons of other kinds.

    Parameter: told, says a bracket of lengths in both units.
    """
    stack = _stack(reason, say)
    match reason:
        case ways.ShimsNotAllowed():
            return (
                f"That is {told(reason.off, reason.off)} {loose_or_tight(reason.side)}, and no shim may go in there: "
                f"{ended(reason.why)} {begun(_restore(reason, told))}."
            )
        case ways.OneMorePiece():
            return f"{_some(reason)} would put it right, one piece more than the {reason.pieces} allowed there."
        case ways.FewerPieces():
            return f"{_some(reason)} would put it right, but at least {reason.fewest} pieces have to go in."
        case ways.StackDoesNotSuit():
            return f"{stack} would be of the right thickness, but {_refused(reason, say)}."
        case OpenedToo():
            own = [say.stack(stack, place) for place, stack in reason.stacks if place == reason.about]
            with_ = f" with {own[0]}" if own else ""
            as_is = ", which is right as it is" if len(reason.names) == 1 else ", which are right as they are"
            as_is = as_is if reason.right else ""
            better = "be surer" if reason.about in reason.names else "be put right"
            also = (
                "this one were changed"
                if reason.names == (reason.about,)
                else f"{listed(reason.names)} were changed too"
            )
            return f"It could {better}{with_} if {also}{as_is}{less_sure_words(reason)}."
        case EvenIfOpened():
            right = ", which is right by itself" if len(reason.names) == 1 else ", which are right by themselves"
            changed = f"what is in at {listed(reason.names)}{right if reason.right else ''}"
            return f"They could be as alike as is asked if {changed}, were changed too{less_sure_words(reason)}."
        case ways.MadeThinner():
            return f"A piece could be made thinner for it: {stack}, to {told(reason.least, reason.most)}."
    return ""


def made_thinner_words(piece: str, size: str) -> str:
    """How a thicker piece is made thinner, with the cautions of the trade (common practice, no published source)."""
    return (
        f"making {piece} thinner, to {size}: flat, both faces parallel, burr off, then measured again; never through "
        "a hardened skin"
    )


def _stack(reason: Reason, say: Speaker) -> str:
    """The stack that the way is made of, in fitting order."""
    return say.stack(getattr(reason, "stack", ()), reason.about)


def _restore(reason: ways.ShimsNotAllowed, told: Callable[[Length, Length], str]) -> str:
    """Which dimension has to come back, and by how much."""
    way = "come down" if reason.side == "over" else "grow"
    sure = "" if reason.sure else " (by the best estimate)"
    amount = f"{told(reason.least, reason.least)} or more" if reason.most is None else told(reason.least, reason.most)
    return f"it has to {way} by {amount}{sure}: restore the dimension that sets it, the worn part or its faces"


def _refused(reason: ways.StackDoesNotSuit, say: Speaker) -> str:
    """Which piece of the stack must not be fitted, and why."""
    finding = reason.findings[0] if reason.findings else None
    return "a piece of it does not suit" if finding is None else f"{finding.part} {finding_words(finding, say)}"
