"""How thick the stacks of places that act together can be at all while every gap of theirs is inside.

What lies beyond cannot be part of such a plan, so most stacks need never be looked at. Lengths are in mm here, so that
the solver sees numbers of ordinary size; the ranges are bounds that hold exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import combinations
from math import lcm
from typing import NamedTuple

from shimopt.arithmetic.clearance import stays, thickness_of
from shimopt.arithmetic.needed import without_shims
from shimopt.candidates import Scale
from shimopt.job import Job

_MM = 1_000_000
_DENOMINATOR = 10**7
# of more gaps of two places a solver is asked
_GAPS_BY_HAND = 4


class Limit(NamedTuple):
    """`sum of terms <= limit`."""

    terms: Mapping[str, Fraction]
    limit: Fraction


# between which ends something lies
Box = tuple[Fraction, Fraction]


def stack_box(job: Job, place: str, usable: Sequence[int]) -> Box:
    """The thinnest and the thickest that a place can hold [mm]: what is in, or any stack of the parts that suit."""
    here = job.place[place]
    installed = thickness_of(here.installed, job.stock).best / _MM
    sizes = [job.stock[i].part.thickness.best / _MM for i in usable]
    if stays(job, here) or (here.fewest_pieces and not sizes):
        return installed, installed
    thinnest, thickest = min(sizes, default=Fraction(0)), max(sizes, default=Fraction(0))
    return min(installed, here.fewest_pieces * thinnest), max(installed, here.most_pieces * thickest)


def _limits(job: Job, gaps: Sequence[str], *, slack: bool) -> list[Limit]:
    """The windows of gaps as limits on thickness; with `slack` each may be missed by an amount of its own."""
    limits = []
    for name in gaps:
        gap = job.gap[name]
        bare = without_shims(job, gap).best / _MM
        terms = {f"at {place}": effect for place, effect in gap.effects}
        off = {f"off {name}": Fraction(-1)} if slack else {}
        if gap.window.max is not None:
            limits.append(Limit({**terms, **off}, Fraction(gap.window.max, _MM) - bare))
        if gap.window.min is not None:
            limits.append(Limit({**{at: -e for at, e in terms.items()}, **off}, bare - Fraction(gap.window.min, _MM)))
    return limits


def corners(job: Job, gaps: Sequence[str], boxes: Mapping[str, Box]) -> list[dict[str, Fraction]]:
    """The corners of all that one or two places can hold with these gaps inside [mm]; none where nothing can, or where
    there is more to look at than a solver takes to load.

    Within ends all round, what can be held has a corner, where the ends of two limits meet; and what is least or most
    of a thickness is so at one.
    """
    if len(boxes) > 2 or len(gaps) > _GAPS_BY_HAND:
        return []
    names = list(boxes)
    rows = []
    for limit in _limits(job, gaps, slack=False):
        rows.append(_in_whole(limit.limit, [limit.terms.get(f"at {name}", Fraction(0)) for name in names]))
    for at, (low, high) in enumerate(boxes.values()):
        one = [Fraction(at == other) for other in range(len(names))]
        rows += [_in_whole(high, one), _in_whole(-low, [-factor for factor in one])]
    # by corner the parts of its thicknesses, all of one whole above nothing
    if len(names) == 1:
        met = {(limit * (-1 if a < 0 else 1), 0, abs(a)) for a, _, limit in rows if a}
    else:
        met = {
            (sign * (b * q - d * p), sign * (a * d - c * b), sign * across)
            for (a, p, b), (c, q, d) in combinations(rows, 2)
            if (across := a * q - c * p) and (sign := 1 if across > 0 else -1)
        }
    kept = {(x, y, whole) for x, y, whole in met if all(a * x + p * y <= b * whole for a, p, b in rows)}
    corners_at = {(Fraction(x, whole), Fraction(y, whole)) for x, y, whole in kept}
    return [dict(zip(names, at, strict=False)) for at in corners_at]


def _in_whole(limit: Fraction, factors: Sequence[Fraction]) -> tuple[int, int, int]:
    """A limit on one or two thicknesses in whole numbers: their factors, 0 where there is no second, and the limit."""
    parts = lcm(limit.denominator, *(factor.denominator for factor in factors))
    first, second, *_ = (int(factor * parts) for factor in (*factors, Fraction(0)))
    return first, second, int(limit * parts)


def apart(job: Job, gaps: Sequence[str], boxes: Mapping[str, Box]) -> Fraction:
    """By how much in all the windows of these gaps must surely be missed, whatever thickness goes where [nm].

    Parameters: boxes, what each place can hold [mm]. Nothing where some thickness brings them all inside.
    """
    if corners(job, gaps, boxes):
        return Fraction(0)
    far = Fraction(10**5)
    box = {f"at {place}": ends for place, ends in boxes.items()}
    box |= {f"off {name}": (Fraction(0), far) for name in gaps}
    bounds = _Bounds(_limits(job, gaps, slack=True), box)
    return max(Fraction(0), bounds.least({f"off {name}": Fraction(1) for name in gaps})) * _MM


def thickness_ranges(
    job: Job,
    gaps: Sequence[str],
    boxes: Mapping[str, Box],
    miss: Fraction | None = None,
    over: Callable[[], bool] = lambda: False,
) -> dict[str, Box]:
    """Between which ends the thickness of each place surely lies while these gaps are all inside [nm].

    Parameters: miss, while they miss their windows by no more than that in all [nm]; over, asked before every place
    whether to stop there: of the others nothing is said.
    """
    if miss is None and (found := corners(job, gaps, boxes)):
        at = {name: [corner[name] for corner in found] for name in boxes}
        return {name: (min(ends) * _MM, max(ends) * _MM) for name, ends in at.items()}
    limits, box = _limits(job, gaps, slack=miss is not None), {f"at {name}": ends for name, ends in boxes.items()}
    if miss is not None:
        box |= {f"off {name}": (Fraction(0), miss / _MM) for name in gaps}
        limits.append(Limit({f"off {name}": Fraction(1) for name in gaps}, miss / _MM))
    bounds, ranges = _Bounds(limits, box), dict[str, Box]()
    for name in boxes:
        if over():
            break
        ends = (bounds.least({f"at {name}": Fraction(1)}), -bounds.least({f"at {name}": Fraction(-1)}))
        ranges[name] = (ends[0] * _MM, ends[1] * _MM)
    return ranges


@dataclass(frozen=True, slots=True)
class Known:
    """What is sure of places that act together before anything is chosen.

    `within` is the least and the most thickness that can matter at a place [ticks]; `fights` holds gaps whose windows
    miss each other, and by how much in all [ticks].
    """

    within: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    fights: Mapping[tuple[str, ...], int] = field(default_factory=dict)


NOTHING_KNOWN = Known()


def known_of(
    job: Job, scale: Scale, usable: Callable[[str], Sequence[int]], over: Callable[[], bool] = lambda: False
) -> Known:
    """All that is sure of a job; `usable` gives the stock lines that a place may have, `over` says when to stop.

    Ranges hold only where `outside` is looked at before all else: every plan worth having then brings these gaps
    inside.
    """
    within: dict[str, tuple[int, int]] = {}
    fights: dict[tuple[str, ...], int] = {}
    for cluster in job.clusters:
        if cluster.alone or cluster.fixed:
            continue
        if over():
            break
        boxes = {name: stack_box(job, name, usable(name)) for name in cluster.places}
        if short := apart(job, cluster.gaps, boxes):
            fights[cluster.gaps] = scale.least(short)
        elif job.levels[0] == "outside":
            within |= _in_ticks(scale, thickness_ranges(job, cluster.gaps, boxes, over=over))
    return Known(within, fights)


def narrowed(job: Job, scale: Scale, usable: Callable[[str], Sequence[int]], known: Known, most: int) -> Known:
    """The same where all windows that fight are missed by no more than `most` in all [ticks]."""
    within = dict(known.within)
    for cluster in job.clusters:
        if cluster.gaps in known.fights:
            boxes = {name: stack_box(job, name, usable(name)) for name in cluster.places}
            others = sum(short for gaps, short in known.fights.items() if gaps != cluster.gaps)
            ranges = thickness_ranges(job, cluster.gaps, boxes, scale.length(most - others))
            within |= _in_ticks(scale, ranges)
    return Known(within, known.fights)


def _in_ticks(scale: Scale, ranges: Mapping[str, Box]) -> dict[str, tuple[int, int]]:
    return {name: (max(0, scale.least(least)), scale.most(most)) for name, (least, most) in ranges.items()}


class _Bounds:
    """Numbers that costs over a box under limits are surely not below, whatever a solver says."""

    def __init__(self, limits: Sequence[Limit], box: Mapping[str, Box]) -> None:
        from shimopt.proof.highs import RowPrices  # loaded only where a question comes up that needs it

        self.limits, self.box = limits, box
        at = {name: number for number, name in enumerate(box)}
        rows = [({at[name]: float(factor) for name, factor in row.terms.items()}, float(row.limit)) for row in limits]
        self.prices = RowPrices(rows, [(float(low), float(high)) for low, high in box.values()])
        self.number = at

    def least(self, cost: Mapping[str, Fraction]) -> Fraction:
        """What no point of the box under these limits costs less than.

        For any prices not above zero on rows `sum of terms <= limit`, every point of the box costs at least

            sum of price × limit  +  per variable its least priced cost within its ends

        (weak duality). The prices come from a solver, rounded to fractions with small denominators; mostly that is the
        optimum itself.
        """
        found = self.prices.at_least({self.number[name]: float(factor) for name, factor in cost.items()})
        priced, least = dict(cost), Fraction(0)
        for limit, told in zip(self.limits, found, strict=False):
            # most limits say nothing of most places
            if told < 0 and (price := Fraction(told).limit_denominator(_DENOMINATOR)):
                least += price * limit.limit
                for name, factor in limit.terms.items():
                    priced[name] = priced.get(name, Fraction(0)) - price * factor
        return least + sum((min(cost * end for end in self.box[name]) for name, cost in priced.items()), Fraction(0))
