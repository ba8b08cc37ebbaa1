"""Is the gauge good enough? Whether sizes that step as they do are sure to bring a gap inside, however it was read.

A ladder of stacks with step s is sure to hit a window of width W under a total uncertainty of ±u only if s + 2u <= W.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from itertools import islice
from math import ceil, floor
from operator import itemgetter

from shimopt.arithmetic.chance_inside import as_learnt, errors_after
from shimopt.arithmetic.clearance import Stack, after_with, change_of, stands_out, thickness_of, times
from shimopt.arithmetic.needed import Span, aimed, guarded, needed, wanted
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.probability import Error, acceptance, half_width, standard_uncertainty
from shimopt.readings import Reading
from shimopt.seats import Screening

_MOST_STACKS = 20_000
FINEST_READING = 1_000  # 1 µm: no reading of a gap in a shop is known better (common practice, no source)


@dataclass(frozen=True, slots=True)
class Gauge:
    """Whether reading and sizes are good enough for one gap [nm].

    `code`: "one_sided" and "as_read" need no size at all, "good", "steps" too wide, "reading" too coarse, "no_sizes"
    that are near enough, "end" where the last size that reaches serves all the same. `window` its width, `uncertainty`
    u of reading and pieces, `pieces` the pieces' share of it, `effect` what of that share comes of how far a shim moves
    the gap, `likely` whether the reading is known 19 times in 20 only, `step` the sizes' step where the stack has to
    come, None where there is none, and `moves` how far one step moves the gap; `would_do` the u of the reading alone
    that would make it so with these sizes, None where no reading would; `shift` how far the gap may move yet [±], and
    `final` whether that alone is too much, so that the reading has to be one in the final assembly; `stack` the
    thickness to have instead; `hit` whether a stack on hand makes this gap surely inside, fine enough or not; `chance`
    what is asked where a chance decides: u is then the guard band that it takes, pieces included.
    """

    gap: str
    code: str
    window: Fraction = Fraction(0)
    uncertainty: Fraction = Fraction(0)
    pieces: Fraction = Fraction(0)
    _: KW_ONLY
    step: Fraction | None = None
    moves: Fraction | None = None
    would_do: Fraction | None = None
    stack: Span | None = None
    hit: bool = False
    chance: Fraction | None = None
    effect: Fraction = Fraction(0)
    likely: bool = False
    shift: Fraction = Fraction(0)
    final: bool = False

    @property
    def good(self) -> bool:
        """Whether nothing has to be measured or sized more finely."""
        return self.code in ("one_sided", "as_read", "good", "end")


def gauges(
    job: Job,
    screening: Screening,
    supply: Mapping[int, int],
    inside: Collection[str] = (),
    planned: Mapping[str, Stack] | None = None,
) -> dict[str, Gauge]:
    """The gauge of every gap with a place of its own that takes shims, by name.

    Parameters: inside, the gaps that the plan makes surely inside; planned, its stacks: what cannot be known better
    with any is told of these.
    """
    ladders = _Ladders(job, screening, supply)
    found: dict[str, Gauge] = {}
    # in a large job many gaps are alike in all that their gauge depends on
    known: dict[object, Gauge] = {}
    for gap in job.gaps:
        # no finer gauge shows whether it is tight already, and what nobody has read yet wants any reading
        if gap.name in job.alone and not gap.may_be_tight and not gap.reading.calculated:
            name, effect = gap.effects[0]
            place = job.place[name]
            alike = (
                gap.reading,
                gap.window,
                effect,
                gap.reach(name),
                gap.least_chance,
                place.installed,
                place.most_pieces,
                place.fewest_pieces,
                screening.suits[name],
                gap.name in inside,
                stack := (planned or {}).get(name, ()),
            )
            if alike not in known:
                known[alike] = _gauge(gap, ladders, stack, planned=gap.name in inside)
            if place.takes_shims or known[alike].good:
                likely, shift = gap.reading.basis != "worst case", gap.reading.shift
                found[gap.name] = replace(known[alike], gap=gap.name, likely=likely, shift=shift)
    return found


def _gauge(gap: Gap, ladders: _Ladders, own: Stack, *, planned: bool) -> Gauge:
    """Parameters: own, the stack that is planned; planned, whether that makes it surely inside."""
    window = gap.window
    least, most = wanted(ladders.job, gap)
    if window.min is None or window.max is None or least is None or most is None:
        return Gauge(gap.name, "one_sided")
    width, u, asked = Fraction(window.max - window.min), _guard(gap, gap.reading.errors), gap.least_chance
    if u is None:
        known_to, shift = _known_to(gap, gap.reading.errors), gap.reading.shift
        # read today, what it may move yet comes on top
        final = shift > 0 and width / 2 - shift < FINEST_READING
        would_do = width / 2 if final else width / 2 - shift
        return Gauge(gap.name, "reading", width, known_to, would_do=would_do, chance=asked, final=final)
    stack, held = needed(ladders.job, gap), ladders.held(gap)
    as_read = stack is not None and stack.least <= held and (stack.most is None or held <= stack.most)
    if as_read or (asked is None and not stands_out(gap.reading.bracket, window)):
        return Gauge(gap.name, "as_read", width, u, stack=stack, chance=asked)
    place = ladders.job.place[gap.effects[0][0]]
    found = ladders.step_at(place, (least + most) / 2)
    hit = planned or ladders.serves(gap, place, stack)
    if found is None and not hit:
        found = ladders.last_step(place, aimed(ladders.job, gap))
    if found is None:
        return Gauge(gap.name, "end" if hit else "no_sizes", width, u, stack=stack, hit=hit, chance=asked)
    step, beside = found
    moves = step * abs(gap.effects[0][1])
    with_pieces = [ladders.with_pieces(gap, u, pieces) for pieces in beside]
    if None in with_pieces:
        errors = max((ladders.errors(gap, pieces) for pieces in beside), key=standard_uncertainty)
        known_to = _known_to(gap, errors)
        ladder = Gauge(gap.name, "reading", width, known_to, Fraction(1), step=step, moves=moves)
        return replace(ladder, stack=stack, hit=hit, chance=asked)
    known = sorted((one, pieces) for one, pieces in zip(with_pieces, beside, strict=True) if one is not None)
    (surest, finest), (total, told) = known[0], known[-1]
    code = "reading"
    if total <= width / 2:
        code = "good" if moves + 2 * total <= width else "steps"
    elif not hit and surest <= width / 2:
        # one of them is known well enough, but no such stack is near enough
        code, total, told = "steps", surest, finest
    elif not hit:
        total, told = ladders.finest(gap, u, own, (surest, finest))
    would_do = (width - moves) / 2 - (total - u)
    reading = would_do if would_do >= FINEST_READING and _tried(gap, would_do, place, ladders) else None
    # read today, what it may move yet comes on top
    final = reading is not None and reading - gap.reading.shift < FINEST_READING
    reading = reading if reading is None or final else reading - gap.reading.shift
    effect = Fraction(0) if asked is not None else total - u - ladders.of_pieces(gap, told)
    answer = Gauge(gap.name, code, width, total, total - u, step=step, moves=moves, would_do=reading, effect=effect)
    return replace(answer, stack=stack, hit=hit, chance=asked, final=final and gap.reading.shift > 0)


def _tried(gap: Gap, half: Fraction, place: Place, ladders: _Ladders) -> bool:
    """Whether a stack is surely inside once the gap reads the same, known to ± half [nm]."""
    best = gap.reading.bracket.best
    finer = replace(gap, reading=Reading(Bracket(best - half, best, best + half), gap.reading.kind))
    return ladders.serves(finer, place, needed(ladders.job, finer))


def _guard(gap: Gap, errors: tuple[Error, ...]) -> Fraction | None:
    """How far within its limits the best estimate has to come, on the side where it is more; None: there is no room."""
    window, zone = gap.window, guarded(gap)
    if gap.least_chance is not None:
        zone = acceptance(errors, window.min, window.max, gap.least_chance)
    low, high = zone or (None, None)
    if window.min is None or window.max is None or low is None or high is None:
        return None
    return (Fraction(window.max - window.min) - (high - low)) / 2


def _known_to(gap: Gap, errors: tuple[Error, ...]) -> Fraction:
    """How far a reading can be off: its bracket's longer side, or what holds the chance that is asked."""
    if gap.least_chance is not None:
        return Fraction(half_width(errors, gap.least_chance))
    read = gap.reading.bracket
    return max(read.high - read.best, read.best - read.low)


class _Ladders:
    """The thicknesses that a place can be given, sorted; worked out once for places that take the same parts."""

    def __init__(self, job: Job, screening: Screening, supply: Mapping[int, int]) -> None:
        self.job, self.screening, self.supply, self.scale = job, screening, supply, Scale.of(job)
        self.known: dict[tuple[tuple[int, ...], int, int], list[tuple[int, Stack]]] = {}

    def errors(self, gap: Gap, stack: Stack) -> tuple[Error, ...]:
        """The errors of a gap with this stack in its place."""
        stacks = {gap.effects[0][0]: stack}
        # where a chance decides, it counts what records say of sizes
        return errors_after(self.job, gap, stacks) if gap.least_chance is None else as_learnt(self.job, gap, stacks)[0]

    def held(self, gap: Gap) -> Fraction:
        """The thickness that was in the place during the reading."""
        return thickness_of(self.job.place[gap.effects[0][0]].installed, self.job.stock).best

    def with_pieces(self, gap: Gap, u: Fraction, stack: Stack) -> Fraction | None:
        """The guard band with the errors of a stack too: at worst both, or what the chance takes; None: no room."""
        if gap.least_chance is not None:
            return _guard(gap, self.errors(gap, stack))
        place, effect = gap.effects[0]
        # what comes out counts its error too, what goes back in cancels; an open effect counts on the whole change
        change = change_of(self.job.place[place], stack, self.job.stock)
        moved = times(effect, change, gap.reach(place))
        return u + (moved.high - moved.low) / 2

    def of_pieces(self, gap: Gap, stack: Stack) -> Fraction:
        """The share of the pieces in that, were it exactly known how far they move the gap."""
        place, effect = gap.effects[0]
        moved = times(effect, change_of(self.job.place[place], stack, self.job.stock))
        return (moved.high - moved.low) / 2

    def finest(self, gap: Gap, u: Fraction, own: Stack, other: tuple[Fraction, Stack]) -> tuple[Fraction, Stack]:
        """With which stack a gap that none makes sure is told: the one that is planned, where there is one."""
        planned = self.with_pieces(gap, u, own) if own else None
        return other if planned is None else (planned, own)

    def step_at(self, place: Place, thickness: Fraction) -> tuple[Fraction, tuple[Stack, Stack]] | None:
        """The step between the stacks on either side of a thickness, and these two; None: nothing reaches."""
        ladder = self._ladder(place)
        ticks = thickness / self.scale.tick
        # a stack that is just as thick counts as the lower one: the step is the one above it, at the end the one below
        at = bisect_right(ladder, floor(ticks), key=itemgetter(0))
        at -= at == len(ladder) and at > 1 and ladder[-1][0] == ticks
        if at == 0 or at == len(ladder):
            return None
        (low, lower), (high, upper) = ladder[at - 1], ladder[at]
        return self.scale.length(high - low), (lower, upper)

    def last_step(self, place: Place, aim: Span | None) -> tuple[Fraction, tuple[Stack, Stack]] | None:
        """The step at the end of what can be in, where the last stack is still within the aim; else None."""
        ladder = self._ladder(place)
        for last, beside in ((0, 1), (-1, -2)) if aim is not None and len(ladder) > 1 else ():
            thick = self.scale.length(ladder[last][0])
            if aim is not None and aim.least <= thick and (aim.most is None or thick <= aim.most):
                step = self.scale.length(abs(ladder[last][0] - ladder[beside][0]))
                return step, (ladder[last][1], ladder[beside][1])
        return None

    def serves(self, gap: Gap, place: Place, span: Span | None) -> bool:
        """Whether a stack makes the gap sure. What was in and goes back in has no error.

        Where nothing was in, or a chance is asked: whether one lies with all its error in the `span` that serves.
        """
        ladder, (least, most) = self._ladder(place), gap.reach(place.name)
        if gap.least_chance is None and (place.installed or least != most):
            return any(self._sure(gap, stack) for stack in self._near(ladder, aimed(self.job, gap)))
        if span is None:
            return False
        for total, stack in self._from(ladder, span.least):
            if span.most is not None and self.scale.length(total) > span.most:
                return False
            thickness = thickness_of(stack, self.job.stock)
            if thickness.low >= span.least and (span.most is None or thickness.high <= span.most):
                return True
        return False

    def _from(self, ladder: Sequence[tuple[int, Stack]], least: Fraction) -> Iterator[tuple[int, Stack]]:
        """The stacks from a thickness on."""
        return islice(ladder, bisect_left(ladder, ceil(least / self.scale.tick), key=itemgetter(0)), None)

    def _near(self, ladder: Sequence[tuple[int, Stack]], aim: Span | None) -> Iterator[Stack]:
        """The stacks that bring the best estimate inside."""
        if aim is None:
            return
        for total, stack in self._from(ladder, aim.least):
            if aim.most is not None and self.scale.length(total) > aim.most:
                return
            yield stack

    def _sure(self, gap: Gap, stack: Stack) -> bool:
        return not stands_out(after_with(self.job, gap, stack), gap.window)

    def _ladder(self, place: Place) -> list[tuple[int, Stack]]:
        kind = self.screening.suits[place.name], place.fewest_pieces, place.most_pieces
        if kind not in self.known:
            self.known[kind] = self._built(*kind)
        return self.known[kind]

    def _built(self, suits: tuple[int, ...], fewest: int, most: int) -> list[tuple[int, Stack]]:
        """Nothing where it may stay empty, and every stack of as many pieces as can be listed.

        Of equally thick ones the one that is known best.
        """
        sizes = [self.scale.ticks(self.job.stock[i].part.thickness.best) for i in suits]
        counts = [self.supply[i] for i in suits]
        errors = [self.job.stock[i].part.thickness.high - self.job.stock[i].part.thickness.low for i in suits]
        empty: dict[int, Stack] = {} if fewest else {0: ()}
        for pieces in range(most, 0, -1):
            try:
                stacks = stacks_between(sizes, counts, pieces, None, None, _MOST_STACKS, fewest=fewest)
            except TooManyError:
                continue
            rungs = dict(empty)
            for stack in sorted(stacks, key=lambda s: (sum(errors[k] for k in s), len(s), s)):
                rungs.setdefault(sum(sizes[k] for k in stack), tuple(suits[k] for k in stack))
            return sorted(rungs.items())
        return sorted(empty.items())
