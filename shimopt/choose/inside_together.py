"""Which gaps can all be brought inside at the same time: the question behind a drawer that ran out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from shimopt.candidates import Scale, TooManyError, Usable, place_options
from shimopt.choose.chooser import Chooser
from shimopt.choose.pieces_enough import Enough, Needs, fewest_only
from shimopt.job import Cluster, Job
from shimopt.seats import Screening
from shimopt.watch import Watch

# search nodes for a question that only a reason asks
_NODES_TO_EXPLAIN = 2_000
_MOST_OPTIONS = 20_000


class Contest:
    """What would bring each gap inside that a place of its own moves, kept for many questions about a few of them.

    What is in other places counts as there to be had: what cannot be done with it cannot be done without. Every answer
    also settles other questions: gaps that were inside together are so without some of them, and gaps that cannot be
    are no better off with others beside them.

    Parameters: inside, gaps that the plan brings inside; searches, how many questions may be searched for in all.
    """

    def __init__(
        self, job: Job, screening: Screening, supply: Mapping[int, int], inside: Collection[str], searches: int
    ) -> None:
        # only best estimates count here, not what is sure enough, and every place may be opened
        gaps = tuple(replace(gap, least_chance=None) for gap in job.gaps)
        places = tuple(replace(place, keep=False) for place in job.places)
        self.job = job = replace(job, balances=(), gaps=gaps, places=places)
        self.scale, self.supply, self.suits, self.searches = Scale.of(job), supply, screening.suits, searches
        ever: Counter[int] = Counter()
        for place in job.places:
            ever.update(dict.fromkeys(screening.suits[place.name], place.most_pieces))
            ever.update(place.installed)
        self.scarce = {i for i, n in ever.items() if supply[i] < n}
        self.place_of = {gap: job.place[place] for gap, place in job.alone.items()}
        self.serving: dict[str, list[Needs] | None] = {}
        self.numbers: dict[str, int] = {}
        self.enough: Enough | None = None
        self.inside_together, self.clashing = [frozenset(inside)], list[frozenset[str]]()

    def can_all_be_inside(self, names: Sequence[str]) -> bool | None:
        """Whether these gaps can all be inside at once, as far as places of their own move them.

        None where it is not settled: too many stacks, or too long a search.
        """
        asked = frozenset(name for name in names if name in self.place_of)
        if any(asked <= together for together in self.inside_together):
            return True
        if any(clash <= asked for clash in self.clashing):
            return False
        if self.searches <= 0 or any(self._serving(name) is None for name in asked):
            return None
        self.searches -= 1
        new = sorted(asked - set(self.numbers))
        if new or self.enough is None:
            self.numbers = {name: at for at, name in enumerate([*self.numbers, *new])}
            sets = [self._serving(name) or [] for name in self.numbers]
            self.enough = Enough(sets, {i: self.supply[i] for i in self.scarce})
        members = sorted(asked)
        answer = self.enough.for_all([self.numbers[name] for name in members])
        if answer.enough:
            self.inside_together.append(asked)
        elif answer.enough is False:
            name_of = {at: name for name, at in self.numbers.items()}
            self.clashing.append(frozenset(name_of[at] for at in answer.clash))
        return answer.enough

    def _serving(self, name: str) -> list[Needs] | None:
        """The scarce pieces that would bring a gap inside, one set or another; None: too many."""
        if name not in self.serving:
            place, counts = self.place_of[name], [self.supply[i] for i in range(len(self.job.stock))]
            usable = Usable(self.suits[place.name], counts, frozenset(), place.most_pieces, _MOST_OPTIONS)
            try:
                found = place_options(self.job, self.scale, place, self.job.gap[name], usable)
            except TooManyError:
                self.serving[name] = None
            else:
                stacks = [option.stack for option in found.options if not option.outside]
                needs = [tuple(sorted(Counter(i for i in stack if i in self.scarce).items())) for stack in stacks]
                self.serving[name] = fewest_only(needs)
        return self.serving[name]


def can_all_be_inside(
    job: Job, screening: Screening, cluster: Cluster, names: Sequence[str], *, buy: bool = False
) -> bool | None:
    """Whether these gaps of a cluster can be inside at once with all that is there; None where that is not settled."""
    places = tuple(job.place[name] for name in cluster.places)
    elsewhere = Counter(i for place in job.places if place not in places for i in place.installed)
    stock = tuple(replace(line, on_hand=line.on_hand + elsewhere[i]) for i, line in enumerate(job.stock))
    equal = tuple(names for names in job.equal if set(names) <= set(cluster.places))
    part = Job(job.title, job.unit, tuple(job.gap[name] for name in names), places, (), stock, equal=equal)
    order = part.levels[: part.levels.index("outside") + 1]
    _, steps, complete = Chooser(part, screening, buy, Watch(steps=_NODES_TO_EXPLAIN), order).descended()
    if steps[-1].value == 0:
        return True
    return False if steps[-1].proven and complete else None
