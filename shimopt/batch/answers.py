"""What a batch answers for a chunk of gaps, as a table: stack, clearance after, verdict, chance, reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Lock

import numpy as np
import pyarrow as pa

from shimopt.batch.best_stacks import NONE, Asked, decided
from shimopt.batch.chances import Floats, chances_of
from shimopt.batch.decimals import Flags, Whole, as_texts
from shimopt.batch.gap_rows import GapRows, alike, rows_of
from shimopt.batch.stack_table import PER_NM, StackTable, stack_table
from shimopt.batch.terms import Terms
from shimopt.job.slip_evidence import WORTH_A_LOOK
from shimopt.words.batch_words import CODES, batch_words

COLUMNS = ("gap", "stack", "after_low_mm", "after_best_mm", "after_high_mm", "verdict", "chance", "reason")
VERDICTS = ("inside", "unproven", "outside", "refused")
_INSIDE, _UNPROVEN, _OUTSIDE, _REFUSED = range(len(VERDICTS))
_TICKS_PER_MM = PER_NM * 1_000_000
_AT_ONCE = 16_384


@dataclass(frozen=True, slots=True)
class Counts:
    """How many gaps came out how, and the pieces fitted."""

    inside: int = 0
    unproven: int = 0
    outside: int = 0
    refused: int = 0
    pieces: int = 0

    def __add__(self, other: Counts) -> Counts:
        return Counts(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))

    @property
    def gaps(self) -> int:
        """All rows."""
        return self.inside + self.unproven + self.outside + self.refused


@dataclass(frozen=True, slots=True)
class Answered:
    """The answers to a chunk: a name per gap, the different answers, and which of them each gap has (None: its own)."""

    names: pa.Array
    different: pa.Table
    code: Whole | None
    counts: Counts

    def table(self) -> pa.Table:
        """All answers, one row per gap, as COLUMNS."""
        rows = self.different if self.code is None else self.different.take(pa.array(self.code))
        return rows.add_column(0, COLUMNS[0], self.names)


@dataclass(slots=True)
class _Columns:
    """The answers so far: `stack` and `reason` by their place in `names` and `words`."""

    after: tuple[Floats, Floats, Floats]
    verdict: Whole
    chance: Floats
    stack: Whole
    reason: Whole
    pieces: Whole
    names: list[str] = field(default_factory=lambda: [""])
    words: list[str] = field(default_factory=list)

    def decide(self, rows: Whole, asked: Asked, table: StackTable, shift: int) -> None:
        """Fill in the answers of some rows, all on one seat."""
        stack = decided(table, asked)
        after = asked.low - table.high[stack], asked.best - table.best[stack], asked.high - table.low[stack]
        outside, doubt = asked.off(after[1]) > 0, asked.out(after[0], after[2])
        for column, ticks in zip(self.after, after, strict=True):
            column[rows] = ticks / _TICKS_PER_MM
        self.chance[rows] = np.round(chances_of(table, asked, stack, after, shift), 9)
        self.verdict[rows] = np.where(outside, _OUTSIDE, np.where(doubt > 0, _UNPROVEN, _INSIDE))
        self.pieces[rows] = table.pieces[stack]
        used, code = np.unique(stack, return_inverse=True)
        self.stack[rows] = code + len(self.names)
        self.names += table.names[used].tolist()
        kind = _reasons(table, asked, stack, outside, doubt)
        said, code = np.unique(kind * 2 + (table.cautions[stack] > 0), return_inverse=True)
        self.reason[rows] = code + len(self.words)
        self.words += [batch_words(CODES[at // 2], table.note.checked, careful=at % 2 == 1) for at in said.tolist()]


class Answers:
    """Answers chunks of gaps by the same terms; the stacks of a seat are worked out when it is first named."""

    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self._tables: dict[str, StackTable] = {}
        self._lock = Lock()

    def table(self, seat: str) -> StackTable:
        """The stacks of a seat, "" for none. Raises InputError where there are too many."""
        with self._lock:
            if seat not in self._tables:
                self._tables[seat] = stack_table(self.terms, self.terms.seats[seat] if seat else None)
            return self._tables[seat]

    def of(
        self,
        cells: Mapping[str, pa.Array],
        unit_of: Mapping[str, str],
        *,
        decimal_comma: bool = False,
        broken: Mapping[int, str] | None = None,
    ) -> Answered:
        """The answers to a chunk of cells, by bare column names; `broken` rows hold no cells, with why."""
        rows = rows_of(cells, unit_of, self.terms, decimal_comma=decimal_comma, broken=broken)
        different, code = alike(rows)
        found = _answered(different, self.table, self.terms.shift)
        times = None if code is None else np.bincount(code, minlength=len(found.verdict))
        return Answered(as_texts(cells["gap"]), _table(found), code, _counts(found, times))


def _answered(rows: GapRows, table_of: Callable[[str], StackTable], shift: int) -> _Columns:
    """Decide all rows, seat by seat."""
    count = len(rows.why)
    nothing = np.full(count, np.nan)
    found = _Columns(
        (nothing, nothing.copy(), nothing.copy()),
        np.full(count, _REFUSED),
        nothing.copy(),
        np.zeros(count, np.int64),
        rows.why.copy(),
        np.zeros(count, np.int64),
        words=[*rows.reasons],
    )
    for number, seat in enumerate(rows.seats):
        here = np.flatnonzero((rows.why == 0) & (rows.seat == number))
        # as many at a time as a processor has at hand
        for start in range(0, len(here), _AT_ONCE):
            some = here[start : start + _AT_ONCE]
            found.decide(some, rows.asked.take(some), table_of(seat), shift)
    return found


def _reasons(table: StackTable, asked: Asked, stack: Whole, outside: Flags, doubt: Whole) -> Whole:
    """The code of every row's reason, by its place in CODES."""
    was_outside = asked.off(asked.best) > 0
    fitted = stack > 0
    unproven = doubt > 0
    most, least = asked.best - asked.min, asked.best - asked.max
    none = "shims_not_allowed" if not table.note.allowed else "nothing_suits"
    empty = len(table.best) == 1
    too_thick = outside & (least > table.thickest)
    # no neighbours speak here: as for a job's only gap, many times the window and beyond all pieces is worth a look
    limit = np.where(asked.max == NONE, 0, asked.max)
    far = too_thick & (limit > 0) & (asked.best >= WORTH_A_LOOK * limit)
    cases: list[tuple[object, str]] = [
        (outside & (asked.best < asked.min), "below_window"),
        (outside & empty, none),
        (far, "far_above_window"),
        (too_thick, "not_thick_enough"),
        (outside & (most < table.thinnest), "too_tight_with_thinnest"),
        (outside, "no_size_between"),
        (fitted & was_outside & unproven, "fitted_to_come_inside_unproven"),
        (fitted & was_outside, "fitted_to_come_inside"),
        (fitted & unproven, "fitted_to_be_surer_unproven"),
        (fitted, "fitted_to_be_surer"),
        (unproven, "unproven_as_read"),
    ]
    codes = [CODES.index(code) for _, code in cases]
    return np.select([np.asarray(case) for case, _ in cases], codes, CODES.index("already_inside"))


def _table(found: _Columns) -> pa.Table:
    def coded(codes: Whole, texts: list[str]) -> pa.DictionaryArray:
        return pa.DictionaryArray.from_arrays(pa.array(codes.astype(np.int32)), pa.array(texts, pa.string()))

    return pa.table(
        [
            coded(found.stack, found.names),
            *(pa.array(column, from_pandas=True) for column in found.after),
            coded(found.verdict, list(VERDICTS)),
            pa.array(found.chance, from_pandas=True),
            coded(found.reason, found.words),
        ],
        names=COLUMNS[1:],
    )


def _counts(found: _Columns, times: Whole | None) -> Counts:
    inside, unproven, outside, refused = np.bincount(found.verdict, times, len(VERDICTS)).astype(np.int64).tolist()
    pieces = found.pieces if times is None else found.pieces * times
    return Counts(inside, unproven, outside, refused, int(pieces.sum()))
