"""Where the drawer ran out: which gaps got the pieces, and the smallest set of gaps that compete for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from fractions import Fraction
from functools import cached_property

from shimopt.arithmetic.clearance import Stack, thickness_of
from shimopt.arithmetic.needed import needed, wanted
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.choose import Contest
from shimopt.job import Gap, Place
from shimopt.reasons.alternatives import Chosen, Nearest
from shimopt.reasons.gap_reasons import DrawerRanOut
from shimopt.watch import Watch

# searches in all: beyond them who got the piece is still said, but not the smallest set that competes
_MOST_SEARCHES = 200
# so many places are looked at by each search together: the larger the job, the fewer searches
_MOST_LOOKS = 3_000
# more gaps than that compete for sizes, not with each other
_MOST_MEMBERS = 40
_MOST_STACKS = 2_000
# of those who got the pieces so many are named
_MOST_HOLDERS = 100


class Competition:
    """Explains gaps that a full drawer would serve and this one does not."""

    def __init__(self, chosen: Chosen, watch: Watch) -> None:
        job, stacks = chosen.job, chosen.stacks
        self.job, self.screening, self.stacks, self.watch = job, chosen.screening, stacks, watch
        self.outcome, self.supply, self.scale = chosen.outcome, chosen.supply, Scale.of(job)
        self.used = Counter(i for stack in stacks.values() for i in stack)
        self.holders: dict[int, list[str]] = {}
        for name in (place.name for place in job.places):
            for i in sorted(set(stacks.get(name, ()))):
                self.holders.setdefault(i, []).append(name)
        self.having: dict[frozenset[int], tuple[list[str], set[str]]] = {}
        self.lacked: dict[Hashable, tuple[Stack, frozenset[int]]] = {}
        self.order = {place.name: at for at, place in enumerate(job.places)}
        self.gap_of = {place: gap for gap, place in job.alone.items()}
        self.order_of_gaps = {gap.name: at for at, gap in enumerate(job.gaps)}

    @cached_property
    def contest(self) -> Contest:
        """Made when the first gap asks."""
        searches = min(_MOST_SEARCHES, _MOST_LOOKS // max(1, len(self.job.places)))
        return Contest(self.job, self.screening, self.supply, self.inside, searches)

    @cached_property
    def inside(self) -> list[str]:
        """The gaps with a place of their own that the plan brings inside, surely or by their best estimate."""
        return [name for name in self.gap_of.values() if self.outcome.gaps[name].verdict != "outside"]

    def reason(self, gap: Gap, place: Place, near: Nearest) -> DrawerRanOut:
        """The drawer ran out: `stack` would have served, `names` is the smallest set of gaps that cannot all be."""
        stack, lacking = self._least_lacking(gap, place)
        having, keeping = self._having(lacking)
        names = [name for name in having if name != place.name]
        holders = [self.gap_of.get(name, name) for name in names[:_MOST_HOLDERS]]
        return DrawerRanOut(
            about=gap.name,
            names=self._smallest_set(gap, holders),
            stack=stack,
            sure=self._is_sure(gap, stack),
            got=tuple(holders),
            kept=tuple(self.gap_of.get(name, name) for name in names[:_MOST_HOLDERS] if name in keeping),
            and_others=len(names) > _MOST_HOLDERS,
            nearest=near.stack,
            off=near.off,
        )

    def _is_sure(self, gap: Gap, stack: Stack) -> bool:
        """Whether a stack brings it inside at every end of what is not known."""
        span, thick = needed(self.job, gap), thickness_of(stack, self.job.stock)
        if not stack or span is None:
            return False
        return span.least <= thick.low and (span.most is None or thick.high <= span.most)

    def _having(self, lacking: frozenset[int]) -> tuple[list[str], set[str]]:
        """The places that hold what is lacking elsewhere, in the job's order, and those that keep it."""
        if lacking not in self.having:
            having = {name for i in lacking for name in self.holders.get(i, ())[: _MOST_HOLDERS + 1]}
            names = sorted(having, key=self.order.__getitem__)[: _MOST_HOLDERS + 2]
            self.having[lacking] = names, {name for name in names if self._keeps(name, lacking)}
        return self.having[lacking]

    def _keeps(self, place: str, lacking: frozenset[int]) -> bool:
        """Whether what is lacking elsewhere was in a place, and stays there."""
        installed = self.job.place[place].installed
        here = [i for i in self.stacks.get(place, ()) if i in lacking]
        return all(here.count(i) <= installed.count(i) for i in here)

    def _least_lacking(self, gap: Gap, place: Place) -> tuple[Stack, frozenset[int]]:
        """The stack that would serve and lacks the fewest pieces, and the stock lines that it lacks."""
        usable, within, own = self.screening.suits[place.name], wanted(self.job, gap), self.stacks.get(place.name, ())
        # in a large job many gaps lack the same
        alike = usable, within, own, place.most_pieces, place.fewest_pieces
        if alike not in self.lacked:
            self.lacked[alike] = self._lacked(place, within)
        return self.lacked[alike]

    def _lacked(self, place: Place, within: tuple[Fraction | None, Fraction | None]) -> tuple[Stack, frozenset[int]]:
        """The same, of a thickness."""
        usable, ticks, (least, most_of_all) = self.screening.suits[place.name], self.scale.ticks, within
        low = None if least is None else self.scale.least(least)
        high = None if most_of_all is None else self.scale.most(most_of_all)
        sizes = [ticks(self.job.stock[i].part.thickness.best) for i in usable]
        counts = [self.supply[i] for i in usable]
        serving: list[Stack] = []
        for most in range(1, place.most_pieces + 1):
            try:
                found = stacks_between(sizes, counts, most, low, high, _MOST_STACKS, fewest=place.fewest_pieces)
            except TooManyError:
                break
            serving = found or serving
        if not serving:
            # too many stacks to go through: whoever holds the last pieces of what suits has got them instead
            return (), frozenset(i for i in usable if self.used[i] and self.used[i] >= self.supply[i])

        def lack(stack: Stack) -> dict[int, int]:
            needs = Counter(stack)
            # what is in the place itself is there for it
            left = {i: self.supply[i] - self.used[i] + self.stacks.get(place.name, ()).count(i) for i in needs}
            return {i: n - left[i] for i, n in needs.items() if n > left[i]}

        named = [tuple(usable[k] for k in stack) for stack in serving]
        stack = min(named, key=lambda s: (sum(lack(s).values()), len(s), s))
        return stack, frozenset(lack(stack))

    def _smallest_set(self, gap: Gap, holders: list[str]) -> tuple[str, ...]:
        """Gaps that cannot all be inside, though without any one of them the others can; empty if not found."""
        if self.watch.over():
            return ()

        def clash(names: list[str]) -> bool | None:
            could = self.contest.can_all_be_inside([*names, gap.name])
            return None if could is None else not could

        # mostly those who hold the pieces are enough to clash; who is inside can be inside together
        inside = frozenset(self.inside)
        sets = ([name for name in holders if name in inside], self.inside)
        members = next((names for names in sets if len(names) <= _MOST_MEMBERS and clash(names)), None)
        if members is None:
            return ()
        for name in list(members):
            fewer = [other for other in members if other != name]
            clashes = None if self.watch.over() else clash(fewer)
            if clashes is None:
                return ()
            members = fewer if clashes else members
        return tuple(sorted([*members, gap.name], key=self.order_of_gaps.__getitem__))
