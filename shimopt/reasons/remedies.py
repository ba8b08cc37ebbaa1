"""What would help, each way tried before it is told: the changed job is planned, or its sums done again.

By the sums alone: a piece more than is allowed, fewer than the seat takes, a piece that the seat keeps out, a thicker
one made thinner; and where the seat takes no shims, by how much the dimension that sets the gap is off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import comb

from shimopt.arithmetic import Outcome, off_by
from shimopt.arithmetic.carried import after_planned
from shimopt.arithmetic.clearance import Stack, after_with, change_of, stands_out
from shimopt.arithmetic.needed import aimed, needed, wanted
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap, Job, Place
from shimopt.job.gap import Side
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.parts.drawer import Held
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.gap_reasons import Length, Reason
from shimopt.reasons.gauge_enough import FINEST_READING
from shimopt.reasons.one_more import fuller, one_more_of
from shimopt.seats import Finding, least_left, to_make_thinner

_MOST_STACKS = 500
# so many parts that the seat keeps out are tried beside others
_MOST_REFUSED = 10
# stacks with a part that the seat keeps out have so many pieces beside it
_MOST_BESIDE = 2


class ShimsNotAllowed(Reason):
    """Outside, and its seat takes no shims: the dimension that sets it is off by `least` to `most` (None: no end).

    With `sure` any reading of its bracket is inside then, else its best estimate is.
    """

    off: Length
    side: Side
    why: str
    least: Length
    most: Length | None
    sure: bool


class OneMorePiece(Reason):
    """`stack`, one piece more than the `pieces` allowed in the place, would make it `after`."""

    stack: Stack
    pieces: int
    after: Length


class FewerPieces(Reason):
    """`stack` would make it `after`, but its seat takes at least `fewest` pieces."""

    stack: Stack
    fewest: int
    after: Length


class StackDoesNotSuit(Reason):
    """`stack` would serve by its thickness, but one of its pieces must not be fitted there: `findings`."""

    stack: Stack
    findings: tuple[Finding, ...]


class MadeThinner(Reason):
    """The one piece of `stack` would do, if it were made thinner: to `least` to `most`."""

    stack: Stack
    least: Length
    most: Length


def restored(gap: Gap, off: Fraction, why: str) -> ShimsNotAllowed:
    """By how much the dimension is off that sets a gap whose seat takes no shims."""
    read, window = gap.reading.bracket, gap.window
    side = window.side(read.best)

    def change(low: Fraction, high: Fraction) -> tuple[Fraction, Fraction | None]:
        """How much less clearance brings low..high inside, where it is too much; how much more, where too little."""
        over = None if window.max is None else high - window.max
        under = None if window.min is None else window.min - low
        least, most = (over, under) if side == "over" else (under, over)
        return least or Fraction(0), None if most is None else -most

    least, most = change(read.low, read.high)
    sure = most is None or least <= most
    if not sure:
        least, most = change(read.best, read.best)
    return ShimsNotAllowed(about=gap.name, off=off, side=side, why=why, least=least, most=most, sure=sure)


def ways_out(
    job: Job, gap: Gap, place: Place, suits: Sequence[int], stopped: Mapping[int, Finding], left: Mapping[int, int]
) -> Iterator[Reason]:
    """The ways in which a gap that is left outside could come inside after all.

    Parameters: suits, the stock lines that may be fitted in the place; stopped, those that must not, each with why;
    left, how many pieces of each there are that no other place has.
    """
    trial = _Trial(job, gap, left)
    exactly = place.most_pieces == place.fewest_pieces
    if not exactly and (one_more := trial.stack(suits, place.most_pieces + 1, fewest=place.most_pieces + 1)):
        yield OneMorePiece(about=gap.name, stack=one_more, pieces=place.most_pieces, after=trial.after(one_more))
    if place.fewest_pieces > 1 and (fewer := trial.stack(suits, place.fewest_pieces - 1)):
        yield FewerPieces(about=gap.name, stack=fewer, fewest=place.fewest_pieces, after=trial.after(fewer))
    refused = [i for i in sorted(stopped) if left[i] > 0 and not trial.serves((i,))][:_MOST_REFUSED]
    for i in refused:
        most = min(place.most_pieces, 1 + _MOST_BESIDE)
        if most > 1 and (stack := trial.stack((*suits, i), most, fewest=max(2, place.fewest_pieces), holding=i)):
            yield StackDoesNotSuit(about=gap.name, stack=stack, findings=(replace(stopped[i], place=place.name),))
            break
    yield from _thinner(job, gap, place, [i for i in suits if left[i] > 0])


def _thinner(job: Job, gap: Gap, place: Place, lines: Sequence[int]) -> Iterator[Reason]:
    span = needed(job, gap) or aimed(job, gap)
    if span is None or span.most is None or place.fewest_pieces > 1 or not place.most_pieces:
        return
    line = to_make_thinner(lines, job.stock, place.seat, Bracket.between(span.least, span.most))
    if line is not None:
        least = max(span.least, least_left(job.stock[line].part))
        yield MadeThinner(about=gap.name, stack=(line,), least=least, most=span.most)


class _Trial:
    """Looks for a stack that brings one gap inside, by its best estimate."""

    def __init__(self, job: Job, gap: Gap, left: Mapping[int, int]) -> None:
        self.job, self.gap, self.left, self.scale = job, gap, left, Scale.of(job)
        self.low, self.high = self.scale.within(*wanted(job, gap))

    def stack(self, lines: Sequence[int], most: int, *, fewest: int = 1, holding: int | None = None) -> Stack | None:
        """The stack of fewest pieces that does, of these lines and with a piece of one; None where there is none."""
        sizes = [self.scale.ticks(self.job.stock[i].part.thickness.best) for i in lines]
        counts = [self.left[i] for i in lines]
        try:
            found = stacks_between(sizes, counts, most, self.low, self.high, _MOST_STACKS, fewest=fewest)
        except TooManyError:
            return None
        named = [tuple(sorted(lines[k] for k in stack)) for stack in found]
        serving = [stack for stack in named if self.serves(stack) and (holding is None or holding in stack)]
        return min(serving, key=lambda stack: (len(stack), stack), default=None)

    def after(self, stack: Stack) -> Fraction:
        """What the gap would be with a stack, by its best estimate."""
        return after_with(self.job, self.gap, stack).best

    def serves(self, stack: Stack) -> bool:
        """Whether it would be inside."""
        return not off_by(self.after(stack), self.gap.window)


# a job of more places is not planned again to try a remedy
_MOST_PLACES = 8
_NOTHING = Fraction(0)
# common practice, no source: a micrometer on a clean shim
_MICROMETER = 2_000


# with one piece more in each place that is full
_STACKS_TRIED = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What was tried and helps, by the names of gaps and balances.

    `finer`: gaps that the finest reading alone would make sure, with the stacks as planned; `measured`: those that
    measuring their pieces alone would; `final`: those that may move too far until the final assembly (`shift`), but
    that the finest reading there would make sure; `settled`: those that are sure if today's reading was taken there;
    `both`: those that only the two together would; `effects`: those that only better trial readings of an effect would.
    `more`: those that no reading and no micrometer alone makes sure, but
    one piece more of a size that is there would, with its stock line. `bought`: whether the catalogues make a better
    plan, None where that was not tried; `held`: pieces held for other jobs that would. `one_more`: balances that one
    piece more in each place would bring within, and gaps that it would bring inside, or make sure where several places
    move them, where the seat says nothing.
    `fuller`: gaps that a stack of one piece more than their place takes would make surely inside, with that stack.
    """

    finer: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    both: tuple[str, ...] = ()
    effects: tuple[str, ...] = ()
    final: tuple[str, ...] = ()
    settled: tuple[str, ...] = ()
    more: Mapping[str, int] = field(default_factory=dict)
    bought: bool | None = None
    held: tuple[Held, ...] = ()
    one_more: tuple[str, ...] = ()
    fuller: Mapping[str, Stack] = field(default_factory=dict)


def remedies_of(chosen: Chosen, again: Callable[[Job, bool], Chosen]) -> Remedies:
    """The remedies that help a plan, tried.

    Parameter: again, plans a changed job, with what can be bought or without, and says what that comes to.
    """
    job, outcome = chosen.job, chosen.outcome
    unproven = [gap for gap in job.gaps if outcome.gaps[gap.name].verdict == "unproven" and _can_be_surer(job, gap)]
    # the same job with its pieces measured: made once, for it is as large as the job
    known = replace(job, stock=tuple(map(_measured, job.stock))) if unproven else job
    finer = [gap.name for gap in unproven if _sure(chosen, job, _read_finely(gap))]
    measured = [gap.name for gap in unproven if _has_pieces(chosen, gap) and _sure(chosen, known, gap)]
    settled = [gap.name for gap in unproven if gap.reading.shift and _sure(chosen, job, _as_it_stands(gap))]
    surer = {*finer, *measured}
    left = [gap for gap in unproven if gap.name not in surer]
    used = Counter(i for stack in chosen.stacks.values() for i in stack)
    one_short = {gap.name: line for gap in left if (line := one_more_of(chosen, gap, used)) is not None}
    left = [gap for gap in left if gap.name not in one_short]
    final = [gap.name for gap in left if gap.reading.shift and _sure(chosen, job, _read_finely(_as_it_stands(gap)))]
    left = [gap for gap in left if gap.name not in final]
    both = [gap.name for gap in left if _has_pieces(chosen, gap) and _sure(chosen, known, _read_finely(gap))]
    left = [gap for gap in left if gap.name not in both and gap != _exactly_moved(gap)]
    effects = [gap.name for gap in left if _sure(chosen, job, _exactly_moved(gap))]
    unmet = [balance.name for balance in job.balances if outcome.balances[balance.name].met is False]
    bought, one_more = None, tuple[str, ...]()
    if len(job.places) <= _MOST_PLACES and not outcome.doable:
        if not chosen.buy and any(line.offers for line in job.stock):
            bought = better(again(job, True).outcome, outcome)
        outside = [name for name, found in outcome.gaps.items() if found.verdict == "outside"]
        shared = [gap.name for gap in unproven if gap.name not in job.alone and _some_full(chosen, gap)]
        if unmet or ((outside or shared) and _more_would_go(chosen)):
            more = replace(job, places=tuple(map(_one_more, job.places)))
            found = again(more, chosen.buy).outcome
            helped = found.levels["outside"] <= outcome.levels["outside"]
            one_more = tuple(name for name in unmet if helped and found.balances[name].met)
            one_more += tuple(name for name in outside if helped and found.gaps[name].verdict != "outside")
            one_more += tuple(name for name in shared if helped and found.gaps[name].verdict == "inside")
    return Remedies(
        finer=tuple(finer),
        measured=tuple(measured),
        both=tuple(both),
        effects=tuple(effects),
        final=tuple(final),
        settled=tuple(settled),
        more=one_short,
        bought=bought,
        one_more=one_more,
        fuller={gap.name: stack for gap in unproven if (stack := fuller(chosen, gap, used)) is not None},
    )


def _can_be_surer(job: Job, gap: Gap) -> bool:
    """What may be tight wants turning, what turns wrong setting; what nobody has read since it was fitted, reading."""
    return not gap.may_be_tight and not gap.reading.calculated and not job.turns_wrong(gap.name)


def _one_more(place: Place) -> Place:
    """A place that takes one piece more, unless its seat says how many it bears."""
    fixed = not place.most_pieces or (place.seat is not None and place.seat.most_pieces is not None)
    return place if fixed else replace(place, most_pieces=place.most_pieces + 1)


def _more_would_go(chosen: Chosen) -> bool:
    """Whether some place that holds as many pieces as it takes could hold one more of what is there.

    Where so many sizes make too many stacks of one piece more, that is not tried.
    """
    used = Counter(i for stack in chosen.stacks.values() for i in stack)
    there = [i for i, count in chosen.supply.items() if count > used[i]]
    taken = [place.most_pieces + 1 for place in chosen.job.places if _one_more(place) != place and place.most_pieces]
    return bool(there and taken) and sum(comb(len(there) + most, most) for most in taken) <= _STACKS_TRIED


def _some_full(chosen: Chosen, gap: Gap) -> bool:
    """Whether some place that moves a gap holds as many pieces as it takes."""
    return any(len(chosen.stacks.get(at, ())) == chosen.job.place[at].most_pieces for at, _ in gap.effects)


def _exactly_moved(gap: Gap) -> Gap:
    """A gap of which trial readings leave nothing open."""
    known = (
        replace(source, low=None, high=None) if source.kind == "trial" else source for source in gap.effect_sources
    )
    return replace(gap, effect_sources=tuple(known))


def _as_it_stands(gap: Gap) -> Gap:
    """A gap that no longer moves: read in the final assembly, as finely as now."""
    return replace(gap, reading=replace(gap.reading, bracket=gap.reading.found, terms=()))


def better(other: Outcome, planned: Outcome) -> bool:
    """Whether another plan has fewer gaps outside, is nearer or surer, or more even: as good in what comes before."""
    for level in ("outside", "miss", "unproven", "doubt", "excess"):
        if other.levels[level] != planned.levels[level]:
            return other.levels[level] < planned.levels[level]
    return False


def _read_finely(gap: Gap) -> Gap:
    """A gap read as finely as can be."""
    bracket = gap.reading.bracket
    # no gauge takes away how far it may move yet
    half = FINEST_READING + gap.reading.shift
    known = Bracket(max(bracket.low, bracket.best - half), bracket.best, min(bracket.high, bracket.best + half))
    return replace(gap, reading=replace(gap.reading, bracket=known))


def _sure(chosen: Chosen, job: Job, gap: Gap) -> bool:
    """Whether the planned stacks leave a gap surely inside, out of the pieces of this job."""
    change = {place: change_of(job.place[place], chosen.stacks.get(place, ()), job.stock) for place, _ in gap.effects}
    after = after_planned(job, gap, chosen.stacks, change)
    return stands_out(after, gap.window) == _NOTHING and not off_by(after.best, gap.window)


def _measured(line: StockLine) -> StockLine:
    """A piece as a micrometer would know it, were it as thick as its best estimate."""
    part, best = line.part, line.part.thickness.best
    if part.measured or part.thickness.high - best <= _MICROMETER:
        return line
    return replace(line, part=replace(part, thickness=Bracket(best - _MICROMETER, best, best + _MICROMETER)))


def _has_pieces(chosen: Chosen, gap: Gap) -> bool:
    """Whether pieces that are not measured yet, nor known exactly, leave a gap open."""
    return any(
        not part.measured and not part.thickness.exact
        for part in (chosen.job.stock[i].part for i in _moving(chosen, gap))
    )


def _moving(chosen: Chosen, gap: Gap) -> Iterator[int]:
    """The stock lines of all pieces that move a gap, going in or coming out."""
    for place, _ in gap.effects:
        yield from set(chosen.stacks.get(place, ())) ^ set(chosen.job.place[place].installed)
