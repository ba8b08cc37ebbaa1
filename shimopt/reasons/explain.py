"""The reasons of a plan: why a place got its stack, why another got nothing, why a balance is as it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

from shimopt.arithmetic import GapOutcome, chance_inside, off_by, thickness_of
from shimopt.arithmetic.audit import short_places
from shimopt.arithmetic.chance_inside import sure_as_read
from shimopt.arithmetic.clearance import Stack, after_with, out_at_ends, stands_out, stays
from shimopt.arithmetic.needed import aimed, wanted
from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Balance, Gap, Job, Place
from shimopt.job.gap import Side
from shimopt.lengths import Bracket
from shimopt.reasons import gap_reasons as why
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.about_balances import about_balances
from shimopt.reasons.alternatives import Chosen, Nearest
from shimopt.reasons.competition import Competition
from shimopt.reasons.gap_account import refused_parts
from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.remedies import FewerPieces, restored, ways_out
from shimopt.reasons.together import of_coupling, settled_otherwise
from shimopt.seats import Finding
from shimopt.watch import Watch

# ways out are looked for at so many gaps that are left outside
_MOST_TRIED = 25


def explain(
    chosen: Chosen, nearest: Mapping[str, Nearest], doubted: Collection[str | None], watch: Watch
) -> list[Reason]:
    """All reasons: gaps with a place of their own in job order, places that act together, balances, the purchase.

    Parameter: doubted, the gaps whose reading looks like a slip.
    When the watch is over, what is costly (who competes for pieces, which windows fight) is no longer looked for.
    """
    explainer = _Explainer(chosen, nearest, doubted, watch)
    reasons = [reason for gap in chosen.job.gaps if gap.name in chosen.job.alone for reason in explainer.of_gap(gap)]
    reasons += of_coupling(chosen, watch)
    reasons += [why.PreloadNotStated(about=gap.name) for gap in chosen.job.gaps if explainer.only_preload_closes(gap)]
    reasons = settled_otherwise(chosen, reasons)
    return reasons + about_balances(chosen, explainer.supply) + explainer.of_purchase()


class _Explainer:
    def __init__(
        self, chosen: Chosen, nearest: Mapping[str, Nearest], doubted: Collection[str | None], watch: Watch
    ) -> None:
        job = chosen.job
        self.job, self.screening, self.stacks, self.outcome = job, chosen.screening, chosen.stacks, chosen.outcome
        self.levels, self.buy = chosen.choice.levels, chosen.buy
        self.nearest, self.supply, self.scale = nearest, chosen.supply, Scale.of(job)
        self.short = short_places(job, self.screening.suits, self.supply)
        self.doubted = doubted
        self.competition, self.watch, self.tried = Competition(chosen, watch), watch, 0
        self.balances_of: dict[str, list[Balance]] = {gap.name: [] for gap in job.gaps}
        for balance in job.balances:
            for name in job.gaps_behind(balance):
                self.balances_of[name].append(balance)

    def of_gap(self, gap: Gap) -> list[Reason]:
        place = self.job.place[gap.effects[0][0]]
        found, stack = self.outcome.gaps[gap.name], self.stacks.get(place.name, ())
        if place.installed:
            even = tuple(balance.name for balance in self.balances_of[gap.name] if balance.within is not None)
            reasons = [_of_swap(self.job, gap, stack, found, even)]
        else:
            reasons = [self._fitted(gap, stack)] if stack else []
            reasons += self._unsuited(gap, place) if stack else []
        if found.verdict == "outside":
            told = self._outside(gap, place)
            # no remedy, in shims or in metal, for a reading that is doubted
            if gap.name in self.doubted:
                beyond = [one for one in told if isinstance(one, why.BeyondParts)]
                told = [why.ReadAgainFirst(about=gap.name, off=found.off), *beyond]
            reasons += told
        elif place.name in self.short:
            reasons.append(self._too_few(place))
        elif found.verdict == "unproven":
            reasons.append(self._unproven(gap, place, stack))
        elif not stack and not place.installed:
            reasons.append(self._left_alone(gap, place))
        return reasons

    def only_preload_closes(self, gap: Gap) -> bool:
        """Whether it is left too loose where stacks that preload it could go in, and nothing states how much."""
        found = self.outcome.gaps[gap.name]
        if not gap.window.ended or found.verdict != "outside" or found.after.best < 0 or gap.name in self.doubted:
            return False
        closed = Fraction(0)
        for name, effect in gap.effects:
            place = self.job.place[name]
            suits = [i for i in self.screening.suits[name] if self.supply[i] > 0]
            if effect < 0 and suits and place.takes_shims:
                more = thickness_of(self._thickest(place, suits, self.supply), self.job.stock).best
                closed -= effect * (more - thickness_of(place.installed, self.job.stock).best)
        return gap.reading.bracket.best - closed < 0

    def _unproven(self, gap: Gap, place: Place, stack: Stack) -> Reason:
        found = self.outcome.gaps[gap.name]
        if gap.may_be_tight:
            return why.MayBeTight(about=gap.name, opens=self.job.opened_by_more(gap))
        if gap.least_chance is not None:
            too_low = why.ChanceTooLow if stack or place.installed else why.ChanceTooLowAsRead
            surest = self._nothing_left_is_surer()
            return too_low(about=gap.name, chance=found.chance, least=gap.least_chance, surest=surest)
        tight, loose = out_at_ends(found.after, gap.window)
        if stack or place.installed:
            return why.Unproven(about=gap.name, tight=tight, loose=loose, chance=found.chance)
        further = bool(loose if _opens(gap) else tight) and not (tight and loose)
        surest = place.takes_shims and self._nothing_left_is_surer()
        shift, read = gap.reading.shift, gap.reading.bracket.best
        return why.UnprovenAsRead(
            about=gap.name,
            tight=tight,
            loose=loose,
            chance=found.chance,
            surest=surest,
            further=further,
            final=shift > 0 and stands_out(Bracket(read - shift, read, read + shift), gap.window) > 0,
        )

    def _nothing_left_is_surer(self) -> bool:
        """Whether it is proven that no stack that is left over makes an unproven gap surer."""
        proven = all(level.proven for level in self.levels if level.name in ("outside", "unproven"))
        kept = any(stays(self.job, place) for place in self.job.places)
        return proven and not self.job.priority and not kept

    def _fitted(self, gap: Gap, stack: Stack) -> Reason:
        read = gap.reading.bracket
        thickness = thickness_of(stack, self.job.stock).best
        if over := off_by(read.best, gap.window):
            return why.FittedToComeInside(
                about=gap.name,
                stack=stack,
                thickness=thickness,
                read=read.best,
                off=over,
                side=_lacking(gap),
                preload=gap.window.wants_preload,
                bare=self.job.stands_bare(gap),
            )
        if gap.least_chance is not None:
            chance = chance_inside(self.job, gap, {})
            if chance < gap.least_chance:
                return why.FittedForTheChance(about=gap.name, stack=stack, thickness=thickness, chance=chance)
        elif (out := stands_out(read, gap.window)) > stands_out(self.outcome.gaps[gap.name].after, gap.window):
            return why.FittedToBeSurer(about=gap.name, stack=stack, thickness=thickness, out=out)
        balances = tuple(balance.name for balance in self.balances_of[gap.name])
        kind = why.FittedToMatch if balances else why.FittedForTarget
        return kind(about=gap.name, names=balances, stack=stack, thickness=thickness, sure=sure_as_read(self.job, gap))

    def _left_alone(self, gap: Gap, place: Place) -> Reason:
        """Inside as read; with what the thinnest that suits would do."""
        thinnest = self._thinnest(place) if place.fewest_pieces <= 1 else None
        if thinnest is None:
            return why.AlreadyInside(about=gap.name)
        after = after_with(self.job, gap, (thinnest,)).best
        if off_by(after, gap.window):
            return why.NoThinner(about=gap.name, stack=(thinnest,), after=after, opens=_opens(gap))
        needless = not any(self.outcome.balances[b.name].met is False for b in self.balances_of[gap.name])
        return why.InsideWithThinnest(about=gap.name, stack=(thinnest,), after=after, needless=needless)

    def _thinnest(self, place: Place) -> int | None:
        on_hand = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        return min(on_hand, key=lambda i: (self.job.stock[i].part.thickness.best, i), default=None)

    def _outside(self, gap: Gap, place: Place) -> list[Reason]:
        off = self.outcome.gaps[gap.name].off
        # nor in metal for one that tells nothing
        aim, read = aimed(self.job, gap), gap.reading
        past_help = aim is None or _past_help(self.job, gap)
        takes_none = place.seat is not None and not place.takes_shims
        if read.no_preload_assumed and (past_help or takes_none) and off_by(read.bracket.best, gap.window):
            return [
                why.ReadsAsNothing(about=gap.name, off=off, cover=read.opens, opened_by=self.job.opened_by_more(gap))
            ]
        if takes_none and place.seat is not None:
            return [restored(gap, off, place.seat.why)]
        if aim is None or past_help:
            return [(why.AboveWindow if _opens(gap) else why.BelowWindow)(about=gap.name, off=off)]
        unsuited = self._unsuited(gap, place)
        if place.name in self.short:
            return [*unsuited, self._too_few(place)]
        near = self.nearest[gap.name]
        if near.stack and not near.off:
            if self.job.priority:
                return [*unsuited, why.LeftByPriority(about=gap.name, stack=near.stack, first=tuple(self.job.priority))]
            return [*unsuited, why.LeftBySearch(about=gap.name, stack=near.stack)]
        if self._any_stack(gap, place, self.screening.suits[place.name]):
            told: list[Reason] = [self.competition.reason(gap, place, self.nearest[gap.name])]
        else:
            told = [self._no_stack(gap, place, aim.least), *self._beyond(gap, place, aim.least)]
        ways = self._ways_out(gap, place)
        # a rule of the seat that alone keeps it outside comes first
        rule = [way for way in ways if isinstance(way, FewerPieces)]
        return [*rule, *unsuited, *told, *(way for way in ways if way not in rule)]

    def _ways_out(self, gap: Gap, place: Place) -> list[Reason]:
        """What else would bring it inside, for the first few gaps that ask."""
        if self.tried == _MOST_TRIED or self.watch.over():
            return []
        self.tried += 1
        suits, stopped = self.screening.suits[place.name], self.screening.stopped.get(place.name, {})
        return list(ways_out(self.job, gap, place, suits, stopped, self._left(place)))

    def _left(self, place: Place) -> dict[int, int]:
        """How many pieces of each line no other place has."""
        elsewhere = Counter(i for name, stack in self.stacks.items() if name != place.name for i in stack)
        return {i: count - elsewhere[i] for i, count in self.supply.items()}

    def _any_stack(self, gap: Gap, place: Place, usable: tuple[int, ...]) -> bool:
        """Whether any stack of these parts, with all that is on hand, would bring the gap inside."""
        ticks, (least, most) = self.scale.ticks, wanted(self.job, gap)
        low, high = self.scale.within(least, most)
        sizes = [ticks(self.job.stock[i].part.thickness.best) for i in usable]
        try:
            counts = [self.supply[i] for i in usable]
            return bool(stacks_between(sizes, counts, place.most_pieces, low, high, 0, fewest=place.fewest_pieces))
        except TooManyError:
            return True

    def _unsuited(self, gap: Gap, place: Place) -> list[Reason]:
        """The parts that alone would have served by thickness but do not suit the seat, each with what decided."""
        stops: dict[str, Finding] = {}
        for one in refused_parts(gap, self.job, self.screening, self.supply):
            stops.setdefault(one.finding.part, replace(one.finding, place=place.name))
        if not stops:
            return []
        return [why.PartsDoNotSuit(about=gap.name, names=tuple(stops), findings=tuple(stops.values()))]

    def _thick(self, line: int) -> Fraction:
        return self.job.stock[line].part.thickness.best

    def _too_few(self, place: Place) -> Reason:
        """The seat takes a least number of pieces, and there are not so many that suit."""
        return why.TooFewPieces(about=place.name, fewest=place.fewest_pieces, there=self.short[place.name])

    def _no_stack(self, gap: Gap, place: Place, least: Fraction) -> Reason:
        suits = [i for i in self.screening.suits[place.name] if self.supply[i] > 0]
        near = self.nearest[gap.name]
        if not suits:
            kind = why.NothingSuits if any(count > 0 for count in self.supply.values()) else why.NothingOnHand
            return kind(about=gap.name, off=near.off, side=_lacking(gap))
        sizes = self.job.stock
        stack = self._thickest(place, suits, self.supply)
        thickest = thickness_of(stack, sizes).best
        if thickest < least:
            # no stack does, wherever the plan puts what is there; what is told is what is left for it
            left = self._thickest(place, suits, self._left(place))
            if not left and not self.buy and not any(sizes[i].on_hand for i in suits):
                held = tuple(name for name, there in self.stacks.items() if {*there} & {*suits})
                return why.AllElsewhere(about=gap.name, names=held, off=near.off, side=_lacking(gap))
            less = bool(left) and thickness_of(left, sizes).best < thickest
            stack = left or stack
            thickest = thickness_of(stack, sizes).best
            off = off_by(after_with(self.job, gap, stack).best, gap.window)
            lack = partial(why.NotThickEnough, about=gap.name, side=_lacking(gap), in_now=stack == place.installed)
            lack = partial(lack, pieces=self._limit_of(place, suits, least))
            return lack(left=less, least=least, thickest=thickest, stack=stack, off=off)
        thinnest = min(suits, key=lambda i: (sizes[i].part.thickness.best, i))
        thin, most = sizes[thinnest].part.thickness.best, wanted(self.job, gap)[1]
        if most is not None and thin > most and place.fewest_pieces <= 1:
            after = after_with(self.job, gap, (thinnest,)).best
            beyond = why.TooLooseWithThinnest if _opens(gap) else why.TooTightWithThinnest
            short = off_by(after, gap.window)
            return beyond(about=gap.name, stack=(thinnest,), thinnest=thin, after=after, short=short, most=most)
        in_now = bool(place.installed) and near.stack == place.installed
        return why.NoSizeBetween(about=gap.name, stack=near.stack, after=near.after.best, off=near.off, in_now=in_now)

    def _limit_of(self, place: Place, suits: Sequence[int], least: Fraction) -> int:
        """How many pieces a place takes, where that alone keeps what suits from being thick enough; else 0."""
        all_of_it = sum((self._thick(i) * self.supply[i] for i in suits), Fraction(0))
        exactly_one = place.most_pieces == place.fewest_pieces == 1
        return place.most_pieces if not exactly_one and all_of_it >= least else 0

    def _thickest(self, place: Place, suits: Sequence[int], counts: Mapping[int, int]) -> Stack:
        """The thickest stack of so many pieces of each line."""
        pieces = [i for i in suits for _ in range(min(counts[i], 50))]
        return tuple(sorted(sorted(pieces, key=lambda i: (-self._thick(i), i))[: place.most_pieces]))

    def _beyond(self, gap: Gap, place: Place, least: Fraction) -> list[Reason]:
        """Whether even the most pieces of the thickest part known, in any number, could not do it."""
        thickest = max((line.part.thickness.best for line in self.job.stock), default=Fraction(0))
        most = thickest * place.most_pieces
        if not self.job.stock or least <= most:
            return []
        # a thin drawer alone says nothing about the reading; what the catalogues cannot make either does
        searched = any(line.offers for line in self.job.stock)
        if not searched and any(self.job.stock[i].part.worn for i in place.installed):
            return []  # wear explains what is lacking
        return [why.BeyondParts(about=gap.name, least=least, most=most, pieces=place.most_pieces, searched=searched)]

    def of_purchase(self) -> list[Reason]:
        unpriced = Counter(
            self.job.stock[i].part.name
            for i, count in self.outcome.to_buy.items()
            if cheapest_packs(self.job.stock[i].offers, count)[1]
        )
        return [shared.NoPrice(about=name) for name in unpriced]


def _opens(gap: Gap) -> bool:
    """Whether shims make the gap larger, as under a cover."""
    return gap.effects[0][1] > 0


def _lacking(gap: Gap) -> Side:
    """On which side of its window a gap is that shims can help."""
    return "under" if _opens(gap) else "over"


def _of_swap(job: Job, gap: Gap, stack: Stack, found: GapOutcome, even: tuple[str, ...]) -> Reason:
    """Of a place that held pieces already: why they stay, or why something else goes in, be it to be `even`."""
    place = job.place[gap.effects[0][0]]
    read = gap.reading.bracket.best
    side = gap.window.side(read)
    if stack == place.installed:
        if found.off:
            return shared.StaysOutside(about=gap.name, stack=stack, read=read, off=found.off, side=side)
        return shared.Stays(about=gap.name, stack=stack, read=read, sure=found.verdict == "inside")
    held, after = place.installed, found.after.best
    if off := off_by(read, gap.window):
        return shared.Swapped(
            about=gap.name,
            stack=stack,
            held=held,
            read=read,
            after=after,
            off=off,
            side=side,
            preload=gap.window.wants_preload,
        )
    sure = sure_as_read(job, gap)
    return shared.SwappedInside(about=gap.name, names=even, stack=stack, held=held, read=read, after=after, sure=sure)


def _past_help(job: Job, gap: Gap) -> bool:
    """Whether the gap, with nothing in, lies on the side of its window to which shims move it."""
    most = wanted(job, gap)[1]
    return most is not None and most < 0
