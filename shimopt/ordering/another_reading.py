"""What one more reading of a gap would tell: every pair of blades that could be read, weighted, planned with each.

Where today's reading has the gap, and how it is spread there, says how likely each outcome of another one is. With each
outcome the gap, and what shares its places, is planned again with what is on hand and the other places leave: where it
is surely inside then, that reading would settle it. What is sure is decided in whole numbers; the weights are exact
where errors are bounded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from functools import partial
from math import ceil, floor
from typing import Literal, NamedTuple

from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.arithmetic.clearance import Stack, after_with, turnover, verdict_of
from shimopt.candidates import TooManyError
from shimopt.choose.single_gap import SeatStacks
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.planner import Decision, chosen_stacks
from shimopt.probability import Error, Even, Student, half_width, probability
from shimopt.readings import Reading
from shimopt.readings.indicator import Dial, indicator_reading
from shimopt.readings.reading import LIKELY_SHARE, estimated
from shimopt.seats import screen

# blades that sets of feelers have, from coarse to fine, in millimetres and in inches (common practice, no source) [nm]
_BLADES = {"mm": (50_000, 10_000), "in": (25_400, 12_700)}
# graduation of a dial and its error, ± [nm]: the usual one as where nobody states it, the fine one by JIS B 7503:2011
_DIALS: dict[str, tuple[tuple[int, int | None], ...]] = {
    "mm": ((10_000, None), (1_000, 5_000)),
    "in": ((12_700, None),),
}
USUAL_DIALS = frozenset(dials[0][0] for dials in _DIALS.values())
_BY_BLADES = frozenset({"feeler", "cover_gap"})
_AS_READ = frozenset({*_BY_BLADES, "value", "table", "indicator", "record after fitting"})
_MOST_OUTCOMES, _MOST_PLACES = 200, 6
_MORE_PULLS = 3
# what a spread without end leaves beyond this counts to the last outcome on either side
_NEARLY_ALL = Fraction(99, 100)


NEVER_CERTAIN = Fraction(99, 100)


# what is done once a gap reads so and is known to lie so, by a chance of so much
_Tell = Callable[[Gap, Gap, "Fraction | float"], "Told"]


class _Dial(NamedTuple):
    """A dial's graduation, and how far it may be off [nm]."""

    step: int
    error: int


@dataclass(frozen=True, slots=True)
class Told:
    """One outcome: the gap reads `read`, by a chance of `share`; then `stack` is fitted, inside by `chance`.

    `sure`: surely inside, or as likely as is asked. `fits`: whether the best estimate is inside at all; else what is on
    hand does not serve, and `chance` is 0. `known` is where it lies by today's reading too; `job` the gap with this
    reading, and what shares its places.
    """

    read: Bracket
    share: Fraction | float
    stack: Stack
    chance: Fraction | float
    _: KW_ONLY
    sure: bool
    fits: bool
    known: Bracket
    job: Job


@dataclass(frozen=True, slots=True)
class Further:
    """Another reading: "blades" `step` apart, a "dial" with that graduation [nm], one more "pull" or three more "pulls"
    of the dial that was used; and all that it could tell. `certain`: what it then reads has an end on either side."""

    by: Literal["blades", "dial", "pull", "pulls"]
    step: int
    told: tuple[Told, ...]
    certain: bool = False

    @property
    def settles(self) -> Fraction | float:
        """The chance that it makes the gap sure with what is on hand: of errors without end never all of it."""
        found = sum((one.share for one in self.told if one.sure), Fraction(0))
        return found if self.certain else min(found, NEVER_CERTAIN)


def as_of_today(decision: Decision, name: str) -> Told:
    """The gap as it is read and planned today, by itself: the other places keep what the plan gives them."""
    job = _by_itself(decision, name)
    return _told(job, None, job.gap[name], job.gap[name], Fraction(1))


def could_be_read(decision: Decision, name: str) -> bool:
    """Whether another reading could tell more: it is not surely inside, and what it reads is what it is."""
    gap = decision.job.gap[name]
    reading = gap.reading
    # what reads as less than nothing is told by a torque, not by blades or a dial
    turned = reading.found.low < 0 and not reading.opens
    known = reading.taken_as_exact or gap.may_be_tight or reading.calculated or reading.no_preload_assumed or turned
    places = len(next(cluster.places for cluster in decision.job.clusters if name in cluster.gaps))
    open_yet = decision.outcome.gaps[name].verdict != "inside" and decision.job.takes_shims(name)
    return open_yet and not known and reading.kind in _AS_READ and 0 < places <= _MOST_PLACES


def further_readings(decision: Decision, name: str, blades: int | None = None) -> tuple[Further, ...]:
    """What finer blades and a dial would tell of a gap that `could_be_read`.

    It is worked out once and kept with the decision. Parameter: blades, how far apart those are that the shop has [nm];
    else the next finer that sets have.
    """
    kept, key = decision.worked_out, ("further readings", name, blades)
    if key not in kept:
        kept[key] = _worked_out(decision, name, blades)
    ways: tuple[Further, ...] = kept[key]
    return ways


def _worked_out(decision: Decision, name: str, blades: int | None) -> tuple[Further, ...]:
    job = _by_itself(decision, name)
    gap = job.gap[name]
    tell = partial(_told, job, _seat_of(job, gap))
    found = gap.reading.found
    width = found.high - found.low
    ways = list[Further]()
    kind = "in" if decision.job.unit in ("in", "thou") else "mm"
    step = blades or next((step for step in _BLADES[kind] if step < width), None)
    if step is not None and gap.reading.kind != "indicator" and width / step <= _MOST_OUTCOMES:
        ways.append(Further("blades", step, tuple(_by_blades(tell, gap, step)), gap.reading.repeats is None))
    repeats = gap.reading.uneven_pulls
    if repeats is not None and width / (used := _of_dial(gap)).step <= _MOST_OUTCOMES:
        ways.append(Further("pull", used.step, tuple(_by_pulls(tell, gap, used, repeats, 1))))
        ways.append(Further("pulls", used.step, tuple(_by_pulls(tell, gap, used, repeats, _MORE_PULLS))))
        # a finer dial repeats as this one did
        repeats = Student(repeats.square * (repeats.dof + 1) / _MORE_PULLS, repeats.dof)
    if gap.reading.kind not in _BY_BLADES - {"feeler"}:
        for step, error in _DIALS[kind][gap.reading.kind == "indicator" :]:
            dial = Dial((round(found.best),) * 3, step, error)
            known = _pulled(dial, repeats, gap).bracket
            if known.high - known.low < width and width / step <= _MOST_OUTCOMES:
                ways.append(Further("dial", step, tuple(_by_dial(tell, gap, dial, repeats))))
                break
    return tuple(ways)


def _by_blades(tell: _Tell, gap: Gap, step: int) -> Iterator[Told]:
    """Each pair of neighbouring blades between which the gap may lie."""
    today = _as_found(gap.reading)
    for pair, share in _weighed(gap, today, step, Fraction(0)):
        if share:
            reading = by_hand(gap, Reading(pair, gap.reading.kind, by="pair"))
            yield tell(_reads(gap, reading), _known_after(gap, pair), share)


def _of_dial(gap: Gap) -> _Dial:
    """The dial by which a gap was read: a lever's angle is in these already."""
    half = {term.code: term.half for term in gap.reading.terms}
    return _Dial(max(1, round(2 * half["resolution"])), round(half["permissible_error"]))


def _by_pulls(tell: _Tell, gap: Gap, dial: _Dial, repeats: Student, more: int) -> Iterator[Told]:
    """Each line about which the mean of all pulls may stand, after so many more that are spread as these are.

    The mean of n + k pulls stands off that of the first n by t with n - 1 degrees of freedom, times s √(k / n / (n +
    k)): the dial's own errors are the same in both (prediction from a sample, JCGM 100:2008, 4.2.3 and G.3.2).
    """
    pulls, found = repeats.dof + 1, gap.reading.found
    every = pulls + more
    moved = Student(repeats.square * more / every, repeats.dof)
    spread = Student(repeats.square * pulls / every, every - 1)
    for line, share in _weighed(gap, (moved,), dial.step, Fraction(dial.step, 2)):
        if share:
            shown = _pulled(Dial((round(line.best),) * every, dial.step, dial.error), spread, gap)
            reads = _reads(gap, shown.moved_by(int(gap.reading.shift)))
            yield replace(tell(reads, reads, share), known=_in_both(shown.bracket, found))


def _pulled(dial: Dial, repeats: Student | None, gap: Gap) -> Reading:
    """What a dial then reads, its mean known so well; None where the pulls agree."""
    shown = indicator_reading(dial)
    if repeats is None:
        return shown
    worst = Fraction(half_width((repeats,), LIKELY_SHARE))
    terms = [replace(term, half=worst, errors=(repeats,)) if term.code == "repeats" else term for term in shown.terms]
    found = estimated("indicator", terms, gap.reading.basis)
    blind = shown.no_preload_assumed or found.bracket.low <= 0 <= found.bracket.best
    return replace(found, pulls=shown.pulls, no_preload_assumed=blind)


def _by_dial(tell: _Tell, gap: Gap, dial: Dial, repeats: Student | None) -> Iterator[Told]:
    """Each line at which the dial may stand, pulled three times: with the same result, or its mean known so well."""
    found, step = gap.reading.found, dial.resolution or 1
    of_dial = tuple(
        error for term in indicator_reading(dial).terms if term.code == "permissible_error" for error in term.errors
    )
    for line, share in _weighed(gap, (*_as_found(gap.reading), *of_dial), step, Fraction(step, 2)):
        if share:
            shown = _pulled(replace(dial, readings=(round(line.best),) * 3), repeats, gap)
            reads = _reads(gap, shown.moved_by(int(gap.reading.shift)))
            yield replace(tell(reads, reads, share), known=_in_both(shown.bracket, found))


def _weighed(
    gap: Gap, errors: tuple[Error, ...], step: int, from_: Fraction
) -> Iterator[tuple[Bracket, Fraction | float]]:
    """Stretches `step` long, from `from_` on, and the chance of each; what is beyond all of them counts to the ends."""
    best = gap.reading.found.best
    reach = sum((error.half for error in errors if isinstance(error, Even)), Fraction(0))
    if any(not isinstance(error, Even) for error in errors):
        reach = Fraction(half_width(errors, _NEARLY_ALL))
    first, last = floor((best - reach - from_) / step), ceil((best + reach - from_) / step) - 1
    for number in range(first, last + 1):
        low, high = from_ + number * step, from_ + (number + 1) * step
        below, above = None if number == first else low - best, None if number == last else high - best
        yield Bracket.between(low, high), probability(errors, below, above)


def _as_found(reading: Reading) -> tuple[Error, ...]:
    """How today's reading may be off, without what the gap may move yet."""
    shifts = [error for term in reading.terms if term.code == "shift" for error in term.errors]
    errors = list(reading.errors)
    for error in shifts:
        errors.remove(error)
    return tuple(errors)


def _known_after(gap: Gap, pair: Bracket) -> Gap:
    """Where a gap lies by both readings: even in what both allow, where today's has it evenly; else in the pair."""
    found = gap.reading.found
    even = all(isinstance(error, Even) for error in _as_found(gap.reading)) and len(_as_found(gap.reading)) <= 1
    both = _in_both(pair, found) if even else pair
    return _reads(gap, by_hand(gap, Reading(both, gap.reading.kind)))


def by_hand(gap: Gap, reading: Reading) -> Reading:
    """What is read in the same way: it may move as far yet, and repeats as well as the gauge is known to."""
    moved, deviation = reading.moved_by(int(gap.reading.shift)), gap.reading.repeats
    return moved if deviation is None else moved.repeating(deviation)


def _in_both(one: Bracket, other: Bracket) -> Bracket:
    """What two brackets have in common; the first where that is nothing."""
    low, high = max(one.low, other.low), min(one.high, other.high)
    return Bracket.between(low, high) if low < high else one


def _reads(gap: Gap, reading: Reading) -> Gap:
    read = reading.bracket
    return replace(gap, reading=reading, again=(read.best - read.low, read.high - read.best), blades=None)


def _told(job: Job, seat: SeatStacks | None, gap: Gap, known: Gap, share: Fraction | float) -> Told:
    """What is done once the gap reads so.

    Parameters: seat, its stacks where they alone decide; known, how it then lies by all that was read.
    """
    then = replace(job, gaps=tuple(gap if one.name == gap.name else one for one in job.gaps))
    stacks: Mapping[str, Stack]
    if seat is None:
        chosen = chosen_stacks(then)
        stacks, verdict = chosen.stacks, chosen.outcome.gaps[gap.name].verdict
    else:
        stack = seat.best(gap.reading.bracket, gap.window)
        stacks, verdict = {gap.effects[0][0]: stack}, verdict_of(after_with(then, gap, stack), gap.window)
    chance: Fraction | float = Fraction(0)
    if verdict == "inside" and gap.least_chance is None and known.reading.repeats is None:
        chance = Fraction(1)
    elif verdict != "outside":
        chance = chance_inside(then, known, stacks)
    stack = tuple(line for place, _ in gap.effects for line in stacks.get(place, ()))
    sure, fits = verdict == "inside", verdict != "outside"
    return Told(gap.reading.found, share, stack, chance, sure=sure, fits=fits, known=known.reading.found, job=then)


def _seat_of(job: Job, gap: Gap) -> SeatStacks | None:
    """The stacks of a gap's place, listed once for all outcomes; None where more than these decides."""
    if gap.reading.after_fitting:
        return None
    try:
        return SeatStacks.of(job, screen(job), gap)
    except TooManyError:
        return None


def _by_itself(decision: Decision, name: str) -> Job:
    """The gap and what shares its places, with what the plan leaves them of the drawer."""
    job = decision.job
    cluster = next(cluster for cluster in job.clusters if name in cluster.gaps)
    taken: Counter[int] = Counter()
    for place in job.places:
        if place.name not in cluster.places:
            taken.update(turnover(place.installed, decision.stacks.get(place.name, place.installed))[0])
    stock = [
        replace(line, on_hand=max(0, line.on_hand - taken[number])) if number in taken else line
        for number, line in enumerate(job.stock)
    ]
    return replace(
        job,
        gaps=tuple(job.gap[gap] for gap in cluster.gaps),
        places=tuple(job.place[place] for place in cluster.places),
        balances=(),
        equal=tuple(names for names in job.equal if {*names} <= {*cluster.places}),
        stock=tuple(stock),
    )
