"""From a table of cells to gaps: brackets and windows in half-nanometres, and rows that cannot be read, with why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from shimopt.batch.batch_slips import checked_rows, reaches, slipped
from shimopt.batch.best_stacks import NONE, Asked
from shimopt.batch.decimals import Flags, Lengths, Whole, as_texts, lengths_of
from shimopt.batch.stack_table import PER_NM
from shimopt.batch.terms import Terms
from shimopt.errors import here, nearest_name
from shimopt.job.gap import AT_ODDS, odds_of
from shimopt.readings.value import OUT_OF_ORDER, out_of_order

LENGTHS = ("low", "high", "best", "min", "max", "target")
PLAIN = ("gap", "seat", "balance", "checked")
NEEDED = ("gap", "low", "high")
_FEW = 0.6  # beyond this share of different rows there is nothing to be saved
_SAMPLE, _HARDLY = 4096, 0.97  # nor where in so many rows hardly two are alike


@dataclass(slots=True)
class GapRows:
    """Gaps, one a row: what is asked, seats by their place in `seats` ("": none), and why rows are refused.

    `why` is each row's place in `reasons`, 0 where it is not refused; what stands in `asked` for a refused row means
    nothing.
    """

    asked: Asked
    seats: tuple[str, ...]
    seat: Whole
    reasons: tuple[str, ...]
    why: Whole

    def take(self, rows: Whole | slice) -> GapRows:
        """Some of the rows."""
        return GapRows(self.asked.take(rows), self.seats, self.seat[rows], self.reasons, self.why[rows])


def alike(rows: GapRows) -> tuple[GapRows, Whole | None]:
    """The different rows among all, and which of them each row is; None where most of them differ.

    Readings come in steps of a blade or a dial, so a hundred thousand gaps are often a few thousand different ones.
    """
    count = len(rows.why)
    if count > 4 * _SAMPLE and len(alike(rows.take(slice(_SAMPLE)))[0].why) > _HARDLY * _SAMPLE:
        return rows, None
    code: Whole | None = None
    kinds = 1
    for column in (*rows.asked.columns(), rows.seat, rows.why):
        if not count or column.min() == column.max():
            continue
        own = pa.array(column).dictionary_encode()
        both = own if code is None else pa.array(code * len(own.dictionary) + _indices(own)).dictionary_encode()
        code, kinds = _indices(both), len(both.dictionary)
    if kinds > count * _FEW and count > _SAMPLE:
        return rows, None
    if code is None:
        code = np.zeros(count, np.int64)
    first = np.zeros(kinds if count else 0, np.int64)
    first[code[::-1]] = np.arange(count)[::-1]
    return rows.take(first), code


def _indices(coded: pa.DictionaryArray) -> Whole:
    codes: Whole = coded.indices.to_numpy(zero_copy_only=False).astype(np.int64)
    return codes


class _Refusals:
    """The first thing wrong with each row."""

    def __init__(self, broken: Mapping[int, str]) -> None:
        self.found = dict(broken)

    def where(self, wrong: Flags, words: str | Callable[[int], str]) -> None:
        """Refuse the rows that are flagged; what was wrong with a row before stays."""
        for row in np.flatnonzero(wrong).tolist():
            if row not in self.found:
                self.found[row] = words if isinstance(words, str) else words(row)

    def cells(self, column: str, lengths: Lengths) -> None:
        """Refuse the rows of cells that cannot be read."""
        for row, words in lengths.wrong.items():
            self.found.setdefault(row, f"{column}: {words}")


def rows_of(
    cells: Mapping[str, pa.Array],
    unit_of: Mapping[str, str],
    terms: Terms,
    *,
    decimal_comma: bool = False,
    broken: Mapping[int, str] | None = None,
) -> GapRows:
    """Read gaps from columns of cells by their bare names; `broken` rows hold no cells at all, with why."""
    names = as_texts(cells["gap"])
    count = len(names)
    refusals = _Refusals(broken or {})
    blank = pc.fill_null(pc.equal(pc.utf8_trim_whitespace(names), ""), True).to_numpy(zero_copy_only=False)
    refusals.where(blank, "a gap has a name. Fill in the column gap.")
    read: dict[str, Lengths] = {}
    for key in LENGTHS:
        if key in unit_of:
            word = "none" if key in ("min", "max") else ""
            read[key] = lengths_of(cells[key], unit_of[key], decimal_comma=decimal_comma, word=word)
            refusals.cells(f"{key}_{unit_of[key]}", read[key])
        else:
            read[key] = Lengths(np.zeros(count, np.int64), np.zeros(count, np.bool_), np.zeros(count, np.bool_))
    for key in ("low", "high"):
        refusals.where(~read[key].filled, f"{key}_{unit_of[key]} is blank. A gap is read from low to high: fill it in.")
    low, high, best = read["low"].nm, read["high"].nm, read["best"]
    for key, wrong in out_of_order(low, high, best.nm if best.filled.any() else None).items():
        refusals.where(wrong & best.filled if key == "best" else wrong, _told(*OUT_OF_ORDER[key]))
    middle = np.where(best.filled, best.nm * PER_NM, (low + high) * PER_NM // 2)
    window = _windows(read, terms, refusals)
    seats, seat = _seats(cells.get("seat"), count, terms, refusals)
    if "balance" in cells:
        tied = pc.fill_null(pc.not_equal(pc.utf8_trim_whitespace(as_texts(cells["balance"])), ""), False)
        refusals.where(
            tied.to_numpy(zero_copy_only=False),
            "a balance ties gaps together, and here each stands alone. Plan them as a job.",
        )
    shift = terms.shift
    asked = Asked((low - shift) * PER_NM, middle, (high + shift) * PER_NM, *window)
    looked_at, unclear = checked_rows(cells.get("checked"), count)
    refusals.where(unclear, "checked: a reading was checked or not. Write yes, or leave it blank.")
    looked_at[list(refusals.found)] = True  # what cannot be read is not judged
    for rows, words in slipped(asked, reaches(terms, seats)[seat], unit_of["low"], looked_at):
        refusals.found |= dict.fromkeys(rows.tolist(), words)
    # nothing of a refused row is used: made alike, they are one
    bad = np.fromiter(refusals.found, np.int64, len(refusals.found))
    for values in (*asked.columns(), seat):
        values[bad] = 0
    place = {words: at for at, words in enumerate(("", *dict.fromkeys(refusals.found.values())))}
    why = np.zeros(count, np.int64)
    why[bad] = [place[words] for words in refusals.found.values()]
    return GapRows(asked, seats, seat, tuple(place), why)


def _told(rule: str, remedy: str) -> str:
    return f"{rule}. {remedy[:1].upper()}{remedy[1:]}."


def _windows(read: Mapping[str, Lengths], terms: Terms, refusals: _Refusals) -> tuple[Whole, Whole, Whole]:
    """Every row's window; what it leaves blank comes from the terms. None of a limit is -NONE or NONE."""
    stated = terms.window
    limits = {}
    for key, none in (("min", -NONE), ("max", NONE)):
        default = none if stated is None or getattr(stated, key) is None else getattr(stated, key) * PER_NM
        given = read[key].filled & ~read[key].words
        limits[key] = np.where(given, read[key].nm * PER_NM, np.where(read[key].words, none, default))
        if stated is None:
            refusals.where(
                ~read[key].filled,
                f"the window has no {key}. Fill in its column (none: no limit), or state {terms.called(key)} for all.",
            )
    low, high, target = limits["min"], limits["max"], read["target"]
    aimed = target.nm * PER_NM
    for odds, wrong in odds_of(low, high, aimed if target.filled.any() else None).items():
        refusals.where(wrong & target.filled if odds == "target" else wrong, _told(*AT_ODDS[odds]))
    # a window of play without a smallest clearance ends at nothing, as a job's does
    ends = (low == -NONE) & (high != NONE) & (high > 0) & ~(target.filled & (aimed < 0))
    two_sided = (low != -NONE) & (high != NONE)
    middle = np.where(two_sided, (low + high) // 2, NONE)
    if stated is not None and stated.stated_target is not None:
        as_stated = (low == (-NONE if stated.min is None else stated.min * PER_NM)) & (
            high == (NONE if stated.max is None else stated.max * PER_NM)
        )
        middle = np.where(as_stated, stated.stated_target * PER_NM, middle)
    return np.where(ends, 0, low), high, np.where(target.filled, aimed, middle)


def _seats(column: pa.Array | None, count: int, terms: Terms, refusals: _Refusals) -> tuple[tuple[str, ...], Whole]:
    """The seats that rows name, each row's by number."""
    if column is None:
        return (terms.seat,), np.zeros(count, np.int64)
    texts = pc.fill_null(pc.utf8_trim_whitespace(as_texts(column)), "")
    coded = texts.dictionary_encode()
    names = [name or terms.seat for name in coded.dictionary.to_pylist()]
    code = _indices(coded)
    for at, name in enumerate(names):
        if name and name not in terms.seats:
            meant = nearest_name(name, terms.seats)
            remedy = f"Did you mean {meant}?" if meant else "Name a seat of the job."
            refusals.where(code == at, f"there is no such seat{here(name, 40)}. {remedy}")
            names[at] = ""
    return tuple(names), code
