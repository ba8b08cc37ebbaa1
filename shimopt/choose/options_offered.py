"""What every place may hold: its options, less those that another of them beats at every level."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shimopt.arithmetic.carried import lines_carried
from shimopt.arithmetic.clearance import further
from shimopt.candidates import (
    Option,
    PlaceOptions,
    Scale,
    TooManyError,
    Usable,
    coupled_options,
    fixed_gap,
    place_options,
    without_beaten,
    without_stand_ins,
)
from shimopt.job import Job, Place
from shimopt.job.model import splits_not_stated
from shimopt.seats import Screening

# below all levels, among equals: how far the places of a total are from what was in, where nothing states the split
SPLIT = "split"
# by place that acts together with others, from which to which thickness a stack can matter [ticks]
Within = Mapping[str, tuple[int, int]]


class Offered:
    """The options of a job's places, given what suits and the supply.

    `alone` is the gap of every place that moves one by itself, `split` names the places of totals whose split nothing
    states; `levels` those by which an option beats another; `capped`, whether all pieces together will be limited.
    """

    def __init__(
        self,
        job: Job,
        scale: Scale,
        screening: Screening,
        supply: Mapping[int, int],
        levels: Sequence[str],
        *,
        capped: bool,
    ) -> None:
        self.job, self.scale, self.screening, self.supply = job, scale, screening, supply
        self.levels, self.capped = levels, capped
        self.alone = {place: job.gap[gap] for gap, place in job.alone.items()}
        held = [names for names in splits_not_stated(job) if any(job.place[name].installed for name in names)]
        self.split = {name for names in held for name in names}
        self._equal = {name for names in job.equal for name in names}
        self._plentiful = _plentiful(job, screening)
        self._suits = without_stand_ins(job, screening, supply)

    def options(self, most_at: Mapping[str, int], most: int, cap: int, within: Within) -> list[PlaceOptions]:
        """Options of every place with at most `most` pieces, or `most_at` the place. Raises TooManyError."""
        found, left, known = [], cap, dict[object, tuple[Option, ...]]()
        shared = self._shared_levels()
        for place in self.job.places:
            pieces = most_at.get(place.name, most)
            alike = self._alike(place, pieces, within)
            kept = known.get(alike)
            if kept is None:
                kept = known[alike] = self._unbeaten(place, self._place(place, pieces, left * 4, within), shared)
            left -= len(kept)
            if left < 0:
                raise TooManyError
            found.append(
                PlaceOptions(place.name, self.alone[place.name].name if place.name in self.alone else "", kept)
            )
        return found + [fixed_gap(self.job, self.scale, self.job.gap[c.gaps[0]]) for c in self.job.clusters if c.fixed]

    def _alike(self, place: Place, most: int, within: Within) -> object:
        """What empty places that share their gaps have in common where their options are the same; else the name."""
        apart = any(place.name in names for names in (self.alone, self._equal, self.split))
        if place.installed or apart or lines_carried(self.job, place):
            return place.name
        suits, cautions = self._suits[place.name], self.screening.cautions[place.name]
        return suits, cautions, most, place.most_pieces, place.fewest_pieces, within.get(place.name)

    def _unbeaten(self, place: Place, of: PlaceOptions, shared: Mapping[str, frozenset[str]]) -> tuple[Option, ...]:
        # equal packs are tied by the parts in them: none of them can stand in for another
        if place.name in self._equal:
            return of.options
        # places that act together are changed only where fewer gaps are outside then, and none gets too tight for it:
        # what is better by the levels may not do so
        together = shared.get(of.gap, frozenset()) if of.gap else frozenset(self.levels)
        levels = [*self.levels, SPLIT] if place.name in self.split else self.levels
        return without_beaten(of.options, levels, self._plentiful, together, capped=self.capped)

    def hopeless(self, within: Within) -> Counter[str]:
        """What the levels hold at least: the shares of the places that no stack at all can serve."""
        floor: Counter[str] = Counter()
        for place in self.job.places:
            try:
                options = self._place(place, place.most_pieces, 0, within)
            except TooManyError:
                continue
            if options.gap and len(options.options) == 1:
                floor.update(options.options[0].share)
        for cluster in self.job.clusters:
            if cluster.fixed:
                floor.update(fixed_gap(self.job, self.scale, self.job.gap[cluster.gaps[0]]).options[0].share)
        return floor

    def _place(self, place: Place, most: int, cap: int, within: Within) -> PlaceOptions:
        name = place.name
        suits, cautions = self._suits[name], self.screening.cautions[name]
        counts = [self.supply[i] for i in range(len(self.job.stock))]
        usable = Usable(suits, counts, cautions, most, cap)
        if name in self.alone:
            return place_options(self.job, self.scale, place, self.alone[name], usable)
        found = coupled_options(self.job, self.scale, place, usable, within.get(name))
        return self._with_split(found) if name in self.split else found

    def _with_split(self, of: PlaceOptions) -> PlaceOptions:
        """The same, each option with how far it is from what was in."""
        options = (
            replace(one, share=one.share | {SPLIT: further(self.job, of.place, one.stack)}) for one in of.options
        )
        return replace(of, options=tuple(options))

    def _shared_levels(self) -> dict[str, frozenset[str]]:
        """By gap, the levels of balances to which it adds."""
        shared: dict[str, frozenset[str]] = {}
        for balance in self.job.balances:
            levels = {"spread"} if balance.within is None else {"spread", "excess"}
            own = [self.alone[place].name for place in balance.places if place in self.alone]
            for gap in (*balance.gaps, *own):
                shared[gap] = shared.get(gap, frozenset()) | levels
        return shared


def _plentiful(job: Job, screening: Screening) -> frozenset[int]:
    """The stock lines of which there are as many as could ever be used."""
    ever: Counter[int] = Counter()
    for place in job.places:
        suits, installed = screening.suits[place.name], Counter(place.installed)
        ever.update({i: max(place.most_pieces, installed[i]) for i in suits})
        ever.update({i: count for i, count in installed.items() if i not in suits})
    return frozenset(i for i, n in ever.items() if job.there[i] >= n)
