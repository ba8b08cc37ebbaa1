"""What one gap may ask for on the day of the final build.

The best estimate of the final reading may fall anywhere in today's bracket, widened by `shift`. The final reading will
be as uncertain as today's, unless the job says otherwise: with a best estimate `x` the gap then lies in
`x - below .. x + above`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import ceil
from typing import Literal

from shimopt.arithmetic.clearance import NOTHING, stands_out, thickness_of
from shimopt.arithmetic.play_left import waiting
from shimopt.candidates import Scale
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.readings import Told
from shimopt.reasons.about_trial import trial_doubts
from shimopt.seats import Finding, Screening

# more pairs of blades than a card has rows for: its stretches say it shorter
_MOST_PAIRS = 60
WhyNot = Literal["no place", "several gaps", "several places", "equal", "tight", "with play", "as set", "by torque"]
# the places of such gaps act together: a small table can serve them
TOGETHER: frozenset[WhyNot] = frozenset({"several gaps", "several places", "equal"})


@dataclass(frozen=True)
class Demand:
    """The final readings that one gap may show [nm], and the stock lines that may serve it.

    `low..high` are the best estimates that must be served, `below` and `above` how far the gap may then lie from them,
    `job` the number of the job that the gap belongs to, `was_in` the thickness that was in during the reading [nm],
    `by_blades` whether all that has to be served is what pairs of blades can show, `doubts` why today's reading
    may not hold in service: then it cannot vouch for a final one that it does not agree with; `compared` whether a
    balance that states how uneven it may be looks at the gap or its place.
    """

    job: int
    gap: Gap
    place: Place
    _: KW_ONLY
    low: Fraction
    high: Fraction
    below: Fraction
    above: Fraction
    usable: tuple[int, ...]
    was_in: Bracket = NOTHING
    by_blades: bool = False
    doubts: tuple[Finding, ...] = ()
    compared: bool = False

    @property
    def effect(self) -> Fraction:
        """How much the gap changes per unit of thickness at its place."""
        return self.gap.effects[0][1]

    @property
    def moves(self) -> tuple[Fraction, Fraction]:
        """How much the gap moves per unit of thickness, at least and at most, whichever way."""
        one, two = self.gap.reach(self.place.name)
        return (Fraction(0) if one * two < 0 else min(abs(one), abs(two))), max(abs(one), abs(two))

    @property
    def blind(self) -> bool:
        """Whether no blade went: then that again is all that the final reading can show."""
        read = self.gap.reading
        return read.no_blade is not None and read.unmoved is None and self.gap.final_reading is None

    @cached_property
    def step(self) -> Fraction | None:
        """How far apart the blades are that the final reading can be told by, None where blades cannot tell it [nm]."""
        if self.gap.blades is None or self.blind:
            return None
        step = Fraction(self.gap.blades[1] - self.gap.blades[0])
        told = min(self.below, self.above) >= step / 2
        return step if told and (self.width + self.below + self.above) / step <= _MOST_PAIRS else None

    @property
    def read_room(self) -> tuple[Fraction, Fraction]:
        """How far below and above what is read the gap can lie, counted as it is read [nm]."""
        return (self.above, self.below) if self.gap.reading.opens else (self.below, self.above)

    @cached_property
    def pairs(self) -> list[Fraction]:
        """The best estimates in the range that a pair of neighbouring blades can show, rising [nm]."""
        if self.blind:
            return [self.gap.reading.bracket.best]
        step = self.step
        if step is None or self.gap.blades is None:
            return []
        middle = self.gap.reading.sign * (self.gap.blades[0] + step / 2)
        middle += ceil((self.low - middle) / step) * step
        return [middle + n * step for n in range(int((self.high - middle) // step) + 1)]

    @property
    def told_by(self) -> Told:
        """How blades tell its best estimate where no pair of them is a row; as a pair does, of a table's from .. to."""
        if self.gap.final_reading is not None or self.step is not None or self.blind or not self.below + self.above:
            return ""
        return "pair" if self.gap.reading.kind == "table" else self.gap.reading.by

    def as_read(self, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction] | None:
        """The best estimates from .. to as pairs of blades show them: each pair stands for all that is nearest to it.

        None where they hold no pair.
        """
        pairs = self.pairs
        held = [n for n, middle in enumerate(pairs) if start <= middle <= end]
        if not held:
            return None
        first, last = held[0], held[-1]
        return (
            self.low if first == 0 else (pairs[first - 1] + pairs[first]) / 2,
            self.high if last == len(pairs) - 1 else (pairs[last] + pairs[last + 1]) / 2,
        )

    @cached_property
    def no_blade_goes(self) -> Fraction | None:
        """Up to where (under a cover: from where) final readings may be of a gap that no blade goes into [nm].

        It may be closed up and more there: no stack is known to be right. None where there is no such reading.
        """
        step, sign = self.step, self.gap.reading.sign
        if not self.by_blades or step is None or self.blind:
            return None
        closed = [middle for middle in self.pairs if sign * middle <= step / 2]
        return (max(closed) if sign > 0 else min(closed)) + sign * step / 2 if closed else None

    def where_a_blade_goes(self, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction]:
        """Of readings from .. to those at which a blade goes; from above to for none."""
        if (closed := self.no_blade_goes) is None:
            return start, end
        return (max(start, closed), end) if self.gap.reading.sign > 0 else (start, min(end, closed))

    def told(self, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction] | None:
        """As `as_read`, of the pairs of which a blade goes."""
        return self.as_read(*self.where_a_blade_goes(start, end))

    @property
    def further(self) -> Demand:
        """The same at all that could be read where today's reading holds, and a step more at both ends."""
        reach = self.below + self.above
        return replace(self, low=self.low - self.above - reach, high=self.high + self.below + reach, by_blades=False)

    @property
    def width(self) -> Fraction:
        """How long the range of readings is."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Unanswered:
    """A gap that a card of its own cannot serve."""

    job: int
    gap: Gap
    why: WhyNot


def demands_of(
    number: int, job: Job, screening: Screening, own: Collection[int]
) -> tuple[list[Demand], list[Unanswered]]:
    """The demands of a job's gaps, in job order, and the gaps that hang together with others.

    A card looks at one gap and one place. Where a place moves several gaps, or several places one gap, what is right
    in one place depends on the readings of all of them. What may be tight already stands nobody knows where; and what
    was read while a preload still had play reads otherwise once that is set, so that no row could be used. What was
    fitted and turns as is stated stays as it is.

    Parameter: own, the stock lines that the job's own files name. What only another job names goes in here where its
    bore was held against the shaft: that a job's own parts suit where nothing is stated, its owner says; of others,
    nobody does.
    """
    tied = {place for names in job.equal for place in names}
    found, left = [], []
    waits = waiting(job)
    for gap in job.gaps:
        if job.set_by_torque(gap.name) and gap.name in job.alone:
            left.append(Unanswered(number, gap, "as set"))
            continue
        # a preload that nobody read since it was fitted is not read on the day either: it is turned
        turned = gap.reading.calculated and gap.window.wants_preload and job.turned(gap.name) is not None
        if turned and gap.running is not None and gap.name in job.alone:
            left.append(Unanswered(number, gap, "by torque"))
            continue
        if gap.may_be_tight or gap.name not in job.alone:
            why: WhyNot = "with play" if gap.name in waits else _why(job, gap, tied)
            left.append(Unanswered(number, gap, "tight" if gap.may_be_tight else why))
            continue
        place = job.place[gap.effects[0][0]]
        found.append(demand_of(number, job, gap, _usable(job, place, screening, own)))
    return found, left


def demand_of(number: int, job: Job, gap: Gap, usable: tuple[int, ...] = ()) -> Demand:
    """What one gap may show on the day; `usable` are the stock lines that may serve it at its first place."""
    read, place = gap.reading.bracket, job.place[gap.effects[0][0]]
    low, high = read.low, read.high
    below, above = gap.again or (read.best - read.low, read.high - read.best)
    if gap.reading.kind == "table":
        # the final one is told as half-way between two blades, wherever the best estimate of today's lies between its
        below = above = (below + above) / 2
    if gap.reading.after_fitting and not stands_out(read, gap.window):
        # it was read as it is to run, and is right: that is the final reading, and no other is to come
        low, high, below, above = read.best, read.best, read.best - read.low, read.high - read.best
    elif gap.final_reading is not None:
        below = above = Fraction(gap.final_reading)
    demand = Demand(
        number,
        gap,
        place,
        low=low,
        high=high,
        below=below,
        above=above,
        usable=usable,
        was_in=thickness_of(place.installed, job.stock),
        doubts=tuple(trial_doubts(job, gap)),
        compared=any(b.within is not None and gap.name in job.gaps_behind(b) for b in job.balances),
    )
    demand = _with_all_pairs(demand)
    return replace(demand, by_blades=bool(demand.pairs))


def _with_all_pairs(demand: Demand) -> Demand:
    """The same with every pair of blades that may show the gap: a pair does that wherever the gap lies between it.

    Its middle may then lie further out than the gap ever does.
    """
    step, pairs = demand.step, demand.pairs
    if step is None or not pairs:
        return demand
    first, last = pairs[0], pairs[-1]
    low = first - step if first - step / 2 > demand.low else demand.low
    high = last + step if last + step / 2 < demand.high else demand.high
    return replace(demand, low=min(low, demand.low), high=max(high, demand.high))


def _usable(job: Job, place: Place, screening: Screening, own: Collection[int]) -> tuple[int, ...]:
    by_shaft = place.seat is not None and place.seat.shaft is not None
    return tuple(
        i for i in screening.suits[place.name] if i in own or (by_shaft and job.stock[i].part.inner is not None)
    )


def _why(job: Job, gap: Gap, tied: Collection[str]) -> WhyNot:
    if len(gap.effects) != 1:
        return "several places" if gap.effects else "no place"
    place = gap.effects[0][0]
    return "equal" if place in tied and len(job.moved_by[place]) == 1 else "several gaps"


def scale_of(demands: Sequence[Demand], stock: Sequence[StockLine]) -> Scale:
    """The largest tick that divides every length that decides which readings a stack serves."""
    return Scale.dividing(_lengths(demands, stock))


def _lengths(demands: Sequence[Demand], stock: Sequence[StockLine]) -> Iterable[Fraction]:
    effects = {end for demand in demands for end in demand.moves}
    for line in stock:
        for effect in effects:
            yield effect * line.part.thickness.low
            yield effect * line.part.thickness.high
    for demand in demands:
        window = demand.gap.window
        yield from (demand.low, demand.gap.reading.bracket.best, demand.high, demand.below, demand.above)
        yield from (middle / 2 for middle in demand.pairs[:2])
        yield from (Fraction(limit) for limit in (window.min, window.max) if limit is not None)
