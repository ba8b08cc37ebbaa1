"""The whole way: from screened stock to one stack per place, all levels proven where that can be done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import partial

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Option, PlaceOptions, Scale, TooManyError
from shimopt.choose.chosen import Choice, LevelResult
from shimopt.choose.level_after_level import Descent, Step, all_levels, missed
from shimopt.choose.model_rows import build_model
from shimopt.choose.options_offered import SPLIT, Offered
from shimopt.choose.quick_plan import greedy_start
from shimopt.choose.thickness_ranges import NOTHING_KNOWN, Known, known_of, narrowed
from shimopt.choose.whole_model import Aim, Model, tie_order
from shimopt.job import Job
from shimopt.job.levels import LENGTH_LEVELS
from shimopt.proof.proven import Proof
from shimopt.seats import Screening
from shimopt.watch import Watch

# a cheap trial: of so many options, of which so many combinations are listed, with so many search steps
OPTIONS_TRIED, _COMBINATIONS_TRIED, _STEPS_TRIED = 2_000, 10_000, 10
# what prices leave open is looked at whole where that has no more options than these
_MOST_AFTER_PRICES = 20_000
# beyond so many options the stacks are first tried with few pieces, and more only as far as they can matter
_FEW_OPTIONS = 6_000
# beyond so many the rest is left out, and the plan says that it is not proven
_MOST_OPTIONS = 400_000
# stacks of so few pieces show how near windows that fight can come
_PILOT_PIECES = 1
# levels that fewer pieces cannot make worse once they stand at nothing
_ABOVE_PIECES = ("short", "outside", "miss", "unproven", "doubt", "excess", "bought", "opened")


def supply_of(job: Job, buy: bool) -> dict[int, int]:
    """How many pieces of each stock line can be had: those there are; where it is offered, all that could be used."""
    ever = sum(place.most_pieces for place in job.places)
    return {i: job.there[i] + ever if buy and line.offers else job.there[i] for i, line in enumerate(job.stock)}


class Chooser:
    """Finds options, builds the model, and brings a choice down level by level.

    `order` is another order of levels than the job's; `capped`, whether all pieces together will be limited.
    """

    def __init__(
        self,
        job: Job,
        screening: Screening,
        buy: bool,
        watch: Watch | None = None,
        order: Sequence[str] | None = None,
        capped: bool = False,
    ) -> None:
        self.job, self.screening, self.watch = job, screening, watch or Watch()
        self.scale = Scale.of(job)
        self.supply = supply_of(job, buy)
        levels = job.levels if order is None else order
        self.levels = [name for level in levels for name in (("unpriced", "cost") if level == "cost" else (level,))]
        alone = {*job.alone.values()}
        # first of all comes that every place has its least number of pieces, where nothing but that decides about it
        if any(place.fewest_pieces for place in job.places if place.name not in alone):
            self.levels.insert(0, "short")
        self.offered = Offered(job, self.scale, screening, self.supply, self.levels, capped=capped)
        self.alone = self.offered.alone
        # plans of models with fewer options: where to begin
        self.found: list[Mapping[str, Stack]] = []
        # levels, each with its value, a bound and a proof, as another search has shown them
        self.known: list[tuple[str, int, int, Proof]] = []
        self.aim = Aim([*self.levels, SPLIT], tie_order(job, self.alone))

    def choice(self) -> Choice:
        """The best choice by all levels."""
        descent, steps, complete = self.descended()
        return self._settled(descent, steps, complete)

    def tried(self) -> Choice | None:
        """The best choice, where it is soon found and proven; None where it is not, or there is much to choose from."""
        if (options := self.options(OPTIONS_TRIED)) is None:
            return None
        descent = self._descent(build_model(self.job, self.scale, options, self.supply))
        with self.watch.part(_STEPS_TRIED) as limit:
            descent.watch, descent.most_joined = limit, _COMBINATIONS_TRIED
            steps: list[Step] = []
            for level in self.levels:
                steps.append(descent.level(level))
                if not steps[-1].proven:
                    return None
            choice = self._settled(descent, steps, complete=True)
            return None if limit.over() else choice

    def choice_after(self, other: Choice) -> Choice | None:
        """The best choice, begun where another search has left it; None where there is too much to choose from."""
        if self.options(_MOST_AFTER_PRICES) is None:
            return None
        self.found.append(other.stacks)
        self.known = [
            (level.name, int(level.value / size), int(level.bound / size), level.proof)
            for level in other.levels
            if level.bound is not None and (size := self.scale.tick if level.name in LENGTH_LEVELS else 1)
        ]
        return self.choice()

    def options(self, most: int) -> list[PlaceOptions] | None:
        """The options of all places, where they are no more than so many in all."""
        pieces = max((place.most_pieces for place in self.job.places), default=0)
        try:
            return self.offered.options({}, pieces, most, {})
        except TooManyError:
            return None

    def model(self, known: Known = NOTHING_KNOWN, *, few: bool = True) -> tuple[Model, bool]:
        """The model of all options that matter, and whether surely none is missing that a best choice could hold.

        Parameters: few, whether few pieces may leave nothing to improve.
        """
        most = max((place.most_pieces for place in self.job.places), default=0)
        try:
            options, complete = self.offered.options({}, most, _FEW_OPTIONS, known.within), True
        except TooManyError:
            options, complete = (self._few_pieces_first if few else self._as_many_as_can_be)(most, known)
        return build_model(self.job, self.scale, options, self.supply, known.fights), complete

    def settled(self, descent: Descent, complete: bool) -> Choice:
        """The choice after every level and all ties."""
        return self._settled(descent, [descent.level(level) for level in self.levels], complete)

    def _settled(self, descent: Descent, steps: Sequence[Step], complete: bool) -> Choice:
        # what was told before has no ties settled, but is as good
        if self.offered.split:
            descent.level(SPLIT)
        descent.settle_ties()
        return self._choice(descent.model, descent.chosen, steps, complete)

    def _tell(self, descent: Descent, steps: Sequence[Step], complete: bool) -> None:
        """The choice as it stands after some levels: of the others nothing is proven."""
        model, chosen, known = descent.model, descent.chosen, tuple(steps)

        def so_far() -> tuple[Choice, tuple[Fraction | int, ...]]:
            left = self.levels[len(known) :]
            now = [Step(level, model.value_of(level, chosen), None, Proof.NONE, 0.0) for level in left]
            choice = self._choice(model, chosen, [*known, *now], complete)
            return choice, choice.judged

        self.watch.on_the_way(so_far)

    def _choice(self, model: Model, chosen: Sequence[int], steps: Sequence[Step], complete: bool) -> Choice:
        results, proof = [], Proof.EXACT
        for step in steps:
            now = model.value_of(step.level, chosen)
            if now < step.value:
                # a level whose search stopped at its limit can be brought down by the search for a later one
                step = step._replace(value=now, bound=None if step.proven else step.bound, proof=Proof.NONE)
            # where stacks were left out, only what cannot be better anyway is proven
            proof = step.proof.below(proof) if complete or step.value == 0 else Proof.NONE
            results.append(self._result(step, model, proof, complete))
        return Choice(
            model.stacks_of(chosen), tuple(result for result in results if result.name not in ("short", "unpriced"))
        )

    def descended(self) -> tuple[Descent, list[Step], bool]:
        """The choice after all levels, what each came to, and whether no option was left out."""
        known, few = self._known(), True
        while True:
            model, complete = self.model(known, few=few)
            descent = self._descent(model)
            hoped = self._least_outside(known) if known.within else None
            steps = all_levels(descent, self.levels, partial(self._told, descent, complete=complete, hoped=hoped))
            if hoped is None or steps[-1].level != "outside" or not missed(steps, hoped):
                return descent, steps, complete
            # a gap that could be inside is outside after all: now any thickness may be worth something
            self.found.append(descent.stacks())
            bound = steps[-1].bound
            known, few = Known(fights=known.fights), bound is None or bound <= self._least_outside(known)

    def _told(self, descent: Descent, steps: Sequence[Step], *, complete: bool, hoped: int | None) -> int | None:
        """Tell what there is before a level is looked at; what is hoped for there."""
        self._tell(descent, steps, complete)
        return hoped if self.levels[len(steps)] == "outside" else None

    def _known(self) -> Known:
        """What is sure of places that act together; where windows fight, by a look at short stacks."""
        known = known_of(self.job, self.scale, self._usable, self.watch.over)
        if not known.fights or self.job.levels[:2] != ("outside", "miss") or "miss" not in self.levels:
            return known
        try:
            options = self.offered.options({}, _PILOT_PIECES, _MOST_OPTIONS, known.within)
        except TooManyError:
            return known
        descent = self._descent(build_model(self.job, self.scale, options, self.supply, known.fights))
        levels = self.levels[: self.levels.index("miss") + 1]
        values = [descent.level(level).value for level in levels]
        self.found.append(descent.stacks())
        floor = self.offered.hopeless(known.within)
        if values[:-1] != [0] * (len(levels) - 2) + [floor["outside"] + len(known.fights)]:
            return known
        # only what misses by no more than these stacks do can matter
        left = values[-1] - floor["miss"]
        return narrowed(self.job, self.scale, self._usable, known, left)

    def _usable(self, place: str) -> list[int]:
        return [i for i in self.screening.suits[place] if self.supply[i] > 0]

    def _least_outside(self, known: Known) -> int:
        """How many gaps are outside where none is but those that nothing can help."""
        return self.offered.hopeless(known.within)["outside"] + len(known.fights)

    def _result(self, step: Step, model: Model, proof: Proof, complete: bool) -> LevelResult:
        size = Fraction(1)
        if step.level in LENGTH_LEVELS:
            size = self.scale.tick
        elif step.level == "cost":
            size = Fraction(1, model.price_unit)
        known = proof.proven or (complete and step.bound is not None)
        bound = step.bound * size if known and step.bound is not None else None
        return LevelResult(step.level, step.value * size, bound, proof, step.seconds)

    def _descent(self, model: Model) -> Descent:
        """The way down from a good start: what was found with fewer options, or the best of every place in turn."""
        starts = [greedy_start(model, self.levels), *(model.columns_of(stacks) for stacks in self.found)]
        # where what some places took was in others, all begin as they are
        fit = [one for one in starts if one is not None and not model.short_of(one) and model.keeps_ties(one)]
        best = min(fit, key=lambda one: [model.value_of(level, one) for level in self.levels], default=None)
        return Descent(model, self.aim, self.watch, best, known=self.known)

    def _few_pieces_first(self, most: int, known: Known) -> tuple[list[PlaceOptions], bool]:
        """Options with as few pieces as are sure to hold a best plan, and whether they surely do.

        Once a plan has nothing left to improve above `pieces`, every place holds at least the fewest pieces that leave
        nothing to improve there (acting together with others: that have a thickness which can do so), so no place can
        hold more than that and what the plan has to spare.
        """
        held = self.levels[: self.levels.index("pieces")]
        # where windows fight there is always something left to improve
        if not set(held) <= set(_ABOVE_PIECES) or known.fights:
            return self._as_many_as_can_be(most, known)
        floor = self.offered.hopeless(known.within)
        for pieces in range(1, most):
            try:
                options = self.offered.options({}, pieces, _MOST_OPTIONS, known.within)
            except TooManyError:
                break
            descent = self._descent(build_model(self.job, self.scale, options, self.supply, known.fights))
            if not all(self._steps(descent, [level])[0].value <= floor[level] for level in held):
                continue
            total = self._steps(descent, ["pieces"])[0].value
            fewest = {
                place.place: min(
                    (o.share["pieces"] for o in place.options if self._serves(place, o, held, known)), default=0
                )
                for place in options
                if place.place
            }
            room = total - sum(fewest.values())
            most_at = {name: min(most, count + room) for name, count in fewest.items()}
            if max(most_at.values(), default=0) <= pieces:
                return options, True
            try:
                return self.offered.options(most_at, most, _MOST_OPTIONS, known.within), True
            except TooManyError:
                break
        return self._as_many_as_can_be(most, known)

    def _steps(self, descent: Descent, levels: Sequence[str]) -> list[Step]:
        """Steps of a trial with few pieces, whose plan is the best so far where the search is cut off here."""
        steps = [descent.level(level) for level in levels]
        self.found.append(descent.stacks())
        self._tell(descent, [], complete=False)
        return steps

    def _serves(self, place: PlaceOptions, option: Option, levels: Sequence[str], known: Known) -> bool:
        """Whether an option can stand in a plan that leaves nothing to improve at these levels."""
        if not _nothing_left(option, levels):
            return False
        least, most = known.within.get(place.place, (0, None))
        thickness = sum(self.scale.ticks(self.job.stock[i].part.thickness.best) for i in option.stack)
        return least <= thickness and (most is None or thickness <= most)

    def _as_many_as_can_be(self, most: int, known: Known) -> tuple[list[PlaceOptions], bool]:
        for pieces in range(most, 0, -1):
            try:
                return self.offered.options({}, pieces, _MOST_OPTIONS, known.within), pieces == most
            except TooManyError:
                continue
        # even single pieces are too many: nothing is fitted, and the plan says that it is not proven
        return self.offered.options({}, 0, _MOST_OPTIONS, known.within), False


def _nothing_left(option: Option, levels: Sequence[str]) -> bool:
    return not any(option.share.get(level) for level in levels)
