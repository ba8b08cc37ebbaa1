"""How `shimopt new` asks for a reading: blades, a dial's pulls, or dimensions that make up the gap."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import partial
from typing import TypeVar

from shimopt.cli.new_examples import EXAMPLES
from shimopt.cli.terminal import asked, chosen, say
from shimopt.lengths import UNITS

T = TypeVar("T")
# answers that mean nothing at all
NONE = ("none", "-", "nothing")
_FORMS = {"feeler": "feeler", "dial": "indicator", "dimensions": "built_up"}
# + bore depth 42.15 ± 0.01, and the same with a minus sign
_DIMENSION = re.compile(r"([+\-−])\s*(\S.*?)\s+([0-9.,]+)\s*(?:(?:±|\+/-)\s*([0-9.,]+)\s*)?")
_WITH_UNIT = re.compile(r"(.*?)\s*(mm|um|in|\"|thou)", re.IGNORECASE)
_RULE = re.compile(r"(?:([0-9]+)[\s-]+)?([0-9]+)/([0-9]{1,3})")
# 16, 16 ± 0.01 and 16 ± 0.01 mm: lengths in one unit, the job's where none stands
_BARE = re.compile(r"([0-9.,]+)\s*(?:(?:±|\+/-)\s*([0-9.,]+))?\s*(mm|um|in|thou)?")


def asked_until(question: str, read: Callable[[str], T], default: str | None = None) -> T:
    """Ask until `read` accepts the answer: it raises ValueError with what should be written, for an empty one too."""
    while True:
        answer = asked(question, default=default or "")
        try:
            return read(answer)
        except ValueError as error:
            say(f"  {error}")


def spoken(unit: str) -> str:
    """A unit in a question, where "in in" reads badly."""
    return "inches" if unit == "in" else unit


def words_asked(question: str, default: str | None = None) -> str:
    """A few words; a bare question mark is none."""

    def read(answer: str) -> str:
        clean = "".join(ch for ch in answer if ch.isprintable()).strip()
        if not clean:
            raise ValueError("Please write a few words.")
        if not clean.strip("? "):
            raise ValueError("Please write who says so: a manual and page, a drawing, whose estimate.")
        return clean

    return asked_until(question, read, default)


def reading_asked(unit: str, *, under_cover: bool, before: str, again: str) -> tuple[str, str]:
    """A reading as a key and a table of the job file.

    The key of the gap `before` is offered first, and what stands in the table of the one that is answered `again`.
    """
    if under_cover:
        say("  Read it without shims, the cover nipped down evenly; the blade goes between cover and case.")
        return "cover_gap", _blades(unit, again)
    by_key = {key: name for name, key in _FORMS.items()}
    form = chosen("  How is it read?", list(_FORMS), by_key.get(before, "feeler"))
    if form == "feeler":
        return "feeler", _blades(unit, again)
    return _FORMS[form], _pulls(unit) if form == "dial" else _dimensions(unit)


def _blades(unit: str, again: str) -> str:
    """Two blades, each one or several held together."""
    before = tomllib.loads(f"it = {again}", parse_float=Decimal)["it"] if again else {}
    blades = before if isinstance(before, dict) and "no_go" in before else {}
    went = str(blades.get("go", "none")) if blades else None
    did_not = str(blades["no_go"]) if blades else None
    read, together = partial(_together, unit=unit), f"or two: {EXAMPLES[unit].blades}"
    while True:
        go = asked_until(f"  Thickest blade that goes, in {spoken(unit)} ({together}; none goes: none)", read, went)
        no_go = asked_until(f"  Thinnest blade that does not go, in {spoken(unit)}", read, did_not)
        if no_go is not None and no_go > (go or 0):
            return f"{{ no_go = {no_go:f} }}" if go is None else f"{{ go = {go:f}, no_go = {no_go:f} }}"
        say("  The blade that goes must be thinner than the one that does not.")


def _together(answer: str, unit: str) -> Decimal | None:
    """A blade, or several held together: `0.2 + 0.25`; None for "none"."""
    if answer.strip().casefold() in NONE:
        return None
    return sum((number_of(blade, unit) for blade in answer.split("+")), Decimal(0))


def _pulls(unit: str) -> str:
    def read(answer: str) -> list[Decimal]:
        if not answer.strip():
            raise ValueError(f"Please write the pulls, such as {EXAMPLES[unit].pulls}.")
        return [number_of(one, unit) for one in answer.replace(";", " ").split()]

    pulls = asked_until(f"  Pulls of the dial, in {spoken(unit)}, spaces between (three or more)", read)
    step = asked_until(
        f"  One division of the dial, in {spoken(unit)} (none: not known)", partial(limit_of, unit=unit), "none"
    )
    resolution = f", resolution = {step:f}" if step else ""
    return f"{{ readings = [{', '.join(f'{one:f}' for one in pulls)}]{resolution} }}"


def _dimensions(unit: str) -> str:
    """One sign, name and size after another; a size without ± is assumed to have one, and the plan says so."""

    like = f"+ bore depth {EXAMPLES[unit].dimension}"

    def read(answer: str) -> str:
        found = _DIMENSION.fullmatch(answer.strip())
        if found is None:
            raise ValueError(f"Please write a sign, a name and a size, such as {like}.")
        size = f"{number_of(found[3]):f} {unit}"
        play = f" ± {number_of(found[4]):f} {unit}" if found[4] else ""
        key = "add" if found[1] == "+" else "take"
        return f'{{ name = {quoted(found[2])}, {key} = "{size}{play}" }}'

    say(f"  + what adds to the gap, - what takes from it, in {spoken(unit)}: {like}")
    found = [asked_until("  Dimension", read)]
    while (more := asked_until("  Next dimension (done: no more)", _unless_done(read), default="done")) is not None:
        found.append(more)
    return f"[{', '.join(found)}]"


def _unless_done(read: Callable[[str], T]) -> Callable[[str], T | None]:
    return lambda answer: None if answer.strip().casefold() == "done" else read(answer)


def shaft_of(answer: str, unit: str) -> str:
    """A diameter as the job file takes it, in `unit` where it names none; empty where there is none."""
    text = answer.strip()
    if text.casefold() in NONE:
        return ""
    if unit == "in" and (parts := _fraction(text.removesuffix('"').removesuffix("in").strip())):
        text = f"{parts:f}"
    if bare := _BARE.fullmatch(text):
        its = bare[3] or unit
        play = f" ± {number_of(bare[2]):f} {its}" if bare[2] else ""
        text = f"{number_of(bare[1]):f} {its}{play}"
    _largest(text, unit)
    return text


def bore_of(answer: str, unit: str, shaft: str) -> Decimal | None:
    """The bore of shims that go on a shaft, None where it is not known. Raises ValueError."""
    bore = limit_of(answer, unit)
    if bore is not None and Fraction(bore) * UNITS[unit] < _largest(shaft, unit):
        raise ValueError(f"A bore of {bore:f} {unit} does not go on a shaft of {shaft}: write it again, or none.")
    return bore


def _largest(shaft: str, unit: str) -> Fraction:
    """The largest that a shaft, as the job file takes it, may be [nm]. Raises ValueError where that cannot be read."""
    from shimopt.errors import InputError
    from shimopt.job import job_from
    from shimopt.parts.drawer_and_catalogues import Stock

    gap = {"name": "gap", "seat": "seat", "value": f"1 {unit}", "checked": True}
    window = {"min": 0, "max": "none", "source": "asked"}
    seats = [{"name": "seat", "shaft": shaft}]
    try:
        job = job_from({"unit": unit, "window": window, "seat": seats, "gap": [gap]}, Stock(()))
    except InputError as error:
        raise ValueError(f"{error.problems[0].rule}. {error.problems[0].remedy}.") from None
    seat = job.place["gap"].seat
    return seat.shaft.high if seat is not None and seat.shaft is not None else Fraction(0)


def quoted(text: str) -> str:
    """A text as TOML takes it."""
    return json.dumps(text, ensure_ascii=False)


def limit_of(answer: str, unit: str = "") -> Decimal | None:
    """A number, or None for "none". Raises ValueError."""
    return None if answer.strip().casefold() in NONE else number_of(answer, unit)


def number_of(answer: str, unit: str = "") -> Decimal:
    """A number from 0 up, with a point, a comma or a fraction of an inch; behind it `unit`, or one of its system.

    Raises ValueError with what should be written.
    """
    text, factor = _in_unit(answer.strip(), unit)
    try:
        number = _fraction(text) or Decimal(text.replace(",", "."))
    except InvalidOperation:
        like = f"Please write a number, such as {EXAMPLES[unit or 'mm'].number}"
        rule = ", or a fraction as on a rule: 10 1/2 (halves to 128ths)" if "/" in text else ""
        raise ValueError(f"{like}{rule}.") from None
    number *= factor
    if not number.is_finite() or number < 0 or (number and not -9 <= number.adjusted() <= 6):
        raise ValueError("Please write an ordinary number from 0 up.")
    return number


def _in_unit(text: str, unit: str) -> tuple[str, Decimal]:
    """What stands before a unit, and how much of `unit` that one is."""
    found = _WITH_UNIT.fullmatch(text)
    if found is None or not unit:
        return text, Decimal(1)
    own = "in" if found[2] == '"' else found[2].casefold()
    ratio = Fraction(UNITS[own], UNITS[unit])
    if ratio not in (1, 1000, Fraction(1, 1000)):
        raise ValueError(f"Please write it in {spoken(unit)}.")
    return found[1], Decimal(ratio.numerator) / ratio.denominator


def _fraction(text: str) -> Decimal | None:
    """`5/64` and `1 5/64`, halves of halves as on a rule; None where it is none of them."""
    found = _RULE.fullmatch(text)
    if found is None or int(found[3]) not in (2, 4, 8, 16, 32, 64, 128):
        return None
    return Decimal(found[1] or 0) + Decimal(found[2]) / int(found[3])
