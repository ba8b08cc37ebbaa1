"""What was chosen, with its proof, and what else there was: each further piece, the nearest for gaps left outside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from shimopt.arithmetic import Outcome, audit, off_by, outcome_of
from shimopt.arithmetic.clearance import Stack, after_with
from shimopt.arithmetic.needed import wanted
from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.candidates import Scale, nearest_stack
from shimopt.choose import Choice
from shimopt.choose.choices import best_by_pieces
from shimopt.choose.chooser import supply_of
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.seats import Screening
from shimopt.watch import Watch


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

    @cached_property
    def supply(self) -> dict[int, int]:
        """How many pieces of each stock line can be had."""
        return supply_of(self.job, self.buy)


@dataclass(frozen=True, slots=True)
class Alternative:
    """One row of the trade-off, worked out by plain arithmetic; `is_plan` marks the plan's own."""

    choice: Choice
    outcome: Outcome
    is_plan: bool

    @property
    def pieces(self) -> int:
        """How many pieces are fitted in all."""
        return int(self.outcome.levels["pieces"])

    def cost(self, job: Job) -> Fraction | None:
        """The price of what is to buy, in whole packs; None where a piece has no price."""
        unpriced = any(cheapest_packs(job.stock[i].offers, n)[1] for i, n in self.outcome.to_buy.items())
        return None if unpriced else self.outcome.levels["cost"]

    @property
    def proven(self) -> bool:
        """Whether every level is proven best for at most so many pieces."""
        return all(level.proven for level in self.choice.levels)


def alternatives(
    job: Job,
    screening: Screening,
    plan: Choice,
    *,
    buy: bool = False,
    watch: Watch | None = None,
) -> tuple[Alternative, ...]:
    """The rows worth weighing, from few pieces to many. Raises FaultError where one does not pass its check."""
    rows = []
    for choice in best_by_pieces(job, screening, plan, buy=buy, watch=watch):
        outcome = outcome_of(job, choice.stacks, screening.cautions)
        audit(job, choice.stacks, screening.suits, outcome, buy)
        rows.append(Alternative(choice, outcome, choice.stacks == plan.stacks))
    return tuple(row for row in rows if row.is_plan or not _dominated(row, rows))


def _dominated(row: Alternative, rows: Sequence[Alternative]) -> bool:
    """Whether another row is nowhere worse and somewhere better."""
    mine = row.outcome.levels
    return any(
        all(other.outcome.levels[name] <= value for name, value in mine.items()) and other.outcome.levels != mine
        for other in rows
    )


@dataclass(frozen=True, slots=True)
class Nearest:
    """A stack that was not fitted, the clearance it would leave, and how far that is outside the window [nm]."""

    stack: Stack
    after: Bracket
    off: Fraction


def nearest_misses(
    job: Job, screening: Screening, stacks: Mapping[str, Stack], outcome: Outcome, supply: Mapping[int, int]
) -> dict[str, Nearest]:
    """The nearest miss of every gap outside that a place of its own moves."""
    used = Counter(i for stack in stacks.values() for i in stack)
    scale = Scale.of(job)
    found: dict[str, Nearest] = {}
    for gap, place in ((job.gap[gap], job.place[place]) for gap, place in job.alone.items()):
        if outcome.gaps[gap.name].verdict != "outside":
            continue
        usable = screening.suits[place.name]
        (least, most), own = wanted(job, gap), Counter(stacks.get(place.name, ()))
        kinds = nearest_stack(
            [scale.ticks(job.stock[i].part.thickness.best) for i in usable],
            [supply[i] - used[i] + own[i] for i in usable],
            place.most_pieces,
            *scale.within(least, most),
            fewest=place.fewest_pieces,
        )
        tried = [_with(job, gap, stack) for stack in {tuple(usable[k] for k in kinds), place.installed}]
        found[gap.name] = min(tried, key=lambda near: (near.off, len(near.stack), near.stack))
    return found


def _with(job: Job, gap: Gap, stack: Stack) -> Nearest:
    after = after_with(job, gap, stack)
    return Nearest(stack, after, off_by(after.best, gap.window))
