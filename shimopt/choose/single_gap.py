"""One gap alone, again and again: the best stack of a seat whose stacks were listed once.

What is asked of a stack is told by sorted sums: of stacks alike in pieces, cautions and tolerances, only those beside a
few thicknesses can be the best, where the clearance meets a limit, is sure to be within, or meets what is aimed at.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from typing import Literal, NamedTuple, Self, cast

from shimopt.arithmetic.clearance import Stack, unproven
from shimopt.candidates import stacks_between
from shimopt.errors import FaultError
from shimopt.job import Gap, Job, Window
from shimopt.lengths import Bracket, beyond
from shimopt.parts import StockLine
from shimopt.seats import Screening

# what besides the seat's stacks decides about a gap: no place moves it, or several; its effect is another than -1; its
# place moves other gaps too; it is compared with others; its pack is to equal another; its place holds pieces, or did;
# its place asks for pieces; it may hold preload already; a chance decides; the levels stand in another order
NotAnswered = Literal[
    "no place",
    "places",
    "effect",
    "shared",
    "compared",
    "equal",
    "pieces",
    "fewest",
    "tight",
    "chance",
    "priority",
]
_MOST_STACKS = 400_000


class _Kind(NamedTuple):
    """Stacks alike in pieces, cautions and tolerance, from thin to thick; `sizes` their best estimates.

    `first_to` and `first_from` hold, by number, the first in natural order of those up to it and from it on.
    """

    pieces: int
    careful: int
    below: int
    above: int
    sizes: list[int]
    stacks: list[Stack]
    first_to: list[int]
    first_from: list[int]


class SeatStacks:
    """All stacks of a seat, for gaps that a place of their own closes, where brackets decide and nothing is bought.

    Parameters: stock; usable and cautions, lines that suit and those among them to fit with care; most, the most pieces
    of a stack. Raises TooManyError where there are too many stacks to list.
    """

    def __init__(self, stock: Sequence[StockLine], usable: Sequence[int], cautions: frozenset[int], most: int) -> None:
        sizes = [stock[i].part.thickness for i in usable]
        # every length is a whole number of nanometres, every middle of half ones
        halves = {i: tuple(_halves(end) for end in (b.low, b.best, b.high)) for i, b in zip(usable, sizes, strict=True)}
        counts = [stock[i].on_hand for i in usable]
        listed = stacks_between([halves[i][1] for i in usable], counts, most, None, None, _MOST_STACKS)
        kinds: defaultdict[tuple[int, int, int, int], dict[int, Stack]] = defaultdict(dict)
        for stack in sorted([(), *(tuple(usable[k] for k in found) for found in listed)]):
            low, best, high = (sum(halves[i][end] for i in stack) for end in range(3))
            careful = sum(i in cautions for i in stack)
            kinds[len(stack), careful, best - low, high - best].setdefault(best, stack)
        self.kinds = [_kind(key, kinds[key]) for key in sorted(kinds)]

    @classmethod
    def of(cls, job: Job, screening: Screening, gap: Gap) -> Self | None:
        """The stacks for a gap of a job; None for a gap that is not answered here (`not_answered` says why).

        Raises TooManyError where there are too many stacks to list.
        """
        if not_answered(job, gap) is not None:
            return None
        place = job.place[gap.effects[0][0]]
        return cls(job.stock, screening.suits[place.name], screening.cautions[place.name], place.most_pieces)

    def best(self, reading: Bracket, window: Window) -> Stack:
        """The stack that a plan of this gap alone chooses.

        Levels in their usual order: outside, miss, unproven, doubt, pieces, cautions, target; then natural order.
        """
        low, read, high = (_number(2 * end) for end in (reading.low, reading.best, reading.high))
        least, most, aim = (None if end is None else _halves(end) for end in (window.min, window.max, window.target))
        found: tuple[tuple[int, ...], Stack] | None = None
        for kind in self.kinds:
            if found is not None and found[0] < (0, 0, 0, kind.pieces, kind.careful):
                break  # surely inside already, with less
            # how far the clearance can be off its best estimate
            under, over = read - low + kind.above, high - read + kind.below
            for at in _worth_a_look(kind, read, under, over, (least, most, aim)):
                after = read - kind.sizes[at]
                miss = beyond(after, after, least, most)
                # a stack that leaves the gap outside is no option; leaving the place as it is always is one
                if miss and kind.stacks[at]:
                    continue
                doubt = 0 if miss else beyond(after - under, after + over, least, most)
                off = 0 if aim is None else abs(after - aim)
                value = (miss, int(unproven(miss, doubt, None)), doubt, kind.pieces, kind.careful, off), kind.stacks[at]
                found = value if found is None else min(found, value)
        return found[1] if found is not None else ()


def not_answered(job: Job, gap: Gap) -> NotAnswered | None:
    """Why the best stack of a gap cannot be told from its seat's stacks alone; None where it can."""
    if len(gap.effects) != 1:
        return "no place" if not gap.effects else "places"
    place = job.place[gap.effects[0][0]]
    if any(end != -1 for end in (gap.effects[0][1], *gap.reach(place.name))):
        return "effect"
    if [one.name for one in job.moved_by[place.name]] != [gap.name]:
        return "shared"
    if any({gap.name, place.name} & {*balance.gaps, *balance.places} for balance in job.balances):
        return "compared"
    if any(place.name in names for names in job.equal):
        return "equal"
    if place.installed or place.came_out:
        return "pieces"
    if place.fewest_pieces:
        return "fewest"
    if gap.may_be_tight:
        return "tight"
    if gap.least_chance is not None:
        return "chance"
    return "priority" if job.priority else None


def _kind(key: tuple[int, int, int, int], by_size: dict[int, Stack]) -> _Kind:
    sizes = sorted(by_size)
    stacks = [by_size[size] for size in sizes]
    numbers = range(len(stacks))

    def first(one: int, other: int) -> int:
        return min(one, other, key=stacks.__getitem__)

    return _Kind(*key, sizes, stacks, list(accumulate(numbers, first)), list(accumulate(numbers[::-1], first))[::-1])


def _worth_a_look(
    kind: _Kind, read: int, under: int, over: int, window: tuple[int | None, int | None, int | None]
) -> set[int]:
    """Numbers of the stacks among which the best of a kind is.

    Doubt is flat between two thicknesses and rises outside them, the distance to what is aimed at rises on both sides
    of it: the best lies beside one of these, beside a limit, or, where nothing is aimed at, is the first of all that
    are sure.
    """
    least, most, aim = window
    sizes, beside = kind.sizes, {0}
    ends = [read - end for end in window if end is not None]
    if least is not None:
        ends.append(read - least - under)
    if most is not None:
        ends.append(read - most + over)
    for end in ends:
        at = bisect_left(sizes, end)
        beside |= {at - 1, at}
        if aim is None and (to := bisect_right(sizes, end)) > 0:
            beside |= {kind.first_to[to - 1]} if most is None else set()
        if aim is None and least is None and at < len(sizes):
            beside.add(kind.first_from[at])
    # a thickness that is met exactly has the next one beside it too
    return {at for one in beside for at in (one, one + 1) if 0 <= at < len(sizes)}


def _number(length: Fraction) -> int:
    """The same, as an int where it is whole: that is faster. The mean of several pulls may be finer, and stays."""
    return length.numerator if length.denominator == 1 else cast("int", length)


def _halves(length: Fraction | int) -> int:
    """A length in half nanometres. Raises FaultError where it is finer than that."""
    doubled = 2 * length
    if doubled.denominator != 1:
        raise FaultError(f"{length} nm is no whole number of half nanometres")
    return doubled.numerator
