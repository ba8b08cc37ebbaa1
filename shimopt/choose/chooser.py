"""From screened stock to one stack per place, all levels proven where that can be done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Option, PlaceOptions, Scale, TooManyError
from shimopt.choose.chosen import Choice, LevelResult
from shimopt.choose.level_after_level import Descent, Step
from shimopt.choose.model_rows import build_model
from shimopt.choose.options_offered import SPLIT, Offered
from shimopt.choose.quick_plan import greedy_start, plan_at_once
from shimopt.choose.thickness_ranges import NOTHING_KNOWN, Known, known_of, narrowed
from shimopt.choose.tie_order import tie_order
from shimopt.choose.whole_model import Aim, Model
from shimopt.job import Job
from shimopt.job.levels import LENGTH_LEVELS
from shimopt.proof.proven import Proof
from shimopt.seats import Screening
from shimopt.watch import Few, Watch

# a job of more places is planned by prices; one of more than a few is, where all that it comes to is proven, and goes
# the whole way otherwise
MOST_WHOLE = 300
_FEW_PLACES = 20
# a job of so few places and stock lines is planned before anybody looks at a watch
_FEW_TO_WAIT_FOR, _FEW_LINES = 12, 60
# so many places a plan at once may look at, one as often as it likes; or so much of the time that is left
_LOOKS_AT_ONCE, _SHARE_AT_ONCE = 600, 0.5
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


def choose(job: Job, screening: Screening, *, buy: bool = False, watch: Watch | None = None) -> Choice:
    """Choose one stack per place, level by level: a job of few places whole, one of many by prices where that can be.

    In between prices are tried first, and taken where they leave nothing open.

    Parameters: buy, whether what the catalogues offer may be used; watch, how long it may take, told what begins.
    """
    watch = watch or Watch()
    at_once = _at_once(job, screening, supply_of(job, buy), watch)
    choice = _searched(job, screening, buy, watch)
    # a search that was cut off may not have come so far
    return choice if at_once is None or choice.values <= at_once.values else at_once


def _searched(job: Job, screening: Screening, buy: bool, watch: Watch) -> Choice:
    if len(job.places) > _FEW_PLACES and not buy:
        # loaded only by jobs that large: arrays take as long to load as a small job to plan
        from shimopt.choose.priced import priced_choice

        large = len(job.places) > MOST_WHOLE
        choice = priced_choice(job, screening, supply_of(job, buy), watch, scarce=large)
        if choice is not None and large:
            return choice
        if choice is not None:
            choice = replace(choice, way="whole")
            # proven at every level and by ties: what the other way would come to, and seldom as soon
            if choice.settled:
                return choice
            # the time may have gone into the first
            return min(Chooser(job, screening, buy, watch).choice(), choice, key=_values_and_how_sure)
    return Chooser(job, screening, buy, watch).choice()


def _values_and_how_sure(choice: Choice) -> tuple[tuple[Fraction, ...], int]:
    """By which of two choices of the same job one is kept."""
    return choice.values, sum(not level.proven for level in choice.levels)


def _at_once(job: Job, screening: Screening, supply: Mapping[int, int], watch: Watch) -> Choice | None:
    """Where somebody said how long he waits, or the search may be long: a plan, told before models take their time."""
    left, many = watch.left(), len(job.places) > _FEW_TO_WAIT_FOR or len(job.stock) > _FEW_LINES
    # by prices the first plan of a job is there as soon
    priced = len(job.places) > _FEW_PLACES and all(cluster.alone for cluster in job.clusters)
    if left is None and (not many or priced or len(job.places) > MOST_WHOLE):
        return None
    # without a limit the same on every machine
    limit = Few(_LOOKS_AT_ONCE, watch) if left is None else Watch(left * _SHARE_AT_ONCE)
    choice = plan_at_once(job, screening, supply, limit)
    if choice is not None:
        watch.told(choice, choice.judged)
    return choice


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
        self.aim = Aim([*self.levels, SPLIT], tie_order(job, self.alone))

    def choice(self) -> Choice:
        """The best choice by all levels."""
        descent, steps, complete = self.descended()
        return self._settled(descent, steps, complete)

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
        results, sure = [], True
        for step in steps:
            now = model.value_of(step.level, chosen)
            if now < step.value:
                # a level whose search stopped at its limit can be brought down by the search for a later one
                step = step._replace(value=now, bound=None if step.proven else step.bound, proof=Proof.NONE)
            # where stacks were left out, only what cannot be better anyway is proven, and nothing below what is not
            sure = sure and step.proven and (complete or step.value == 0)
            results.append(self._result(step, model, step.proof if sure or not step.proven else Proof.NONE, complete))
        return Choice(
            model.stacks_of(chosen), tuple(result for result in results if result.name not in ("short", "unpriced"))
        )

    def descended(self) -> tuple[Descent, list[Step], bool]:
        """The choice after all levels, what each came to, and whether no option was left out."""
        known, few = self._known(), True
        while True:
            model, complete = self.model(known, few=few)
            descent = self._descent(model)
            steps: list[Step] = []
            for level in self.levels:
                self._tell(descent, steps, complete)
                hoped = self._least_outside(known) if known.within and level == "outside" else None
                steps.append(descent.level(level, hoped))
                if hoped is not None and (steps[-1].value != hoped or any(step.value for step in steps[:-1])):
                    break
            else:
                return descent, steps, complete
            # a gap that could be inside is outside after all: now any thickness may be worth something
            self.found.append(descent.stacks())
            bound = steps[-1].bound
            known, few = Known(fights=known.fights), bound is None or bound <= self._least_outside(known)

    def _known(self) -> Known:
        """What is sure of places that act together; where windows fight, by a look at short stacks."""
        known = known_of(self.job, self.scale, self._usable)
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
        return Descent(model, self.aim, self.watch, best)

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
