"""Readings of a batch that are probably typed in another unit: the rule of a job (`job/reading_slips.py`), on columns.

Here every gap stands alone, so window and pieces are all there is to hold a reading against. What a slip needs first,
that a reading lies far above what its window allows and the pieces bridge, or is smaller than any gauge shows, is asked
of all rows at once; the few that are left are looked at with whole numbers of any size.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from shimopt.batch.best_stacks import NONE, Asked
from shimopt.batch.decimals import Flags, Whole, as_texts
from shimopt.batch.stack_table import PER_NM
from shimopt.batch.terms import Terms
from shimopt.job.gaps_table import NO, YES
from shimopt.job.slip_evidence import FAR, LEAST_SHOWN, NEAR, SHOWN, SMALL
from shimopt.lengths import UNITS
from shimopt.words.batch_words import slip_words

_MOST_DIGITS = 9


def checked_rows(column: pa.Array | None, count: int) -> tuple[Flags, Flags]:
    """Rows whose reading was looked at again, and rows of which that is neither said nor denied."""
    if column is None:
        return np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    coded = pc.fill_null(pc.utf8_trim_whitespace(as_texts(column)), "").dictionary_encode()
    said = [text.casefold() for text in coded.dictionary.to_pylist()]
    code = coded.indices.to_numpy(zero_copy_only=False)
    yes, known = (np.array([text in words for text in said], np.bool_) for words in (YES, (*YES, *NO)))
    return yes[code], ~known[code]


def reaches(terms: Terms, seats: tuple[str, ...]) -> Whole:
    """By how much the thickest stack on each of these seats closes a gap [half-nanometres]."""
    thickest = max((line.part.thickness.best for line in terms.stock), default=Fraction(0))
    most = [(terms.seats[seat].most_pieces if seat else None) or terms.most_pieces for seat in seats]
    return np.array([int(thickest * PER_NM) * pieces for pieces in most], np.int64)


def slipped(asked: Asked, reach: Whole, typed_in: str, looked_at: Flags) -> Iterator[tuple[Whole, str]]:
    """Rows that are probably slips of a unit, with what they are told; not those `looked_at` already.

    Parameters: reach, by how much stacks close each gap [half-nanometres]; typed_in, the readings' unit.
    """
    read, open_ended = np.abs(asked.best), asked.max == NONE
    least = np.where(asked.min == -NONE, 0, np.abs(asked.min))
    top = np.maximum(least, np.where(open_ended, 0, np.abs(asked.max)))
    large = ~open_ended & (read >= FAR * top) & (read > top + reach)
    small = (read * SMALL <= top) & (read < LEAST_SHOWN * PER_NM)
    rows = np.flatnonzero((large | small) & (read > 0) & (top > 0) & ~looked_at)
    if not len(rows):
        return
    one, top, reach, large = read[rows].astype(object), top[rows].astype(object), reach[rows], large[rows]
    # from where on a meaning is of the right order: a large reading's from a part of the window's top on
    lowest = np.where(large | (least[rows] == 0), top * NEAR, least[rows].astype(object) * FAR)
    highest = np.maximum(NEAR * top, top + reach)
    digits = _digits(asked.best[rows], typed_in)
    exact = asked.low[rows] == asked.high[rows]
    # what each was probably read in; empty where its point stands three places too far right
    meant = np.full(len(rows), None, object)
    # so far a slip of the point explains it best
    nearest = _nearer(_apart(one, top * 10), _apart(one * 10, top))
    whole = _number(np.abs(asked.best[rows]).astype(object) // PER_NM, UNITS[typed_in], 10 ** digits.astype(object))
    longer = (whole * 10 ** _digits_shown(typed_in) % 10 ** (digits.astype(object) + 3) != 0).astype(np.bool_)
    meanings = [(unit, one * UNITS[unit], UNITS[typed_in], digits > _digits_shown(unit)) for unit in UNITS]
    meanings = [meaning for meaning in meanings if meaning[0] != typed_in]
    for unit, other, scale, finer in (*meanings, ("", one, 1_000, longer)):
        right = (large | bool(unit)) & (lowest * scale <= other * (FAR * NEAR)) & (other <= highest * scale)
        right &= ~(finer & exact)
        off = _apart(other, top * scale)
        better = (right & (off[0] * nearest[1] < nearest[0] * off[1])).astype(np.bool_)
        meant[better] = unit
        nearest = np.where(better, off[0], nearest[0]), np.where(better, off[1], nearest[1])
    for unit in (*UNITS, ""):
        for far in (True, False):
            told = rows[(meant == unit) & (large == far)]
            if len(told):
                yield told, slip_words(typed_in, unit, far_above=far)


_Ratio = tuple[np.ndarray, np.ndarray]


def _apart(one: np.ndarray, other: np.ndarray) -> _Ratio:
    """How many times the smaller the larger is, as numerator and denominator."""
    return np.maximum(one, other), np.minimum(one, other)


def _nearer(one: _Ratio, other: _Ratio) -> _Ratio:
    first = (one[0] * other[1] <= other[0] * one[1]).astype(np.bool_)
    return np.where(first, one[0], other[0]), np.where(first, one[1], other[1])


def _digits(best: Whole, unit: str) -> Whole:
    """With how many decimals lengths were typed: the fewest that give them to the nanometre."""
    nm, size = np.abs(best).astype(object) // PER_NM, UNITS[unit]
    found = np.full(len(best), _MOST_DIGITS)
    for digits in range(_MOST_DIGITS - 1, -1, -1):
        ten = 10**digits
        number = _number(nm, size, ten)
        found[((2 * number * size + ten) // (2 * ten) == nm).astype(np.bool_)] = digits
    return found


def _number(nm: np.ndarray, size: int, ten: int | np.ndarray) -> np.ndarray:
    """Lengths in units, times so many tens, to the nearest whole number."""
    return (2 * nm * ten + size) // (2 * size)


def _digits_shown(unit: str) -> int:
    """How many decimals a gauge in a unit shows."""
    return next(digits for digits in range(_MOST_DIGITS) if SHOWN[unit] * 10**digits >= UNITS[unit])
