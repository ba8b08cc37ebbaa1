"""Every stack that a seat can take, worked out once: thickness, pieces, cautions, natural order, errors.

Lengths are whole half-nanometres, for a best estimate lies in the middle of two whole nanometres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from itertools import combinations_with_replacement, groupby
from math import comb
from typing import Literal

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic import errors_after
from shimopt.arithmetic.clearance import Stack
from shimopt.batch.decimals import Whole
from shimopt.batch.terms import Terms
from shimopt.errors import InputError
from shimopt.job import Gap, Job, Place, Seat, Window
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.probability import Error
from shimopt.readings import Reading
from shimopt.seats import on_seat_all

PER_NM = 2  # half-nanometres
_MOST_STACKS = 500_000
_NO_READING = Reading(Bracket.between(0, 0), "table")


@dataclass(frozen=True, slots=True)
class Kind:
    """Stacks alike in pieces, cautions, and how far they can be `below` and `above` their best estimate.

    `best` is sorted and holds every thickness once; `rank` is the stack that comes first in natural order among those
    of this thickness: its row in the table. `firsts[k][i]` is the least rank of the 2^k from i on.
    """

    pieces: int
    cautions: int
    below: int
    above: int
    best: Whole
    rank: Whole
    firsts: tuple[Whole, ...]


@dataclass(frozen=True, slots=True)
class SeatNote:
    """How much of it was checked, nothing where no seat is known; `allowed`, whether it takes shims."""

    checked: Literal["", "part", "all"]
    allowed: bool = True


@dataclass(frozen=True)
class StackTable:
    """All stacks of a seat in natural order, the empty one first: `low`, `best`, `high`, `pieces`, `cautions` by row.

    `names` holds the parts thick to thin, joined by +; `kinds` are ordered by pieces, then cautions, without the empty
    stack; `stock` and `stacks` say what the rows are.
    """

    note: SeatNote
    _: KW_ONLY
    low: Whole
    best: Whole
    high: Whole
    pieces: Whole
    cautions: Whole
    names: npt.NDArray[np.object_]
    kinds: tuple[Kind, ...]
    stacks: tuple[Stack, ...]
    errors_of: _ErrorsOf

    @property
    def thickest(self) -> int:
        """The best estimate of the thickest stack."""
        return int(self.best.max())

    @property
    def thinnest(self) -> int:
        """The best estimate of the thinnest stack that is not empty; 0 where there is none."""
        return int(self.best[1:].min()) if len(self.best) > 1 else 0


class _ErrorsOf:
    """The errors that a stack adds to a gap, as the checker of single plans works them out; each stack's once."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.known: dict[Stack, tuple[Error, ...]] = {}

    def __call__(self, stack: Stack) -> tuple[Error, ...]:
        if stack not in self.known:
            self.known[stack] = errors_after(self.job, self.job.gaps[0], {"gap": stack})
        return self.known[stack]


def stack_table(terms: Terms, seat: Seat | None) -> StackTable:
    """Every stack of the parts that suit a seat, all sizes in supply. Raises InputError where there are too many."""
    answers = on_seat_all([line.part for line in terms.stock], seat)
    allowed = seat is None or seat.shims_allowed
    suits = [i for i, answer in enumerate(answers) if answer.verdict != "stop"] if allowed else []
    careful = {i for i in suits if answers[i].verdict == "caution"}
    most = terms.most_pieces if seat is None or not seat.most_pieces else seat.most_pieces
    fewest = max(1, seat.fewest_pieces if seat else 0)
    _refuse_too_many(terms.called("parts"), len(suits), most)
    stacks = sorted(stack for count in range(fewest, most + 1) for stack in combinations_with_replacement(suits, count))
    in_part = any(answer.not_checked for answer in answers)
    note = SeatNote("" if seat is None else "part" if in_part else "all", allowed)
    return _table(terms, note, ((), *stacks), careful)


def _refuse_too_many(where: str, parts: int, most: int) -> None:
    if (count := comb(parts + most, most)) > _MOST_STACKS:
        raise InputError.at(
            "",
            f"{parts} parts in stacks of at most {most} pieces are more than {_MOST_STACKS:,} stacks",
            "name fewer parts, or allow fewer pieces in a stack",
            where=where,
            value=f"{count:,} stacks",
        )


def _table(terms: Terms, note: SeatNote, stacks: tuple[Stack, ...], careful: set[int]) -> StackTable:
    ends = [[_ticks(end) for end in (part.low, part.best, part.high)] for part in _thicknesses(terms.stock)]
    low, best, high = (np.array([sum(ends[i][end] for i in stack) for stack in stacks], np.int64) for end in range(3))
    pieces = np.array([len(stack) for stack in stacks], np.int64)
    cautions = np.array([sum(i in careful for i in stack) for stack in stacks], np.int64)
    order = sorted(range(len(terms.stock)), key=lambda i: (-terms.stock[i].part.thickness.best, i))
    place = {i: at for at, i in enumerate(order)}
    names = np.array(
        ["+".join(terms.stock[i].part.name for i in sorted(stack, key=place.__getitem__)) for stack in stacks], object
    )
    gap = Gap("gap", _NO_READING, Window(0, 0, ""), (("gap", Fraction(-1)),))
    job = Job(
        "", "mm", (gap,), (Place("gap", None, max(map(len, stacks))),), (), terms.stock, micrometer=terms.micrometer
    )
    kinds = tuple(_kinds(low, best, high, pieces, cautions))
    return StackTable(
        note,
        low=low,
        best=best,
        high=high,
        pieces=pieces,
        cautions=cautions,
        names=names,
        kinds=kinds,
        stacks=stacks,
        errors_of=_ErrorsOf(job),
    )


def _thicknesses(stock: Sequence[StockLine]) -> list[Bracket]:
    return [line.part.thickness for line in stock]


def _ticks(length: Fraction) -> int:
    ticks = length * PER_NM
    if ticks.denominator != 1:
        raise ValueError(f"{length} nm is no whole number of half-nanometres")
    return ticks.numerator


def _kinds(low: Whole, best: Whole, high: Whole, pieces: Whole, cautions: Whole) -> list[Kind]:
    def kind_of(row: int) -> tuple[int, int, int, int]:
        return int(pieces[row]), int(cautions[row]), int(best[row] - low[row]), int(high[row] - best[row])

    found = []
    for alike, rows in groupby(sorted(range(1, len(best)), key=lambda row: (kind_of(row), best[row], row)), kind_of):
        members = np.fromiter(rows, np.int64)
        # of one thickness the first in natural order
        thick, first = np.unique(best[members], return_index=True)
        rank = members[first]
        found.append(Kind(*alike, thick, rank, _firsts(rank)))
    return found


def _firsts(rank: Whole) -> tuple[Whole, ...]:
    """Least ranks of runs of 1, 2, 4 ... from each place on."""
    runs = [rank]
    while (width := 1 << len(runs)) <= len(rank):
        last, half = runs[-1], width // 2
        runs.append(np.minimum(last[: len(last) - half], last[half:]))
    return tuple(runs)
