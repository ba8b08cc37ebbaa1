"""Level after level: prove a level best, hold it, strike what can no longer be chosen, go on to the next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from itertools import product
from math import gcd, prod
from time import monotonic
from typing import TYPE_CHECKING, NamedTuple

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.whole_model import Aim, Model
from shimopt.proof.proven import Proof, proof_of
from shimopt.proof.rows import Row
from shimopt.watch import Watch

if TYPE_CHECKING:
    from shimopt.choose.asking import Asking, Found
    from shimopt.choose.joint import Joint
    from shimopt.choose.trying import Trial
    from shimopt.proof.sums import Bound, Wholes

__all__ = ["Descent", "Step"]

# so few combinations are tried by hand: arrays take longer to load
_FEW = 400
# so many combinations of places that act together are kept while they are built up
_MOST_BUILT = 700_000
# so many that differ in what matters to the places to come
_MOST_ALIKE = 100_000
# ranks of several places are settled together as long as the number they make stays below
_LARGEST_NUMBER, _LARGEST_WORD = 500_000, 1 << 52
# levels of which a balance says what they come to
_OF_BALANCES = frozenset({"excess", "spread"})


class Step(NamedTuple):
    """A level's value and bound in whole numbers, and how far it is proven under proven levels."""

    level: str
    value: int
    bound: int | None
    proof: Proof
    seconds: float

    @property
    def proven(self) -> bool:
        """Whether nothing is better, given the levels above."""
        return self.proof.proven


class Descent:
    """A choice that gets better level by level.

    Levels are brought down in the order of `aim`. `space` is what is chosen from: the model's columns, later perhaps
    combinations of them (`joint`); `picked` one of its columns per group, `alive` those of each group that a choice as
    good may still hold.
    """

    def __init__(
        self,
        model: Model,
        aim: Aim,
        watch: Watch | None = None,
        start: Sequence[int] | None = None,
        *,
        alive: Sequence[Sequence[int]] | None = None,
    ) -> None:
        self.model, self.aim, self.watch = model, aim, watch or Watch()
        self.space: Model | Joint = model
        self.alive = [list(group) for group in (model.groups if alive is None else alive)]
        self.picked: tuple[int, ...] = tuple(group[0] for group in model.groups) if start is None else tuple(start)
        self.held: list[tuple[str, int]] = []
        self.all_proven = True
        self._asking: Asking | None = None
        self._trial: Trial | None = None

    @property
    def chosen(self) -> tuple[int, ...]:
        """One of the model's columns per place, at first the start, or nothing anywhere."""
        return self.space.chosen(self.picked)

    def stacks(self) -> dict[str, Stack]:
        """The stack of every place."""
        model = self.model
        return {name: model.columns[c].stack for name, c in zip(model.place_of, self.chosen, strict=True) if name}

    def level(self, name: str) -> Step:
        """Bring one level to its least value and hold it there."""
        start = monotonic()
        self.watch.begins(name)
        value, bound, proof = self._least(name)
        # a bound means nothing below a level that is itself not proven
        proof, known = (proof, bound) if self.all_proven else (Proof.NONE, None)
        self.all_proven = proof.proven
        self.hold(name, value)
        return Step(name, value, value if proof.proven else known, proof, monotonic() - start)

    def hold(self, name: str, value: int) -> None:
        """From now on a level may not be above this value; the present choice must keep to it."""
        self.held.append((name, value))

    def _objective(self, name: str) -> dict[int, int]:
        return {at: f for at, f in self.space.levels[name].items() if f}

    def _least(self, name: str) -> tuple[int, int, Proof]:
        """The level's value, a bound and a proof; `picked` and `alive` are brought down with it."""
        value = self.model.value_of(name, self.chosen)
        if self._trial is not None:
            return self._tried(self._trial, name)
        if not (objective := self._objective(name)):
            return value, value, proof_of(value, value)
        bound = self._simple_bound(objective, value)
        if bound >= value or self.watch.over():
            return value, bound, proof_of(value, bound)
        if prod(map(len, self.alive)) <= _FEW:
            return self._tried_by_hand(name, value)
        from shimopt.choose.trying import can_be_tried

        if can_be_tried(self.alive):
            return self._tried(self._trial_of(name, value), name)
        if self._is_tied(name):
            if not self._one_cluster():
                if self._joined({**dict(self.held), name: value}):
                    return self._least(name)
            else:
                bound = self._built_up(name, objective, value, bound)
                value = self.model.value_of(name, self.chosen)
                if self._trial is not None:
                    return self._tried(self._trial, name)
                if bound >= value:
                    return value, bound, proof_of(value, bound)
        found = self._asked(objective, value, bound, lambda c: self._value_if_kept(name, c))
        return found.value, found.bound, found.proof

    def _simple_bound(self, objective: dict[int, int], value: int) -> int:
        """Every place at its own least; what cannot be in a choice this good is struck."""
        space, unit = self.space, gcd(*objective.values())
        least = [min(objective.get(c, 0) for c in group) for group in self.alive]
        helpers = enumerate(space.helpers, start=space.groups[-1].stop)
        bound = sum(least) + sum(min(f * h.low, f * h.high) for at, h in helpers if (f := objective.get(at, 0)))
        room = value - bound
        self.alive = [
            [c for c in group if objective.get(c, 0) - low <= room]
            for group, low in zip(self.alive, least, strict=True)
        ]
        return -(-bound // unit) * unit

    def _tried_by_hand(self, name: str, value: int) -> tuple[int, int, Proof]:
        best = value
        for picked in product(*self.alive):
            chosen = self.space.chosen(picked)
            if self.model.value_of(name, chosen) < best and self.keeps(chosen):
                best, self.picked = self.model.value_of(name, chosen), picked
        return best, best, proof_of(best, best)

    def _trial_of(
        self, name: str, most: int, priced: Sequence[tuple[Wholes, int]] = (), cap: int | None = None
    ) -> Trial:
        """All combinations that keep to the levels held and come to no more than so much at another.

        Parameters: priced, what columns cost at most by a bound of these; cap, as of `Trial`.
        """
        from shimopt.choose.combinations import single_blocks
        from shimopt.choose.place_by_place import Limits
        from shimopt.choose.trying import Trial

        space = self.space
        blocks = single_blocks(self.alive) if isinstance(space, Model) else space.blocks_left(self.alive)
        limits = {**dict(self.held), name: most}
        trial = Trial(self.model, blocks, Limits(limits, priced), cap)
        for level, limit in limits.items():
            trial.keep(trial.values(level) <= limit)
        return trial

    def _begin_trial(self, trial: Trial) -> None:
        """From here on all is told in the model's own columns."""
        chosen = self.chosen
        self.alive = self.space.left(self.alive)
        self.space, self.picked, self._trial = self.model, chosen, trial

    def _one_cluster(self) -> bool:
        """Whether all places that are still open act together."""
        open_at = {at for at, group in enumerate(self.alive) if len(group) > 1}
        return self.space is self.model and any(open_at <= set(here) for here in self.model.clusters())

    def _built_up(self, name: str, objective: Mapping[int, int], value: int, bound: int) -> int:
        """Begin to try out all combinations that come to no more than some value; else a bound.

        First those that could be had if there were pieces enough; where that says nothing, those as good as the one in
        hand, and where they are too many, the nearer to the bound the fewer.
        """
        from shimopt.proof.layers import TooManyLeftError

        root = self._solvers().bound(self.alive, self._held_rows(), objective)
        if root is None:
            return value
        bound, first = max(bound, root.rounded_up(1)), value
        with suppress(TooManyLeftError):
            bound = first = max(bound, self._with_pieces_enough(name, value))
        for most in [first, *sorted({bound + (value - bound >> shift) for shift in (6, 4, 2, 1)} - {first})]:
            begun = self._begun_within(name, most, root)
            if begun or (begun is None and most < value):
                return bound
            bound = bound if begun is None else most + 1
        return bound

    def _begun_within(self, name: str, most: int, root: Bound) -> bool | None:
        """Whether there are combinations that come to no more than this: then all are tried; None: too many."""
        from shimopt.proof.layers import TooManyLeftError

        try:
            trial = self._trial_of(name, most, [(root.above, most * root.parts - root.fine)], _MOST_BUILT)
        except TooManyLeftError:
            return None
        if len(trial.columns):
            self._begin_trial(trial)
        return bool(len(trial.columns))

    def _with_pieces_enough(self, name: str, value: int) -> int:
        """What the level cannot be below, however many pieces there were; `picked` goes there where it can."""
        from shimopt.choose.combinations import single_blocks
        from shimopt.choose.place_by_place import least_with_pieces_enough

        limits = {**dict(self.held), name: value}
        found = least_with_pieces_enough(self.model, single_blocks(self.alive), limits, name, _MOST_ALIKE)
        if found is None:
            return value
        least, columns = found
        chosen = columns.columns[0].tolist()
        if self.keeps(chosen) and self.model.value_of(name, chosen) < value:
            self.picked = tuple(chosen)
        return least

    def _tried(self, trial: Trial, name: str) -> tuple[int, int, Proof]:
        if self._trial is None:
            self._begin_trial(trial)
        values = trial.values(name)
        least = int(values.min())
        trial.keep(values == least)
        if self.model.value_of(name, self.chosen) > least or not self.keeps(self.chosen):
            self.picked = tuple(trial.columns[0].tolist())
        return least, least, proof_of(least, least)

    def _is_tied(self, name: str) -> bool:
        """Whether gaps that several places move, or balances, say what this level or one held comes to."""
        return bool(self.model.linked or {name, *(level for level, _ in self.held)} & _OF_BALANCES)

    def _joined(self, limits: Mapping[str, int]) -> bool:
        """Go over to combinations of what is tied within limits, where they are few enough; whether that was done."""
        model = self.model
        if self.space is not model:
            return False
        from shimopt.choose.joint import joint_of

        joint = joint_of(model, self.alive, limits, self.aim, self.chosen)
        if joint is None:
            return False
        self.picked = joint.picked(self.chosen)
        self.space, self.alive, self._asking = joint, [list(group) for group in joint.groups], None
        return True

    def _asked(
        self, objective: Mapping[int, int], value: int, bound: int, value_of: Callable[[Sequence[int]], int | None]
    ) -> Found:
        """The least that solvers find, proven as far as it goes; `picked` and `alive` are brought down with it."""
        found = self._solvers().least(
            self.alive,
            self._held_rows(),
            objective,
            (self.picked, value, bound),
            lambda picked: value_of(self.space.chosen(picked)),
        )
        self.picked, self.alive = found.chosen, found.alive
        return found

    def _solvers(self) -> Asking:
        from shimopt.choose.asking import Asking

        if self._asking is None:
            self._asking = Asking(self.space, self.watch)
        return self._asking

    def _held_rows(self) -> list[Row]:
        return [Row(terms, most) for level, most in self.held if (terms := self._objective(level))]

    def _value_if_kept(self, name: str, chosen: Sequence[int]) -> int | None:
        return self.model.value_of(name, chosen) if self.keeps(chosen) else None

    def keeps(self, chosen: Sequence[int]) -> bool:
        """Whether a proposal keeps within the stock, the ties and every level held so far, in exact numbers."""
        return (
            not self.model.short_of(chosen)
            and self.model.keeps_ties(chosen)
            and all(self.model.value_of(level, chosen) <= value for level, value in self.held)
        )

    def settle_ties(self) -> None:
        """Among equals, place by place, the stack whose parts come first in natural order."""
        model, order = self.model, self.aim.places
        left = self.space.left(self.alive)
        rank = {c: r for group in left for r, c in enumerate(sorted(group, key=lambda c: model.columns[c].stack))}
        if self._trial is not None:
            for at in order:
                columns = self._trial.columns[:, at]
                first = min(set(columns.tolist()), key=rank.__getitem__)
                self._trial.keep(columns == first)
            self.picked = tuple(self._trial.columns[0].tolist())
        elif prod(map(len, self.alive)) <= _FEW:
            kept = [picked for picked in product(*self.alive) if self.keeps(self.space.chosen(picked))]
            self.picked = min(kept, key=lambda picked: [rank[self.space.chosen(picked)[at]] for at in order])
        else:
            self._settle_by_asking(rank)

    def _settle_by_asking(self, rank: dict[int, int]) -> None:
        """Alike places all at once, then all places where that is little to look at; else several at a time."""
        self._joined(dict(self.held))
        left, tried = self.space.left(self.alive), False
        while (waiting := [at for at in self.aim.places if len(left[at]) > 1]) and not self.watch.over():
            digits, alike = _together(waiting, left, _LARGEST_NUMBER)[0], self._alike(waiting, left, rank)
            if len(alike) > len(digits):
                self._settle_alike(alike, left, rank)
            elif not tried:
                if self._settled_at_once(waiting, left, rank):
                    return
                tried = True
            else:
                self._bring_down(self._number(digits, left, rank))
                self.alive = self.space.only(self.alive, {at: [self.chosen[at]] for at in digits})
            left = self.space.left(self.alive)

    def _settled_at_once(self, waiting: Sequence[int], left: Sequence[Sequence[int]], rank: Mapping[int, int]) -> bool:
        """Whether all that is left was looked at: then `picked` comes first."""
        numbers = [self._number(digits, left, rank) for digits in _together(waiting, left, _LARGEST_WORD)]
        terms = [self.space.terms(number) for number in numbers]
        found = self._solvers().first(self.alive, self._held_rows(), terms)
        if found is None or not self.keeps(self.space.chosen(found)):
            return False
        self.picked = found
        return True

    def _bring_down(self, number: Mapping[int, int]) -> int:
        """The least that a number of the columns comes to, as far as is found; `picked` and `alive` go with it."""

        def value_of(chosen: Sequence[int]) -> int | None:
            return sum(number.get(c, 0) for c in chosen) if self.keeps(chosen) else None

        value = sum(number.get(c, 0) for c in self.chosen)
        return self._asked(self.space.terms(number), value, 0, value_of).value if value else 0

    def _alike(self, waiting: Sequence[int], left: Sequence[Sequence[int]], rank: Mapping[int, int]) -> list[int]:
        """The places that wait first, as many as can stand in for each other: the same is left, nothing ties them."""
        model, found = self.model, list[int]()
        tied = {at for groups in model.tied_groups() for at in groups}
        first = [model.columns[c] for c in sorted(left[waiting[0]], key=rank.__getitem__)]
        for at in waiting:
            if at in tied or [model.columns[c] for c in sorted(left[at], key=rank.__getitem__)] != first:
                break
            found.append(at)
        return found

    def _settle_alike(self, places: Sequence[int], left: Sequence[Sequence[int]], rank: Mapping[int, int]) -> None:
        """As many of these places as can have what comes first get it, and of them those that are settled first."""
        ranked = {at: sorted(left[at], key=rank.__getitem__) for at in places}
        served = len(places) - self._bring_down({c: 1 for columns in ranked.values() for c in columns[1:]})
        now = sorted(columns.index(self.chosen[at]) for at, columns in ranked.items())
        sorted_out = {at: columns[which] for (at, columns), which in zip(ranked.items(), now, strict=True)}
        self.picked = self.space.picked([sorted_out.get(at, c) for at, c in enumerate(self.chosen)])
        kept = {at: ranked[at][:1] for at in places[:served]} | {at: ranked[at][1:] for at in places[served:]}
        self.alive = self.space.only(self.alive, kept)

    def _number(self, digits: Sequence[int], left: Sequence[Sequence[int]], rank: Mapping[int, int]) -> dict[int, int]:
        """Ranks of places as the digits of one number, the first place's before all others: its terms."""
        number: dict[int, int] = {}
        weight = 1
        for at in reversed(digits):
            ranked = sorted(left[at], key=rank.__getitem__)
            number |= {c: weight * r for r, c in enumerate(ranked) if r}
            weight *= len(ranked)
        return number


def _together(places: Sequence[int], left: Sequence[Sequence[int]], largest: int) -> list[list[int]]:
    """Places in turn, so many together that the number which their ranks make is not above the largest."""
    found: list[list[int]] = []
    size = largest + 1
    for at in places:
        if size * len(left[at]) > largest:
            found.append([])
            size = 1
        found[-1].append(at)
        size *= len(left[at])
    return found
