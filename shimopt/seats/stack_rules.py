"""Rules about a finished stack as a whole: bores alike, the order of its pieces, pieces that stand over a groove.

They cannot belong to a part, for they depend on what else is in the stack; so they are told after the choice and do not
count as a `caution` in its levels.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace
from fractions import Fraction

from shimopt.job import Job, Place, Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.seats.all_rules import found
from shimopt.seats.finding import Broken, Finding, Grade, Unknown, of_piece
from shimopt.seats.part_facts import SoftOnMovingFace, StackOverGroove, StandsOverGroove
from shimopt.seats.part_rules import hard_enough, material_allowed
from shimopt.seats.shaft_rules import over_groove
from shimopt.seats.stack_facts import FromMemory, MixedBores, StackOrder, WornGoesIn

_HARD = 2
_BETWEEN, _MOVING = "thin between thick", "hard or thick against what turns, thin or soft at the fixed face"
# common practice, no source: bores of one stack that differ by more do not sit on one another
_ALIKE = 200_000


def bores_alike(parts: Sequence[Part], bore: Bracket | None = None) -> bool:
    """Whether the known bores of pieces, and `bore`, are near enough to lie on one another."""
    bores = [part.inner.best for part in parts if part.inner is not None] + ([bore.best] if bore else [])
    return len(bores) < 2 or max(bores) - min(bores) <= _ALIKE


def order_of(seat: Seat | None) -> str:
    """In which order the pieces of a stack go in: as the seat says, else by common practice (no source)."""
    if seat is not None and seat.order:
        return seat.order
    return _MOVING if seat is not None and seat.moving_face else _BETWEEN


def order_matters(stack: Sequence[int], stock: Sequence[StockLine], seat: Seat | None) -> bool:
    """Whether there is an order to tell: of two, or with one thick piece only, none lies between two others.

    Only what turns sees a difference then.
    """
    if seat is not None and seat.moving_face:
        return len({(stock[i].part.thickness.best, stock[i].part.hardness, stock[i].part.form) for i in stack}) > 1
    # the two ends first
    sizes = sorted((stock[i].part.thickness.best for i in stack), reverse=order_of(seat) == _BETWEEN)
    return len(sizes) > 2 and sizes[1] != sizes[-1]


def lies_otherwise(stack: Sequence[int], stock: Sequence[StockLine], seat: Seat | None) -> bool:
    """Whether pieces lie in another order than they go in; which face is first only counts where one moves.

    Where neither the seat's order is stated nor a face moves, nothing is opened for what is only common practice.
    """
    ruled = seat is not None and (bool(seat.order) or seat.moving_face is True)
    if not ruled or not order_matters(stack, stock, seat):
        return False
    names = [stock[i].part.name for i in stack]
    order = [stock[i].part.name for i in fitting_order(sorted(stack), stock, seat)]
    return names != order and (names != order[::-1] or (seat is not None and seat.moving_face is True))


def fitting_order(stack: Sequence[int], stock: Sequence[StockLine], seat: Seat | None) -> tuple[int, ...]:
    """The pieces of a stack in the order in which they go in, the one at the fixed face first.

    Where something turns against the stack, the hardest and thickest piece goes there. "thin between thick" puts the
    thickest at the two ends, the thinnest in the middle; "thin outside", as cover packs are laid, the other way round.
    """

    def size(index: int) -> tuple[Fraction, int]:
        return stock[index].part.thickness.best, index

    def wears(index: int) -> tuple[int, Fraction, int]:
        return _stands_rubbing(stock[index].part, seat), *size(index)

    order = order_of(seat)
    if order == _MOVING:
        return tuple(sorted(stack, key=wears))
    outer_first = sorted(stack, key=size, reverse=order == _BETWEEN)
    # dealt to the two ends in turn: first, last, second, last but one ...
    front, back = outer_first[0::2], outer_first[1::2]
    laid = (*front, *reversed(back))
    turns = seat is not None and seat.moving_face and len(laid) > 1
    return tuple(reversed(laid)) if turns and wears(laid[0]) > wears(laid[-1]) else laid


def _stands_rubbing(part: Part, seat: Seat | None) -> int:
    """How well a piece stands what turns against it: `_HARD`, 1 not known, 0 soft, brittle or slotted."""
    answer = None if seat is None else hard_enough(part, seat)
    if part.form == "slotted" or isinstance(answer, Broken):
        return 0
    return 1 if isinstance(answer, Unknown) else _HARD


def stack_findings(job: Job, stacks: Mapping[str, Sequence[int]]) -> list[Finding]:
    """What there is to say of the stacks of a finished plan."""
    findings = []
    were = {i for place in job.places for i in (*place.installed, *place.came_out)}
    for place in job.places:
        stack = stacks.get(place.name, ())
        seat = place.seat or Seat("")
        if len(stack) > 1:
            findings += _mixed_bores(place, seat, stack, job.stock) + _over_groove(place, seat, stack, job.stock)
        if order_matters(stack, job.stock, seat):
            findings.append(
                Finding(
                    place=place.name,
                    grade="note",
                    fact=StackOrder(order=order_of(seat), stated=bool(seat.order)),
                )
            )
        findings += _from_memory(place, stack, job.stock)
        findings += _worn(job, place, stack, were)
    return findings


def _worn(job: Job, place: Place, stack: Sequence[int], were: Set[int]) -> Iterator[Finding]:
    """Pieces that go in and were (by stock line) found in the machine, far thinner than they are marked."""
    for i in sorted({*stack} & were - {*place.installed}):
        part = job.stock[i].part
        if part.worn and part.marked is not None:
            yield of_piece(part, place.name, "caution", WornGoesIn(under=part.marked - part.thickness.best))


def with_hard_between(findings: Iterable[Finding], job: Job, stacks: Mapping[str, Sequence[int]]) -> Iterator[Finding]:
    """The findings about parts, as they are in a finished plan: a soft piece with a hard one between is but a note.

    So is one that has to run against what turns, for it is all that goes in, and one like it did (common practice).
    """
    for finding in findings:
        fact = finding.fact
        if not isinstance(fact, SoftOnMovingFace):
            yield finding
        elif (hard := _hard_between(finding, job, stacks)) is not None:
            yield replace(finding, grade="note", fact=replace(fact, between=hard.name))
        elif job.place[finding.place].most_pieces != 1:
            yield finding
        else:
            meant = not fact.asked and _meant_to_run(finding, job)
            grade: Grade = "note" if meant else finding.grade
            yield replace(finding, grade=grade, fact=replace(fact, alone=True, meant=meant))


def _meant_to_run(finding: Finding, job: Job) -> bool:
    """Whether a piece of this material and hardness was in when the gaps were first read, or the seat names it."""
    place, was_in = job.place[finding.place], job.place[finding.place].installed
    first = (job.stock[i].part for i in (job.read_with.get(place.name, ()) if job.records else was_in))
    part = next((line.part for line in job.stock if line.part.known_by == finding.known_by), None)
    if part is None or not part.material:
        return False
    named = place.seat is not None and bool(place.seat.materials) and material_allowed(part, place.seat) is None
    return named or (part.material, part.hardness) in {(one.material, one.hardness) for one in first}


def _hard_between(finding: Finding, job: Job, stacks: Mapping[str, Sequence[int]]) -> Part | None:
    """The hard piece between what turns and the piece of this finding, in its stack; None where there is none."""
    seat = job.place[finding.place].seat
    laid = [job.stock[i].part for i in fitting_order(stacks.get(finding.place, ()), job.stock, seat)]
    at = [k for k, part in enumerate(laid) if part.known_by == finding.known_by]
    beyond = laid[at[-1] + 1 :] if at else []
    return next((part for part in reversed(beyond) if _stands_rubbing(part, seat) == _HARD), None)


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
    for index in fitting_order(stack, stock, seat):
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
    return [of_piece(part, place.name, "note", FromMemory(note=part.note)) for part in parts.values()]
