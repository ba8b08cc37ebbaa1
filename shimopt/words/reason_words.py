"""Reasons in words, and what holds a large job back. A sentence stands on its own: it names what it is about."""

from __future__ import annotations

from fractions import Fraction

from shimopt.choose import Scarce
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons import Reason
from shimopt.words.coupling_words import coupling_words
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker, chance_text, listed, plural

__all__ = ["reason_words", "scarce_words", "way_words"]

_MOST_UNSUITED = 3


def reason_words(reason: Reason, say: Speaker) -> str:
    """The reason as a sentence."""
    about = shown(reason.about)
    stack = say.stack(reason.stack)

    def told(key: str) -> str:
        return say(reason.lengths.get(key, Fraction(0)))

    def clear(key: str) -> str:
        return say.clearance(reason.lengths[key], reason.lengths[key])

    # a part without a name is called by its thickness
    thick = stack if stack == told("thickness") else f"{stack} ({told('thickness')})"
    match reason.code:
        case "already_inside":
            if not reason.stack:
                return f"{about}: already inside, so nothing is fitted."
            needless = " and is not needed" if reason.texts["needless"] else ""
            return (
                f"{about}: already inside, so nothing is fitted. The thinnest that suits ({stack}) would bring it "
                f"to {clear('after')}{needless}."
            )
        case "already_inside_and_no_thinner":
            return (
                f"{about}: already inside, so nothing is fitted. Even the thinnest that suits ({stack}) would make "
                f"it {clear('after')}: {reason.texts['then']}."
            )
        case "fitted_to_come_inside":
            return f"{about}: reads {told('off')} {reason.texts['side']} its window; {thick} brings it inside."
        case "fitted_to_be_surer":
            return f"{about}: its reading could be {told('out')} out of the window; {thick} makes it surer."
        case "fitted_to_match":
            return f"{about}: inside as read; {thick} is fitted to match {listed(reason.names)}."
        case "fitted_for_target":
            return f"{about}: inside as read; {thick} brings it nearer to its target, which the job puts first."
        case "fitted_for_the_chance":
            return f"{about}: as read its chance to be inside is only {_chance(reason, 'chance')}; {thick} raises it."
        case "chance_too_low_after" | "chance_too_low_as_read":
            more = ", and no stack that is left does better" if reason.texts["surer"] else ""
            return (
                f"{about}: inside by its best estimate, but with a chance of {_chance(reason, 'chance')} where "
                f"{_chance(reason, 'least')} is asked{more}."
            )
        case "unproven_after":
            return (
                f"{about}: inside by its best estimate, but it could stand out of its window by {told('out')} in all."
            )
        case "unproven_as_read":
            more = ", and no stack that is left makes it surer" if reason.texts["surer"] else ""
            return (
                f"{about}: inside by its best estimate, but its reading could stand out of the window by "
                f"{told('out')} in all{more}."
            )
        case "shims_not_allowed":
            return f"{about}: {told('off')} outside, but its seat takes no shims: {shown(reason.texts['why'])}."
        case "below_window":
            return (
                f"{about}: {told('off')} below its window. More shim cannot help: check its seating, dirt and shims "
                "left in, and read it again; else metal must come off."
            )
        case "above_window":
            return (
                f"{about}: {told('off')} above its window. More shim cannot help, it only opens the gap further: "
                "check the seating of the cover and read it again; else metal must come off."
            )
        case "parts_do_not_suit":
            return _unsuited(reason, about, say)
        case "too_few_pieces":
            return (
                f"{about}: its seat takes at least {shown(reason.texts['fewest'])} pieces, and only "
                f"{shown(reason.texts['there'])} that suit can be had."
            )
        case "nothing_suits":
            return f"{about}: {told('off')} {reason.texts['side']} its window, and no part to be had suits its seat."
        case "nothing_on_hand":
            return f"{about}: {told('off')} {reason.texts['side']} its window, and there is nothing to fit."
        case "not_thick_enough":
            return (
                f"{about}: needs {told('least')} of shim; the thickest stack that suits is {told('thickest')}. "
                f"The nearest ({stack}) would leave it {told('off')} {reason.texts['side']}."
            )
        case "too_tight_with_thinnest":
            return (
                f"{about}: the thinnest that suits ({stack}, {told('thinnest')}) would make it {clear('tight')}, "
                f"{told('short')} too tight."
            )
        case "too_loose_with_thinnest":
            return (
                f"{about}: the thinnest that suits ({stack}, {told('thinnest')}) would make it {clear('tight')}, "
                f"{told('short')} too loose."
            )
        case "no_size_between":
            return (
                f"{about}: no stack that can be had falls into its window. The nearest ({stack}) would make it "
                f"{clear('after')}, {told('off')} outside."
            )
        case "drawer_ran_out":
            return _ran_out(reason, about, stack, say.stack(reason.nearest) if reason.nearest else "", told("off"))
        case "beyond_parts":
            end = (
                "A measurement is likely wrong: check it before buying anything"
                if reason.texts["searched"]
                else "Check the measurement; if it is right, thicker parts are needed"
            )
            return (
                f"{about}: needs {told('least')} of shim, and {reason.texts['pieces']} of the thickest part known "
                f"make {told('most')}. {end}."
            )
        case "left_by_priority":
            return (
                f"{about}: {stack} would bring it inside; it is left outside because the job's priority puts "
                f"{shown(reason.texts['first'])} first."
            )
        case "left_by_search":
            return f"{about}: {stack}, which is left, would bring it inside; the search stopped before that."
        case "balance_set_aside":
            return f"{about}: not compared while {listed(reason.names)} is outside."
        case "not_within" | "not_within_found":
            proven = reason.code == "not_within"
            closer = (
                "no plan that serves the gaps as well is more even"
                if proven
                else "nothing more even was found before the search stopped"
            )
            unsuited = f" {listed(reason.names)} would, but must not be fitted on that seat." if reason.names else ""
            return (
                f"{about}: {told('after')} uneven, {told('over')} more than the {told('within')} asked; {closer}."
                f"{unsuited}"
            )
        case "left_uneven":
            return f"{about}: {told('after')} uneven and left so: no limit is stated (`within`)."
        case "no_price":
            return f"{about}: has no price, so the cost is not known."
    return coupling_words(reason, say)


def _ran_out(reason: Reason, about: str, stack: str, nearest: str, off: str) -> str:
    got = reason.texts["got"]
    what = stack if reason.stack else "parts that suit"
    said = f"{about}: {what} would do it, but the drawer ran out{f' ({shown(got)} got it instead)' if got else ''}."
    if len(reason.names) > 1:
        said += f" {listed(reason.names)} cannot all be served at once."
    return f"{said} The nearest that is left ({nearest}) would leave it {off} outside." if nearest else said


def _chance(reason: Reason, key: str) -> str:
    return chance_text(float(reason.texts[key]))


def _unsuited(reason: Reason, about: str, say: Speaker) -> str:
    """Parts of the right thickness that must not be fitted, the first few each with why: what a customer is told."""
    parts: dict[str, list[str]] = {}
    for finding in reason.findings:
        parts.setdefault(finding_words(finding, say), []).append(finding.part)
    said = [f"{listed(names)} ({words})" for words, names in list(parts.items())[:_MOST_UNSUITED]]
    more = sum(len(names) for names in list(parts.values())[_MOST_UNSUITED:])
    end = f"; and {more} more" if more else ""
    return f"{about}: of the right thickness, but not to be fitted: {'; '.join(said)}{end}."


def way_words(decision: Decision) -> str:
    """Which way a large job was planned; empty for a job that was solved whole."""
    if decision.way == "whole":
        return ""
    return (
        f"Planned by prices, for {plural(len(decision.job.places), 'place')} share one drawer: values are what the "
        "plan comes to, and no plan can be below a bound, given the levels above it as they are."
    )


def scarce_words(one: Scarce, say: Speaker) -> str:
    """What a few more of one size would bring."""
    what = say.part(one.line)
    if one.level == "outside":
        brought = f"bring {plural(one.fewer, 'more gap')} inside"
    else:
        brought = f"make {plural(one.fewer, 'more gap')} sure to be inside"
    above = "" if one.level == "outside" else ", with no more gaps outside"
    return f"{one.more} more of {what} would {brought} (tried out by a plan up to this level{above})."
