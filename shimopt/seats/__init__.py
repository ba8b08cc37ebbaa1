"""Does a part suit a seat? One function per rule, each finding with its numbers."""

from shimopt.seats.finding import Finding, Grade
from shimopt.seats.rules import RULES, OnSeat, on_seat
from shimopt.seats.screen import Screening, screen
from shimopt.seats.stacked import bores_alike, fitting_order, stack_findings

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
