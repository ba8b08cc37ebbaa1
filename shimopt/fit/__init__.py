"""Does a part suit a seat? One function per rule, each finding with its numbers."""

from shimopt.fit.finding import Finding, Grade
from shimopt.fit.rules import RULES, OnSeat, on_seat
from shimopt.fit.screen import Screening, screen
from shimopt.fit.stacked import bores_alike, fitting_order, stack_findings

__all__ = [
    "RULES",
    "Finding",
    "Grade",
    "OnSeat",
    "Screening",
    "bores_alike",
    "fitting_order",
    "on_seat",
    "screen",
    "stack_findings",
]
