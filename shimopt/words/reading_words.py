"""Readings and windows in words, in one unit or in both systems; what a reading is built of and takes for granted."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import Gap, Window
from shimopt.lengths import Bracket, as_decimal
from shimopt.probability import half_width
from shimopt.readings import Reading, Term
from shimopt.readings.reading import LIKELY_SHARE
from shimopt.reasons import Reason
from shimopt.reasons import shared_reasons as shared
from shimopt.words.digits import few_digits, seen
from shimopt.words.speaker import Speaker, listed

# what a star behind a figure means
LIKELY_NOTE = "* so much 19 times in 20; what goes in or comes out counts at its worst"

_LONG = 5_000_000  # from 5 mm on the other system speaks of inches, not of thousandths
_HOW = {
    "value": "as stated",
    "feeler": "by feeler gauge",
    "indicator": "by dial indicator",
    "built_up": "built up of measured parts",
    "cover_gap": "under the cover",
    "table": "as the table of gaps states",
    "record": "as predicted when it was fitted, not measured since",
    "record after fitting": "after fitting",
}


def read_how(reading: Reading) -> str:
    """By which instrument, or from where."""
    return _HOW[reading.kind]


def basis_text(gap: Gap, *, plain: bool = False) -> str:
    """What stands behind a bracket of a gap that holds 19 times in 20 only; empty where it is the worst case."""
    if gap.reading.basis == "worst case" or gap.reading.bracket.exact:
        return ""
    return ", 19 times in 20" if plain else f" ({gap.reading.basis})"


def stands_off(read: Bracket, say: Speaker) -> str:
    """`cover stands 6 to 7 thou off`: what is read under a cover, never called a preload."""
    return f"cover {stands(read, say)}"


def stands(read: Bracket, say: Speaker) -> str:
    """The same in a cell beside the gap's name."""
    return f"stands {say.bracket(-read.high, -read.low)} off"


def reading_text(gap: Gap, say: Speaker) -> str:
    """`17 to 18 thou by feeler gauge; best estimate 17.5 thou; with what may shift 15 to 20 thou`."""
    if gap.reading.opens:
        return _cover_text(gap, say)
    read, bracket, say = seen(gap.reading.found, say.unit), seen(gap.reading.bracket, say.unit), say.about(gap)
    shifted = f"; with what may shift {say.clearance(bracket.low, bracket.high)}" if gap.reading.unmoved else ""
    said = f"{say.clearance(read.low, read.high)} {read_how(gap.reading)}"
    if gap.reading.taken_as_exact:
        return f"{said}, taken as exact{shifted}"
    return f"{said}{basis_text(gap)}; best estimate {say.clearance(read.best, read.best)}{shifted}"


def _cover_text(gap: Gap, say: Speaker) -> str:
    """The same of a cover's own gap."""
    read, bracket = seen(gap.reading.found, say.unit), seen(gap.reading.bracket, say.unit)
    shifted = f"; with what may shift {say.bracket(-bracket.high, -bracket.low)}" if gap.reading.unmoved else ""
    if gap.reading.taken_as_exact:
        return f"{stands_off(read, say)}, taken as exact{shifted}"
    return f"{stands_off(read, say)}{basis_text(gap)}; best estimate {say(-read.best)}{shifted}"


def limits_text(window: Window, say: Speaker) -> str:
    """`4 to 12 thou`, `at most 12 thou` or `at least 4 thou`."""
    return say.window(window.stated_min, window.max)


def window_and_aim(window: Window, say: Speaker) -> str:
    """The window with what is aimed at."""
    aim = ""
    if window.target is not None:
        middle = "" if window.stated_target is not None else ", the middle"
        aim = f"; target {say.clearance(window.target, window.target)}{middle}"
    return f"{limits_text(window, say)}{aim}"


def other_unit(say: Speaker) -> str:
    """The unit that stands in brackets beside this one."""
    return "mm" if say.unit in ("thou", "in") else "thou"


def both_units(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """`17 to 18 thou (0.432 to 0.457 mm)`: as people read it in `unit`, and rounded in the other system."""
    return f"{say.bracket(low, high)}{_in_brackets(low, high, say)}"


def far_in_both(nm: Fraction | int, say: Speaker) -> str:
    """How far something is off, in both systems, with the digits of a gauge."""
    return f"{few_digits(say, nm)[0]}{_in_brackets(nm, nm, say)}"


def _in_brackets(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    return f" ({_there(low, high, say)})" if say.both else ""


def both_clearance(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """A clearance in both systems; below zero it is a preload and called so."""
    if low >= 0:
        return f"{'play ' if say.loaded else ''}{both_units(low, high, say)}"
    if high <= 0:
        return f"preload {both_units(-high, -low, say)}"
    return f"preload {both_units(-low, -low, say)} to play {both_units(high, high, say)}"


def limits_both(window: Window, say: Speaker) -> str:
    """The window's limits in both unit systems."""
    if (low := window.stated_min) is not None and window.max is not None:
        return both_clearance(low, window.max, say)
    limit = window.max if window.max is not None else window.min or 0
    return f"{limits_text(window, say)}{_in_brackets(abs(limit), abs(limit), say)}"


def limit_both(gap: Gap, side: int, say: Speaker) -> str:
    """A limit of a gap's window by its name, the upper one for a side above 0: `the least preload allowed, ...`."""
    limit = (gap.window.max if side > 0 else gap.window.min) or 0
    # more preload is less clearance
    preload = limit < 0 or (limit == 0 and side > 0)
    kind = "preload" if preload else "play" if say.about(gap).loaded else "clearance"
    end = "largest" if (side > 0) != preload else "least"
    return f"the {end} {kind} allowed, {both_units(abs(limit), abs(limit), say)}"


def source_text(gap: Gap) -> str:
    """Who says what is allowed; where heat narrowed the window, that no paper states it so."""
    cold, heat = gap.cold_window, gap.heat
    if cold is None or heat is None or heat.window is None:
        return gap.window.source
    return f"{cold.source}, narrowed so that it holds hot too (hot: {heat.window.source})"


def _there(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """A length or two in the other system, rounded."""
    other = other_unit(say)
    if other == "thou" and abs(Fraction(high)) >= _LONG:
        other = "in"
    step = {"mm": 1_000, "thou": 2_540, "in": 25_400}[other]
    return Speaker(other).bracket(_rounded(low, step), _rounded(high, step))


def _rounded(nm: Fraction | int, step: int) -> Fraction | int:
    """To a micrometre or a tenth of a thou, as it is where that would leave nothing."""
    return round(Fraction(nm) / step) * step or nm


def reading_words(gap: Gap, say: Speaker) -> list[str]:
    """The reading's brackets in one line, then a line per term; nothing where the bracket says all there is to say."""
    reading, say = gap.reading, say.about(gap)
    if not reading.terms:
        return []
    name = f"{shown(gap.name)}, {read_how(reading)}"
    if reading.likely is None or reading.worst is None:
        found = stands_off(reading.bracket, say) if reading.opens else _clearance(reading.bracket, say)
        lines = [f"{name}: {found}, {reading.basis}"]
    else:
        best = say.clearance(reading.bracket.best, reading.bracket.best)
        # a spread has no hard bound: where its 95 % interval stands for one, that is told
        by_interval = any(term.code == "repeats" and _is_interval(term) for term in reading.terms)
        repeat = " with the repeat at 95 %" if by_interval else ""
        lines = [
            f"{name}: {best}; 95 %: {_clearance(reading.likely, say)}; worst case: "
            f"{_clearance(reading.worst, say)}{repeat}; the plan takes {reading.basis}"
        ]
    return [*lines, *(f"  {term_words(term, say)}" for term in reading.terms)]


def _clearance(bracket: Bracket, say: Speaker) -> str:
    return say.clearance(bracket.low, bracket.high)


def term_words(term: Term, say: Speaker) -> str:
    """One term as a line: what it is, what it adds, how far it can be off."""
    off = f"±{say(term.half if term.as_read is None else term.as_read)}"
    off += "" if term.as_read is None else f", in the gap ±{say(term.half)}"
    assumed = " (assumed, none stated)" if term.assumed else ""
    amount = say(abs(term.amount))
    sign = "-" if term.amount < 0 else "+"
    match term.code:
        case "dimension":
            return f"{sign} {shown(term.name)} {amount} {off}{assumed}"
        case "gasket":
            return f"{sign} {shown(term.name)}, crushed by {_number(term.count)} %, {amount} {off}{assumed}"
        case "crush":
            return f"{shown(term.name)}: its crush may be off by {_number(term.count)} per cent of it: {off}{assumed}"
        case "pulls":
            return f"mean of {_number(term.count)} pull{'' if term.count == 1 else 's'}: {say(term.amount)}"
        case "round_wheel":
            return f"smallest of {_number(term.count)} readings round the wheel: {say(term.amount)}"
        case "lever":
            way = "less" if term.amount <= 0 else "more"
            return f"lever at {term.name}°: × cos {term.name}° = {_number(term.count)}, {amount} {way}"
        case "repeats":
            return (
                f"how well the pulls repeat: {off}, {'19 times in 20' if _is_interval(term) else 'the farthest pull'}"
            )
        case "repeatability":
            return f"how well it repeats: {off} (assumed, under three pulls at one place)"
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


def _is_interval(term: Term) -> bool:
    """Whether the spread of pulls is given by its 95 % interval, which is wider than the farthest pull."""
    return term.half == half_width(term.errors, LIKELY_SHARE)


def _number(value: Fraction | None) -> str:
    return as_decimal(value or 0, 6)


def assumption_words(reason: Reason, say: Speaker) -> str:
    """One assumption as a sentence."""
    about = f"{shown(reason.about)}: " if reason.about else ""
    name = shown(reason.names[0]) if reason.names else ""
    match reason:
        case shared.FigureAssumed():
            return f"{about}{_assumed(reason, name, f'±{say(reason.half)}')}"
        case shared.FarthestPull():
            return f"{about}at worst the mean is as far off as the farthest pull, or as its 95 % interval reaches."
        case shared.ErrorsIndependent():
            return (
                f"{listed(reason.names)}: the errors of each reading are independent of each other, and spread "
                "evenly unless it says otherwise; 95 % is their convolution, with Student's t for repeated pulls."
            )
        case shared.UnmeasuredIndependent():
            return "Unmeasured pieces are taken as independent of each other, each spread evenly over its tolerance."
        case shared.MeasuredIndependent():
            return (
                "Measured pieces are taken as independent of each other; if one micrometer measured them all, name "
                "it (`micrometer`)."
            )
        case shared.MicrometerShared():
            which = f" ({name})" if name else ""
            source = f" ({reason.source})" if reason.source else ""
            error = "" if reason.half is None else f" of ±{say(reason.half)}{source}"
            return f"All measured pieces were measured with one micrometer{which}, so they share its error{error}."
        case shared.GaugeRepeats():
            known = f"{listed(reason.names)}: one reading is off by {say(reason.half)} (standard deviation, as stated)"
            counts = "it counts in every chance, and in nothing that is called sure"
            blades = f" What is sure of {listed(reason.coarse)} is so by the blades alone, which promise more."
            return f"{known}; {counts}.{blades if reason.coarse else ''}"
        case shared.SizesLearnt():
            counts = "as thick as your records say that their suppliers' pieces run"
            return f"{listed(reason.names)}: chances count them {counts}; nothing that is called sure does."
        case shared.HeatUniform():
            return (
                f"{listed(reason.names)}: all parts are equally warm; the coefficients of expansion are taken as exact."
            )
    raise TypeError(f"no words for {type(reason).__name__}")


def _assumed(reason: shared.FigureAssumed, name: str, off: str) -> str:
    match reason:
        case shared.RepeatabilityAssumed():
            return f"repeats to {off} (common practice), for it was pulled fewer than three times."
        case shared.ResolutionAssumed():
            return f"the dial can be read to {off} (the usual graduation), for no resolution is stated."
        case shared.PermissibleErrorAssumed():
            return f"the dial is right to {off} ({name or 'common practice'}), for no error is stated."
        case shared.CrushAssumed():
            spread = _number(reason.spread)
            return f"{name} is crushed as stated to ±{spread} per cent, {off} (common practice), for no ± is stated."
        case shared.DimensionAssumed() | shared.GasketAssumed():
            return f"{name} is right to {off} (common practice), for no ± is stated."
    raise TypeError(f"no words for {type(reason).__name__}")
