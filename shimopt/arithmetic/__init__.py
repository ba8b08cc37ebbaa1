"""Plain arithmetic: what a set of stacks does to the gaps. Knows no solver; every plan passes it before it is shown."""

from shimopt.arithmetic.audit import audit
from shimopt.arithmetic.chance_inside import chance_inside, errors_after
from shimopt.arithmetic.clearance import after_shimming, off_by, thickness_of, verdict_of
from shimopt.arithmetic.outcome import BalanceOutcome, GapOutcome, Outcome, outcome_of

__all__ = [
    "BalanceOutcome",
    "GapOutcome",
    "Outcome",
    "after_shimming",
    "audit",
    "chance_inside",
    "errors_after",
    "off_by",
    "outcome_of",
    "thickness_of",
    "verdict_of",
]
