"""What the plan is weighed against: the best with nothing fitted, and with each further piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic import Outcome, audit, outcome_of
from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.choose import Choice
from shimopt.choose.choices import best_by_pieces
from shimopt.job import Job
from shimopt.seats import Screening
from shimopt.watch import Watch

__all__ = ["Alternative", "alternatives"]


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
