"""A piece that goes from one place into another moves a gap of both by what its two effects differ, and errs once.

Its error on the way out is its error on the way in: where both places move a gap alike it cancels.
"""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.clearance import thickness_of, times
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket

__all__ = ["after_moving"]


def after_moving(job: Job, gap: Gap, changes: Mapping[str, PlaceChange]) -> Bracket:
    """A gap after shimming, at worst over the reading and over every piece once. How far shims move it is exact."""
    effects = dict(gap.effects)
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for place, effect in effects.items():
        change = changes[place]
        moved = [(effect - effects.get(piece.other, 0), piece.line) for piece in change.into]
        moved += [(-effect, piece.line) for piece in change.out if piece.other not in effects]
        for by, line in moved:
            part = times(by, thickness_of((line,), job.stock))
            low, best, high = low + part.low, best + part.best, high + part.high
    return Bracket(low, best, high)
