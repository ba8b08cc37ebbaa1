"""Slips of a unit or of a point in the sizes of a drawer or a catalogue, told by the other sizes and by what is read.

Of sizes, a drawer rightly holds shims beside spacers, so one large piece says little: alone above all others and of use
to no gap of the job it is a caution, and hundreds of times above them it stops. So do sizes that are all of another
order than every gap and every piece in the machine (thicker than all of them, or foils where much is lacking), and one
thinner than any foil. One far thinner, or thicker, than the others stops where its digits tell that nobody sells it;
else a thin one is a caution where it is in the machine, for all that is planned there rests on it.

Pieces whose names differ by a number alone are of one series (`_Series`): where the numbers of the others tell their
sizes, or the others are all much alike, one that is off by a unit stops, and one off by ten is a caution. Of what a
catalogue offers only that is asked: it holds more than one job needs. A piece that was measured, or is called a spacer,
is believed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from itertools import pairwise, takewhile
from typing import NamedTuple

from shimopt.job.gap import Gap
from shimopt.job.model import Job
from shimopt.job.slip_evidence import FAR, SMALL
from shimopt.lengths import UNITS, as_typed, other_units
from shimopt.parts import StockLine, sizes_of

_NEAR = 3
_HUNDREDS = 300
# common practice, no source: no foil is sold thinner, and nothing in one drawer is so many times as thick as the rest
_THINNEST_FOIL = 5_000
# common practice, no source: thinner pieces fold; no drawer holds nothing else
_FOLDS = 50_000
# common practice, no source: sizes are sold in steps of 5 um or half a thou [nm], and converted to the digit
_STEPS = (5_000, UNITS["thou"] // 2)
_CONVERTED = Fraction(1, 500)
# a name with a number in it; so many that differ by it are a series, whose numbers tell sizes so exactly, or which are
# much alike (common practice, no source)
_NUMBERED = re.compile(r"(.*?)(\d+(?:[.,]\d+)?)(\D*)")
_FEWEST, _SAME, _ALIKE = 3, Fraction(21, 20), Fraction(3, 2)
_Numbered = tuple[StockLine, str]
# how digits are read, and what shares of that pieces measure
_Share = tuple[Callable[[str], Fraction], tuple[Fraction, Fraction] | None]
# common practice, no source: rings are sold in tenths of a millimetre, in 5 thou, in 64ths of an inch [nm]
_RINGS = (100_000, 5 * UNITS["thou"], UNITS["in"] // 64)


@dataclass(frozen=True, slots=True)
class SizeSlip:
    """A size, or all sizes of a drawer (`all_sizes`), that was probably typed in another unit.

    `thickness` as typed, `meant` in `unit` [nm], with its point elsewhere where that is the unit in which it was typed;
    `stops` where nothing is planned with it; `others` those of its series that say so.
    """

    line: StockLine
    stops: bool
    thickness: Fraction
    meant: Fraction
    unit: str
    all_sizes: bool = False
    _: KW_ONLY
    others: tuple[str, ...] = ()


class _Others(NamedTuple):
    """What the pieces of a series but those of one size tell, by their numbers or by being alike."""

    told: list[_Share]
    alike: tuple[Fraction, Fraction] | None
    several: bool


def size_slips(job: Job) -> Iterator[SizeSlip]:
    """Sizes on hand or in the machine of another order than the other sizes and the gaps of the job."""
    held = {i for place in job.places for i in place.installed}
    off = {id(slip.line): slip for slip in _off_their_series(job.stock)}
    yield from off.values()
    stock = [line for line in job.stock if id(line) not in off]
    yield from _offered_far_off(stock)
    listed = [line for i, line in enumerate(job.stock) if (line.on_hand or i in held) and line.typed_in]
    listed = [line for line in _by_size(listed) if _unproved(line) and id(line) not in off]
    if not listed or not job.gaps:
        return
    gaps, sizes = [_need(gap) for gap in job.gaps], sizes_of(stock)
    thin = list(_thinner_than_others(listed, sizes))
    # what is in the machine shows of what order pieces are there, but for what looks like a slip itself
    in_there = [job.stock[i].part.thickness.best for i in held if id(job.stock[i]) not in off]
    needs = gaps + [size for size in in_there if size > _thickest(thin)]
    thicker = [size for size in sizes if size > _thickest(thin)]
    foils = False
    for line in thin:
        if line.part.thickness.best < _THINNEST_FOIL:
            foils = True
            yield from _size_meant(line, (min(needs) / FAR, max(needs)), stops=True)
        elif not _sold(line):
            yield from _size_meant(line, (min(thicker) / _NEAR, max(needs)), stops=True)
        elif any(job.stock[i] is line for i in held):
            yield from _size_meant(line, (min(thicker) / _NEAR, max(needs)), stops=False)
    if foils or any(gap.checked for gap in job.gaps):
        return
    thick = _thicker_than_others(listed, sizes)
    others = [size for size in sizes if thick and size < thick[0].part.thickness.best]
    far = _HUNDREDS * max(others, default=Fraction(0))
    if wrong := [line for line in thick if not _sold(line, _RINGS) or line.part.thickness.best >= far]:
        for line in wrong:
            yield from _size_meant(line, (min(others) / _NEAR, _NEAR * max(others)), stops=True)
        return
    typed = [line for line in listed if line.on_hand]
    if not typed:
        return
    if sizes[0] >= FAR * max(needs):
        yield from _size_meant(typed[0], (min(needs) / FAR, max(needs)), stops=True, all_sizes=True)
    elif sizes[-1] < _FOLDS and (lacking := _lacking(job)) and FAR * sizes[-1] <= lacking:
        yield from _size_meant(typed[-1], (lacking / FAR, _NEAR * max(needs)), stops=True, all_sizes=True)
    elif len(sizes) > 1 and typed[-1].part.thickness.best == sizes[-1] >= SMALL * max(sizes[-2], *needs):
        hundreds, within = sizes[-1] >= _HUNDREDS * sizes[-2], (sizes[0], max(sizes[-2], *needs))
        meant = list(_size_meant(typed[-1], within, stops=hundreds)) if sizes[-1] >= FAR * within[1] else []
        tenth = sizes[-1] / 10
        # ten times as thick as all else, and of no use: a point, where no unit explains it
        if not meant and tenth <= _ALIKE * within[1]:
            meant = [SizeSlip(typed[-1], False, sizes[-1], tenth, typed[-1].typed_in)]
        yield from meant


def _offered_far_off(stock: Sequence[StockLine]) -> Iterator[SizeSlip]:
    """What a catalogue alone offers, and is thinner than any foil, or hundreds of times as thick as all else."""
    sizes = sizes_of(stock)
    for line in stock if len(sizes) > 1 else ():
        size, asked = line.part.thickness.best, line.offers and not line.on_hand and line.typed_in and _unproved(line)
        if asked and (size < _THINNEST_FOIL or size == sizes[-1] >= _HUNDREDS * sizes[-2]):
            others = [other for other in sizes if other != size]
            yield from _size_meant(line, (others[0] / _NEAR, _NEAR * others[-1]), stops=True)


def _off_their_series(stock: Sequence[StockLine]) -> Iterator[SizeSlip]:
    """Sizes that the others of their series speak against, by a unit or by a point."""
    series: dict[tuple[str, str], list[_Numbered]] = {}
    for line in stock:
        if found := _NUMBERED.fullmatch(line.part.name):
            before, number, behind = found.groups()
            series.setdefault((before, behind), []).append((line, number.replace(",", ".")))
    for pieces in series.values():
        farthest = _farthest(pieces)
        if len({line.part.thickness.best for line, _ in farthest}) >= _FEWEST and not _say_nothing(farthest):
            yield from _off_series(pieces, farthest)


def _farthest(pieces: Sequence[_Numbered]) -> list[_Numbered]:
    """Of each size, and of numbers of as many digits, the pieces of the least and of the greatest number.

    What the others tell lies between, however their digits are read.
    """
    ends: dict[tuple[int, int, int], tuple[int, _Numbered, int, _Numbered]] = {}
    for one in pieces:
        line, digits = one
        whole, _, part = digits.partition(".")
        number, alike = int(whole + part), (id(line.part.thickness.best), len(whole), len(part))
        found = ends.get(alike)
        if found is None or number < found[0]:
            ends[alike] = (number, one, *((number, one) if found is None else found[2:]))
        elif number > found[2]:
            ends[alike] = (*found[:2], number, one)
    return [end for _, least, _, most in ends.values() for end in ((least, most) if least is not most else (least,))]


def _say_nothing(pieces: Sequence[_Numbered]) -> bool:
    """Whether of no piece of a series the others tell a size, by their numbers or by being alike.

    Whichever size is left out, the others are too far apart: in long tables, where to hold each against all would take
    hours.
    """
    sizes = sorted({line.part.thickness.best for line, _ in pieces})
    if min(sizes[-2] / sizes[0], sizes[-1] / sizes[1]) <= _ALIKE:
        return False
    for read in (Fraction, _behind_the_point):
        marks = [(line.part.thickness.best, read(digits)) for line, digits in pieces]
        shares = [(size / mark, size) for size, mark in marks if mark]
        if not shares:
            continue
        # the least and the most with any one size left out
        (least, of_least), (most, of_most) = min(shares), max(shares)
        low = min((share for share, size in shares if size != of_least), default=None)
        high = max((share for share, size in shares if size != of_most), default=None)
        if low is None or high is None or min(high / least, most / low, high / low) <= _SAME:
            return False
    return True


def _ends(pieces: Sequence[_Numbered]) -> set[Fraction]:
    """The sizes without which a series might be of one share, or much alike: the ends, and what has no number.

    Without any other it stays as it is: as far apart, or of one share that includes that size too.
    """
    sizes = [line.part.thickness.best for line, _ in pieces]
    found = {min(sizes), max(sizes)}
    for read in (Fraction, _behind_the_point):
        marks = [(size, read(digits)) for size, (_, digits) in zip(sizes, pieces, strict=True)]
        shares = [(size / mark, size) for size, mark in marks if mark]
        found |= {size for size, mark in marks if not mark}
        found |= {end(shares)[1] for end in (min, max) if shares}
    return found


def _off_series(pieces: Sequence[_Numbered], farthest: Sequence[_Numbered]) -> Iterator[SizeSlip]:
    """Those of one series, each with the number in its name, of which the others say another size."""
    known: dict[Fraction, _Others] = {}
    ends = _ends(farthest)
    for line, number in pieces:
        thickness = line.part.thickness.best
        if thickness not in ends or not line.typed_in or not _unproved(line):
            continue
        if thickness not in known:
            apart = [one for one in farthest if one[0].part.thickness.best != thickness]
            # K035 of 0.035 mm may lie beside K20 of 0.20 mm
            told: list[_Share] = [(of, _shares(apart, of)) for of in (Fraction, _behind_the_point)]
            sizes = len({one.part.thickness.best for one, _ in apart})
            known[thickness] = _Others(told, _much_alike(apart), sizes >= _FEWEST)
        shares_of, alike, several = known[thickness]
        ways = [way for of, shares in shares_of if (way := _by_number(of(number), shares))]
        named = bool(ways)
        within = next(iter(ways), None) or alike
        if within is None or any(least <= thickness <= most for least, most in (within, *ways)):
            continue
        # a foil may lie among much thicker ones, unless its own number speaks against it
        meanings = [(thickness / 10, ""), *([(thickness * 10, "")] if named else [])] if several else []
        meanings += [*other_units(thickness, line.typed_in), (thickness / 1000, ""), (thickness * 1000, "")]
        likely = next(((meant, unit) for meant, unit in meanings if within[0] <= meant <= within[1]), None)
        # ... or its digits say that nobody sells it
        if likely is not None and (named or likely[0] < thickness or not _sold(line)):
            meant, unit = likely
            stops = bool(unit) or max(meant / thickness, thickness / meant) > FAR
            as_meant = as_typed(thickness, line.typed_in) * UNITS[unit] if unit else meant
            others = (one.part for one, _ in pieces if one.part.thickness.best != thickness)
            names = tuple(dict.fromkeys(part.name for part in others))
            yield SizeSlip(line, stops, thickness, as_meant, unit or line.typed_in, others=names)


def _behind_the_point(digits: str) -> Fraction:
    """The digits of a name as they stand behind the point: `035` as 0.035; 0 where they have a point themselves."""
    return Fraction(f"0.{digits}") if "." not in digits else Fraction(0)


def _shares(others: Sequence[_Numbered], read: Callable[[str], Fraction]) -> tuple[Fraction, Fraction] | None:
    """From which to which share of its number a piece measures, where all numbers tell sizes by the same share."""
    marks = [(line, read(digits)) for line, digits in others]
    shares = sorted(line.part.thickness.best / mark for line, mark in marks if mark)
    if len({mark for _, mark in marks}) < _FEWEST - 1 or len(shares) < len(others) or shares[-1] > _SAME * shares[0]:
        return None
    return shares[0], shares[-1]


def _by_number(number: Fraction, shares: tuple[Fraction, Fraction] | None) -> tuple[Fraction, Fraction] | None:
    """What a piece of this number measures, where the numbers of the others tell their sizes."""
    return None if shares is None or not number else (shares[0] * number / _SAME, shares[1] * number * _SAME)


def _much_alike(others: Sequence[_Numbered]) -> tuple[Fraction, Fraction] | None:
    """What a piece measures where the others of its series are all much alike, as the buckets of an engine are."""
    sizes = sorted({line.part.thickness.best for line, _ in others})
    return (sizes[0] / _ALIKE, sizes[-1] * _ALIKE) if len(sizes) >= _FEWEST and sizes[-1] <= _ALIKE * sizes[0] else None


def _by_size(lines: Sequence[StockLine]) -> list[StockLine]:
    rank = {size: at for at, size in enumerate(sizes_of(lines))}
    return sorted(lines, key=lambda line: rank[line.part.thickness.best])


def _thickest(lines: Sequence[StockLine]) -> Fraction:
    return max((line.part.thickness.best for line in lines), default=Fraction(0))


def _thinner_than_others(listed: Sequence[StockLine], sizes: Sequence[Fraction]) -> Iterator[StockLine]:
    """The few thinnest far below all other sizes, in order; else those thinner than any foil."""
    few = pairwise(sizes[: len(sizes) // 2 + 1])
    ends = [less for less, more in few if SMALL * less <= more]
    most = max(ends, default=Fraction(0))
    yield from takewhile(lambda line: (size := line.part.thickness.best) < _THINNEST_FOIL or size <= most, listed)


def _thicker_than_others(listed: Sequence[StockLine], sizes: Sequence[Fraction]) -> list[StockLine]:
    """The few thickest far above all other sizes, in order."""
    few = pairwise(sizes[len(sizes) // 2 :])
    least = min((more for less, more in few if SMALL * less <= more), default=None)
    return [] if least is None else [line for line in listed if line.part.thickness.best >= least]


def _sold(line: StockLine, steps: Sequence[int] = _STEPS) -> bool:
    """Whether pieces of this thickness are sold, in some unit."""
    thickness = line.part.thickness.best
    return any(abs(thickness - round(thickness / step) * step) <= _CONVERTED * thickness for step in steps)


def _unproved(line: StockLine) -> bool:
    return not line.part.measured and line.part.form != "spacer"


def _need(gap: Gap) -> Fraction:
    """A thickness of the order of a gap: what it reads, or the farther limit of its window."""
    limits = [abs(limit) for limit in (gap.window.min, gap.window.max) if limit is not None]
    far = max([abs(gap.reading.bracket.best), *map(Fraction, limits)])
    return far / min((abs(effect) for _, effect in gap.effects), default=Fraction(1))


def _lacking(job: Job) -> Fraction | None:
    """The least thickness that a gap above its window lacks; None where none is."""
    above = [
        (gap.reading.bracket.best - gap.window.max) / max(abs(effect) for _, effect in gap.effects)
        for gap in job.gaps
        if gap.window.max is not None and gap.effects and gap.reading.bracket.best > gap.window.max
    ]
    return min(above, default=None)


def _size_meant(
    line: StockLine, within: tuple[Fraction, Fraction], *, stops: bool, all_sizes: bool = False
) -> Iterator[SizeSlip]:
    thickness = line.part.thickness.best
    found = [one for one in other_units(thickness, line.typed_in) if within[0] <= one[0] <= within[1]]
    # a point of thousands, or none, where no unit explains it
    slipped = (one for one in (thickness / 1000, thickness * 1000) if within[0] <= one <= within[1])
    if not found and stops and (meant := next(slipped, None)):
        yield SizeSlip(line, stops, thickness, meant, line.typed_in, all_sizes)
    elif found:
        _, unit = max(found) if stops and thickness < within[0] else min(found)
        # the digits are those of the number as typed: 0.254 thou came in as 6452 nm
        meant = as_typed(thickness, line.typed_in) * UNITS[unit]
        yield SizeSlip(line, stops, thickness, meant, unit, all_sizes)
