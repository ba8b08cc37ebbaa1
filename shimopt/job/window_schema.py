"""`[window]` of a job, of a gap, and of a gap when hot."""

from __future__ import annotations

from pydantic import ValidationInfo, model_validator

from shimopt.job.fields import JobTable, Length, Limit, Text, unit_of, wrong
from shimopt.job.model import Window
from shimopt.lengths import spelled

__all__ = ["WindowTable"]


class WindowTable(JobTable):
    """`[window]`, or `window = { ... }` of a gap."""

    min: Limit
    max: Limit
    source: Text
    target: Length | None = None

    @model_validator(mode="after")
    def _in_order(self, info: ValidationInfo) -> WindowTable:
        unit = unit_of(info) or "mm"
        low, high = (None if limit == "none" else limit for limit in (self.min, self.max))
        if low is None and high is None:
            raise wrong("a window with neither min nor max allows everything", "state at least one of them")
        if low is not None and high is not None and low > high:
            raise wrong(f"min {spelled(low, unit)} is above max {spelled(high, unit)}", "swap them")
        beyond = self.target is not None and (
            (low is not None and self.target < low) or (high is not None and self.target > high)
        )
        if beyond:
            raise wrong("the target lies outside min and max", "aim inside the window")
        return self

    def window(self) -> Window:
        """The window as the program uses it."""
        low, high = (None if isinstance(limit, str) else limit for limit in (self.min, self.max))
        return Window(low, high, self.source, self.target)
