"""Slips of a unit or of a point in a window, told by what the readings of the same job say.

A window is a slip where it lies `_APART` times above all that is read against it and above every piece at hand: they
agree, and the window alone is of another order. So is an upper end hundreds of times above the lower one and above what
is read. A window below a micrometre allows nothing that can be made.

Less far above, or narrower than the blades by which all its gaps were read, is a caution: one gap may well be tight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction

from shimopt.job.gap import Gap
from shimopt.job.model import Job
from shimopt.job.slip_evidence import COARSE, FAR, reach_of
from shimopt.lengths import UNITS, other_units
from shimopt.parts import sizes_of

_APART = 8
_NEAR = 3
_SMALLEST_WINDOW = 1_000
_HUNDREDS = 300
# common practice, no source: several gaps agree at half of what is allowed, one alone may be tight
_HALF, _ALONE = 2, 4


@dataclass(frozen=True, slots=True)
class WindowSlip:
    """A window that was probably typed in another unit, `unit`, and of which gap first; or its `upper` end alone.

    `factor` is what its figures are to be taken times; `unit` is empty where a point slipped. `stops` where nothing is
    planned against it, else it is `narrow`, or lies above what is read.
    """

    gap: str
    unit: str
    upper: bool = False
    _: KW_ONLY
    factor: Fraction = Fraction(1)
    stops: bool = True
    narrow: bool = False


def window_slips(job: Job) -> Iterator[WindowSlip]:
    """Windows of another order than what is read against them and than the pieces at hand."""
    by_window: dict[tuple[int | None, int | None], list[Gap]] = {}
    for gap in job.gaps:
        by_window.setdefault((gap.window.min, gap.window.max), []).append(gap)
    thickest = max(sizes_of(job.stock), default=Fraction(0))
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
        elif least and most and least > 0:
            yield from _doubted(job, gaps, thickest)


def _window_meant(gap: Gap, job: Job, read: Fraction, reach: Fraction) -> Iterator[WindowSlip]:
    """What the window would be in the unit in which it comes nearest to what is read, or a thousandth of it."""
    top = Fraction(max(abs(limit) for limit in (gap.window.min, gap.window.max) if limit is not None))
    meanings = [*other_units(top, job.unit), (top / 1000, ""), (top * 1000, "")]
    found = [
        (meant, unit) for meant, unit in meanings if read / FAR <= meant + reach and read / FAR <= meant <= _NEAR * read
    ]
    if found:
        meant, unit = min(found, key=lambda one: max(one[0] / read, read / one[0]))
        yield WindowSlip(gap.name, unit, factor=meant / top)


def _doubted(job: Job, gaps: Sequence[Gap], thickest: Fraction) -> Iterator[WindowSlip]:
    """A window above what all its gaps read and every piece there is, or narrower than the blades that read them."""
    if any(gap.reading.opens or gap.reading.recorded or gap.heat is not None for gap in gaps):
        return
    least, most = Fraction(gaps[0].window.min or 0), Fraction(gaps[0].window.max or 0)
    bare = [_bare(job, gap) for gap in gaps]
    points, units = [(Fraction(1, 10), "")], [(Fraction(UNITS[u], UNITS[job.unit]), u) for u in UNITS if u != job.unit]
    times = _HALF if len(gaps) > 1 else _ALONE
    # what shims open may read less than is allowed, however far
    closed = all(effect < 0 for gap in gaps for _, effect in gap.effects)
    if closed and thickest and least >= times * max(*bare, thickest):
        for factor, unit in (*points, *units):
            if factor * least <= min(bare) and max(bare) <= factor * most + 3 * thickest and factor < 1:
                yield WindowSlip(gaps[0].name, unit, factor=factor, stops=False)
                return
    blades = [gap.blades[1] - gap.blades[0] for gap in gaps if gap.blades is not None]
    # what is far above the window and all that pieces bridge speaks against itself, not against the window
    bridged = all(gap.reading.bracket.best <= most + reach_of(job, gap, thickest) for gap in gaps)
    if len(blades) == len(gaps) and min(blades) >= COARSE * (most - least) and bridged:
        for factor, unit in (*units, (Fraction(10), "")):
            wide = factor * (most - least) >= max(blades) and factor > 1
            if wide and factor * least <= min(bare) and max(bare) <= factor * most + 3 * thickest:
                yield WindowSlip(gaps[0].name, unit, factor=factor, stops=False, narrow=True)
                return


def _bare(job: Job, gap: Gap) -> Fraction:
    """What a gap would read without what was in."""
    was_in = [(abs(effect), i) for at, effect in gap.effects for i in job.place[at].installed]
    return abs(gap.reading.bracket.best) + sum((e * job.stock[i].part.thickness.best for e, i in was_in), Fraction(0))
