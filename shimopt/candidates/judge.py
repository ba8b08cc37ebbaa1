"""A gap's clearance against its window, in whole ticks: its share of every level."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from shimopt.arithmetic.clearance import unproven
from shimopt.candidates.scale import Scale
from shimopt.job import Gap
from shimopt.lengths import beyond

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

__all__ = ["Ends", "Judge"]

_Exact = TypeVar("_Exact", int, "npt.NDArray[np.int64]")

# low, best and high of a length [ticks]
Ends = tuple[int, int, int]


class Judge:
    """Says what a clearance adds to each level."""

    def __init__(self, scale: Scale, gap: Gap) -> None:
        ticks, window, reading = scale.ticks, gap.window, gap.reading.bracket
        self.read: Ends = (ticks(reading.low), ticks(reading.best), ticks(reading.high))
        self.min = None if window.min is None else ticks(window.min)
        self.max = None if window.max is None else ticks(window.max)
        self.target = None if window.target is None else ticks(window.target)

    def shares(self, after: tuple[_Exact, _Exact, _Exact], *, enough: bool | None = None) -> dict[str, _Exact]:
        """The shares of a clearance after shimming, or of many at once.

        `enough` says whether it counts as sure where a chance decides.
        """
        low, best, high = after
        miss, doubt = beyond(best, best, self.min, self.max), beyond(low, high, self.min, self.max)
        # times 1 or 0, so that it holds for arrays as it stands
        unsure = 1 * unproven(miss, doubt, enough)
        return {
            "outside": 1 * (miss > 0),
            "miss": miss,
            "unproven": unsure,
            "doubt": doubt * unsure,
            "target": 0 * best if self.target is None else abs(best - self.target),
        }
