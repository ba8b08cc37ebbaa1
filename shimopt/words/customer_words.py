"""Why a shim goes in or not, as one would tell it over the counter: reasons and findings without jargon."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.reasons import Reason
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words
from shimopt.words.reading_words import both_clearance, both_units
from shimopt.words.speaker import Speaker, listed

__all__ = ["because", "unfit"]

_LONGEST_NAMES = 60


def unfit(finding: Finding, say: Speaker) -> str:
    """Why a part does not suit, as one would tell it over the counter."""
    lengths = {key: both_units(nm, nm, say) for key, nm in finding.lengths.items()}
    match finding.code:
        case "bore_too_large":
            return (
                f"its hole, {lengths['bore']}, is too wide for the shaft, {lengths['shaft']}: it would hang off centre"
            )
        case "bore_too_small":
            return f"its hole, {lengths['least_bore']}, does not go over the shaft, {lengths['largest_shaft']}"
    return finding_words(finding, say)


def because(reason: Reason, say: Speaker) -> str:
    """A reason without jargon; empty where another sentence says it."""
    stack = say.stack(reason.stack)

    def told(key: str) -> str:
        length = Fraction(reason.lengths.get(key, 0))
        return both_clearance(length, length, say)

    match reason.code:
        case "already_inside" if reason.stack:
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would only "
                f"take it to {told('after')}, and there is no need."
            )
        case "already_inside":
            return "That is right, so nothing is fitted."
        case "already_inside_and_no_thinner":
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would leave "
                f"only {told('after')}: too tight."
            )
        case "fitted_to_be_surer":
            return "It was probably right before, but not surely."
        case "fitted_to_match":
            return f"It was right by itself; the shim makes it match the others ({listed(reason.names)})."
        case "unproven_after" | "unproven_as_read":
            return (
                f"It is right by the best estimate. As finely as it could be measured, it may still be "
                f"{told('out')} outside."
            )
        case "shims_not_allowed":
            return f"That is {told('off')} outside, but this place must not be shimmed: {shown(reason.texts['why'])}."
        case "below_window":
            return (
                f"That is {told('off')} too tight. A shim would only make it tighter: its seating has to be looked "
                "at, or metal has to come off."
            )
        case "nothing_suits" | "nothing_on_hand":
            return f"That is {told('off')} too loose, and there is no shim at hand that suits."
        case "not_thick_enough":
            return (
                f"It needs {told('least')} of shim at least; the thickest that can be made is {told('thickest')}. "
                "Nothing is fitted."
            )
        case "too_tight_with_thinnest":
            return (
                f"The thinnest shim that suits, {stack}, would leave only {told('tight')}: too tight. Nothing is "
                "fitted."
            )
        case "no_size_between":
            return (
                f"No shim at hand brings it inside; the nearest, {stack}, would leave {told('after')}, "
                f"{told('off')} outside. Nothing is fitted."
            )
        case "drawer_ran_out":
            got = reason.texts["got"]
            where = f": it is used at {shown(got)}" if 0 < len(got) <= _LONGEST_NAMES else ""
            return (
                f"{stack} would do it, but the drawer has not enough of it{where}. Nothing is fitted until it is "
                "bought."
            )
        case "beyond_parts":
            return "No shim made is that thick: the measurement is probably wrong and has to be repeated."
    return ""
