"""What is to be explained: the stacks with their proof, checked by plain arithmetic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shimopt.arithmetic import Outcome
from shimopt.arithmetic.clearance import Stack
from shimopt.choose import Choice
from shimopt.choose.chooser import supply_of
from shimopt.job import Job
from shimopt.seats import Screening


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """The stacks with their proof, not yet explained.

    `stated` is the job as it was given, `job` the one that was planned: brackets decide where chances cannot.
    """

    stated: Job
    job: Job
    buy: bool
    screening: Screening
    choice: Choice
    outcome: Outcome
    seconds: float

    @property
    def stacks(self) -> Mapping[str, Stack]:
        """The stack of every place that gets one."""
        return self.choice.stacks

    @property
    def supply(self) -> dict[int, int]:
        """How many pieces of each stock line can be had."""
        return supply_of(self.job, self.buy)
