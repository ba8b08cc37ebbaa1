"""Level after level: prove a level best, hold it, strike what can no longer be chosen, go on to the next."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import gcd, prod
from time import monotonic
from typing import TYPE_CHECKING, NamedTuple

from shimopt.choose.model import Model
from shimopt.proof.proven import Proof, proof_of
from shimopt.proof.rows import Row
from shimopt.watch import Watch

if TYPE_CHECKING:
    from shimopt.choose.asking import Asking
    from shimopt.choose.trying import Trial

__all__ = ["Descent", "Step"]

# so few combinations are tried by hand: arrays take longer to load
_FEW = 400
# ranks of several places are settled together as long as the number they make stays below
_LARGEST_NUMBER = 50_000


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

    `chosen` is one column per place, at first `start`, or nothing anywhere; `alive` the columns of each place that a
    choice as good may still hold.
    """

    def __init__(self, model: Model, watch: Watch | None = None, start: Sequence[int] | None = None) -> None:
        self.model, self.watch = model, watch or Watch()
        self.alive: list[list[int]] = [list(group) for group in model.groups]
        self.held_rows: list[Row] = []
        self.chosen: tuple[int, ...] = tuple(group[0] for group in model.groups) if start is None else tuple(start)
        self.held: list[tuple[str, int]] = []
        self.all_proven = True
        self._asking: Asking | None = None
        self._trial: Trial | None = None

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
        if objective := {at: f for at, f in self.model.levels[name].items() if f}:
            self.held_rows.append(Row(objective, value))

    def _least(self, name: str) -> tuple[int, int, Proof]:
        """The level's value, a bound and a proof; `chosen` and `alive` are brought down with it."""
        value = self.model.value_of(name, self.chosen)
        if self._trial is not None:
            return self._tried(name)
        objective = {at: f for at, f in self.model.levels[name].items() if f}
        if not objective:
            return value, value, proof_of(value, value)
        bound = self._simple_bound(objective, value)
        if bound >= value or self.watch.over():
            return value, bound, proof_of(value, bound)
        if prod(map(len, self.alive)) <= _FEW:
            return self._tried_by_hand(name, value)
        from shimopt.choose.trying import Trial, can_be_tried

        if can_be_tried(self.alive):
            self._trial = Trial(self.model, self.alive)
            for level, most in self.held:
                self._trial.keep(self._trial.values(level) <= most)
            return self._tried(name)
        from shimopt.choose.asking import Asking

        if self._asking is None:
            self._asking = Asking(self.model, self.watch)
        found = self._asking.least(
            self.alive, self.held_rows, objective, (self.chosen, value, bound), lambda c: self._value_if_kept(name, c)
        )
        self.chosen, self.alive = found.chosen, found.alive
        return found.value, found.bound, found.proof

    def _simple_bound(self, objective: dict[int, int], value: int) -> int:
        """Every place at its own least; what cannot be in a choice this good is struck."""
        model, unit = self.model, gcd(*objective.values())
        least = [min(objective.get(c, 0) for c in group) for group in self.alive]
        helpers = enumerate(model.helpers, start=len(model.columns))
        bound = sum(least) + sum(min(f * h.low, f * h.high) for at, h in helpers if (f := objective.get(at, 0)))
        room = value - bound
        self.alive = [
            [c for c in group if objective.get(c, 0) - low <= room]
            for group, low in zip(self.alive, least, strict=True)
        ]
        return -(-bound // unit) * unit

    def _tried_by_hand(self, name: str, value: int) -> tuple[int, int, Proof]:
        best = value
        for chosen in product(*self.alive):
            if self.model.value_of(name, chosen) < best and self.keeps(chosen):
                best, self.chosen = self.model.value_of(name, chosen), chosen
        return best, best, proof_of(best, best)

    def _tried(self, name: str) -> tuple[int, int, Proof]:
        trial = self._trial
        if trial is None:
            raise RuntimeError("no trial")
        values = trial.values(name)
        least = int(values.min())
        trial.keep(values == least)
        if self.model.value_of(name, self.chosen) > least or not self.keeps(self.chosen):
            self.chosen = tuple(trial.columns[0].tolist())
        return least, least, proof_of(least, least)

    def _value_if_kept(self, name: str, chosen: Sequence[int]) -> int | None:
        return self.model.value_of(name, chosen) if self.keeps(chosen) else None

    def keeps(self, chosen: Sequence[int]) -> bool:
        """Whether a proposal keeps within the stock, the ties and every level held so far, in exact numbers."""
        return (
            not self.model.short_of(chosen)
            and self.model.ties.hold(self.model, chosen)
            and all(self.model.value_of(level, chosen) <= value for level, value in self.held)
        )

    def settle_ties(self, order: Sequence[int]) -> None:
        """Among equals, place by place in job order, the stack whose parts come first in natural order."""
        model = self.model
        rank = {c: r for group in self.alive for r, c in enumerate(sorted(group, key=lambda c: model.columns[c].stack))}
        if self._trial is not None:
            for at in order:
                columns = self._trial.columns[:, at]
                first = min(set(columns.tolist()), key=rank.__getitem__)
                self._trial.keep(columns == first)
            self.chosen = tuple(self._trial.columns[0].tolist())
        elif prod(map(len, self.alive)) <= _FEW:
            kept = [chosen for chosen in product(*self.alive) if self.keeps(chosen)]
            self.chosen = min(kept, key=lambda chosen: [rank[chosen[at]] for at in order])
        else:
            self._settle_by_asking(order, rank)

    def _settle_by_asking(self, order: Sequence[int], rank: dict[int, int]) -> None:
        """Several places at a time: their ranks as the digits of one number, the first place's before all others."""
        from shimopt.choose.asking import Asking

        if self._asking is None:
            self._asking = Asking(self.model, self.watch)
        waiting = [at for at in order if len(self.alive[at]) > 1]
        while waiting and not self.watch.over():
            # nothing comes before what stands first, unless a place before it does
            digits: list[int] = []
            size = 1
            while waiting and size * len(self.alive[waiting[0]]) <= _LARGEST_NUMBER:
                digits.append(waiting.pop(0))
                size *= len(self.alive[digits[-1]])
            if not digits:
                digits.append(waiting.pop(0))
            objective: dict[int, int] = {}
            weight = 1
            for at in reversed(digits):
                ranked = sorted(self.alive[at], key=rank.__getitem__)
                objective |= {c: weight * r for r, c in enumerate(ranked) if r}
                weight *= len(ranked)

            def value_of(chosen: Sequence[int], terms: dict[int, int] = objective) -> int | None:
                return sum(terms.get(c, 0) for c in chosen) if self.keeps(chosen) else None

            value = sum(objective.get(c, 0) for c in self.chosen)
            if value:
                now = (self.chosen, value, 0)
                self.chosen = self._asking.least(self.alive, self.held_rows, objective, now, value_of).chosen
            for at in digits:
                self.alive[at] = [self.chosen[at]]
            waiting = [at for at in waiting if len(self.alive[at]) > 1]
