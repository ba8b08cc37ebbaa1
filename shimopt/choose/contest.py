"""Which gaps can all be brought inside at the same time: the question behind a drawer that ran out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shimopt.candidates import PlaceOptions, Scale, TooManyError, place_options, without_beaten
from shimopt.choose.chooser import Chooser
from shimopt.choose.descent import Descent
from shimopt.choose.model import build_model
from shimopt.job import Cluster, Job, clusters_of
from shimopt.seats import Screening
from shimopt.watch import Watch

__all__ = ["Contest", "can_all_be_inside"]

# search nodes for a question that only a reason asks
_NODES_TO_EXPLAIN = 2_000
_MOST_OPTIONS = 20_000


class Contest:
    """The options of all places that move one gap alone, kept for many questions about a few of them.

    What is in other places counts as there to be had: what cannot be done with it cannot be done without.
    """

    def __init__(self, job: Job, screening: Screening, supply: Mapping[int, int]) -> None:
        # only being inside counts here: no balances, and of options that take the same scarce pieces one is enough
        self.job, self.scale, self.supply = replace(job, balances=()), Scale.of(job), supply
        ever: Counter[int] = Counter()
        for place in job.places:
            ever.update(dict.fromkeys(screening.suits[place.name], place.most_pieces))
            ever.update(place.installed)
        self.plentiful = frozenset(i for i, n in ever.items() if supply[i] >= n)
        self.counts = [supply[i] for i in range(len(job.stock))]
        self.suits = screening.suits
        self.place_of = {c.gaps[0]: job.place[c.places[0]] for c in clusters_of(job) if c.alone}
        self.options: dict[str, PlaceOptions | None] = {}

    def can_all_be_inside(self, names: Sequence[str]) -> bool | None:
        """Whether these gaps can all be inside at once, as far as places of their own move them.

        None where there are too many stacks to tell.
        """
        options = [self._options(name) for name in names if name in self.place_of]
        known = [place for place in options if place is not None]
        if len(known) < len(options):
            return None
        model = build_model(self.job, self.scale, known, self.supply)
        return Descent(model).level("outside").value == 0

    def _options(self, name: str) -> PlaceOptions | None:
        """The options of one gap's place, worked out when it is first asked about; None: too many."""
        if name not in self.options:
            place = self.place_of[name]
            try:
                found = place_options(
                    self.job,
                    self.scale,
                    place,
                    self.job.gap[name],
                    self.suits[place.name],
                    self.counts,
                    frozenset(),
                    place.most_pieces,
                    _MOST_OPTIONS,
                )
            except TooManyError:
                self.options[name] = None
            else:
                kept = without_beaten(found.options, ["outside"], self.plentiful, frozenset())
                self.options[name] = PlaceOptions(found.place, found.gap, kept)
        return self.options[name]


def can_all_be_inside(
    job: Job, screening: Screening, cluster: Cluster, names: Sequence[str], *, buy: bool = False
) -> bool | None:
    """Whether these gaps of a cluster can be inside at once with all that is there; None where that is not settled."""
    places = tuple(job.place[name] for name in cluster.places)
    elsewhere = Counter(i for place in job.places if place not in places for i in place.installed)
    stock = tuple(replace(line, on_hand=line.on_hand + elsewhere[i]) for i, line in enumerate(job.stock))
    equal = tuple(names for names in job.equal if set(names) <= set(cluster.places))
    part = Job(job.title, job.unit, tuple(job.gap[name] for name in names), places, (), stock, equal=equal)
    chooser = Chooser(part, screening, buy, Watch(steps=_NODES_TO_EXPLAIN))
    chooser.levels = chooser.levels[: chooser.levels.index("outside") + 1]
    _, steps, complete = chooser.descended()
    if steps[-1].value == 0:
        return True
    return False if steps[-1].proven and complete else None
