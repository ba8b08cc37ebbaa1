"""The options of a place: what is in it, or a stack that could matter.

Where the place moves one gap alone, only a stack that brings the gap's best estimate inside could.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.carried import counts_of, lines_carried
from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.arithmetic.clearance import Stack, opened, stays
from shimopt.arithmetic.needed import wanted
from shimopt.candidates.sorted_sums import stacks_between
from shimopt.candidates.ticks import Ends, Judge, Scale
from shimopt.job import Gap, Job, Place


@dataclass(frozen=True, slots=True)
class Option:
    """A stack for a place and what it does there: the best estimate after [ticks], and its share of each level.

    Where the place does not move one gap alone, `change` is what the stack adds to the thickness that was in [ticks];
    `carries` says by stock line how many pieces go in that may come out of a place which acts together with it, below 0
    how many come out.
    """

    stack: Stack
    best: int
    outside: bool
    share: dict[str, int]
    change: Ends | None = None
    carries: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceOptions:
    """All options of one place, first to leave it as it is. `gap` is empty where it does not move one gap alone."""

    place: str
    gap: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Usable:
    """What a place may be given: stock `lines` that suit it, and those among them to fit with care (`cautions`).

    `counts` says of every stock line how many pieces there are; `most` is the most pieces of a stack, `cap` the most
    stacks to list.
    """

    lines: Sequence[int]
    counts: Sequence[int]
    cautions: frozenset[int]
    most: int
    cap: int | None = None

    def stacks(self, job: Job, scale: Scale, place: Place, low: int | None, high: int | None) -> list[Stack]:
        """What a place could have instead of what is in it, low..high thick [ticks], none where it stays as it is.

        Raises TooManyError beyond the cap.
        """
        if stays(job, place):
            return []
        sizes = [scale.ticks(job.stock[i].part.thickness.best) for i in self.lines]
        counts, most = [self.counts[i] for i in self.lines], min(self.most, place.most_pieces)
        found = stacks_between(sizes, counts, most, low, high, self.cap, fewest=place.fewest_pieces)
        stacks = {tuple(self.lines[k] for k in stack) for stack in found}
        if place.installed and not place.fewest_pieces and (low or 0) <= 0 and (high is None or high >= 0):
            stacks.add(())
        return sorted(stacks - {place.installed})


def place_options(job: Job, scale: Scale, place: Place, gap: Gap, usable: Usable) -> PlaceOptions:
    """What is in, and every stack that brings the gap's best estimate inside. Raises TooManyError."""
    least, most = wanted(job, gap)
    low, high = (None if least is None else scale.least(least)), (None if most is None else scale.most(most))
    judge, changes = Judge(scale, gap), Changes(job, scale, place, gap.effects[0][1], gap.reach(place.name))

    def option(stack: Stack) -> Option:
        low, best, high = (read + moved for read, moved in zip(judge.read, changes.by(stack), strict=True))
        shares = judge.shares((low, best, high), enough=_enough(job, gap, {place.name: stack}))
        return Option(stack, best, shares["outside"] > 0, {**shares, **_shares(place, stack, usable.cautions)})

    stacks = [place.installed, *usable.stacks(job, scale, place, low, high)]
    return PlaceOptions(place.name, gap.name, tuple(option(stack) for stack in stacks))


def coupled_options(
    job: Job, scale: Scale, place: Place, usable: Usable, within: tuple[int, int] | None
) -> PlaceOptions:
    """What is in a place that does not move one gap alone, and every stack that could matter. Raises TooManyError.

    Parameters: within, the least and the most thickness of a stack that can matter [ticks], None for all. To stay with
    fewer pieces than the place asks for is `short`, unless it stays because its gaps are inside.
    """
    low, high = within or (0, None)
    changes, kept, carried = Changes(job, scale, place, Fraction(1)), stays(job, place), lines_carried(job, place)

    def option(stack: Stack) -> Option:
        short = int(stack == place.installed and len(stack) < place.fewest_pieces and not kept)
        shares = {"short": short, **_shares(place, stack, usable.cautions)}
        carries = counts_of(place, stack).items() if carried else ()
        return Option(stack, 0, False, shares, changes.by(stack), tuple(sorted(c for c in carries if c[0] in carried)))

    stacks = [place.installed, *usable.stacks(job, scale, place, low, high)]
    return PlaceOptions(place.name, "", tuple(option(stack) for stack in stacks))


def _shares(place: Place, stack: Stack, cautions: frozenset[int]) -> dict[str, int]:
    """A stack's shares of the levels that do not look at gaps."""
    return {
        "opened": int(opened(place, stack)),
        "pieces": len(stack),
        "cautions": sum(i in cautions for i in stack),
    }


def _enough(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> bool | None:
    """Whether a gap's chance to be inside is as good as it has to be; None where no chance decides."""
    return None if gap.least_chance is None else chance_inside(job, gap, stacks) >= gap.least_chance


def fixed_gap(job: Job, scale: Scale, gap: Gap) -> PlaceOptions:
    """The one thing that a gap can be which no place moves."""
    judge = Judge(scale, gap)
    shares = judge.shares(judge.read, enough=_enough(job, gap, {}))
    return PlaceOptions("", gap.name, (Option((), judge.read[1], shares["outside"] > 0, shares),))


class Changes:
    """What a stack does to a gap by way of one place: effect × change of thickness, in whole ticks."""

    def __init__(
        self, job: Job, scale: Scale, place: Place, effect: Fraction, reach: tuple[Fraction, Fraction] | None = None
    ) -> None:
        self.installed = Counter(place.installed)
        # an effect that is not known exactly is the same for all pieces: it is counted once, on the whole change
        self.effect, self.reach = effect, None if reach is None or reach[0] == reach[1] else reach
        self.scale, self.stock, self.factor = scale, job.stock, Fraction(1) if self.reach else effect
        # of a long catalogue few lines stand in any stack here
        self.known: dict[int, Ends] = {}

    def by(self, stack: Stack) -> Ends:
        """Low, best and high of the change; a piece that goes back into its own place cancels."""
        if not self.installed:
            moved = [self.into(i) for i in stack]
        else:
            new = Counter(stack)
            moved = [self.into(i) for i in (new - self.installed).elements()]
            taken = [self.into(i) for i in (self.installed - new).elements()]
            moved += [(-high, -best, -low) for low, best, high in taken]
        low, best, high = sum(m[0] for m in moved), sum(m[1] for m in moved), sum(m[2] for m in moved)
        return (low, best, high) if self.reach is None else moved_by((low, best, high), self.effect, self.reach)

    def into(self, line: int) -> Ends:
        """What one piece of a line does that goes in."""
        if line not in self.known:
            thickness, ticks = self.stock[line].part.thickness, self.scale.ticks
            low, high = sorted((ticks(thickness.low, self.factor), ticks(thickness.high, self.factor)))
            self.known[line] = (low, ticks(thickness.best, self.factor), high)
        return self.known[line]


def moved_by(change: Ends, effect: Fraction, reach: tuple[Fraction, Fraction]) -> Ends:
    """What a change of thickness does to a gap [ticks]; the tick divides effect × thickness of every piece."""
    low, best, high = change
    ends = [end.numerator * side // end.denominator for end in reach for side in (low, high)]
    return min(ends), effect.numerator * best // effect.denominator, max(ends)
