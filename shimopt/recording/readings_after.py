"""Readings after fitting as they are typed: `east upper=9 thou`.

One that was probably typed in another unit, or with its point elsewhere, is asked. The prediction is the witness: far
from it, and outside the window, a reading is no slip unless the same digits in another unit, or a tenth or a thousandth
of it, are what was predicted.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import TypeVar

from shimopt.assembly import RunningTorque, running_torque
from shimopt.errors import InputError, Problem, RefusedError, did_you_mean
from shimopt.job import Gap, Job
from shimopt.job.slip_evidence import CLOSEST_BLADES, FAR, LEAST_SHOWN
from shimopt.lengths import UNITS, Bracket, LengthError, length_of, spelled, toleranced
from shimopt.readings import Dial, Reading, indicator_reading, refuse_lone_pull

_CHECKED = re.compile(r"\s*,\s*checked\s*$", re.IGNORECASE)
_PLAY = re.compile("play|preload", re.IGNORECASE)
_UNIT = re.compile(r"(?<![a-zµμ])(mm|um|µm|μm|in|thou)(?![a-z])", re.IGNORECASE)
# common practice, no source: so many times what was predicted. Dirt or a burr makes a gap small, never large: smallness
# alone says nothing, and only a unit explains so little
_LARGE, _SMALL = 3, FAR
# a point slipped makes ten times of it: half of that is nearer to ten times than to what was predicted
_POINT = 5
_INCHES = Fraction(10, 254)


def without_checked(text: str) -> str:
    """A reading as typed, without the word that says that somebody looked again."""
    return _CHECKED.sub("", text)


def refuse_slips(
    texts: Iterable[str], found: Mapping[str, Bracket], predicted: Mapping[str, Bracket], job: Job
) -> None:
    """Raise InputError with every reading, typed as `GAP=READING`, that is probably a slip."""
    problems = []
    for text in texts:
        name, _, value = (part.strip() for part in text.rpartition("="))
        if problem := slip_after(value, found[name], predicted[name], job.gap[name], job.unit):
            problems.append(problem)
    if problems:
        raise InputError(problems)


def slip_after(text: str, found: Bracket, predicted: Bracket, gap: Gap, unit: str) -> Problem | None:
    """What a reading was probably meant as, None where it may stand. Parameter: unit, of a number without one."""
    read, expected = abs(found.best), abs(predicted.best)
    if problem := _play_for_preload(text, found, predicted, gap):
        return problem
    if _CHECKED.search(text) or not read or not expected or not gap.window.off(found.best):
        return None
    if _closed_up_said_so(found, predicted, gap):
        return None
    least = CLOSEST_BLADES if (gap.reading.first or gap.reading.kind) == "feeler" else LEAST_SHOWN
    near = " to " in text and not _PLAY.search(text) and 0 < found.high - found.low < least
    large = read >= _LARGE * expected
    # dirt makes a gap small, but hardly a tenth of what was predicted to the digit, where that was right itself
    tenth = found.low > 0 and predicted.low <= 10 * found.low and 10 * found.high <= predicted.high
    tenth &= not gap.window.off(predicted.best)
    if not (large or tenth or near) and expected < _SMALL * read:
        return None
    named = _UNIT.search(text)
    typed_in = named[1].casefold().replace("µ", "u").replace("μ", "u") if named else unit
    meanings = [(Fraction(UNITS[other], UNITS[typed_in]), other) for other in UNITS if other != typed_in]
    # a point, a comma of thousands, or inches made of what was millimetres already
    meanings += [(Fraction(1, 10), ""), (Fraction(1, 1000), ""), (_INCHES, "")] if read >= _POINT * expected else []
    meanings += [(Fraction(10), "")] if tenth else []
    # what begins at nothing is tight: no looser reading is put into anybody's mouth
    meanings = [one for one in meanings if found.low or one[0] < 1]
    likely = [one for one in meanings if _meets(found, one[0], predicted)]
    if not likely:
        why = "no blades are so near to one another: its unit may have slipped, or its point"
        return _asked(gap, text, f"{text}: {why}") if near else None
    factor, other = min(likely, key=lambda one: abs(read * one[0] - expected))
    typed = text if named else f"{text} {unit}"
    meant = f"{_UNIT.sub('', text).strip()} {other}" if other else spelled(read * factor, unit)
    was = f"{'preload ' if predicted.best < 0 else ''}{spelled(expected, unit)} was predicted"
    rule = f"{typed}? {meant} was probably meant: {was}, and {spelled(read, unit)} is far outside the window"
    return _asked(gap, text, rule)


def _asked(gap: Gap, text: str, rule: str) -> Problem:
    remedy = f'write what was read; if it was read so, write it as "{gap.name}={text}, checked"'
    return Problem("", _WHERE, f"{gap.name}={text}", rule, remedy)


def _play_for_preload(text: str, found: Bracket, predicted: Bracket, gap: Gap) -> Problem | None:
    """That a bare number, which is play, was probably meant as the preload that was predicted."""
    if _CHECKED.search(text) or _PLAY.search(text) or not (predicted.high < 0 < found.low):
        return None
    if not gap.window.off(found.best) or gap.window.off(-found.best):
        return None
    rule = f"{text} by itself is play: preload {text} was probably meant, for a preload was predicted"
    remedy = f'write preload {text}; if it has play, write it as "{gap.name}=play {text}"'
    return Problem("", _WHERE, f"{gap.name}={text}", rule, remedy)


def _closed_up_said_so(found: Bracket, predicted: Bracket, gap: Gap) -> bool:
    """Whether it reads as the second of two readings, taken closed up, foretold."""
    first, second = gap.reading.bracket, gap.closed_up
    if second is None or gap.reading.recorded:
        return False
    low, high = predicted.low - first.low + second.low, predicted.high - first.high + second.high
    return found.low <= high and low <= found.high


def _meets(found: Bracket, factor: Fraction, predicted: Bracket) -> bool:
    """Whether a reading times a factor can be what was predicted, and is of its size."""
    meant, expected = abs(found.best) * factor, abs(predicted.best)
    if not expected <= _LARGE * meant or not meant <= _LARGE * expected:
        return False
    return found.low * factor <= predicted.high and predicted.low <= found.high * factor


_T = TypeVar("_T")
_MOST_SAID = 200
_WHERE, _RUNNING = "--after", "--running-torque"
_HOW = (
    'write it like "NAME=9 thou", "NAME=9 to 10 thou" (9 goes, 10 does not), "NAME=0.23 mm ± 0.01 mm" or '
    '"NAME=preload 2 to 3 thou"'
)

# the same where the gap was named already; and of one that a dial read
FORMS_AFTER = _HOW.replace("NAME=", "")
FORMS_OF_DIAL = f'{FORMS_AFTER}; of the dial, one pull after the other: "0.13 0.14 0.13"'

PLUS = re.compile(r"\+(?!/?-)")  # the +/- of a tolerance joins no pieces and no blades
# a decimal comma: 0,23 and 9,5; not 1,234, which may be a count of thousands
_COMMA = re.compile(r"(?<![\d.,])(?:0,(?=\d)|(\d+),(?=\d)(?!\d{3}(?!\d)))")
# two or more numbers one after the other, with a unit behind the last for all
_PULLS = re.compile(r"((?:\d*\.?\d+\s+)+\d*\.?\d+)\s*(mm|um|µm|μm|in|thou)?")
_LENGTH = r"(\d*\.?\d+)\s*(mm|um|µm|μm|in|thou)?"
_GOES = re.compile(rf"{_LENGTH}\s+goes[,;]?\s+(?:and\s+)?{_LENGTH}\s+(?:does not|doesn't|no)(?:\s+go)?", re.IGNORECASE)
_TWO = re.compile(r"(\d*\.?\d+)\s+(\d*\.?\d+)\s*(mm|um|µm|μm|in|thou)?")
_UNSIGNED = "preload and play are said without a sign"


def readings_after(texts: Iterable[str], job: Job) -> dict[str, Bracket]:
    """Readings by gap. Raises InputError with everything that is wrong."""

    def read(name: str, value: str) -> Bracket:
        try:
            return reading_after(value, job.gap[name], job)
        except LengthError as error:
            raise RefusedError(error.rule, _HOW) from None

    return _by_gap(texts, job, (_WHERE, "a reading after fitting", _HOW), read)


def blades_after(texts: Iterable[str], found: Mapping[str, Bracket], job: Job) -> dict[str, tuple[int, int]]:
    """The pairs of blades by gap, of those typed as `GAP=9 to 10 thou` that were read by blades at first too.

    Parameter: found, what these texts say.
    """
    pairs = {}
    for text in texts:
        name, _, value = (part.strip() for part in text.rpartition("="))
        value = _two_blades(with_points(without_checked(value)), job.first_read(job.gap[name]))
        reading, read = job.gap[name].reading, found[name]
        ends = (int(read.low), int(read.high))
        if " to " in value and "preload" not in value and (reading.first or reading.kind) == "feeler" and ends[0] > 0:
            pairs[name] = ends
    return pairs


def pulls_after(texts: Iterable[str], job: Job) -> dict[str, int]:
    """How many pulls were typed, by gap, of those that a dial read at first, typed as `GAP=0.13 0.14 0.13`."""
    parted = ((name.strip(), value) for name, _, value in (text.rpartition("=") for text in texts))
    found = ((name, _PULLS.fullmatch(with_points(without_checked(value)).strip())) for name, value in parted)
    dials = {gap.name for gap in job.gaps if job.first_read(gap).kind == "indicator"}
    return {name: len(pulls[1].split()) for name, pulls in found if pulls and name in dials}


def running_after(texts: Iterable[str], job: Job) -> dict[str, RunningTorque]:
    """Running torques by gap, as `GAP=1.2 N·m, without oil`. Raises InputError with everything that is wrong."""

    def read(_: str, value: str) -> RunningTorque:
        return running_torque(value)

    return _by_gap(texts, job, (_RUNNING, "a running torque", 'write it like "GAP=1.2 N·m, without oil"'), read)


def machined_after(texts: Iterable[str], read: Collection[str], job: Job) -> dict[str, str]:
    """What was done to gaps without a shim, as `GAP=shoulder faced 0.25 mm`. Raises InputError with all that is wrong.

    Parameter: read, the gaps that were read after that: what was read before no longer holds.
    """
    how = 'write what was done like "GAP=shoulder faced 0.25 mm"'

    def said(name: str, value: str) -> str:
        if not value.strip() or len(value) > _MOST_SAID:
            raise RefusedError(f"what was done is said in 1 to {_MOST_SAID} letters", how)
        if name not in read:
            raise RefusedError(
                "what was machined is read again, for what was read before no longer holds", f'add --after "{name}=..."'
            )
        return value.strip()

    return _by_gap(texts, job, ("--machined", "what was done", how), said, first=True)


def _by_gap(
    texts: Iterable[str],
    job: Job,
    said: tuple[str, str, str],
    read: Callable[[str, str], _T],
    *,
    first: bool = False,
) -> dict[str, _T]:
    """`GAP=...` by gap, each as `read` takes it; `said`: the option, what is typed there, how it is written.

    Parameter: first, whether the first sign parts them, for what is said may hold others.
    """
    found: dict[str, _T] = {}
    problems: list[Problem] = []
    where, what, how = said
    for text in texts:
        parted = text.partition("=") if first else text.rpartition("=")
        name, sign, value = (part.strip() for part in parted)
        if not sign or not name:
            problems.append(Problem("", where, text, f"{what} names its gap", how))
        elif name not in job.gap:
            remedy = did_you_mean(name, job.gap, f"it has {', '.join(list(job.gap)[:8])}")
            problems.append(Problem("", where, text, "the job has no gap of this name", remedy))
        elif name in found:
            problems.append(Problem("", where, text, "this gap is given twice", "give each gap once"))
        else:
            try:
                found[name] = read(name, value)
            except RefusedError as error:
                problems.append(Problem("", where, text, error.rule, error.remedy))
    if problems:
        raise InputError(problems)
    return found


def reading_after(text: str, gap: Gap, job: Job) -> Bracket:
    """One reading: a number in the job's unit, a length, a length ± so much, or `from to`. Raises LengthError.

    `0.13 0.14 0.13` are pulls of the dial that was used at first; `10 11`, of a gap that no dial read, and `10 goes, 11
    does not` are two blades.

    A preload is said as one: `preload 2 to 3 thou`, `preload 1 thou to play 2 thou`. Behind a comma `checked` says that
    it was looked at again. A comma may stand for the point. A length without ± is taken to be known as finely as the
    gap was when it was first read; of a bare 0 upwards only, for nobody measured a preload.
    """
    checked = text != without_checked(text)
    text = _two_blades(with_points(without_checked(text)), job.first_read(gap))
    side, _, said = text.strip().partition(" ")
    if side == "preload" and " to play " in said:
        pinched, _, loose = said.partition(" to play ")
        unit = "".join(ch for ch in loose if ch.isalpha() or ch in "µμ")
        low = length_typed(pinched if _has_unit(pinched) or not unit else f"{pinched} {unit}", job.unit)
        high = length_typed(loose, job.unit)
        if low.low < 0 or high.low < 0:
            raise LengthError(_UNSIGNED, _HOW)
        return Bracket.between(-low.high, high.high)
    if side in ("preload", "play"):
        found = reading_after(said, gap, job)
        if found.best < 0:
            raise LengthError(_UNSIGNED, _HOW)
        return found if side == "play" else Bracket(-found.high, -found.best, -found.low)
    if pulls := _PULLS.fullmatch(text.strip()):
        named = (pulls[2] or job.unit).replace("µ", "u").replace("μ", "u")
        return _pulled(pulls[1].split(), named, job.first_read(gap), checked=checked)
    low_text, between, high_text = text.partition(" to ")
    if between:
        high = length_typed(high_text, job.unit)
        unit = "".join(ch for ch in high_text if ch.isalpha() or ch in "µμ")
        low = length_typed(low_text if _has_unit(low_text) or not unit else f"{low_text} {unit}", job.unit)
        if low.low > high.high:
            raise LengthError("the first of two blades is the thinner one", "swap them")
        return Bracket.between(low.low, high.high)
    found = length_typed(text, job.unit)
    if not found.exact:
        return found
    first = job.first_read(gap).bracket
    half = (first.high - first.low) / 2
    if not found.best:
        return Bracket(found.best, found.best, half)
    return Bracket(found.best - half, found.best, found.best + half)


def _two_blades(text: str, first: Reading) -> str:
    """Two blades as `10 to 11`, however they were typed; other texts as they are."""
    if found := _GOES.fullmatch(text.strip()):
        low, low_unit, high, high_unit = found.groups(default="")
        return f"{low} {low_unit or high_unit} to {high} {high_unit or low_unit}".replace("  ", " ").strip()
    two = None if first.kind == "indicator" else _TWO.fullmatch(text.strip())
    return f"{two[1]} to {two[2]} {two[3] or ''}".strip() if two else text


def _pulled(typed: Sequence[str], unit: str, first: Reading, *, checked: bool) -> Bracket:
    """Several pulls, by the dial that was used at first: its graduation and error, their own spread."""
    if first.kind != "indicator":
        raise LengthError("these are more than two numbers, and no dial read it at first", _HOW)
    term = {one.code: one for one in first.terms}
    known = {code: round(one.half if one.as_read is None else one.as_read) for code, one in term.items()}
    lever = Decimal(term["lever"].name) if "lever" in term else None
    pulls = [length_of(Decimal(pull), unit) for pull in typed]
    if not checked:
        refuse_lone_pull(pulls, 'write what was read; if it was read so, write ", checked" behind it')
    dial = Dial(pulls, 2 * known["resolution"] or None, known["permissible_error"], lever)
    return indicator_reading(replace(dial, round_wheel="round_wheel" in term), first.basis).bracket


def stands_alone(text: str, found: Bracket) -> bool:
    """Whether a reading was typed as one figure without ±, and is taken to be known less closely than that."""
    both = _GOES.fullmatch(with_points(without_checked(text)).strip())
    return not (found.exact or both or re.search(r" to |±|\+/?-|\d\s+[.\d]", text))


def with_points(text: str) -> str:
    """A text with a point for every decimal comma."""
    return _COMMA.sub(lambda found: found[0].replace(",", "."), text)


def _has_unit(text: str) -> bool:
    return any(ch.isalpha() for ch in text)


def length_typed(text: str, unit: str) -> Bracket:
    """A number in `unit`, or a length with a unit of its own, with or without ±. Raises LengthError.

    Blades held together are one: `0.2 + 0.25`; a unit behind the last counts for all.
    """
    blades = [part.strip() for part in PLUS.split(text)]
    if len(blades) > 1:
        behind = "".join(ch for ch in blades[-1] if ch.isalpha() or ch in "µμ")
        named = [blade if _has_unit(blade) or not behind else f"{blade} {behind}" for blade in blades]
        first, *more = (length_typed(blade, unit) for blade in named)
        for blade in more:
            first = Bracket(first.low + blade.low, first.best + blade.best, first.high + blade.high)
        return first
    text = text.strip()
    try:
        nm = length_of(Decimal(text), unit)
    except InvalidOperation:
        return toleranced(text if _has_unit(text) else f"{text} {unit}", unit)
    return Bracket.between(nm, nm)
