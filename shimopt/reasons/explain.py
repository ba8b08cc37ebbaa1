"""The reasons of a plan: why a place got its stack, why another got nothing, why a balance is as it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from shimopt.arithmetic import Outcome, after_shimming, chance_inside, off_by, thickness_of
from shimopt.arithmetic.change import change_of
from shimopt.arithmetic.clearance import Stack, stands_out
from shimopt.arithmetic.needed import aimed, wanted
from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.candidates import Scale, TooManyError, short_places, stacks_between
from shimopt.choose import Choice
from shimopt.job import Balance, Gap, Job, Place, clusters_of
from shimopt.parts import natural_key
from shimopt.reasons.competition import Competition
from shimopt.reasons.coupling import of_coupling
from shimopt.reasons.nearest import Nearest
from shimopt.reasons.reason import Reason
from shimopt.reasons.swaps import of_swap
from shimopt.seats import Finding, Screening
from shimopt.watch import Watch

__all__ = ["explain"]


def explain(
    job: Job,
    screening: Screening,
    choice: Choice,
    outcome: Outcome,
    nearest: Mapping[str, Nearest],
    supply: Mapping[int, int],
    buy: bool = False,
    watch: Watch | None = None,
) -> list[Reason]:
    """All reasons: gaps with a place of their own in job order, places that act together, balances, the purchase.

    When the watch is over, what is costly (who competes for pieces, which windows fight) is no longer looked for.
    """
    watch = watch or Watch()
    explainer = _Explainer(job, screening, choice, outcome, nearest, supply, watch)
    alone = {cluster.gaps[0] for cluster in clusters_of(job) if cluster.alone}
    reasons = [reason for gap in job.gaps if gap.name in alone for reason in explainer.of_gap(gap)]
    reasons += of_coupling(job, screening, choice.stacks, outcome, supply, buy, watch)
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
        watch: Watch,
    ) -> None:
        self.job, self.screening, self.stacks, self.outcome = job, screening, choice.stacks, outcome
        self.levels = choice.levels
        self.nearest, self.supply, self.scale = nearest, supply, Scale.of(job)
        self.short = short_places(job, screening.suits, supply)
        self.competition = Competition(job, screening, choice.stacks, outcome, supply, watch)
        self.balances_of: dict[str, list[Balance]] = {gap.name: [] for gap in job.gaps}
        for balance in job.balances:
            for name in balance.gaps:
                self.balances_of[name].append(balance)

    def of_gap(self, gap: Gap) -> list[Reason]:
        place = self.job.place[gap.effects[0][0]]
        found, stack = self.outcome.gaps[gap.name], self.stacks.get(place.name, ())
        if place.installed:
            reasons = [of_swap(gap, place, stack, found)]
        else:
            reasons = [self._fitted(gap, stack)] if stack else []
            reasons += self._unsuited(gap, place) if stack else []
        if found.verdict == "outside":
            reasons += self._outside(gap, place)
        elif place.name in self.short:
            reasons.append(self._too_few(place))
        elif found.verdict == "unproven":
            reasons.append(self._unproven(gap, stack))
        elif not stack and not place.installed:
            reasons.append(self._left_alone(gap, place))
        return reasons

    def _unproven(self, gap: Gap, stack: Stack) -> Reason:
        found = self.outcome.gaps[gap.name]
        if gap.least_chance is not None:
            texts = {"chance": str(float(found.chance)), "least": str(float(gap.least_chance))}
            texts["surer"] = self._nothing_left_is_surer()
            return Reason(gap.name, "chance_too_low_after" if stack else "chance_too_low_as_read", texts=texts)
        out = stands_out(found.after, gap.window)
        texts = {"surer": self._nothing_left_is_surer()}
        return Reason(gap.name, "unproven_after" if stack else "unproven_as_read", {"out": out}, texts=texts)

    def _nothing_left_is_surer(self) -> str:
        """Not empty where it is proven that no stack that is left over makes an unproven gap surer."""
        proven = all(level.proven for level in self.levels if level.name in ("outside", "unproven"))
        return "proven" if proven and not self.job.priority else ""

    def _fitted(self, gap: Gap, stack: Stack) -> Reason:
        read = gap.reading.bracket
        thickness = thickness_of(stack, self.job.stock).best
        if over := off_by(read.best, gap.window):
            side = "under" if _opens(gap) else "over"
            return Reason(
                gap.name,
                "fitted_to_come_inside",
                {"off": over, "thickness": thickness},
                stack=stack,
                texts={"side": side},
            )
        if gap.least_chance is not None:
            chance = chance_inside(self.job, gap, {})
            if chance < gap.least_chance:
                return Reason(
                    gap.name,
                    "fitted_for_the_chance",
                    {"thickness": thickness},
                    stack=stack,
                    texts={"chance": str(float(chance))},
                )
        elif stands_out(read, gap.window) > stands_out(self.outcome.gaps[gap.name].after, gap.window):
            return Reason(
                gap.name,
                "fitted_to_be_surer",
                {"out": stands_out(read, gap.window), "thickness": thickness},
                stack=stack,
            )
        balances = tuple(balance.name for balance in self.balances_of[gap.name])
        code = "fitted_to_match" if balances else "fitted_for_target"
        return Reason(gap.name, code, {"thickness": thickness}, balances, stack)

    def _left_alone(self, gap: Gap, place: Place) -> Reason:
        """Inside as read; with what the thinnest that suits would do."""
        thinnest = self._thinnest(place) if place.fewest_pieces <= 1 else None
        if thinnest is None:
            return Reason(gap.name, "already_inside")
        after = after_shimming(gap, {place.name: thickness_of((thinnest,), self.job.stock)})
        code = "already_inside_and_no_thinner" if off_by(after.best, gap.window) else "already_inside"
        wanted_for_balance = any(self.outcome.balances[b.name].met is False for b in self.balances_of[gap.name])
        texts = {"then": "too loose" if _opens(gap) else "too tight", "needless": "" if wanted_for_balance else "yes"}
        return Reason(gap.name, code, {"after": after.best}, stack=(thinnest,), texts=texts)

    def _thinnest(self, place: Place) -> int | None:
        on_hand = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        return min(on_hand, key=lambda i: (self.job.stock[i].part.thickness.best, i), default=None)

    def _outside(self, gap: Gap, place: Place) -> list[Reason]:
        off = self.outcome.gaps[gap.name].off
        if place.seat is not None and not place.seat.shims_allowed:
            return [Reason(gap.name, "shims_not_allowed", {"off": off}, texts={"why": place.seat.why})]
        aim = aimed(self.job, gap)
        if aim is None or _past_help(self.job, gap):
            return [Reason(gap.name, "above_window" if _opens(gap) else "below_window", {"off": off})]
        unsuited = self._unsuited(gap, place)
        if place.name in self.short:
            return [*unsuited, self._too_few(place)]
        near = self.nearest[gap.name]
        if near.stack and not near.off:
            code = "left_by_priority" if self.job.priority else "left_by_search"
            return [*unsuited, Reason(gap.name, code, stack=near.stack, texts={"first": ", ".join(self.job.priority)})]
        if self._any_stack(gap, place, self.screening.suits[place.name]):
            return [*unsuited, self.competition.reason(gap, place, self.nearest[gap.name])]
        return [*unsuited, self._no_stack(gap, place, aim.least), *self._beyond(gap, place, aim.least)]

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
        """The parts that alone would have served by thickness but do not suit the seat, each with what decided."""
        stops: dict[str, Finding] = {}
        for i, stop in self.screening.stopped.get(place.name, {}).items():
            if self.supply[i] > 0 and stop.part not in stops:
                after = after_shimming(gap, {place.name: change_of(place, (i,), self.job.stock)})
                if not off_by(after.best, gap.window):
                    stops[stop.part] = replace(stop, place=place.name)
        if not stops:
            return []
        return [Reason(gap.name, "parts_do_not_suit", names=tuple(stops), findings=tuple(stops.values()))]

    def _too_few(self, place: Place) -> Reason:
        """The seat takes a least number of pieces, and there are not so many that suit."""
        texts = {"fewest": str(place.fewest_pieces), "there": str(self.short[place.name])}
        return Reason(place.name, "too_few_pieces", texts=texts)

    def _no_stack(self, gap: Gap, place: Place, least: Fraction) -> Reason:
        suits = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        near = self.nearest[gap.name]
        if not suits:
            on_hand = any(count > 0 for count in self.supply.values())
            return Reason(
                gap.name,
                "nothing_suits" if on_hand else "nothing_on_hand",
                {"off": near.off},
                texts={"side": "under" if _opens(gap) else "over"},
            )
        sizes = self.job.stock
        pieces = sorted(sizes[i].part.thickness.best for i in suits for _ in range(min(self.supply[i], 50)))
        thickest = sum(pieces[-place.most_pieces :], Fraction(0))
        lengths: dict[str, Fraction | int] = {"off": near.off, "after": near.after.best, "least": least}
        if thickest < least:
            return Reason(
                gap.name,
                "not_thick_enough",
                {**lengths, "thickest": thickest},
                stack=near.stack,
                texts={"side": "under" if _opens(gap) else "over"},
            )
        thinnest = self._thinnest(place)
        assert thinnest is not None
        alone = after_shimming(gap, {place.name: change_of(place, (thinnest,), sizes)}).best
        most = wanted(self.job, gap)[1]
        if most is not None and sizes[thinnest].part.thickness.best > most and place.fewest_pieces <= 1:
            return Reason(
                gap.name,
                "too_loose_with_thinnest" if _opens(gap) else "too_tight_with_thinnest",
                {
                    **lengths,
                    "thinnest": sizes[thinnest].part.thickness.best,
                    "tight": alone,
                    "short": off_by(alone, gap.window),
                },
                stack=(thinnest,),
            )
        return Reason(gap.name, "no_size_between", lengths, stack=near.stack)

    def _beyond(self, gap: Gap, place: Place, least: Fraction) -> list[Reason]:
        """Whether even the most pieces of the thickest part known, in any number, could not do it."""
        thickest = max((line.part.thickness.best for line in self.job.stock), default=Fraction(0))
        most = thickest * place.most_pieces
        if not self.job.stock or least <= most:
            return []
        # a thin drawer alone says nothing about the reading; what the catalogues cannot make either does
        searched = "yes" if any(line.offers for line in self.job.stock) else ""
        return [
            Reason(
                gap.name,
                "beyond_parts",
                {"least": least, "most": most},
                texts={"pieces": str(place.most_pieces), "searched": searched},
            )
        ]

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
                reasons.append(
                    Reason(
                        balance.name,
                        "not_within" if proven else "not_within_found",
                        lengths,
                        self._unsuited_that_would_even(balance),
                    )
                )
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


def _opens(gap: Gap) -> bool:
    """Whether shims make the gap larger, as under a cover."""
    return gap.effects[0][1] > 0


def _past_help(job: Job, gap: Gap) -> bool:
    """Whether the gap, with nothing in, lies on the side of its window to which shims move it."""
    most = wanted(job, gap)[1]
    return most is not None and most < 0
