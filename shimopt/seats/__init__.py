"""Does a part suit a seat? One function per rule, each finding with its numbers."""

from shimopt.seats.all_rules import RULES, OnSeat, on_place_all, on_seat, on_seat_all
from shimopt.seats.finding import Finding, Grade
from shimopt.seats.part_rules import least_left, to_make_thinner
from shimopt.seats.screening import Screening, screen
from shimopt.seats.stack_rules import (
    bores_alike,
    fitting_order,
    lies_otherwise,
    order_matters,
    stack_findings,
    with_hard_between,
)

__all__ = [
    "RULES",
    "Finding",
    "Grade",
    "OnSeat",
    "Screening",
    "bores_alike",
    "fitting_order",
    "least_left",
    "lies_otherwise",
    "on_place_all",
    "on_seat",
    "on_seat_all",
    "order_matters",
    "screen",
    "stack_findings",
    "to_make_thinner",
    "with_hard_between",
]
