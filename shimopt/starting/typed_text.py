"""What somebody types where a new job is begun: numbers with their units, blades, diameters, sizes.

Each is read, or refused with what should be written (ValueError).
"""

from __future__ import annotations

import json
import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from shimopt.lengths import UNITS
from shimopt.starting.new_examples import EXAMPLES

_BOTH = re.compile(r"(preload\s+)?([0-9.,]+)\s+to\s+([0-9.,]+)", re.IGNORECASE)
# answers that mean nothing at all
NONE = ("none", "-", "nothing")
_WITH_UNIT = re.compile(r"(.*?)\s*(mm|um|in|\"|thou)", re.IGNORECASE)
_RULE = re.compile(r"(?:([0-9]+)[\s-]+)?([0-9]+)/([0-9]{1,3})")
# 16, 16 ± 0.01 and 16 ± 0.01 mm: lengths in one unit, the job's where none stands
_BARE = re.compile(r"([0-9.,]+)\s*(?:(?:±|\+/?-)\s*([0-9.,]+))?\s*(mm|um|in|thou)?")
# no size is nothing: 0,25 is a decimal comma
_NOUGHT = re.compile(r"(?<![\d.,])0+,(?=\d)")
_SIZE = re.compile(r"\s*([0-9.]+)\s*(?:[x×*]\s*([0-9]+))?\s*", re.IGNORECASE)
# + bore depth 42.15 ± 0.01, and the same with a minus sign; and where one of several begins
_DIMENSION = re.compile(r"([+\-−])\s*(\S.*?)\s+([0-9.,]+)\s*(?:(?:±|\+/?-)\s*([0-9.,]+)\s*)?")
_BY_SIGN = re.compile(r"(?:^|(?<=\s))(?=[+\-−](?:\s|[^\W\d_]))")


def spoken(unit: str) -> str:
    """A unit in a question, where "in in" reads badly."""
    return "inches" if unit == "in" else unit


def words_typed(answer: str) -> str:
    """A few words; a bare question mark is none. Raises ValueError."""
    clean = "".join(ch for ch in answer if ch.isprintable()).strip()
    if not clean:
        raise ValueError("Please write a few words.")
    if not clean.strip("? "):
        raise ValueError("Please write who says so: a manual and page, a drawing, whose estimate.")
    return clean


def blades_together(answer: str, unit: str) -> Decimal | None:
    """A blade, or several held together: `0.2 + 0.25`; None for "none"."""
    if answer.strip().casefold() in NONE:
        return None
    return sum((number_of(blade, unit) for blade in answer.split("+")), Decimal(0))


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


def parted_by_blanks(answer: str) -> str:
    """Sizes with blanks between, such as `0,1x3 0,2x2 0,5`, with semicolons between; other answers as they are."""
    apart = re.sub(r"\s*[x×*]\s*", "x", answer.strip()).split()
    whole = all(_SIZE.fullmatch(one.replace(",", ".")) for one in apart)
    return ";".join(apart) if len(apart) > 1 and whole and not re.search(r"[,;]\s|[,;]$", answer.strip()) else answer


def sizes_of(answer: str) -> dict[Decimal, int]:
    """Sizes and counts from an answer such as `2 x 4, 5 x 1, 10`, `0,2 x 4; 0,5` or `none`. Raises ValueError."""
    sizes: dict[Decimal, int] = {}
    if answer.strip().casefold() in NONE:
        return sizes
    parts = answer.replace(",", ".").split(";") if ";" in answer else _NOUGHT.sub("0.", answer).split(",")
    for part in parts:
        found = _SIZE.fullmatch(part)
        if found is None:
            wrong = f"{part.strip()!r} is not one" if part.strip() else "or none"
            raise ValueError(f"Please write sizes like 2 x 4 with commas between; {wrong}.")
        size, count = number_of(found[1]), int(found[2] or 1)
        if not size or not 0 < count <= 100_000:
            raise ValueError("Sizes and counts are above zero.")
        size = size.normalize()
        sizes[size] = sizes.get(size, 0) + count
    return sizes


def lengths_only(sizes: dict[Decimal, int], unit: str) -> dict[Decimal, int]:
    """The same sizes, where each is a length. Raises ValueError."""
    from shimopt.lengths import LengthError, to_nm

    try:
        if not all(to_nm(Fraction(size), unit) for size in sizes):
            raise ValueError("Sizes are at least a nanometre.")
    except LengthError as error:
        raise ValueError(f"Please write ordinary sizes: {error.rule}.") from None
    return sizes


def blades_table(went: str, did_not: str, unit: str) -> str:
    """Two blades, each one or several held together, as the table of a reading. Raises ValueError."""
    go, no_go = blades_together(went, unit), blades_together(did_not, unit)
    if no_go is None or no_go <= (go or 0):
        raise ValueError("The blade that goes must be thinner than the one that does not.")
    return f"{{ no_go = {no_go:f} }}" if go is None else f"{{ go = {go:f}, no_go = {no_go:f} }}"


def pulls_table(answer: str, step: Decimal | None, unit: str) -> str:
    """A dial's pulls, spaces or commas between, and one division of it, as the table of a reading. Raises ValueError.

    A comma between digits is a decimal one, unless there is a point in the same figure: 0.41,0.42.
    """
    apart = re.sub(r";|,(?=\s|$)", " ", answer).split()
    pulls = [number_of(one, unit) for text in apart for one in (text.split(",") if "." in text else [text])]
    if not pulls:
        raise ValueError(f"Please write the pulls, such as {EXAMPLES[unit].pulls}.")
    resolution = f", resolution = {step:f}" if step else ""
    return f"{{ readings = [{', '.join(f'{one:f}' for one in pulls)}]{resolution} }}"


def dimension_like(unit: str) -> str:
    """How a dimension is typed."""
    return f"+ bore depth {EXAMPLES[unit].dimension}"


def dimension_typed(answer: str, unit: str) -> str:
    """A sign, a name and a size, as an entry of `built_up`. Raises ValueError."""
    found = _DIMENSION.fullmatch(answer.strip())
    if found is None:
        raise ValueError(f"Please write a sign, a name and a size, such as {dimension_like(unit)}.")
    size = f"{number_of(found[3]):f} {unit}"
    play = f" ± {number_of(found[4]):f} {unit}" if found[4] else ""
    key = "add" if found[1] == "+" else "take"
    return f'{{ name = {quoted(found[2])}, {key} = "{size}{play}" }}'


def dimensions_table(answer: str, unit: str) -> str:
    """Dimensions one after the other, each begun by its sign, as the table of a reading. Raises ValueError."""
    each = [text for text in _BY_SIGN.split(answer.strip()) if text.strip(" ,;")]
    if not each:
        raise ValueError(f"Please write the dimensions, such as {dimension_like(unit)}.")
    return f"[{', '.join(dimension_typed(text.strip(' ,;'), unit) for text in each)}]"


def window_typed(least: str, most: str, unit: str) -> tuple[Decimal | None, Decimal | None]:
    """The least and the largest clearance allowed; a least with "to" is the window as a whole. Raises ValueError."""
    low = least_typed(least, unit)
    if isinstance(low, tuple):
        return low
    high = limit_of(most, unit)
    if low is None and high is None:
        raise ValueError("One of the two must be a number.")
    if low is not None and high is not None and low > high:
        raise ValueError("The least is above the largest.")
    return low, high


def least_typed(answer: str, unit: str) -> Decimal | tuple[Decimal, Decimal] | None:
    """A least clearance, or a window as a whole, of preload too. Raises ValueError."""
    found = _BOTH.fullmatch(answer.strip())
    if found is None:
        return limit_of(answer, unit)
    low, high = number_of(found[2]), number_of(found[3])
    if not found[1]:
        if low > high:
            raise ValueError("The least is above the largest.")
        return low, high
    if not 0 < low <= high:
        raise ValueError(f"Please write preload and its least and most, such as preload {EXAMPLES[unit].preload}.")
    return -high, -low
