"""Gaps whose places act together as one gap of an order: the stacks of all their places, and what each choice serves.

Readings by blades are all that there are; of any other gauge a few are looked at, which asks for no more than all
would, so that bounds hold for all of them. What a purchase leaves open between them is known (`choices_together.py`):
there one more is looked at, until nothing is left open (`gaps_together.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import combinations_with_replacement, pairwise
from math import comb, lcm, prod

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack, pieces_in, thickness_of, times
from shimopt.job import Gap, Job
from shimopt.ordering.choices_together import MOST_CELLS, Axis, Choices, Numbers, Truths
from shimopt.ordering.readings_together import Range, Together

# beyond so many stacks of a place, choices of them and choices that serve, all this takes too long
_MOST_STACKS, _MOST_CHOICES, _MOST_SERVING = 20_000, 2_000_000, 150_000

ByPlace = Mapping[str, Sequence[Stack]]


def choices_together(
    asked: Together, usable: Mapping[str, Sequence[int]], most_of: Mapping[int, int], *, balanced: bool = False
) -> Choices | None:
    """All choices of stacks that serve any of the readings; None where there are too many, or none.

    Parameters: usable, the stock lines that suit each place; most_of, how many pieces of each line can be had;
    balanced, whether only what keeps all balances counts, at every reading where anything does.
    """
    job = asked.job
    if any(place.installed for place in job.places) or prod(len(d.pairs) or 1 for d in asked.demands) > MOST_CELLS:
        return None
    by_place = dict[str, list[Stack]]()
    # the place of a gap that no other moves first: the sooner is left out what serves nothing
    few = sorted(job.gaps, key=lambda gap: len(gap.effects))
    for place in (job.place[name] for name in dict.fromkeys(name for gap in few for name, _ in gap.effects)):
        lines = [line for line in usable[place.name] if most_of[line] > 0]
        counts = [0, *range(max(1, place.fewest_pieces), place.most_pieces + 1)]
        if sum(comb(len(lines) + n - 1, n) for n in counts if lines) > _MOST_STACKS:
            return None
        by_place[place.name] = [one for n in counts for one in combinations_with_replacement(lines, n)]
    axes = [_axis(asked, number, by_place) for number in range(len(job.gaps))]
    found = _serving(asked, axes, by_place)
    if found is None:
        return None
    choices, boxes = found
    lines = sorted({line for stacks in by_place.values() for stack in stacks for line in stack})
    needs = np.zeros((len(choices), len(lines)), np.int64)
    for n, stacks in enumerate(by_place.values()):
        needs += np.array([[stack.count(line) for line in lines] for stack in stacks], np.int64)[choices[:, n]]
    # nothing asks for more than the largest of them: what is sold without end is no number of theirs
    made = (needs <= [min(most_of[line], int(needs.max(initial=0))) for line in lines]).all(axis=1)
    if not made.any():
        return None
    uneven = _uneven_with(asked, axes, by_place, choices[made]) if balanced else None
    return Choices(axes, lines, needs[made], boxes[made], uneven)


def _uneven_with(
    asked: Together, axes: Sequence[Axis], by_place: ByPlace, choices: Numbers
) -> Callable[[Numbers], Truths]:
    """At which of some readings each choice does not keep all balances that state `within`, by best estimates."""
    job, limits = asked.job, [one for one in asked.job.balances if one.within is not None]
    thick = {name: [thickness_of(stack, job.stock).best for stack in stacks] for name, stacks in by_place.items()}
    lengths = [*(at for some in thick.values() for at in some), *(at for axis in axes for at in axis.demand.pairs)]
    lengths += [Fraction(1, axis.unit) for axis in axes] + [
        Fraction(off) for one in limits for off in one.offset.values()
    ]
    effects = [effect for gap in job.gaps for _, effect in gap.effects]
    # a thickness times an effect
    unit = lcm(*(one.denominator for one in lengths)) * lcm(*(one.denominator for one in effects))

    def packs(place: str, effect: Fraction = Fraction(1)) -> Numbers:
        """How thick the stacks at a place are, or how far they move a gap."""
        return np.array([int(effect * at * unit) for at in thick[place]], np.int64)[
            choices[:, [*by_place].index(place)]
        ]

    none = np.zeros(len(choices), np.int64)
    moved = {gap.name: sum((packs(name, effect) for name, effect in gap.effects), none)[:, None] for gap in job.gaps}

    def uneven(at: Numbers) -> Truths:
        found = np.zeros((len(choices), len(at)), np.bool_)
        read = {
            gap.name: np.array([int(axis.best(x) * unit) for x in at[:, n].tolist()], np.int64)
            for n, (gap, axis) in enumerate(zip(job.gaps, axes, strict=True))
        }
        for one in limits:
            members = [packs(name)[:, None] for name in one.places] or [moved[name] + read[name] for name in one.gaps]
            names = one.places or one.gaps
            ends = [each - int(one.offset.get(name, 0) * unit) for name, each in zip(names, members, strict=True)]
            wide = np.array(np.broadcast_arrays(*ends))
            apart = wide.max(axis=0) - wide.min(axis=0)
            found |= apart > int((one.within or 0) * unit)
        return found

    return uneven


def _axis(asked: Together, number: int, by_place: ByPlace) -> Axis:
    """The readings of a gap, in parts so small that every choice serves them from one to another."""
    gap, demand = asked.job.gaps[number], asked.demands[number]
    lengths = [*asked.limits(gap, demand), demand.low, demand.high, demand.gap.reading.bracket.best, *demand.pairs]
    lengths += [end for name, _ in gap.effects for pair in _moved(asked.job, gap, name, by_place[name]) for end in pair]
    return Axis(demand, lcm(*(length.denominator for length in lengths if length is not None)))


def _serving(asked: Together, axes: Sequence[Axis], by_place: ByPlace) -> tuple[Numbers, Numbers] | None:
    """The choices of stacks that serve some reading of every gap, by number, and from which to which of each.

    Place after place: what a gap cannot have at its last place is left out at once. None where that is too much.
    """
    job, placed, choices = asked.job, list[str](), np.zeros((1, 0), np.int64)
    served: dict[str, tuple[Numbers, Numbers]] = {}
    for place, stacks in by_place.items():
        if len(choices) * len(stacks) > _MOST_CHOICES:
            return None
        more = np.tile(np.arange(len(stacks)), len(choices))[:, None]
        again = np.repeat(np.arange(len(choices)), len(stacks))
        choices = np.hstack([choices[again], more])
        served = {name: (first[again], last[again]) for name, (first, last) in served.items()}
        placed.append(place)
        kept = _equal(job, placed, by_place, choices)
        for number, gap in enumerate(job.gaps):
            if gap.name not in served and all(name in placed for name, _ in gap.effects):
                first, last = _of_gap(asked, number, axes[number], by_place, choices)
                served[gap.name] = first, last
                low, high = axes[number].whole
                # what serves a single length of many serves none that ever comes
                kept &= first < last + (axes[number].beside or int(low == high))
        choices = choices[kept]
        served = {name: (first[kept], last[kept]) for name, (first, last) in served.items()}
    boxes = np.array([served[gap.name] for gap in job.gaps]).transpose(2, 0, 1)
    return (choices, boxes) if len(choices) <= _MOST_SERVING else None


def _of_gap(asked: Together, number: int, axis: Axis, by_place: ByPlace, choices: Numbers) -> tuple[Numbers, Numbers]:
    """The first and last reading of a gap that each choice serves; from above to for none."""
    gap, names, unit = asked.job.gaps[number], [*by_place], axis.unit
    low, high = asked.limits(gap, asked.demands[number])

    def whole(lengths: Iterable[Fraction]) -> Numbers:
        return np.array([int(length * unit) for length in lengths], np.int64)

    least, most = np.zeros((2, len(choices)), np.int64)
    for name, _ in gap.effects:
        moved, n = _moved(asked.job, gap, name, by_place[name]), names.index(name)
        least += whole(least for least, _ in moved)[choices[:, n]]
        most += whole(most for _, most in moved)[choices[:, n]]
    demand, (start, end) = axis.demand, axis.whole
    first = np.full_like(least, start) if low is None else int(low * unit) - least
    last = np.full_like(most, end) if high is None else int(high * unit) - most
    if demand.pairs:
        shown = whole(demand.pairs)
        first = first if low is None else np.searchsorted(shown, first, "left")
        last = last if high is None else np.searchsorted(shown, last, "right") - 1
    if demand.no_blade_goes is not None:
        told = [n for n, x in enumerate(demand.pairs) if demand.told(x, x)]
        start, end = (told[0], told[-1]) if told else (1, 0)
    return np.maximum(first, start), np.minimum(last, end)


def _moved(job: Job, gap: Gap, name: str, stacks: Sequence[Stack]) -> list[Range]:
    """How much each stack at a place moves a gap, least and most [nm]."""
    effect = dict(gap.effects)[name]
    moved = [times(effect, thickness_of(stack, job.stock), gap.reach(name)) for stack in stacks]
    return [(Fraction(one.low), Fraction(one.high)) for one in moved]


def _equal(job: Job, placed: Sequence[str], by_place: ByPlace, choices: Numbers) -> npt.NDArray[np.bool_]:
    """Whether packs that must match do in each choice, as far as places have theirs."""
    at, numbers = {name: n for n, name in enumerate(placed)}, dict[tuple[tuple[str, Fraction], ...], int]()

    def packs(name: str) -> Numbers:
        held = [pieces_in(stack, job.stock) for stack in by_place[name]]
        return np.array([numbers.setdefault(pieces, len(numbers)) for pieces in held], np.int64)[choices[:, at[name]]]

    alike = np.ones(len(choices), np.bool_)
    for one, other in (pair for names in job.equal for pair in pairwise([n for n in names if n in at])):
        alike &= packs(one) == packs(other)
    return alike
