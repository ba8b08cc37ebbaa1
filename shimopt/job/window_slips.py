"""Slips of a unit in a window, told by what the readings of the same job say.

A window is a slip where it lies `_APART` times above all that is read against it and above every piece at hand: they
agree, and the window alone is of another order. So is an upper end hundreds of times above the lower one and above what
is read. A window below a micrometre allows nothing that can be made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from shimopt.job.gap import Gap
from shimopt.job.model import Job
from shimopt.job.slip_evidence import FAR
from shimopt.lengths import other_units

_APART = 8
_NEAR = 3
_SMALLEST_WINDOW = 1_000
_HUNDREDS = 300


@dataclass(frozen=True, slots=True)
class WindowSlip:
    """A window that was probably typed in another unit, `unit`, and of which gap first; or its `upper` end alone."""

    gap: str
    unit: str
    upper: bool = False


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
