"""Reasons in words. A sentence stands on its own: it names what it is about."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import Job
from shimopt.lengths import spelled
from shimopt.reasons import Reason
from shimopt.render.words.coupling_words import coupling_words
from shimopt.render.words.names import listed, stack_text

__all__ = ["reason_words"]


def reason_words(reason: Reason, job: Job, unit: str) -> str:
    """The reason as a sentence, lengths in `unit`."""
    about = shown(reason.about)
    stack = stack_text(job, reason.stack)

    def say(key: str) -> str:
        return spelled(reason.lengths.get(key, Fraction(0)), unit)

    # a part without a name is called by its thickness
    thick = stack if stack == say("thickness") else f"{stack} ({say('thickness')})"
    match reason.code:
        case "already_inside":
            if not reason.stack:
                return f"{about}: already inside, so nothing is fitted."
            return (f"{about}: already inside, so nothing is fitted. The thinnest that suits ({stack}) would bring it "
                    f"to {say('after')} and is not needed.")  # fmt: skip
        case "already_inside_and_no_thinner":
            return (f"{about}: already inside, so nothing is fitted. Even the thinnest that suits ({stack}) would make "
                    f"it {say('after')}: too tight.")  # fmt: skip
        case "fitted_to_come_inside":
            return f"{about}: reads {say('off')} over its window; {thick} brings it inside."
        case "fitted_to_be_surer":
            return f"{about}: its reading could be {say('out')} out of the window; {thick} makes it surer."
        case "fitted_to_match":
            return f"{about}: inside as read; {thick} is fitted to match {listed(reason.names)}."
        case "unproven_after":
            return f"{about}: inside by its best estimate, but it could stand out of its window by {say('out')} in all."
        case "unproven_as_read":
            return (f"{about}: inside by its best estimate, but its reading could stand out of the window by "
                    f"{say('out')} in all, and no stack makes it surer.")  # fmt: skip
        case "shims_not_allowed":
            return f"{about}: {say('off')} outside, but its seat takes no shims: {shown(reason.texts['why'])}."
        case "below_window":
            return (f"{about}: {say('off')} below its window. More shim cannot help: check its seating, dirt and shims "
                    "left in, and read it again; else metal must come off.")  # fmt: skip
        case "parts_do_not_suit":
            verb = "has" if len(reason.names) == 1 else "have"
            return f"{about}: {listed(reason.names)} {verb} the right thickness but must not be fitted on this seat."
        case "nothing_suits":
            return f"{about}: {say('off')} over its window, and no part on hand suits its seat."
        case "nothing_on_hand":
            return f"{about}: {say('off')} over its window, and there is nothing on hand to fit."
        case "not_thick_enough":
            return (f"{about}: needs {say('least')} of shim; the thickest stack that suits is {say('thickest')}. "
                    f"The nearest ({stack}) would leave it {say('off')} over.")  # fmt: skip
        case "too_tight_with_thinnest":
            return (f"{about}: the thinnest that suits ({stack}, {say('thinnest')}) would make it {say('tight')}, "
                    f"{say('short')} too tight.")  # fmt: skip
        case "no_size_between":
            return (f"{about}: no stack on hand falls into its window. The nearest ({stack}) would make it "
                    f"{say('after')}, {say('off')} outside.")  # fmt: skip
        case "drawer_ran_out":
            return _ran_out(reason, about, stack, stack_text(job, reason.nearest) if reason.nearest else "", say("off"))
        case "beyond_parts":
            return (f"{about}: needs {say('least')} of shim, and {reason.texts['pieces']} of the thickest part known "
                    f"make {say('most')}. A measurement is likely wrong: check it before buying anything.")  # fmt: skip
        case "balance_set_aside":
            return f"{about}: not compared while {listed(reason.names)} is outside."
        case "not_within" | "not_within_found":
            closer = "nothing that suits brings it closer" if reason.code == "not_within" else "nothing closer was found"
            unsuited = f" {listed(reason.names)} would, but must not be fitted on that seat." if reason.names else ""
            return (f"{about}: {say('after')} uneven, {say('over')} more than the {say('within')} asked; {closer}."
                    f"{unsuited}")  # fmt: skip
        case "left_uneven":
            return f"{about}: {say('after')} uneven and left so: no limit is stated (`within`)."
        case "no_price":
            return f"{about}: has no price, so the cost is not known."
    return coupling_words(reason, job, unit)


def _ran_out(reason: Reason, about: str, stack: str, nearest: str, off: str) -> str:
    got = reason.texts["got"]
    said = f"{about}: {stack} would do it, but the drawer ran out{f' ({shown(got)} got it instead)' if got else ''}."
    if len(reason.names) > 1:
        said += f" {listed(reason.names)} cannot all be served at once."
    return f"{said} The nearest that is left ({nearest}) would leave it {off} outside." if nearest else said
