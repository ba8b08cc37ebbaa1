"""Per supplier and marking: how thick its pieces run, whether that is known better than what is printed, and if not,
how many more have to be measured.

It decides nothing that is called sure: a piece that nobody measured may be anything that its label allows.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from difflib import SequenceMatcher
from fractions import Fraction
from math import floor, isqrt
from statistics import NormalDist

from shimopt.errors import Problem
from shimopt.job.learnt_sizes import MATTERS, LearntSize
from shimopt.learning.mixture import Mixture
from shimopt.learning.pieces_measured import Measured
from shimopt.learning.true_sizes import Piece, TrueSizes, true_sizes
from shimopt.lengths import Bracket
from shimopt.parts.part import natural_key

# of a piece that the others of its marking leave so small a chance: it is set aside, and named
_WILD = 1e-4
# fewer cannot say which of them is wild
_FEWEST_TO_JUDGE = 4
# before so many pieces of a marking, or lots, no label is set aside: what spreads are likely would decide alone
FEWEST_PIECES, _FEWEST_LOTS = 5, 3
# how far it is looked for what would be enough: pieces of a lot, lots of so many pieces
_PIECES_OF_A_LOT, _MOST_LOTS, _MOST_OF_A_LOT = 5, 12, 40
_ALIKE, _SHORT = 0.85, 3
# what a job is told is rounded to a tenth of a micrometre [nm]
_FINEST = 100


@dataclass(frozen=True, slots=True)
class Spread:
    """A length: its mean, and from where to where it lies 19 times in 20, with its standard deviation [nm]."""

    mean: Fraction
    low: Fraction
    high: Fraction
    deviation: Fraction

    @classmethod
    def of(cls, mixture: Mixture, middle: Fraction) -> Spread:
        """That of a deviation from `middle`."""
        mean, low, high = (middle + round(at) for at in (mixture.mean, *mixture.interval()))
        return cls(mean, low, high, Fraction(round(mixture.variance**0.5)))

    @property
    def width(self) -> Fraction:
        """From end to end."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class SizeOf:
    """What a supplier's pieces of one marking measure [nm].

    `mean` is that of all it delivers, `next_lot` a piece of a lot that nobody measured, `of_lot` one more of each lot,
    all None or empty where no tolerance is printed to hold it against; `piece_spread` is how far pieces of a lot
    differ, `in_common` by lot what of its own all lots share (standard deviations). `aside` are pieces that do not
    belong to the others. `more_lots` says of how many lots more five pieces have to be measured before a new lot is
    known better than its label, None where it is or where a dozen would not do; `more_of_lot` the same, in pieces, of
    each lot.
    """

    supplier: str
    marked: int
    printed: Bracket
    pieces: tuple[Measured, ...]
    aside: tuple[Measured, ...]
    _: KW_ONLY
    mean: Spread | None = None
    next_lot: Spread | None = None
    of_lot: Mapping[str, Spread] = field(default_factory=dict)
    piece_spread: Fraction = Fraction(0)
    in_common: Mapping[str, Fraction] = field(default_factory=dict)
    more_lots: int | None = None
    more_of_lot: Mapping[str, int | None] = field(default_factory=dict)

    @property
    def lots(self) -> Counter[str]:
        """How many pieces of each lot were measured, empty for pieces without one."""
        return Counter(piece.lot for piece in self.pieces)

    @property
    def enough(self) -> bool:
        """Whether there are enough pieces to say anything."""
        return self.mean is not None and len(self.pieces) >= FEWEST_PIECES

    @property
    def knows_next_lot(self) -> bool:
        """Whether a piece of a lot that nobody measured is known better than by its label."""
        return len(self.lots) >= _FEWEST_LOTS and self._closer(self.next_lot)

    @property
    def for_jobs(self) -> list[LearntSize]:
        """What a job may count with, to a tenth of a micrometre: all that is known better than the label says."""
        known = [("", self.next_lot)] if self.knows_next_lot else []
        known += [(lot, self.of_lot.get(lot)) for lot in self.of_lot if lot and self.knows(lot)]
        return [
            LearntSize(
                self.supplier,
                self.marked,
                _rounded(spread.mean),
                max(_FINEST, _rounded(self._in_common(spread))),
                max(_FINEST, _rounded(self.piece_spread)),
                lot,
                min(max(_FINEST, _rounded(self._in_common(spread))), self._shared(lot)),
            )
            for lot, spread in known
            if spread is not None
        ]

    @property
    def lot_spread(self) -> Fraction:
        """What a piece of a lot that nobody measured has in common with its lot."""
        return Fraction(0 if self.next_lot is None else self._in_common(self.next_lot))

    def _shared(self, lot: str) -> int:
        """What of that all lots have in common: of lots that nobody measured, how well the mean of all is known."""
        of_all = Fraction(0) if self.mean is None else self.mean.deviation
        return _rounded(self.in_common.get(lot, of_all) if lot else of_all)

    def _in_common(self, known: Spread) -> int:
        """What a piece has in common with its lot: the rest of what is open of it."""
        return isqrt(max(0, floor(known.deviation**2 - self.piece_spread**2)))

    def knows(self, lot: str) -> bool:
        """Whether one more piece of a lot is."""
        return self._closer(self.of_lot.get(lot))

    def _closer(self, known: Spread | None) -> bool:
        return self.enough and known is not None and known.width < self.printed.high - self.printed.low

    @property
    def runs_off(self) -> Fraction | None:
        """By how much its pieces run thicker than the middle of what is printed; None where that is not known to be."""
        if not self.enough or self.mean is None or self.mean.low <= self.printed.best <= self.mean.high:
            return None
        off = self.mean.mean - self.printed.best
        return off if abs(off) >= MATTERS * (self.printed.high - self.printed.low) / 2 else None


def _rounded(length: Fraction | int) -> int:
    return round(length / Fraction(_FINEST)) * _FINEST


def sizes_of(pieces: Sequence[Measured]) -> list[SizeOf]:
    """Every supplier's markings, in natural order; pieces of no named supplier or marking are not among them."""
    groups: dict[tuple[str, int, Bracket], list[Measured]] = {}
    for piece in pieces:
        if piece.supplier and piece.marked is not None:
            groups.setdefault((piece.supplier, piece.marked, piece.printed), []).append(piece)
    ordered = sorted(groups, key=lambda key: (natural_key(key[0]), key[0], key[1], key[2].low, key[2].high))
    return [_size(key, groups[key]) for key in ordered]


def _size(key: tuple[str, int, Bracket], pieces: Sequence[Measured]) -> SizeOf:
    supplier, marked, printed = key
    if printed.exact:
        return SizeOf(supplier, marked, printed, tuple(pieces), ())
    half, middle = (printed.high - printed.low) / 2, (printed.high + printed.low) / 2
    common = float(max(piece.common for piece in pieces))
    deviations = [Piece(float(piece.thickness - middle), piece.lot, float(piece.own)) for piece in pieces]
    kept, aside = _without_wild(deviations, float(half), common)
    found = true_sizes([deviations[at] for at in kept], float(half), common)
    size = SizeOf(
        supplier,
        marked,
        printed,
        tuple(pieces[at] for at in kept),
        tuple(pieces[at] for at in aside),
        mean=Spread.of(found.offset, middle),
        next_lot=Spread.of(found.next_lot, middle),
        piece_spread=Fraction(round(found.piece_spread)),
        in_common={lot: Fraction(round(shared)) for lot, shared in found.in_common.items()},
        of_lot={
            lot: Spread.of(known, middle)
            for lot, known in sorted(found.of_lot.items(), key=lambda one: natural_key(one[0]))
        },
    )
    return replace(
        size,
        more_lots=None if size.knows_next_lot else _more_lots(found, float(half), common),
        more_of_lot={
            lot: None if size.knows(lot) else _more_of_lot(found, lot, float(half), common) for lot in found.of_lot
        },
    )


def _without_wild(pieces: Sequence[Piece], half: float, common: float) -> tuple[list[int], list[int]]:
    """Which pieces belong together, and those that the others leave hardly a chance: one in ten of them at most."""
    kept, aside = list(range(len(pieces))), list[int]()
    while len(kept) >= _FEWEST_TO_JUDGE and len(aside) < max(1, len(pieces) // 10):
        farthest = max(kept, key=lambda at: _apart(pieces[at], [pieces[other] for other in kept if other != at]))
        others = [at for at in kept if at != farthest]
        piece, known = pieces[farthest], true_sizes([pieces[at] for at in others], half, common)
        expected = known.of_lot.get(piece.lot, known.next_lot).plus(piece.own**2 / 3)
        share = expected.up_to(piece.deviation)
        if min(share, 1 - share) >= _WILD / 2:
            break
        kept, aside = others, [*aside, farthest]
    return kept, sorted(aside)


def _apart(piece: Piece, others: Sequence[Piece]) -> float:
    """How far a piece is from the middle one of its lot, or of all where it is the only one of its lot."""
    of_lot = sorted(other.deviation for other in others if other.lot == piece.lot)
    deviations = of_lot or sorted(other.deviation for other in others)
    return abs(piece.deviation - deviations[len(deviations) // 2])


def _scores(count: int) -> list[float]:
    """So many values as a standard normal distribution has them, evenly by its shares, with variance one.

    A single one is as far off as one usually is.
    """
    if count == 1:
        return [1.0]
    found = [NormalDist().inv_cdf((at + 0.5) / count) for at in range(count)]
    scale = (sum(score**2 for score in found) / (count - 1)) ** 0.5
    return [score / scale for score in found]


def _narrower(known: Mixture, half: float) -> bool:
    low, high = known.interval()
    return high - low < 2 * half


def _more_lots(found: TrueSizes, half: float, common: float) -> int | None:
    """Of how many lots more, if they came out as those before, a new lot would be known better than its label."""

    def would_do(lots: int) -> bool:
        made = [
            Piece(found.offset.mean + of_lot * found.lot_spread + one * found.piece_spread, f"\0{number}")
            for number, of_lot in enumerate(_scores(lots))
            for one in _scores(_PIECES_OF_A_LOT)
        ]
        return _narrower(true_sizes([*found.pieces, *made], half, common).next_lot, half)

    return _fewest(max(1, _FEWEST_LOTS - len(found.of_lot)), _MOST_LOTS, would_do)


def _more_of_lot(found: TrueSizes, lot: str, half: float, common: float) -> int | None:
    """How many pieces more of a lot, if they came out as those before, would make it known better than its label."""
    middle = found.of_lot[lot].mean

    def would_do(count: int) -> bool:
        made = [Piece(middle + one * found.piece_spread, lot) for one in _scores(count)]
        return _narrower(true_sizes([*found.pieces, *made], half, common).of_lot[lot], half)

    return _fewest(max(1, FEWEST_PIECES - len(found.pieces)), _MOST_OF_A_LOT, would_do)


def _fewest(least: int, most: int, would_do: Callable[[int], bool]) -> int | None:
    """The fewest from `least` on that would do, None where `most` would not; more do where fewer did."""
    if not would_do(most):
        return None
    low, high = least - 1, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if would_do(middle) else (middle, high)
    return high


def names_alike(told: Iterable[tuple[str, str]], apart: Collection[str]) -> list[Problem]:
    """What is asked about suppliers that are told by name and by where that stands: of each name that looks like
    another that stands more often, whether it is that.

    Parameter: apart, names that are suppliers of their own however alike they look.
    """
    where, times = dict[str, str](), Counter[str]()
    for name, stands in told:
        where.setdefault(name, stands)
        times[name] += 1
    names = sorted({*times} - {""}, key=lambda name: (-times[name], natural_key(name), name))
    problems = []
    for at, other in enumerate(names):
        one = next((name for name in names[:at] if _looks_like(name, other) and not {name, other} & set(apart)), None)
        if one is not None:
            remedy = f'write them alike, or say which is right: --same "{other}={one}", or --apart "{other}"'
            rule = f"is this {one}? Two names look like one supplier"
            problems.append(Problem("", f"supplier, {where[other]}", other, rule, remedy))
    return problems


def _looks_like(one: str, other: str) -> bool:
    here, there = (re.sub(r"[\W_]+", "", name.casefold()) for name in (one, other))
    # Stock 1 and Stock 2 differ in what matters most
    numbered_alike = re.findall(r"\d+", here) == re.findall(r"\d+", there)
    near = SequenceMatcher(None, here, there).ratio() >= _ALIKE and min(len(here), len(there)) > _SHORT
    return here == there or (numbered_alike and near)
