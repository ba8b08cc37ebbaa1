"""From screened stock to one stack per place, all levels proven where that can be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from shimopt.choose.choice import Choice, LevelResult
from shimopt.choose.descent import Descent, Step
from shimopt.choose.model import Model, build_model
from shimopt.choose.start import greedy_start
from shimopt.fit import Screening
from shimopt.job import Job
from shimopt.parts import natural_key
from shimopt.stacks import Option, PlaceOptions, Scale, TooManyError, place_options, without_beaten

__all__ = ["Chooser", "choose", "supply_of"]

# beyond so many options the stacks are first tried with few pieces, and more only as far as they can matter
_FEW_OPTIONS = 6_000
# beyond so many the rest is left out, and the plan says that it is not proven
_MOST_OPTIONS = 400_000
# levels that fewer pieces cannot make worse once they stand at nothing
_ABOVE_PIECES = ("outside", "miss", "unproven", "doubt", "excess", "bought", "opened")


def supply_of(job: Job, buy: bool) -> dict[int, int]:
    """How many pieces of each stock line can be had: on hand, or as many as could ever be used where it is offered."""
    ever = sum(place.most_pieces for place in job.places)
    return {i: line.on_hand + ever if buy and line.offers else line.on_hand for i, line in enumerate(job.stock)}


def choose(
    job: Job,
    screening: Screening,
    *,
    buy: bool = False,
    nodes: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Choice:
    """Choose one stack per place, level by level.

    Parameters: buy, whether what the catalogues offer may be used; nodes, the most search nodes per level (None: no
    limit); progress, told the name of each level as it begins.
    """
    return Chooser(job, screening, buy, nodes, progress).choice()


class Chooser:
    """Finds options, builds the model, and brings a choice down level by level.

    `order` is another order of levels than the job's; `capped`, whether all pieces together will be limited.
    """

    def __init__(
        self,
        job: Job,
        screening: Screening,
        buy: bool,
        nodes: int | None,
        progress: Callable[[str], None] | None,
        order: Sequence[str] | None = None,
        capped: bool = False,
    ) -> None:
        self.job, self.screening, self.nodes, self.progress = job, screening, nodes, progress
        self.scale = Scale.of(job)
        self.supply = supply_of(job, buy)
        self.capped = capped
        levels = job.levels if order is None else order
        self.levels = [name for level in levels for name in (("unpriced", "cost") if level == "cost" else (level,))]
        ever: Counter[int] = Counter()
        for place in job.places:
            ever.update(dict.fromkeys(screening.suits[place.name], place.most_pieces))
        self.plentiful = frozenset(i for i, n in ever.items() if job.stock[i].on_hand >= n)

    def choice(self) -> Choice:
        """The best choice by all levels."""
        model, complete = self.model()
        return self.settled(self._descent(model), complete)

    def model(self) -> tuple[Model, bool]:
        """The model of all options that matter, and whether surely none is missing that a best choice could hold."""
        most = max(place.most_pieces for place in self.job.places)
        try:
            options, complete = self._options({}, most, _FEW_OPTIONS), True
        except TooManyError:
            options, complete = self._few_pieces_first(most)
        return build_model(self.job, self.scale, options, self.supply), complete

    def settled(self, descent: Descent, complete: bool) -> Choice:
        """The choice after every level and all ties."""
        steps = [descent.level(level) for level in self.levels]
        descent.settle_ties(self._order_of_places())
        model = descent.model
        stacks = {place.name: model.columns[c].stack for place, c in zip(self.job.places, descent.chosen, strict=True)}
        results, sure = [], True
        for step in steps:
            now = model.value_of(step.level, descent.chosen)
            if now < step.value:
                # a level whose search stopped at its limit can be brought down by the search for a later one
                step = step._replace(value=now, bound=None if step.proven else step.bound, proven=False)
            # where stacks were left out, only what cannot be better anyway is proven, and nothing below what is not
            sure = sure and step.proven and (complete or step.value == 0)
            results.append(self._result(step, model, sure, complete))
        return Choice(stacks, tuple(result for result in results if result.name != "unpriced"))

    def _result(self, step: Step, model: Model, proven: bool, complete: bool) -> LevelResult:
        size = Fraction(1)
        if step.level in ("miss", "doubt", "excess", "spread", "target"):
            size = self.scale.tick
        elif step.level == "cost":
            size = Fraction(1, model.price_unit)
        known = proven or (complete and step.bound is not None)
        bound = step.bound * size if known and step.bound is not None else None
        return LevelResult(step.level, step.value * size, bound, proven, step.seconds)

    def _options(self, most_at: Mapping[str, int], most: int, cap: int) -> list[PlaceOptions]:
        """Options of every place with at most `most` pieces, or `most_at` the place. Raises TooManyError."""
        found, left = [], cap
        shared = self._shared_levels()
        for at, place in enumerate(self.job.places):
            here = self._place(at, most_at.get(place.name, most), left * 4)
            kept = without_beaten(
                here.options, self.levels, self.plentiful, shared.get(here.gap, frozenset()), capped=self.capped
            )
            left -= len(kept)
            if left < 0:
                raise TooManyError
            found.append(PlaceOptions(here.place, here.gap, kept))
        return found

    def _place(self, at: int, most: int, cap: int) -> PlaceOptions:
        place, gap = self.job.places[at], self.job.gaps[at]
        name = place.name
        suits, cautions = self.screening.suits[name], self.screening.cautions[name]
        counts = [self.supply[i] for i in range(len(self.job.stock))]
        return place_options(self.job, self.scale, place, gap, suits, counts, cautions, most, cap)

    def _descent(self, model: Model) -> Descent:
        """The way down from a good start: the best of every place that the supply still allows."""
        return Descent(model, self.nodes, self.progress, greedy_start(model, self.levels))

    def _order_of_places(self) -> list[int]:
        """Places in the order in which ties are settled: as written in the job, then those of a table by name."""

        def key(at: int) -> tuple[object, ...]:
            gap = self.job.gaps[at]
            return (1, natural_key(gap.name), gap.name) if gap.reading.kind == "table" else (0, at)

        return sorted(range(len(self.job.places)), key=key)

    def _shared_levels(self) -> dict[str, frozenset[str]]:
        shared: dict[str, frozenset[str]] = {}
        for balance in self.job.balances:
            levels = {"spread"} if balance.within is None else {"spread", "excess"}
            for gap in balance.gaps:
                shared[gap] = shared.get(gap, frozenset()) | levels
        return shared

    def _few_pieces_first(self, most: int) -> tuple[list[PlaceOptions], bool]:
        """Options with as few pieces as are sure to hold a best plan, and whether they surely do.

        Once a plan has nothing left to improve above `pieces`, every place holds at least the fewest pieces that leave
        nothing to improve there, so no place can hold more than that and what the plan has to spare.
        """
        held = self.levels[: self.levels.index("pieces")]
        if not set(held) <= set(_ABOVE_PIECES):
            return self._as_many_as_can_be(most)
        floor = self._hopeless()
        for pieces in range(1, most + 1):
            try:
                options = self._options({}, pieces, _MOST_OPTIONS)
            except TooManyError:
                break
            descent = self._descent(build_model(self.job, self.scale, options, self.supply))
            if any(descent.level(level).value > floor[level] for level in held):
                continue
            total = descent.level("pieces").value
            fewest = {
                place.place: min((o.share["pieces"] for o in place.options if _nothing_left(o, held)), default=0)
                for place in options
            }
            room = total - sum(fewest.values())
            most_at = {name: min(most, count + room) for name, count in fewest.items()}
            if max(most_at.values(), default=0) <= pieces:
                return options, True
            try:
                return self._options(most_at, most, _MOST_OPTIONS), True
            except TooManyError:
                break
        return self._as_many_as_can_be(most)

    def _hopeless(self) -> Counter[str]:
        """What the levels hold at least: the shares of the places that no stack at all can serve."""
        floor: Counter[str] = Counter()
        for place in range(len(self.job.places)):
            try:
                options = self._place(place, self.job.places[place].most_pieces, 0)
            except TooManyError:
                continue
            floor.update(options.options[0].share)
        return floor

    def _as_many_as_can_be(self, most: int) -> tuple[list[PlaceOptions], bool]:
        for pieces in range(most, 0, -1):
            try:
                return self._options({}, pieces, _MOST_OPTIONS), pieces == most
            except TooManyError:
                continue
        # even single pieces are too many: nothing is fitted, and the plan says that it is not proven
        return self._options({}, 0, _MOST_OPTIONS), False


def _nothing_left(option: Option, levels: Sequence[str]) -> bool:
    return not any(option.share.get(level) for level in levels)
