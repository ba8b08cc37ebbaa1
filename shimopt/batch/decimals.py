"""A column of cells as whole nanometres, exact: decimals are never read through floats.

Three ways, each for what the one before leaves: all cells at once as decimals of nine places; all plain decimals at
once with thirty places, rounded half to even; every odd cell by itself, once for each different text.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from shimopt.errors import here
from shimopt.lengths import UNITS, LengthError, parse_number, to_nm

Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

LARGEST_NM = 10 * 10**9  # as for every length: 10 m
_PLACES = 9
# at most 100 m of the smallest unit, and thirty places
_PLAIN = r"^[+-]?([0-9]{1,8}(\.[0-9]{0,20})?|\.[0-9]{1,20})(e-0?[0-9])?$"
_FINE = pa.decimal256(60, 30)
# a float that is a multiple of 1e-9 below this has no other decimal of so few digits
_SAFE_FLOAT = 10**15


@dataclass(slots=True)
class Lengths:
    """A column's lengths [nm]; `filled` where a cell says something, `words` where it says the one word allowed.

    `wrong` holds, by row, what is the matter with a cell.
    """

    nm: Whole
    filled: Flags
    words: Flags
    wrong: dict[int, str] = field(default_factory=dict)


def lengths_of(column: pa.Array, unit: str, *, decimal_comma: bool = False, word: str = "") -> Lengths:
    """Read a column in one of the four units; `word` is a word that may stand in place of a number ("none")."""
    if pa.types.is_float64(column.type) and (found := _from_floats(column, unit)) is not None:
        return found
    texts = as_texts(column)
    try:
        return _of(_rounded(_unscaled(texts), unit), texts.is_valid())
    except pa.ArrowInvalid:
        return _with_odd_cells(texts, unit, decimal_comma, word)


def as_texts(column: pa.Array) -> pa.Array:
    """Any column as texts; what is missing, and a float that is no number, is null."""
    if pa.types.is_floating(column.type):
        column = pc.if_else(pc.is_nan(column), None, column)
    if pa.types.is_string(column.type):
        return column
    if pa.types.is_decimal(column.type) or pa.types.is_dictionary(column.type) or pa.types.is_null(column.type):
        return pc.cast(column, pa.string())
    try:
        return pc.cast(column, pa.string())
    except (pa.ArrowNotImplementedError, pa.ArrowInvalid):
        return pa.array([None if cell is None else str(cell) for cell in column.to_pylist()], pa.string())


def text_bytes(texts: pa.Array) -> bytes:
    """Texts one after the other, which is how Arrow keeps them."""
    if not len(texts) or texts.buffers()[2] is None:
        return b""
    ends = np.frombuffer(texts.buffers()[1], np.int32)[texts.offset : texts.offset + len(texts) + 1]
    whole: bytes = texts.buffers()[2].slice(ends[0], ends[-1] - ends[0]).to_pybytes()
    return whole


def _from_floats(column: pa.Array, unit: str) -> Lengths | None:
    """Floats that are what a decimal of at most nine places is read as; None where one is not.

    Below 1e15 steps of 1e-9 there is one such decimal for a float, so nothing is lost.
    """
    numbers = pc.fill_null(column, np.nan).to_numpy(zero_copy_only=False)
    filled = ~np.isnan(numbers)
    numbers = np.where(filled, numbers, 0.0)
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.rint(numbers * 10**_PLACES)
        if not bool(np.all((np.abs(steps) < _SAFE_FLOAT) & (steps / 10**_PLACES == numbers))):
            return None
    return _of(_rounded(steps.astype(np.int64), unit), filled)


def _unscaled(texts: pa.Array) -> Whole:
    """Decimals as whole steps of 1e-9, null as 0. Raises ArrowInvalid where a text is no such decimal."""
    # Arrow 26 takes some numbers with a large exponent for nought
    if any(sign in text_bytes(texts) for sign in (b"e", b"E")):
        raise pa.ArrowInvalid("an exponent")
    decimals = pc.fill_null(pc.cast(texts, pa.decimal128(18, _PLACES)), Decimal(0))
    return _low_words(decimals)


def _rounded(steps: Whole, unit: str) -> Whole:
    """Steps of 1e-9 units as nanometres, half to even; what is out of range comes out as a length out of range."""
    per_step = Fraction(UNITS[unit], 10**_PLACES)
    top = int((LARGEST_NM + 1) / per_step) + 1
    product = np.clip(steps, -top, top) * per_step.numerator
    whole: Whole
    whole, rest = np.divmod(product, per_step.denominator)
    twice = 2 * rest
    up = (twice > per_step.denominator) | ((twice == per_step.denominator) & (whole % 2 == 1))
    rounded: Whole = whole + up
    return rounded


def _of(nm: Whole, filled: npt.ArrayLike) -> Lengths:
    given = np.asarray(filled, dtype=np.bool_)
    found = Lengths(np.array(nm), given, np.zeros(len(given), np.bool_))
    if len(nm) and max(int(nm.max()), -int(nm.min())) > LARGEST_NM:
        far = np.flatnonzero(np.abs(found.nm) > LARGEST_NM)
        found.wrong = dict.fromkeys(far.tolist(), _told("", *_TOO_LONG))
        found.nm[far] = 0
    return found


_TOO_LONG = ("a length in a machine is at most 10 m", "check the digits and the unit")


def _told(value: str, rule: str, remedy: str) -> str:
    """A sentence about a cell."""
    return f"{rule}{here(value, 40)}. {remedy[:1].upper()}{remedy[1:]}."


def _with_odd_cells(texts: pa.Array, unit: str, decimal_comma: bool, word: str) -> Lengths:
    texts = pc.utf8_trim_whitespace(texts)
    texts = pc.if_else(pc.equal(texts, ""), None, texts)
    numbers = _pointed(texts) if decimal_comma else texts
    plain = pc.fill_null(pc.match_substring_regex(numbers, _PLAIN, ignore_case=True), False)
    good = pc.if_else(plain, numbers, None)
    try:
        nm = _rounded(_unscaled(good), unit)
    except pa.ArrowInvalid:
        nm = _fine(good, unit)
    found = _of(nm, texts.is_valid())
    odd = pc.and_(texts.is_valid(), pc.invert(plain)).to_numpy(zero_copy_only=False)
    if odd.any():
        _take_odd(found, texts, np.flatnonzero(odd), _reader(unit, decimal_comma), word)
    return found


def _pointed(texts: pa.Array) -> pa.Array:
    """Numbers with a decimal comma as numbers with a point; a text with both is left as it is, to be refused."""
    return pc.if_else(pc.match_substring(texts, "."), texts, pc.replace_substring(texts, ",", "."))


def _fine(texts: pa.Array, unit: str) -> Whole:
    """Plain decimals of up to thirty places as nanometres, half to even."""
    mm = pc.multiply(pc.cast(texts, _FINE), pa.scalar(Decimal(UNITS[unit]).scaleb(-6)))
    whole = pc.cast(pc.round(mm, ndigits=6, round_mode="half_to_even"), pa.decimal256(40, 6))
    return _low_words(pc.fill_null(pc.cast(whole, pa.decimal128(18, 6)), Decimal(0)))


def _low_words(decimals: pa.Array) -> Whole:
    """The numbers of decimals below 1e18: the lower half of their 128 bits."""
    words = np.frombuffer(decimals.buffers()[1], np.int64)[::2]
    return words[decimals.offset : decimals.offset + len(decimals)]


def _reader(unit: str, decimal_comma: bool) -> Callable[[str], int]:
    def read(text: str) -> int:
        if decimal_comma and "." not in text and text.count(",") == 1:
            text = text.replace(",", ".")
        return to_nm(parse_number(text.replace("−", "-")), unit)

    return read


def _take_odd(found: Lengths, texts: pa.Array, rows: Whole, read: Callable[[str], int], word: str) -> None:
    """Read the cells of these rows one by one, every different text once."""
    coded = texts.take(pa.array(rows)).dictionary_encode()
    answers: Mapping[int, int | str | None] = {
        code: _answer(text, read, word) for code, text in enumerate(coded.dictionary.to_pylist())
    }
    for row, code in zip(rows.tolist(), coded.indices.to_pylist(), strict=True):
        answer = answers[code]
        if isinstance(answer, int):
            found.nm[row] = answer
        elif answer is None:
            found.words[row] = True
        else:
            found.wrong[row] = answer


def _answer(text: str, read: Callable[[str], int], word: str) -> int | str | None:
    """A length, None for the word, or what is wrong."""
    if word and text.casefold() == word:
        return None
    try:
        return read(text)
    except LengthError as error:
        return _told(text, error.rule, error.remedy)
