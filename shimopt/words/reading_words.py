"""What a reading is built of, in words: one line per term, both brackets, and what is taken for granted."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import Bracket
from shimopt.probability import standard_uncertainty
from shimopt.readings import Term
from shimopt.reasons import Reason
from shimopt.words.speaker import Speaker, listed

__all__ = ["assumption_words", "reading_words", "term_words"]

_KINDS = {
    "value": "as stated",
    "feeler": "by feeler gauge",
    "indicator": "by dial indicator",
    "built_up": "built up",
    "cover_gap": "under the cover",
    "table": "from the table",
}


def reading_words(gap: Gap, say: Speaker) -> list[str]:
    """The reading's brackets in one line, then a line per term; nothing where the bracket says all there is to say."""
    reading = gap.reading
    if not reading.terms:
        return []
    name = f"{shown(gap.name)}, {_KINDS[reading.kind]}"
    if reading.likely is None or reading.worst is None:
        lines = [f"{name}: {_clearance(reading.bracket, say)}, {reading.basis}"]
    else:
        best = say.clearance(reading.bracket.best, reading.bracket.best)
        lines = [
            f"{name}: {best}; 95 %: {_clearance(reading.likely, say)}; worst case: "
            f"{_clearance(reading.worst, say)}; the plan takes {reading.basis}"
        ]
    return [*lines, *(f"  {term_words(term, say)}" for term in reading.terms)]


def _clearance(bracket: Bracket, say: Speaker) -> str:
    return say.clearance(bracket.low, bracket.high)


def term_words(term: Term, say: Speaker) -> str:
    """One term as a line: what it is, what it adds, how far it can be off."""
    off = f"±{say(term.half)}"
    assumed = " (assumed, none stated)" if term.assumed else ""
    amount = say(abs(term.amount))
    sign = "-" if term.amount < 0 else "+"
    match term.code:
        case "dimension":
            return f"{sign} {shown(term.name)} {amount} {off}{assumed}"
        case "gasket":
            return f"{sign} {shown(term.name)}, crushed by {_number(term.count)} %, {amount} {off}{assumed}"
        case "pulls":
            return f"mean of {_number(term.count)} pull{'' if term.count == 1 else 's'}: {say(term.amount)}"
        case "lever":
            return f"lever at an angle: reading × {_number(term.count)}, done above"
        case "repeats":
            known = say(round(standard_uncertainty(term.errors)))
            free = _number(term.count - 1 if term.count else None)
            return (
                f"how well the pulls repeat: standard uncertainty {known} ({free} degrees of freedom), at worst {off}"
            )
        case "repeatability":
            return f"how well it repeats: {off} (assumed, under three pulls)"
        case "resolution":
            return f"resolution of the dial: {off}{assumed}"
        case "permissible_error":
            return f"permissible error of the dial: {off}{assumed}"
        case "blades":
            return f"blades as marked: {amount} {off}"
        case "blade_error":
            leaves = f", {_number(term.count)} blades together" if term.count != 1 else ""
            return f"error of the blades: {off}{leaves}"
        case "stated":
            return f"as stated: {say(term.amount)} {off}"
        case "shift":
            return f"shift between trial and final assembly: {off}"
    raise KeyError(term.code)


def _number(value: Fraction | None) -> str:
    return f"{float(value or 0):.6f}".rstrip("0").rstrip(".")


def assumption_words(reason: Reason, say: Speaker) -> str:
    """One assumption as a sentence."""
    about = f"{shown(reason.about)}: " if reason.about else ""
    name = shown(reason.names[0]) if reason.names else ""
    off = f"±{say(reason.lengths['half'])}" if "half" in reason.lengths else ""
    match reason.code:
        case "repeatability_assumed":
            return f"{about}repeats to {off} (common practice), for it was pulled fewer than three times."
        case "resolution_assumed":
            return f"{about}the dial can be read to {off} (the usual graduation), for no resolution is stated."
        case "permissible_error_assumed":
            return f"{about}the dial is right to {off} ({name or 'common practice'}), for no error is stated."
        case "dimension_assumed" | "gasket_assumed":
            return f"{about}{name} is right to {off} (common practice), for no ± is stated."
        case "farthest_pull":
            return f"{about}at worst the mean is as far off as the farthest pull, or as its 95 % interval reaches."
        case "errors_independent":
            return (
                f"{listed(reason.names)}: the errors of each reading are independent of each other, and spread "
                "evenly unless it says otherwise."
            )
        case "unmeasured_independent":
            return "Unmeasured pieces are taken as independent of each other, each spread evenly over its tolerance."
        case "measured_independent":
            return (
                "Measured pieces are taken as independent of each other; if one micrometer measured them all, name "
                "it (`micrometer`)."
            )
        case "micrometer_shared":
            which = f" ({name})" if name else ""
            source = f" ({reason.texts['source']})" if reason.texts["source"] else ""
            error = f" of {off}{source}" if off else ""
            return f"All measured pieces were measured with one micrometer{which}, so they share its error{error}."
        case "heat_uniform":
            return (
                f"{listed(reason.names)}: all parts are equally warm, and the coefficients of expansion are taken "
                "as exact."
            )
    raise KeyError(reason.code)
