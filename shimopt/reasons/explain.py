"""The reasons of a plan: why a place got its stack, why another got nothing, why a balance is as it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from fractions import Fraction

from shimopt.check import Outcome, after_shimming, off_by, thickness_of
from shimopt.check.arithmetic import Stack, stands_out
from shimopt.check.change import change_of
from shimopt.check.needed import aimed, wanted, without_shims
from shimopt.check.outcome import cheapest_packs
from shimopt.choose import Choice
from shimopt.fit import Screening
from shimopt.job import Balance, Gap, Job, Place, clusters_of
from shimopt.parts import natural_key
from shimopt.reasons.competition import Competition
from shimopt.reasons.coupling import of_coupling
from shimopt.reasons.nearest import Nearest
from shimopt.reasons.reason import Reason
from shimopt.reasons.swaps import of_swap
from shimopt.stacks import Scale, TooManyError, stacks_between

__all__ = ["explain"]


def explain(
    job: Job,
    screening: Screening,
    choice: Choice,
    outcome: Outcome,
    nearest: Mapping[str, Nearest],
    supply: Mapping[int, int],
    buy: bool = False,
) -> list[Reason]:
    """All reasons: gaps with a place of their own in job order, places that act together, balances, the purchase."""
    explainer = _Explainer(job, screening, choice, outcome, nearest, supply)
    alone = [job.gap[cluster.gaps[0]] for cluster in clusters_of(job) if cluster.alone]
    reasons = [reason for gap in job.gaps if gap in alone for reason in explainer.of_gap(gap)]
    reasons += of_coupling(job, screening, choice.stacks, outcome, supply, buy)
    return reasons + explainer.of_balances() + explainer.of_purchase()


class _Explainer:
    def __init__(
        self,
        job: Job,
        screening: Screening,
        choice: Choice,
        outcome: Outcome,
        nearest: Mapping[str, Nearest],
        supply: Mapping[int, int],
    ) -> None:
        self.job, self.screening, self.stacks, self.outcome = job, screening, choice.stacks, outcome
        self.levels = choice.levels
        self.nearest, self.supply, self.scale = nearest, supply, Scale.of(job)
        self.competition = Competition(job, screening, choice.stacks, outcome, supply)

    def of_gap(self, gap: Gap) -> list[Reason]:
        place = self.job.place[gap.effects[0][0]]
        found, stack = self.outcome.gaps[gap.name], self.stacks.get(place.name, ())
        if place.installed:
            reasons = [of_swap(gap, place, stack, found)]
        else:
            reasons = [self._fitted(gap, stack)] if stack else []
        if found.verdict == "outside":
            reasons += self._outside(gap, place)
        elif found.verdict == "unproven":
            out = stands_out(found.after, gap.window)
            reasons.append(Reason(gap.name, "unproven_after" if stack else "unproven_as_read", {"out": out}))
        elif not stack and not place.installed:
            reasons.append(self._left_alone(gap, place))
        return reasons

    def _fitted(self, gap: Gap, stack: Stack) -> Reason:
        read = gap.reading.bracket
        thickness = thickness_of(stack, self.job.stock).best
        if over := off_by(read.best, gap.window):
            return Reason(gap.name, "fitted_to_come_inside", {"off": over, "thickness": thickness}, stack=stack)
        if stands_out(read, gap.window):
            return Reason(gap.name, "fitted_to_be_surer", {"out": stands_out(read, gap.window), "thickness": thickness},
                          stack=stack)  # fmt: skip
        balances = tuple(b.name for b in self.job.balances if gap.name in b.gaps)
        return Reason(gap.name, "fitted_to_match", {"thickness": thickness}, balances, stack)

    def _left_alone(self, gap: Gap, place: Place) -> Reason:
        """Inside as read; with what the thinnest that suits would do."""
        thinnest = self._thinnest(place)
        if thinnest is None:
            return Reason(gap.name, "already_inside")
        after = after_shimming(gap, {place.name: thickness_of((thinnest,), self.job.stock)})
        code = "already_inside_and_no_thinner" if off_by(after.best, gap.window) else "already_inside"
        return Reason(gap.name, code, {"after": after.best}, stack=(thinnest,))

    def _thinnest(self, place: Place) -> int | None:
        on_hand = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        return min(on_hand, key=lambda i: (self.job.stock[i].part.thickness.best, i), default=None)

    def _outside(self, gap: Gap, place: Place) -> list[Reason]:
        off = self.outcome.gaps[gap.name].off
        if place.seat is not None and not place.seat.shims_allowed:
            return [Reason(gap.name, "shims_not_allowed", {"off": off}, texts={"why": place.seat.why})]
        aim = aimed(self.job, gap)
        if aim is None or (gap.window.min is not None and without_shims(self.job, gap).best < gap.window.min):
            return [Reason(gap.name, "below_window", {"off": off})]
        if self._any_stack(gap, place, self.screening.suits[place.name]):
            return [self.competition.reason(gap, place, self.nearest[gap.name])]
        return [*self._unsuited(gap, place), self._no_stack(gap, place, aim.least), *self._beyond(gap, place, aim.least)]

    def _any_stack(self, gap: Gap, place: Place, usable: tuple[int, ...]) -> bool:
        """Whether any stack of these parts, with all that is on hand, would bring the gap inside."""
        ticks, (least, most) = self.scale.ticks, wanted(self.job, gap)
        low, high = None if least is None else self.scale.least(least), None if most is None else self.scale.most(most)
        sizes = [ticks(self.job.stock[i].part.thickness.best) for i in usable]
        try:
            counts = [self.supply[i] for i in usable]
            return bool(stacks_between(sizes, counts, place.most_pieces, low, high, 0, fewest=place.fewest_pieces))
        except TooManyError:
            return True

    def _unsuited(self, gap: Gap, place: Place) -> list[Reason]:
        """The parts that alone would have served by thickness but do not suit the seat."""
        suits = set(self.screening.suits[place.name])
        names: list[str] = []
        for i, line in enumerate(self.job.stock):
            if i not in suits and self.supply[i] > 0:
                after = after_shimming(gap, {place.name: change_of(place, (i,), self.job.stock)})
                if not off_by(after.best, gap.window) and line.part.name not in names:
                    names.append(line.part.name)
        return [Reason(gap.name, "parts_do_not_suit", {}, tuple(names))] if names else []

    def _no_stack(self, gap: Gap, place: Place, least: Fraction) -> Reason:
        suits = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        near = self.nearest[gap.name]
        if not suits:
            on_hand = any(count > 0 for count in self.supply.values())
            return Reason(gap.name, "nothing_suits" if on_hand else "nothing_on_hand", {"off": near.off})
        sizes = self.job.stock
        pieces = sorted((sizes[i].part.thickness.best for i in suits for _ in range(min(self.supply[i], 50))))
        thickest = sum(pieces[-place.most_pieces :], Fraction(0))
        lengths: dict[str, Fraction | int] = {"off": near.off, "after": near.after.best, "least": least}
        if thickest < least:
            return Reason(gap.name, "not_thick_enough", {**lengths, "thickest": thickest}, stack=near.stack)
        thinnest = self._thinnest(place)
        assert thinnest is not None
        alone = after_shimming(gap, {place.name: change_of(place, (thinnest,), sizes)}).best
        if gap.window.min is not None and alone < gap.window.min:
            return Reason(gap.name, "too_tight_with_thinnest",
                          {**lengths, "thinnest": sizes[thinnest].part.thickness.best, "tight": alone,
                           "short": gap.window.min - alone}, stack=(thinnest,))  # fmt: skip
        return Reason(gap.name, "no_size_between", lengths, stack=near.stack)

    def _beyond(self, gap: Gap, place: Place, least: Fraction) -> list[Reason]:
        """Whether even the most pieces of the thickest part known, in any number, could not do it."""
        thickest = max((line.part.thickness.best for line in self.job.stock), default=Fraction(0))
        most = thickest * place.most_pieces
        if not self.job.stock or least <= most:
            return []
        return [Reason(gap.name, "beyond_parts", {"least": least, "most": most},
                       texts={"pieces": str(place.most_pieces)})]  # fmt: skip

    def of_balances(self) -> list[Reason]:
        reasons = []
        for balance in self.job.balances:
            found = self.outcome.balances[balance.name]
            lengths: dict[str, Fraction | int] = {"before": found.spread_before, "after": found.spread_after}
            if found.met is None:
                outside = tuple(n for n in balance.gaps if self.outcome.gaps[n].verdict == "outside")
                reasons.append(Reason(balance.name, "balance_set_aside", lengths, outside))
            elif not found.met:
                assert balance.within is not None
                over = found.spread_after - balance.within
                lengths |= {"within": balance.within, "over": over}
                proven = all(level.proven for level in self.levels if level.name == "excess")
                reasons.append(Reason(balance.name, "not_within" if proven else "not_within_found", lengths,
                                      self._unsuited_that_would_even(balance)))
            elif balance.within is None and found.spread_after:
                reasons.append(Reason(balance.name, "left_uneven", lengths))
        return reasons

    def _unsuited_that_would_even(self, balance: Balance) -> tuple[str, ...]:
        """Parts on hand that would make the balance more even if they were allowed on the seat."""
        even = {name: self.outcome.gaps[name].after.best - balance.offset.get(name, 0) for name in balance.gaps}
        spread = max(even.values()) - min(even.values())
        names: list[str] = []
        alone = {cluster.gaps[0] for cluster in clusters_of(self.job) if cluster.alone}
        for gap in (self.job.gap[name] for name in balance.gaps if name in alone):
            place = self.job.place[gap.effects[0][0]]
            for i in set(range(len(self.job.stock))) - set(self.screening.suits[place.name]):
                after = after_shimming(gap, {place.name: change_of(place, (i,), self.job.stock)}).best
                others = {**even, gap.name: after - balance.offset.get(gap.name, 0)}
                closer = max(others.values()) - min(others.values()) < spread
                if self.supply[i] and closer and not off_by(after, gap.window):
                    names.append(self.job.stock[i].part.name)
        return tuple(sorted(set(names), key=natural_key))

    def of_purchase(self) -> list[Reason]:
        unpriced = Counter(
            self.job.stock[i].part.name
            for i, count in self.outcome.to_buy.items()
            if cheapest_packs(self.job.stock[i].offers, count)[1]
        )
        return [Reason(name, "no_price") for name in unpriced]
