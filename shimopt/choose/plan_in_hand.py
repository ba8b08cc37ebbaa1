"""What is in hand while levels are brought down: the choice, what is held, what is left, and the ways to look at it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import prod
from typing import TYPE_CHECKING, NamedTuple

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.whole_model import Aim, Model
from shimopt.proof.proven import Proof
from shimopt.proof.rows import Row
from shimopt.watch import Watch

if TYPE_CHECKING:
    from shimopt.choose.asked_of_solvers import Asking, Found, HowLong
    from shimopt.choose.beginnings import Priced
    from shimopt.choose.combinations import Block
    from shimopt.choose.spread_ranges import LeastSpread
    from shimopt.choose.tied_places import Joint
    from shimopt.choose.try_all import Trial

# beyond so many combinations of clusters only those are listed that a plan as good can hold
_MANY = 300_000
# beyond so many first those are tried that leave the fewest gaps outside
_SOME = 50_000
# what was too many once is tried again when so many times fewer are left
_FALLEN = 2
# where so few gaps more are outside than must be, that is little to list anyway
_FEW_MORE = 3


class _Begun(NamedTuple):
    """What was chosen from, left and held, and whether all was proven, before a level was looked at."""

    model: Model
    space: Model | Joint
    alive: list[list[int]]
    held: list[tuple[str, int]]
    all_proven: bool


class InHand:
    """A choice, the levels that it is held to, and what a choice as good may still hold.

    Levels are brought down in the order of `aim`. `space` is what is chosen from: the model's columns, later perhaps
    combinations of them (`tied_places`); `picked` one of its columns per group, `alive` those of each group that a
    choice as good may still hold. `trial` holds all choices left, once they are looked at one by one. `most_joined` is
    of how many combinations it goes over to those (None: as many as can be listed); `known` holds levels, each with a
    value, a bound and a proof that another search has shown where all levels above stand at their values.
    """

    def __init__(
        self,
        model: Model,
        aim: Aim,
        watch: Watch | None = None,
        start: Sequence[int] | None = None,
        *,
        alive: Sequence[Sequence[int]] | None = None,
        known: Sequence[tuple[str, int, int, Proof]] = (),
    ) -> None:
        self.model, self.aim, self.watch = model, aim, watch or Watch()
        self.space: Model | Joint = model
        self.alive = [list(group) for group in (model.groups if alive is None else alive)]
        self.picked: tuple[int, ...] = tuple(group[0] for group in model.groups) if start is None else tuple(start)
        self.held: list[tuple[str, int]] = []
        self.all_proven = True
        self.most_joined: int | None = None
        self.known = known
        self._begun: dict[str, _Begun] = {}
        self._asking: Asking | None = None
        # limits within which clusters came to their fewest by these combinations
        self._fewest: tuple[Mapping[str, int], Sequence[Block]] | None = None
        # combinations that were too many to go over to
        self._too_many: int | None = None
        self.trial: Trial | None = None

    @property
    def chosen(self) -> tuple[int, ...]:
        """One of the model's columns per place, at first the start, or nothing anywhere."""
        return self.space.chosen(self.picked)

    def stacks(self) -> dict[str, Stack]:
        """The stack of every place."""
        return self.model.stacks_of(self.chosen)

    def hold(self, name: str, value: int) -> None:
        """From now on a level may not be above this value; the present choice must keep to it."""
        self.held.append((name, value))

    def begin(self, name: str) -> None:
        """Remember what is left and held before a level is brought down."""
        self._begun[name] = _Begun(self.model, self.space, self.alive, [*self.held], self.all_proven)

    def back_to(self, name: str) -> None:
        """Go back to where a level was not yet looked at, with the choice as it is now."""
        (self.model, space, alive, self.held, self.all_proven), chosen = self._begun[name], self.chosen
        # combinations that are as good as others may be gone
        self.alive = [sorted({*columns, c}) for columns, c in zip(space.left(alive), chosen, strict=True)]
        self.space, self.picked, self.trial, self._asking, self._too_many = self.model, chosen, None, None, None

    def shown(self, name: str) -> tuple[int, Proof]:
        """What a level is not below, by what another search has shown, and how; 0 where that says nothing."""
        held = dict(self.held)
        for level, value, bound, proof in self.known:
            if level == name:
                return bound, proof
            if held.get(level) != value:
                break
        return 0, Proof.NONE

    def _objective(self, name: str) -> dict[int, int]:
        return {at: f for at, f in self.space.levels[name].items() if f}

    def _trial_of(self, name: str, most: int, priced: Sequence[Priced] = (), cap: int | None = None) -> Trial:
        """All combinations that keep to the levels held and come to no more than so much at another.

        Parameters: priced, what columns cost at most by a bound of these; cap, as of `Trial`.
        """
        from shimopt.choose.beginnings import Limits
        from shimopt.choose.equal_packs import blocks_of
        from shimopt.choose.try_all import Trial

        space = self.space
        blocks = blocks_of(self.model, self.alive) if isinstance(space, Model) else space.blocks_left(self.alive)
        limits = {**dict(self.held), name: most}
        trial = Trial(self.model, blocks, Limits(limits, priced), cap)
        trial.keep_within(limits)
        return trial

    def _begin_trial(self, trial: Trial) -> None:
        """From here on all is told in the model's own columns."""
        chosen = self.chosen
        self.alive = self.space.left(self.alive)
        self.space, self.picked, self.trial = self.model, chosen, trial

    def _one_cluster(self) -> bool:
        """Whether all places that are still open act together."""
        open_at = {at for at, group in enumerate(self.alive) if len(group) > 1}
        return self.space is self.model and any(open_at <= set(here) for here in self.model.clusters())

    def _joined(self, limits: Mapping[str, int]) -> bool:
        """Go over to combinations of what is tied within limits, where they are few enough; whether that was done."""
        model, clusters = self.model, self.model.clusters()
        if self.space is not model or len(clusters) == len(model.groups):
            return False
        many = self._combinations(clusters)
        if self._too_many is not None and many > self._too_many // _FALLEN:
            return False
        if self.most_joined is not None and many > self.most_joined:
            return False
        from shimopt.choose.reached import LEVELS, reached
        from shimopt.choose.tied_places import joint_of
        from shimopt.proof.layers import TooManyLeftError

        listed = None
        try:
            named = [level for level, most in limits.items() if most and level in LEVELS]
            if named and many > _MANY:
                held = {level: most for level, most in limits.items() if level != named[-1]}
                last = {named[-1]: limits[named[-1]]}
                within, known = self._fewest or ({}, None)
                known = known if within == held | last else None
                listed = reached(model, clusters, self.alive, held | last, self.chosen, known)
            self._go_over(joint_of(model, self.alive, limits, self.aim, self.chosen, listed))
        except TooManyLeftError:
            self._too_many = many
            return False
        return True

    def _with_fewest(self, name: str, value: int) -> int:
        """Look for a plan in which every cluster leaves as few gaps outside as it can: a bound of all plans.

        Where there is one it is in hand: nothing is better, and no other combination is in a plan as good. Else the
        best that was found is in hand.
        """
        model, clusters = self.model, self.model.clusters()
        if name != "outside" or self.space is not model or self.most_joined is not None:
            return 0
        if self._combinations(clusters) <= _SOME:
            return 0
        from shimopt.choose.reached import fewest
        from shimopt.choose.tied_places import joint_of
        from shimopt.proof.layers import TooManyLeftError

        alive, limits = self.alive, {**dict(self.held), name: value}
        try:
            least, listed = fewest(model, clusters, alive, limits, self.chosen)
            if value - least <= _FEW_MORE:
                self._fewest = limits, listed
                return least
            self._go_over(joint_of(model, alive, limits, self.aim, self.chosen, listed))
        except TooManyLeftError:
            return 0
        found = self._asked(self._objective(name), value, least, lambda chosen: self._value_if_kept(name, chosen))
        if found.value > least:
            self.picked, self.space, self.alive, self._asking = self.chosen, model, alive, None
        # where all cannot come to their least at once, one comes to more
        return least if found.bound <= least else least + 1

    def _by_ranges(self, value: int, bound: int) -> LeastSpread | None:
        """The least spread of the only balance, what is left for it in hand; None where ranges say nothing."""
        bare = self.model.without_balances()
        # a plan as good keeps to the excess held in every range that is no wider than its own
        above = [(name, bare.levels[name], most) for name, most in self.held if bare.levels[name]]
        if self.space is not self.model or not self.all_proven or not above:
            return None
        from shimopt.choose.asked_of_solvers import Asking
        from shimopt.choose.spread_ranges import least_spread

        (level, objective, most), asking = above[-1], Asking(bare, self.watch)
        rows = [Row(terms, limit) for _, terms, limit in above[:-1]]

        def fits(alive: Sequence[Sequence[int]]) -> tuple[tuple[int, ...] | None, Proof]:
            now = self.picked, most + 1, 0
            found = asking.least(alive, rows, objective, now, lambda c: self._value_if_kept(level, c))
            return (found.chosen if found.value <= most else None), found.proof

        found = least_spread(self.model, self.alive, (self.picked, value, bound), fits)
        if found is not None:
            self.picked, self.alive, self._asking = found.picked, found.alive, None
            if found.alone:
                self.model = self.space = bare
        return found

    def _combinations(self, clusters: Sequence[Sequence[int]]) -> int:
        from shimopt.choose.equal_packs import blocks_of

        blocks = (blocks_of(self.model, [self.alive[at] for at in here], here) for here in clusters)
        return sum(prod(len(block.columns) for block in of_cluster) for of_cluster in blocks)

    def _go_over(self, joint: Joint) -> None:
        self.picked = joint.picked(self.chosen)
        self.space, self.alive, self._asking = joint, [list(group) for group in joint.groups], None

    def _asked(
        self,
        objective: Mapping[int, int],
        value: int,
        bound: int,
        value_of: Callable[[Sequence[int]], int | None],
        how_long: HowLong = "to the end",
    ) -> Found:
        """The least that solvers find, proven as far as it goes; `picked` and `alive` are brought down with it.

        Parameter: how_long, where it is to stop sooner, proven or not.
        """
        found = self._solvers().least(
            self.alive,
            self._held_rows(),
            objective,
            (self.picked, value, bound),
            lambda picked: value_of(self.space.chosen(picked)),
            how_long if self.all_proven else "a look",
        )
        self.picked, self.alive = found.chosen, found.alive
        return found

    def _solvers(self) -> Asking:
        from shimopt.choose.asked_of_solvers import Asking

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
