"""Level after level: prove a level best, hold it, strike what can no longer be chosen, go on to the next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import product
from math import gcd, prod
from time import monotonic
from typing import TYPE_CHECKING, NamedTuple

from shimopt.choose.plan_in_hand import InHand
from shimopt.proof.proven import Proof, proof_of

if TYPE_CHECKING:
    from shimopt.choose.asked_of_solvers import HowLong
    from shimopt.choose.try_all import Trial
    from shimopt.proof.exact_bounds import Bound

# so few combinations are tried by hand: arrays take longer to load
_FEW = 400
# so many combinations of places that act together are kept while they are built up
_MOST_BUILT = 700_000
# so many that differ in what matters to the places to come
_MOST_ALIKE = 100_000
# ranks of several places are settled together as long as the number they make stays below: first a large one, then one
# that solvers tell apart, then place by place
_LARGEST_NUMBERS = (1 << 30, 1 << 10, 1)
# so many columns are shown to solvers for ties, those of each question counted
_MOST_SHOWN = 10_000
# as many search steps as it takes to find out that there is too much to build up
_STEPS_OF_BUILDING = 300
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


class Descent(InHand):
    """A choice that gets better level by level."""

    def level(self, name: str, hoped: int | None = None) -> Step:
        """Bring one level to its least value and hold it there.

        Parameter: hoped, a value; where it surely cannot be had, what can is not looked for to the end.
        """
        start = monotonic()
        self.watch.begins(name)
        self.begin(name)
        value, bound, proof = self._least(name, hoped)
        # a bound means nothing below a level that is itself not proven
        proof, known = (proof, bound) if self.all_proven else (Proof.NONE, None)
        self.all_proven = proof.proven
        self.hold(name, value)
        return Step(name, value, value if proof.proven else known, proof, monotonic() - start)

    def _least(self, name: str, hoped: int | None = None) -> tuple[int, int, Proof]:
        """The level's value, a bound and a proof; `picked` and `alive` are brought down with it."""
        value = self.model.value_of(name, self.chosen)
        if self.trial is not None:
            return self._tried(self.trial, name)
        if not (objective := self._objective(name)):
            return value, value, proof_of(value, value)
        (shown, proof), bound = self.shown(name), self._simple_bound(objective, value)
        if proof is Proof.TWO_SOLVERS:
            # what two solvers say is no bound
            if bound < value == shown:
                return value, value, proof
        else:
            bound = max(bound, shown)
        if bound >= value or self.watch.over():
            return value, bound, proof_of(value, bound)
        if prod(map(len, self.alive)) <= _FEW:
            return self._tried_by_hand(name, value)
        from shimopt.choose.try_all import can_be_tried

        if can_be_tried(self.alive):
            return self._tried(self._trial_of(name, value), name)
        if name == "spread" and (least := self._by_ranges(value, bound)) is not None:
            return least.value, least.value, least.proof
        if self._is_tied(name):
            if not self._one_cluster():
                bound = max(bound, self._with_fewest(name, value))
                value = self.model.value_of(name, self.chosen)
                if bound >= value or (hoped is not None and bound > hoped):
                    return value, bound, proof_of(value, bound)
                if self._joined({**dict(self.held), name: value}):
                    return self._least(name)
            elif self.most_joined is None and self.all_proven:
                bound = self._built_up(name, objective, value, bound)
                value = self.model.value_of(name, self.chosen)
                if self.trial is not None:
                    return self._tried(self.trial, name)
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
        try:
            bound = first = max(bound, self._with_pieces_enough(name, value))
        except TooManyLeftError:
            self.watch.spend(_STEPS_OF_BUILDING)
        for most in [first, *sorted({bound + (value - bound >> shift) for shift in (6, 4, 2, 1)} - {first})]:
            begun = None if self.watch.over() else self._begun_within(name, most, root)
            if begun or (begun is None and most < value):
                return bound
            bound = bound if begun is None else most + 1
        return bound

    def _begun_within(self, name: str, most: int, root: Bound) -> bool | None:
        """Whether there are combinations that come to no more than this: then all are tried; None: too many."""
        from shimopt.choose.beginnings import Priced
        from shimopt.proof.layers import TooManyLeftError

        try:
            trial = self._trial_of(name, most, [Priced(root.above, most * root.parts - root.fine)], _MOST_BUILT)
        except TooManyLeftError:
            self.watch.spend(_STEPS_OF_BUILDING)
            return None
        if len(trial.columns):
            self._begin_trial(trial)
        return bool(len(trial.columns))

    def _with_pieces_enough(self, name: str, value: int) -> int:
        """What the level cannot be below, however many pieces there were; `picked` goes there where it can."""
        from shimopt.choose.equal_packs import blocks_of
        from shimopt.choose.place_by_place import least_with_pieces_enough

        limits = {**dict(self.held), name: value}
        found = least_with_pieces_enough(self.model, blocks_of(self.model, self.alive), limits, name, _MOST_ALIKE)
        if found is None:
            return value
        least, columns = found
        chosen = columns.columns[0].tolist()
        if self.keeps(chosen) and self.model.value_of(name, chosen) < value:
            self.picked = tuple(chosen)
        return least

    def _tried(self, trial: Trial, name: str) -> tuple[int, int, Proof]:
        if self.trial is None:
            self._begin_trial(trial)
        values = trial.values(name)
        least = int(values.min())
        trial.keep(values == least)
        if self.model.value_of(name, self.chosen) > least or not self.keeps(self.chosen):
            self.picked = tuple(trial.columns[0].tolist())
        return least, least, proof_of(least, least)

    def _is_tied(self, name: str) -> bool:
        """Whether gaps that several places move, or balances, say what this level or one held comes to."""
        balanced = not self.model.loose and {name, *(level for level, _ in self.held)} & _OF_BALANCES
        return bool(self.model.linked or balanced)

    def settle_ties(self) -> None:
        """Among equals, place by place, the stack whose parts come first in natural order."""
        model, order = self.model, self.aim.places
        left = self.space.left(self.alive)
        rank = {c: r for group in left for r, c in enumerate(sorted(group, key=lambda c: model.columns[c].stack))}
        if self.trial is not None:
            for at in order:
                columns = self.trial.columns[:, at]
                first = min(set(columns.tolist()), key=rank.__getitem__)
                self.trial.keep(columns == first)
            self.picked = tuple(self.trial.columns[0].tolist())
        elif prod(map(len, self.alive)) <= _FEW:
            kept = [picked for picked in product(*self.alive) if self.keeps(self.space.chosen(picked))]
            self.picked = min(kept, key=lambda picked: [rank[self.space.chosen(picked)[at]] for at in order])
        else:
            self._settle_by_asking(rank)

    def _settle_by_asking(self, rank: dict[int, int]) -> None:
        """Alike places all at once, then all places where that is little to look at; else several at a time.

        Where even one is long in coming, the rest stays as it is: as good, though not always the same.
        """
        if not self._one_cluster():
            self._joined(dict(self.held))
        left, turn, shown = self.space.left(self.alive), 0, 0
        while (waiting := [at for at in self.aim.places if len(left[at]) > 1]) and not self.watch.over():
            digits, alike = _together(waiting, left, _LARGEST_NUMBERS[turn]), self._alike(waiting, left, rank)
            how_long: HowLong = "briefly" if turn == 0 and len(digits) > 1 else "a look"
            shown += sum(map(len, self.alive)) if how_long == "a look" else 0
            if shown > _MOST_SHOWN:
                return
            if len(alike) > len(digits):
                self._settle_alike(alike, left, rank)
            elif not self._bring_down(self._number(digits, left, rank), how_long)[1]:
                if len(digits) == 1:
                    return
                # a number of so many digits may be far from what its relaxation tells
                turn += 1
            else:
                chosen = self.chosen
                self.alive = self.space.only(self.alive, {at: [chosen[at]] for at in digits})
            left = self.space.left(self.alive)

    def _bring_down(self, number: Mapping[int, int], how_long: HowLong = "to the end") -> tuple[int, bool]:
        """The least that a number of the columns comes to, as far as is found; `picked` and `alive` go with it.

        Also whether it is proven.
        """

        def value_of(chosen: Sequence[int]) -> int | None:
            return sum(number.get(c, 0) for c in chosen) if self.keeps(chosen) else None

        value = sum(number.get(c, 0) for c in self.chosen)
        if not value:
            return 0, True
        found = self._asked(self.space.terms(number), value, 0, value_of, how_long)
        return found.value, found.proof.proven

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
        served = len(places) - self._bring_down({c: 1 for columns in ranked.values() for c in columns[1:]})[0]
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


def all_levels(
    descent: Descent,
    names: Sequence[str],
    each: Callable[[Sequence[Step]], int | None] = lambda _: None,
) -> list[Step]:
    """Bring these levels down, one after the other.

    Where the search for one brings down a level above it, that one and all that came after it are asked anew.
    Parameter: each, told the steps so far before every level, gives what is hoped for, if anything (`Descent.level`);
    where that cannot be had, the steps end there.
    """
    steps: list[Step] = []
    while len(steps) < len(names):
        hoped = each(steps)
        steps.append(descent.level(names[len(steps)], hoped))
        if hoped is not None and missed(steps, hoped):
            break
        lower = next((at for at, step in enumerate(steps) if _is_above(descent, step)), None)
        if lower is not None and not descent.watch.over():
            descent.back_to(steps[lower].level)
            del steps[lower:]
    return steps


def missed(steps: Sequence[Step], hoped: int) -> bool:
    """Whether the last level does not come to what was hoped for, with nothing left above it."""
    return steps[-1].value != hoped or any(step.value for step in steps[:-1])


def _is_above(descent: Descent, step: Step) -> bool:
    """Whether a level that is not proven has come down since."""
    return not step.proven and descent.model.value_of(step.level, descent.chosen) < step.value


def _together(places: Sequence[int], left: Sequence[Sequence[int]], largest: int) -> list[int]:
    """The places that come first, as many as make a number below the largest: at least one."""
    size, found = 1, list[int]()
    for at in places:
        size *= len(left[at])
        if found and size > largest:
            break
        found.append(at)
    return found
