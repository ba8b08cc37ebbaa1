"""Rules about a finished stack as a whole: bores alike, the order of its pieces, pieces that stand over a groove.

They cannot belong to a part, for they depend on what else is in the stack; so they are told after the choice and do not
count as a `caution` in its levels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.job import Job, Place, Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.seats.finding import Broken, Finding
from shimopt.seats.part_facts import StackOverGroove, StandsOverGroove
from shimopt.seats.rules import found
from shimopt.seats.shaft import over_groove
from shimopt.seats.stack_facts import FromMemory, MixedBores, StackOrder

__all__ = ["DEFAULT_ORDER", "bores_alike", "fitting_order", "stack_findings"]

DEFAULT_ORDER = "thin between thick"
# common practice, no source: bores of one stack that differ by more do not sit on one another
_ALIKE = 200_000


def bores_alike(parts: Sequence[Part], bore: Bracket | None = None) -> bool:
    """Whether the known bores of pieces, and `bore`, are near enough to lie on one another."""
    bores = [part.inner.best for part in parts if part.inner is not None] + ([bore.best] if bore else [])
    return len(bores) < 2 or max(bores) - min(bores) <= _ALIKE


def fitting_order(stack: Sequence[int], stock: Sequence[StockLine], order: str = "") -> tuple[int, ...]:
    """The pieces of a stack in the order in which they go in, the one at the face first.

    "thin between thick" (common practice where the seat says nothing): the thickest at the two ends, the thinnest in
    the middle; "thin outside", as cover packs are laid: the other way round.
    """

    def size(index: int) -> tuple[Fraction, int]:
        return stock[index].part.thickness.best, index

    outer_first = sorted(stack, key=size, reverse=(order or DEFAULT_ORDER) == DEFAULT_ORDER)
    # dealt to the two ends in turn: first, last, second, last but one ...
    front, back = outer_first[0::2], outer_first[1::2]
    return (*front, *reversed(back))


def stack_findings(job: Job, stacks: Mapping[str, Sequence[int]]) -> list[Finding]:
    """What there is to say of the stacks of a finished plan."""
    findings = []
    for place in job.places:
        stack = stacks.get(place.name, ())
        seat = place.seat or Seat("")
        if len(stack) > 1:
            findings += _mixed_bores(place, seat, stack, job.stock) + _over_groove(place, seat, stack, job.stock)
        if len({job.stock[i].part.thickness.best for i in stack}) > 1:
            findings.append(
                Finding(
                    place=place.name,
                    grade="note",
                    fact=StackOrder(order=seat.order or DEFAULT_ORDER, stated=bool(seat.order)),
                )
            )
        findings += _from_memory(place, stack, job.stock)
    return findings


def _mixed_bores(place: Place, seat: Seat, stack: Sequence[int], stock: Sequence[StockLine]) -> list[Finding]:
    parts = [stock[i].part for i in stack]
    if bores_alike(parts):
        return []
    bores = [part.inner.best for part in parts if part.inner is not None]
    low, high = min(bores), max(bores)
    return [found(Broken("caution", MixedBores(smallest=low, largest=high, allowed=_ALIKE)), seat, place=place.name)]


def _over_groove(place: Place, seat: Seat, stack: Sequence[int], stock: Sequence[StockLine]) -> list[Finding]:
    """Pieces that are carried next to the face, and are not where the order of the stack puts them."""
    findings, start = [], Fraction(0)
    for index in fitting_order(stack, stock, seat.order):
        part = stock[index].part
        answer, at_face = over_groove(part, seat, start), over_groove(part, seat)
        if isinstance(answer, Broken) and isinstance(answer.fact, StandsOverGroove) and not isinstance(at_face, Broken):
            over = answer.fact
            fact = StackOverGroove(
                start=over.start,
                end=over.end,
                groove=over.groove,
                share=over.share,
                allowed_share=over.allowed_share,
            )
            findings.append(found(Broken("caution", fact), seat, part, place.name))
        start += part.thickness.best
    return findings


def _from_memory(place: Place, stack: Sequence[int], stock: Sequence[StockLine]) -> list[Finding]:
    """Parts of the stack whose figures nobody has seen in print."""
    parts = {stock[i].part.name: stock[i].part for i in stack if stock[i].part.unconfirmed}
    return [
        Finding(place=place.name, part=part.name, piece=part.piece, grade="note", fact=FromMemory(note=part.note))
        for part in parts.values()
    ]
