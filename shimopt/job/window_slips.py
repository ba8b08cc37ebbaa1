"""Slips of a unit in a window or in the sizes of a drawer, told by what the readings of the same job say.

A window is a slip where it lies `_APART` times above all that is read against it and above every piece at hand: they
agree, and the window alone is of another order. So is an upper end hundreds of times above the lower one and above what
is read. A window below a micrometre allows nothing that can be made.

Of sizes, a drawer rightly holds shims beside spacers, so one large piece says little: alone above all others and of use
to no gap of the job it is a caution, and hundreds of times above them it stops. So do sizes that are all of another
order than every gap and every piece in the machine (thicker than all of them, or foils where much is lacking), and one
thinner than any foil. One far thinner, or thicker, than the others stops where its digits tell that nobody sells it;
else a thin one is a caution where it is in the machine, for all that is planned there rests on it. A piece that was
measured, or is called a spacer, is believed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, takewhile

from shimopt.job.gap import Gap
from shimopt.job.model import Job
from shimopt.job.slip_evidence import FAR, SMALL
from shimopt.lengths import UNITS, as_typed, other_units
from shimopt.parts import StockLine

_APART = 8
_NEAR = 3
_SMALLEST_WINDOW = 1_000
# common practice, no source: no foil is sold thinner, and nothing in one drawer is so many times as thick as the rest
_THINNEST_FOIL = 5_000
_HUNDREDS = 300
# common practice, no source: thinner pieces fold; no drawer holds nothing else
_FOLDS = 50_000
# common practice, no source: sizes are sold in steps of 5 um or half a thou [nm], and converted to the digit
_STEPS = (5_000, UNITS["thou"] // 2)
_CONVERTED = Fraction(1, 500)
# common practice, no source: rings are sold in tenths of a millimetre, in 5 thou, in 64ths of an inch [nm]
_RINGS = (100_000, 5 * UNITS["thou"], UNITS["in"] // 64)


@dataclass(frozen=True, slots=True)
class WindowSlip:
    """A window that was probably typed in another unit, `unit`, and of which gap first; or its `upper` end alone."""

    gap: str
    unit: str
    upper: bool = False


@dataclass(frozen=True, slots=True)
class SizeSlip:
    """A size, or all sizes of a drawer (`all_sizes`), that was probably typed in another unit.

    `thickness` as typed, `meant` in `unit` [nm]; `stops` where nothing is planned with it.
    """

    line: StockLine
    stops: bool
    thickness: Fraction
    meant: Fraction
    unit: str
    all_sizes: bool = False


def window_slips(job: Job) -> Iterator[WindowSlip]:
    """Windows of another order than what is read against them and than the pieces at hand."""
    by_window: dict[tuple[int | None, int | None], list[Gap]] = {}
    for gap in job.gaps:
        by_window.setdefault((gap.window.min, gap.window.max), []).append(gap)
    thickest = max((line.part.thickness.best for line in job.stock), default=Fraction(0))
    for (least, most), gaps in by_window.items():
        read = max(abs(gap.reading.bracket.best) for gap in gaps)
        if read == 0 or any(gap.checked or gap.reading.no_preload_assumed for gap in gaps):
            continue
        limits = [abs(limit) for limit in (least, most) if limit]
        far_above = thickest and least and least > 0 and least >= _APART * max(read, thickest)
        far_below = limits and max(limits) < _SMALLEST_WINDOW and read >= FAR * max(limits)
        # no window's upper end is hundreds of times its lower one, and of what is read
        far_wide = least and most and 0 < _HUNDREDS * max(Fraction(least), read) <= most
        if far_above or far_below or far_wide:
            for slip in _window_meant(gaps[0], job, read, 3 * thickest):
                yield replace(slip, upper=bool(far_wide))


def _window_meant(gap: Gap, job: Job, read: Fraction, reach: Fraction) -> Iterator[WindowSlip]:
    """What the window would be in the unit in which it comes nearest to what is read."""
    top = Fraction(max(abs(limit) for limit in (gap.window.min, gap.window.max) if limit is not None))
    found = [
        (meant, unit)
        for meant, unit in other_units(top, job.unit)
        if read / FAR <= meant + reach and read / FAR <= meant <= _NEAR * read
    ]
    if found:
        _, unit = min(found, key=lambda one: max(one[0] / read, read / one[0]))
        yield WindowSlip(gap.name, unit)


def size_slips(job: Job) -> Iterator[SizeSlip]:
    """Sizes on hand or in the machine of another order than the other sizes and the gaps of the job."""
    held = {i for place in job.places for i in place.installed}
    listed = [line for i, line in enumerate(job.stock) if (line.on_hand or i in held) and line.typed_in]
    listed = [line for line in _by_size(listed) if _unproved(line)]
    if not listed or not job.gaps:
        return
    gaps, sizes = [_need(gap) for gap in job.gaps], sorted({line.part.thickness.best for line in job.stock})
    thin = list(_thinner_than_others(listed, sizes))
    # what is in the machine shows of what order pieces are there, but for what looks like a slip itself
    needs = gaps + [size for i in held if (size := job.stock[i].part.thickness.best) > _thickest(thin)]
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
    elif len(sizes) > 1 and typed[-1].part.thickness.best == sizes[-1] >= FAR * max(sizes[-2], *needs):
        hundreds = sizes[-1] >= _HUNDREDS * sizes[-2]
        yield from _size_meant(typed[-1], (sizes[0], max(sizes[-2], *needs)), stops=hundreds)


def _by_size(lines: Iterable[StockLine]) -> list[StockLine]:
    return sorted(lines, key=lambda line: line.part.thickness.best)


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
    if found:
        _, unit = max(found) if stops and thickness < within[0] else min(found)
        # the digits are those of the number as typed: 0.254 thou came in as 6452 nm
        meant = as_typed(thickness, line.typed_in) * UNITS[unit]
        yield SizeSlip(line, stops, thickness, meant, unit, all_sizes)
