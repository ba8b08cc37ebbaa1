"""The chance that a gap is inside after shimming: the errors of its reading and of the pieces, each on its own.

Errors are independent but for one: pieces measured with one micrometer share its error, so in their sum it counts as
often as there are such pieces (JCGM 100:2008, 5.2.2 and its example).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterator, Mapping
from fractions import Fraction

from shimopt.arithmetic.carried import between_places
from shimopt.arithmetic.clearance import Stack, enough_of, times, turnover, verdict_of
from shimopt.job import Gap, Job, Micrometer
from shimopt.job.learnt_sizes import LearntSize
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.probability import Error, Even, Normal, error_of, probability, scaled


def errors_after(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> tuple[Error, ...]:
    """The independent errors of a gap's best estimate after shimming; a place that is not named stays as it was.

    A piece that comes out adds its error as one that goes in does; one that goes back into its place adds none, and one
    that goes from one of the gap's places into another adds it once.
    """
    return _errors(job, gap, stacks, ())


def _errors(job: Job, gap: Gap, stacks: Mapping[str, Stack], without: Container[int]) -> tuple[Error, ...]:
    """The same without those of the pieces of some stock lines."""
    own: list[Error] = []
    shared = Fraction(0)
    for place, effect in gap.effects:
        moved, reach = _moved(job, place, stacks), gap.reach(place)
        if reach[0] != reach[1]:
            thicker = sum((sign * job.stock[index].part.thickness.best for index, sign in moved), Fraction(0))
            own += error_of(times(effect, Bracket(thicker, thicker, thicker), reach))
    for index, factor in _factors(job, gap, stacks):
        if index in without:
            continue
        part = job.stock[index].part
        common = _shared(part, job.micrometer)
        shared += factor * common
        for error in error_of(part.thickness):
            if common and isinstance(error, Even):
                rest = error.half - common
                own += [Even(rest * abs(factor))] if rest else []
            else:
                own.append(scaled(error, factor))
    if shared:
        own.append(Even(abs(shared)))
    return (*gap.reading.errors, *own)


def as_learnt(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> tuple[tuple[Error, ...], Fraction]:
    """The same where records say how thick pieces run, and how much larger the best estimate is then [nm].

    Pieces of one supplier and marking may be of one lot: what a lot has in common counts as often as there are such
    pieces, those that come out too, for which of them are of one lot nobody knows. What all lots of it share counts as
    often as there are pieces of any.
    """
    known = [(job.learnt[index], index, factor) for index, factor in _factors(job, gap, stacks) if index in job.learnt]
    if not known:
        return errors_after(job, gap, stacks), Fraction(0)
    off, own, common = Fraction(0), Fraction(0), dict[LearntSize, Fraction]()
    shared = dict[tuple[str, int], Fraction]()
    for size, index, factor in known:
        off += factor * (size.mean - job.stock[index].part.thickness.best)
        own += (factor * size.piece) ** 2
        common[size] = common.get(size, Fraction(0)) + abs(factor)
        of = size.supplier, size.marked
        shared[of] = shared.get(of, Fraction(0)) + abs(factor) * size.offset
    square = own + sum((length**2 for length in shared.values()), Fraction(0))
    square += sum((count**2 * (size.lot**2 - size.offset**2) for size, count in common.items()), Fraction(0))
    return (*_errors(job, gap, stacks, job.learnt), Normal(square)), off


def _shared(part: Part, micrometer: Micrometer | None) -> Fraction:
    """What of a piece's error is the micrometer's, the same for all that it measured."""
    if micrometer is None or not part.measured:
        return Fraction(0)
    half = part.thickness.high - part.thickness.best
    return half if micrometer.error is None else min(half, Fraction(micrometer.error))


def _factors(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> Iterator[tuple[int, Fraction]]:
    """Every piece that is moved, and how often its thickness counts in the gap."""
    effects, over = dict(gap.effects), Counter[tuple[int, str, int]]()
    for line, source, target, count in between_places(job, gap, stacks):
        over.update({(line, source, -1): count, (line, target, 1): count})
        if factor := effects[target] - effects[source]:
            yield from [(line, factor)] * count
    for place, effect in gap.effects:
        for line, sign in _moved(job, place, stacks):
            if over[line, place, sign] > 0:
                over[line, place, sign] -= 1
            else:
                yield line, sign * effect


def _moved(job: Job, place: str, stacks: Mapping[str, Stack]) -> list[tuple[int, int]]:
    """The pieces that go in (+1) and come out (-1) at a place."""
    before = job.place[place].installed
    into, out = turnover(before, stacks.get(place, before))
    return [(index, 1) for index in into] + [(index, -1) for index in out]


def chance_inside(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> Fraction | float:
    """The probability that the gap lies in its window after shimming; exact where all errors are bounded.

    It knows what records say of how thick pieces run; nothing else does.
    """
    best = gap.reading.bracket.best
    for place, effect in gap.effects:
        for index, sign in _moved(job, place, stacks):
            best += sign * effect * job.stock[index].part.thickness.best
    errors, off = as_learnt(job, gap, stacks) if job.learnt_sizes else (errors_after(job, gap, stacks), Fraction(0))
    best += off
    low, high = (None if limit is None else limit - best for limit in (gap.window.min, gap.window.max))
    return probability(errors, low, high)


def sure_as_read(job: Job, gap: Gap) -> bool:
    """Whether a gap was inside as it was read, by what decides: not by its best estimate alone."""
    held = {place: job.place[place].installed for place, _ in gap.effects}
    chance = None if gap.least_chance is None else chance_inside(job, gap, held)
    return verdict_of(gap.reading.bracket, gap.window, enough=enough_of(gap, chance)) == "inside"
