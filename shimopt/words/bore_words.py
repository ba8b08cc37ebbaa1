"""Which bores a seat takes: for whoever holds the pieces of a parcel against a card."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.ordering.order_result import Order
from shimopt.seats.shaft_rules import allowed_play
from shimopt.words.speaker import Speaker

# nobody writes a bore in thou or micrometres; the other is to how many decimals a caliper shows it
_OF_BORES = {"mm": ("mm", 2), "um": ("mm", 2), "in": ("in", 3), "thou": ("in", 3)}


def bores_taken(order: Order, job: int, seat: Seat | None, stacks: Iterable[Stack]) -> Iterator[str]:
    """`bores 16.01 to 16.39 mm: a smaller one does not go on, a larger one may hang off centre`, of what goes in."""
    bored = any(order.stock[i].part.inner is not None for stack in stacks for i in stack)
    if seat is None or seat.shaft is None or not bored:
        return
    unit, digits = _OF_BORES[order.jobs[job].unit]
    least, most = Fraction(seat.shaft.high), Fraction(seat.shaft.low + allowed_play(seat, seat.shaft))
    if least < most:
        ends = Bracket(least, (least + most) / 2, most).inward(unit, digits)
        said = Speaker(unit).bracket(ends.low, ends.high)
        yield f"bores {said}: a smaller one does not go on, a larger one may hang off centre"
