"""What jobs would have needed: of each gap as it was read, the stacks that bring it surely inside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product

from shimopt.candidates import Option, Scale, Usable, fixed_gap, place_options
from shimopt.job import Job
from shimopt.parts import StockLine
from shimopt.parts.part import natural_key
from shimopt.seats import screen

# of one stack, as numbers of the parts on offer, thin to thick
Pieces = tuple[int, ...]
# of a long catalogue so many stacks of one gap are listed at most
_MOST_STACKS = 200_000


class NotCounted(StrEnum):
    """Why a job says nothing about the drawer to keep."""

    TOGETHER = "its places act together"
    NO_PLACE = "a gap is outside, and no place moves it"


@dataclass(frozen=True, slots=True)
class Need:
    """One job: for each of its gaps that needs shims the stacks that serve it, those that a plan prefers first.

    A gap with no such stack is never served by these parts; a job whose gaps all stay as they are needs nothing.
    """

    name: str
    gaps: tuple[tuple[Pieces, ...], ...] = ()
    not_counted: NotCounted | None = None

    @property
    def needs_nothing(self) -> bool:
        """Whether all of it is inside as it was read."""
        return not self.gaps and self.not_counted is None

    @property
    def never(self) -> bool:
        """Whether no stack of these parts serves one of its gaps."""
        return not all(self.gaps)


def need_of_job(name: str, job: Job, parts: Sequence[StockLine]) -> Need:
    """What a job needs, all its gaps together. Raises TooManyError."""
    tied = [len(gap.effects) for gap in job.gaps] + [len(gaps) for gaps in job.moved_by.values()]
    if max(tied, default=0) > 1 or job.equal:
        return Need(name, not_counted=NotCounted.TOGETHER)
    found = list(_needed(job, parts))
    if any(stacks is None for _, stacks in found):
        return Need(name, not_counted=NotCounted.NO_PLACE)
    return Need(name, tuple(stacks for _, stacks in found if stacks is not None))


def needs_of_gaps(job: Job, parts: Sequence[StockLine]) -> list[Need]:
    """What each gap of a job needs, as a job of its own. Raises TooManyError."""
    needed = dict(_needed(job, parts))
    return [
        Need(gap.name, not_counted=NotCounted.NO_PLACE)
        if gap.name in needed and needed[gap.name] is None
        else Need(gap.name, tuple([needed[gap.name] or ()] if gap.name in needed else []))
        for gap in job.gaps
    ]


def _needed(job: Job, parts: Sequence[StockLine]) -> Iterator[tuple[str, tuple[Pieces, ...] | None]]:
    """By the name of each gap that needs something: the stacks that serve it; None where no place moves it."""
    # what was in the machine stays known; what lay in the job's own drawer then is not what is asked about
    own = tuple(replace(line, on_hand=0, offers=()) for line in job.stock)
    widened = replace(job, stock=(*own, *(replace(line, on_hand=0) for line in parts)))
    screening, scale = screen(widened, buy=True), Scale.of(widened)
    counts = [*(0 for _ in own), *(12 for _ in parts)]
    for gap in widened.gaps:
        if len(gap.effects) != 1:
            if not _served(fixed_gap(widened, scale, gap).options[0]):
                yield gap.name, None
            continue
        place = widened.place[gap.effects[0][0]]
        lines = [i for i in screening.suits[place.name] if i >= len(own)]
        usable = Usable(lines, counts, screening.cautions[place.name], place.most_pieces, _MOST_STACKS)
        first, *others = place_options(widened, scale, place, gap, usable).options
        if _served(first) and len(place.installed) >= place.fewest_pieces:
            continue
        serving = sorted((one for one in others if _served(one)), key=lambda one: _preference(one, widened))
        been_in = Counter(place.installed)
        # what stays in is taken from no drawer
        stacks = (tuple(sorted((Counter(one.stack) - been_in).elements())) for one in serving)
        yield gap.name, tuple(_least(tuple(i - len(own) for i in stack) for stack in stacks))


def _served(option: Option) -> bool:
    return not option.outside and not option.share["unproven"]


def _preference(option: Option, job: Job) -> tuple[object, ...]:
    """What a plan goes by among stacks that all serve."""
    share = option.share
    names = tuple(natural_key(job.stock[i].part.name) for i in option.stack)
    return share["opened"], share["pieces"], share["cautions"], share["target"], names


def _least(stacks: Iterator[Pieces]) -> Iterator[Pieces]:
    """Those stacks that hold no other that a plan would rather fit: where all of it is there, so is the other."""
    kept = set[Pieces]()
    for stack in stacks:
        counts = sorted(Counter(stack).items())
        within = product(*(range(count + 1) for _, count in counts))
        parts = [part for part, _ in counts]
        if not any(tuple(p for p, n in zip(parts, some, strict=True) for _ in range(n)) in kept for some in within):
            kept.add(tuple(sorted(stack)))
            yield stack
