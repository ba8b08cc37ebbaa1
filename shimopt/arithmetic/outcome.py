"""What a whole plan does: every gap, every balance, and the value of every level, by plain arithmetic."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

from shimopt.arithmetic.carried import after_planned
from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.arithmetic.clearance import (
    Stack,
    Verdict,
    change_of,
    enough_of,
    off_by,
    opened,
    stands_out,
    thickness_of,
    unlike,
    verdict_of,
)
from shimopt.job import Balance, Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.parts import Offer


@dataclass(frozen=True, slots=True)
class GapOutcome:
    """A gap after shimming.

    `off` is how far its best estimate lies outside the window [nm]; `chance` the probability that the gap is inside.
    """

    after: Bracket
    verdict: Verdict
    off: Fraction
    chance: Fraction | float


@dataclass(frozen=True, slots=True)
class BalanceOutcome:
    """A balance before and after by best estimates [nm]; `met` is None where a gap is outside and it is set aside.

    `may_be` is how far apart they can come out as well as all is known, None where pieces or packs that several of them
    hang on make that less than their brackets say.
    """

    spread_before: Fraction
    spread_after: Fraction
    met: bool | None
    may_be: Fraction | None

    def beyond(self, within: int | Fraction | None) -> Fraction | None:
        """What it may come to where that is more than `within`, which is met by best estimates; else None."""
        over = bool(self.met) and within is not None and self.may_be is not None and self.may_be > within
        return self.may_be if over else None


@dataclass(frozen=True, slots=True)
class Outcome:
    """The plan's effect; `levels` holds lengths in nm, counts and money as exact numbers; `to_buy` pieces by line."""

    gaps: dict[str, GapOutcome]
    thickness: dict[str, Bracket]
    balances: dict[str, BalanceOutcome]
    to_buy: dict[int, int]
    levels: dict[str, Fraction]
    doable: bool


def outcome_of(
    job: Job, stacks: Mapping[str, Stack], cautions: Mapping[str, frozenset[int]], short: Collection[str] = ()
) -> Outcome:
    """Work out a plan: `stacks` by place, `cautions` the stock lines that each place takes only with care.

    `short` names places whose least number of pieces cannot be had: such a plan is not doable.
    """
    thick = {stack: thickness_of(stack, job.stock) for stack in {(), *stacks.values()}}
    thickness = {place.name: thick[stacks.get(place.name, ())] for place in job.places}
    gaps = gaps_after(job, stacks, thickness)
    balances = {balance.name: _balance(job, balance, gaps, thickness) for balance in job.balances}
    used = Counter(index for stack in stacks.values() for index in stack)
    to_buy = {i: count - job.there[i] for i, count in sorted(used.items()) if count > job.there[i]}
    every = {place.name: stacks.get(place.name, ()) for place in job.places}
    levels = _levels(job, every, cautions, gaps, balances, to_buy)
    alike = not any(unlike(job, stacks, names) for names in job.equal)
    inside = levels["outside"] == 0 and levels["unproven"] == 0
    # what was turned after the last fitting, and is as it was then, is judged by that
    stays = {place.name for place in job.places if every[place.name] == place.installed}
    turned = not job.records or all(
        {p for p, _ in gap.effects} - stays or not job.turns_wrong(gap.name) for gap in job.gaps
    )
    doable = inside and all(b.met for b in balances.values()) and not short and alike and turned
    return Outcome(gaps, thickness, balances, to_buy, levels, doable)


def levels_with(
    job: Job,
    outcome: Outcome,
    stacks: Mapping[str, Stack],
    cautions: Mapping[str, frozenset[int]],
    place: Place,
    stack: Stack,
) -> dict[str, Fraction]:
    """The levels of a plan, of which `outcome` is known, if a place that alone moves one gap took another stack.

    By what that changes: the gap, its balances, what is to buy of the pieces that come and go.
    """
    before, thick = stacks.get(place.name, ()), thickness_of(stack, job.stock)
    gap = job.gap[job.moved_by[place.name][0].name]
    taken = {place.name: stack}
    gaps = {**outcome.gaps, gap.name: _outcome(job, gap, taken, {place.name: change_of(place, stack, job.stock)})}
    thickness = {**outcome.thickness, place.name: thick}
    balances = {
        balance.name: _balance(job, balance, gaps, thickness)
        for balance in job.balances
        if gap.name in balance.gaps or place.name in balance.places
    }
    used = Counter(chain.from_iterable(stacks.values()))
    counts = ((i, used[i] - before.count(i) + stack.count(i) - job.there[i]) for i in {*before, *stack})
    to_buy = {i: count for i, count in counts if count > 0}
    was_bought = {i: count for i, count in outcome.to_buy.items() if i in {*before, *stack}}
    old_balances = {name: outcome.balances[name] for name in balances}
    new = _levels(job, taken, cautions, {gap.name: gaps[gap.name]}, balances, to_buy)
    old = _levels(job, {place.name: before}, cautions, {gap.name: outcome.gaps[gap.name]}, old_balances, was_bought)
    return {name: value - old[name] + new[name] for name, value in outcome.levels.items()}


def gaps_after(job: Job, stacks: Mapping[str, Stack], thickness: Mapping[str, Bracket]) -> dict[str, GapOutcome]:
    """What every gap comes to. Parameter: thickness, of the stacks by place."""
    change = {
        place.name: change_of(place, stacks.get(place.name, ()), job.stock)
        if place.installed
        else thickness[place.name]
        for place in job.places
    }
    gaps: dict[str, GapOutcome] = {}
    # in a large job many gaps are alike in all that their outcome depends on
    known: dict[object, GapOutcome] = {}
    for gap in job.gaps:
        packs = tuple(
            (effect, gap.reach(name), stacks.get(name, ()), job.place[name].installed) for name, effect in gap.effects
        )
        # what is carried from place to place is known of all that act together
        carries = len(packs) > 1 and any(was for _, _, _, was in packs)
        name = gap.name if carries else ""
        alike = (gap.reading, gap.window.min, gap.window.max, gap.least_chance, packs, name)
        if alike not in known:
            known[alike] = _outcome(job, gap, stacks, change)
        gaps[gap.name] = known[alike]
    return gaps


def _outcome(job: Job, gap: Gap, stacks: Mapping[str, Stack], change: Mapping[str, Bracket]) -> GapOutcome:
    after = after_planned(job, gap, stacks, change)
    chance = chance_inside(job, gap, stacks)
    verdict = verdict_of(after, gap.window, enough=enough_of(gap, chance))
    return GapOutcome(after, verdict, off_by(after.best, gap.window), chance)


def _balance(
    job: Job, balance: Balance, gaps: Mapping[str, GapOutcome], thickness: Mapping[str, Bracket]
) -> BalanceOutcome:
    before = [job.gap[name].reading.bracket.best - balance.offset.get(name, 0) for name in balance.gaps]
    after = [gaps[name].after.best - balance.offset.get(name, 0) for name in balance.gaps]
    for name in balance.places:
        offset = balance.offset.get(name, 0)
        before.append(thickness_of(job.place[name].installed, job.stock).best - offset)
        after.append(thickness[name].best - offset)
    spread = max(after) - min(after)
    set_aside = any(gaps[name].verdict == "outside" for name in job.gaps_behind(balance))
    met = None if set_aside else balance.within is None or spread <= balance.within
    known = {name: gaps[name].after for name in balance.gaps} | {name: thickness[name] for name in balance.places}
    shared = any(gap not in job.alone for gap in balance.gaps) or len({*balance.places} & {*chain(*job.equal)}) > 1
    may_be = None if shared else _most_apart(balance, known)
    return BalanceOutcome(max(before) - min(before), spread, met, may_be)


def _most_apart(balance: Balance, known: Mapping[str, Bracket]) -> Fraction:
    """The largest difference of two of them, each anywhere in its bracket, less their offsets."""
    least = {name: at.low - balance.offset.get(name, 0) for name, at in known.items()}
    most = {name: at.high - balance.offset.get(name, 0) for name, at in known.items()}
    largest, smallest = sorted(most, key=lambda name: -most[name])[:2], sorted(least, key=least.__getitem__)[:2]
    apart = (most[one] - least[other] for one in largest for other in smallest if one != other)
    return max(apart, default=Fraction(0))


def _levels(
    job: Job,
    stacks: Mapping[str, Stack],
    cautions: Mapping[str, frozenset[int]],
    gaps: Mapping[str, GapOutcome],
    balances: Mapping[str, BalanceOutcome],
    to_buy: Mapping[int, int],
) -> dict[str, Fraction]:
    """The levels of these places, gaps and balances, and of the pieces to buy."""
    windows = {name: job.gap[name].window for name in gaps}
    unproven = [name for name, found in gaps.items() if found.verdict == "unproven"]
    kept = [b for b in job.balances if b.name in balances and balances[b.name].met is not None]
    excess = [max(Fraction(0), balances[b.name].spread_after - b.within) for b in kept if b.within is not None]
    target = [abs(gaps[n].after.best - w.target) for n, w in windows.items() if w.target is not None]
    return {
        "outside": Fraction(sum(found.verdict == "outside" for found in gaps.values())),
        "miss": sum((found.off for found in gaps.values()), Fraction(0)),
        "unproven": Fraction(len(unproven)),
        "doubt": sum((stands_out(gaps[name].after, windows[name]) for name in unproven), Fraction(0)),
        "excess": sum(excess, Fraction(0)),
        "bought": Fraction(sum(to_buy.values())),
        "opened": Fraction(sum(opened(job.place[place], stack) for place, stack in stacks.items())),
        "pieces": Fraction(sum(len(stack) for stack in stacks.values())),
        "cautions": Fraction(sum(i in cautions[place] for place, stack in stacks.items() for i in stack)),
        "spread": sum((balances[b.name].spread_after for b in kept), Fraction(0)),
        "target": sum(target, Fraction(0)),
        "cost": sum((cheapest_packs(job.stock[i].offers, count)[0] for i, count in to_buy.items()), Fraction(0)),
    }


def cheapest_packs(offers: tuple[Offer, ...], pieces: int) -> tuple[Fraction, int]:
    """The least price of whole packs that hold so many pieces, and how many of the pieces have no price.

    Priced offers only, unless there is none: then the price is 0 and all pieces count as unpriced.
    """
    packs = packs_to_buy(offers, pieces)
    if not packs:
        return Fraction(0), pieces
    return sum((count * Fraction(offer.price or 0) for offer, count in packs), Fraction(0)), 0


def packs_to_buy(offers: tuple[Offer, ...], pieces: int) -> list[tuple[Offer, int]]:
    """The cheapest whole packs of priced offers that hold so many pieces; none where no offer has a price."""
    priced = sorted((offer for offer in offers if offer.price is not None), key=lambda o: (o.supplier, o.pack, o.price))
    if not priced:
        return []
    # the least cost of 0, 1, 2 ... pieces, and from 1 on the pack that was added last
    least, last = [Fraction(0)], list[Offer]()
    for count in range(1, pieces + 1):
        cost, offer = min(
            ((Fraction(o.price or 0) + least[max(0, count - o.pack)], o) for o in priced), key=lambda found: found[0]
        )
        least.append(cost)
        last.append(offer)
    packs: Counter[int] = Counter()
    while pieces > 0:
        offer = last[pieces - 1]
        packs[priced.index(offer)] += 1
        pieces -= offer.pack
    return [(priced[at], count) for at, count in sorted(packs.items())]


def least_room(job: Job, outcome: Outcome) -> tuple[Gap, Fraction, int] | None:
    """The gap that is inside with the least room to a limit, that room [nm], and on which side.

    The only gap of a job is told of where it has none.
    """
    rooms: list[tuple[Fraction, int, int]] = []
    for number, gap in enumerate(job.gaps):
        found, window = outcome.gaps[gap.name], gap.window
        if found.verdict == "inside":
            # wear opens a clearance, so where both sides are as near the upper one is named
            if window.max is not None:
                rooms.append((window.max - found.after.high, number, 1))
            if window.min is not None:
                rooms.append((found.after.low - window.min, number, -1))
    if not rooms:
        return None
    left, number, side = min(rooms, key=lambda room: (room[0], room[1], -room[2]))
    if len(job.gaps) < 2 and left > 0:
        return None
    return job.gaps[number], left, side
