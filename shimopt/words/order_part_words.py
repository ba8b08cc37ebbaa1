"""Pieces of an order in words: what they are called, how thick they may be found, what a micrometer has to show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import UNITS, Bracket, as_decimal
from shimopt.ordering.after_fitting import fitted_rows, still_serving
from shimopt.ordering.demand import Demand
from shimopt.ordering.order_result import Order
from shimopt.ordering.unevenness import room_in_balances, unevenness
from shimopt.words.digits import OF_A_GAUGE
from shimopt.words.speaker import Speaker, listed

# of what blades are multiples [nm], and the units that they are marked in (common practice, no source)
_BLADES = ((5_000, ("mm", "um")), (UNITS["thou"] // 2, ("thou", "in")))


def order_part(order: Order, line: int) -> str:
    """A part's name with its tag; with how thick it is where another of that name is there or on offer.

    Parameter: line, the number of the stock line.
    """
    say = Speaker(order.jobs[0].unit, order.stock)
    name, part = say.named(line), order.stock[line].part
    within = {i for job in order.jobs for place in job.places for i in place.installed}
    others = [
        other.part
        for number, other in enumerate(order.stock)
        if number != line and (other.on_hand or other.offers or number in within) and say.named(number) == name
    ]
    if all(other.thickness == part.thickness for other in others):
        return name
    if part.measured:
        return f"{name} (measured {say(part.thickness.best)})"
    return f"{name} (not measured)" if any(other.measured for other in others) else f"{name} ({_marked(order, line)})"


def _marked(order: Order, line: int) -> str:
    part, unit = order.stock[line].part, order.jobs[0].unit
    say = Speaker(unit, order.stock)
    low, high = say.bare(part.thickness.low), say(part.thickness.high)
    return f"{low} to {high}" if part.thickness.low != part.thickness.high else high


def nothing_serves(order: Order) -> str:
    """That nothing serves some readings: nothing on offer, or only nothing that keeps to what was asked."""
    if not order.limited:
        return "Nothing on offer serves there."
    return "Nothing within the limits of this order serves there; without them something on offer may."


def plan_again(order: Order) -> str:
    """The command that chooses all stacks together, with what can be bought where anything is on offer."""
    offered = any(line.offers for job in order.jobs for line in job.stock)
    return "shimopt plan JOB --buy" if offered else "shimopt plan JOB"


def to_be_measured(order: Order, number: int, say: Speaker) -> Iterator[str]:
    """How thick the pieces may be found with which all rows still serve; what was measured is not found again.

    What the shop's micrometer may be off by, where the job states it, is taken off at both ends.
    """
    of_gap = order.demands[number]
    serving = still_serving(of_gap, order.cards[number], order.stock)
    if (room := room_in_balances(order, number)) is not None:
        # what is promised of a piece does for it, too
        serving = {
            i: _within(found, room, _most_at_once(order, number, i), order.stock[i].part.thickness)
            for i, found in serving.items()
        }
    evened = "" if room is None else f" as asked{' by best estimate' * _not_at_worst(order, of_gap)}"
    yield from measured_words(order, of_gap.job, serving, [of_gap], say, evened=evened)


def _not_at_worst(order: Order, demand: Demand) -> bool:
    """Whether a balance of a gap can come out more uneven than is asked by what readings and pieces may be off."""
    own = {demand.gap.name, demand.place.name}
    return any(one.can_be_more for one in unevenness(order) if one.job == demand.job and own & {*one.balance.members})


def _most_at_once(order: Order, number: int, line: int) -> int:
    """The most pieces that go in together by any row that takes one of this stock line."""
    stacks = [stack for stack, _, _ in fitted_rows(order.demands[number], order.cards[number]) if line in stack]
    return max((len(stack) for stack in stacks), default=1)


def _within(found: Bracket, room: tuple[Fraction, Fraction], pieces: int, promised: Bracket) -> Bracket:
    """How thick a piece may be where this room is shared by so many of them; what is promised of it always does."""
    thinner, thicker = (max(each, Fraction(0)) / pieces for each in room)
    low, high = max(found.low, found.best - thinner), min(found.high, found.best + thicker)
    return Bracket(min(low, promised.low), found.best, max(high, promised.high))


def measured_words(
    order: Order,
    job: int,
    serving: Mapping[int, Bracket],
    of_gaps: Sequence[Demand],
    say: Speaker,
    *,
    evened: str = "",
) -> Iterator[str]:
    """The same of any rows: how thick each piece may be for them, and of which gaps of which job they are.

    `evened` says as how even all stays where that keeps their balances too.
    """
    told = []
    for i, found in serving.items():
        if order.stock[i].part.measured:
            continue
        ends = found_by(order, job, found).inward(say.unit, OF_A_GAUGE[say.unit])
        name, size = order_part(order, i), say.bracket(ends.low, ends.high)
        size = f"{size} exactly" if ends.exact else size
        # a piece without a name is called by its thickness
        told.append(size if size.startswith(name) else f"{name} {size}")
    if told:
        moved = {name for one in of_gaps for name in (one.gap.name, *(place for place, _ in one.gap.effects))}
        balanced = any(moved & {*balance.gaps, *balance.places} for balance in order.jobs[job].balances)
        alone = "" if not balanced else f", and all stays as even{evened}," if evened else ", by its window alone,"
        otherwise = "" if balanced else _off_its_label(of_gaps[0], say) if len(of_gaps) == 1 else _all_off(of_gaps)
        # what is within its label in one pack and in the other need not be the same
        told += [f"alike in {listed(names)}" for names in order.jobs[job].equal if moved & {*names}]
        yield f"every row still serves{alone} with pieces found to be: {', '.join(told)}; {otherwise}else plan again"


def _off_its_label(demand: Demand, say: Speaker) -> str:
    """What to make of a piece beyond that at the bench, with an example; empty where it moves the gap by a share."""
    if demand.moves != (Fraction(1), Fraction(1)):
        return ""
    if demand.gap.window.min is None or demand.gap.window.min < 0:
        # a preload grows where a play gets less: no sum is told that is wrong for one of them
        comes_out = f"it comes out {'tighter' if demand.effect < 0 else 'looser'} by what they are thicker in all"
        return f"with others {comes_out}: fit them where that is still allowed; "
    shifted = "take what they are thicker in all off" if demand.effect < 0 else "add what they are thicker in all to"
    little = say(Fraction(10 * UNITS[say.unit], 10 ** OF_A_GAUGE[say.unit]))
    example = f"{little} thicker, {little} {'less' if demand.effect < 0 else 'more'}"
    return f"with others {shifted} what it then reads ({example}), and fit them where that is still allowed; "


def _all_off(demands: Sequence[Demand]) -> str:
    """The same of gaps that several places move; empty where a preload is among them, or a share is not known."""
    told = list[str]()
    for demand in demands:
        if demand.gap.window.min is None or demand.gap.window.min < 0:
            return ""
        by_effect: dict[Fraction, list[str]] = {}
        for name, effect in demand.gap.effects:
            if demand.gap.reach(name) != (effect, effect):
                return ""
            by_effect.setdefault(effect, []).append(name)
        for effect, places in by_effect.items():
            share = "" if abs(effect) == 1 else f"{as_decimal(abs(effect), 4)} times "
            less = "less" if effect < 0 else "more"
            told.append(f"{shown(demand.gap.name)} {less} by {share}what they are thicker in all at {listed(places)}")
    return f"with others read {listed(told, len(told))}, and fit them where that is still allowed; "


def found_by(order: Order, job: int, thick: Bracket) -> Bracket:
    """What the job's micrometer has to show for a piece to be so thick, at least its middle."""
    micrometer = order.jobs[job].micrometer
    off = Fraction((micrometer and micrometer.error) or 0)
    low, high = thick.low + off, thick.high - off
    return Bracket(min(low, thick.best), thick.best, max(high, thick.best))


def of_blades(order: Order, demand: Demand, say: Speaker) -> Speaker:
    """Who names a gap's blades: in the job's unit, whatever the screen is in, else in that which they are marked in."""
    unit, blades = order.jobs[demand.job].unit, demand.gap.blades or ()
    (own, _), (other, named) = sorted(_BLADES, key=lambda one: unit not in one[1])
    others = bool(blades) and all(at % other == 0 for at in blades) and any(at % own for at in blades)
    speaker = Speaker(named[0] if others else unit)
    return speaker.bare if speaker.unit == say.unit else speaker


def read_text(order: Order, number: int, start: Fraction, end: Fraction, say: Speaker) -> str:
    """Best estimates from .. to, as they are read: under a cover that is the cover's gap, with blades from the first
    that goes to the last that does not.
    """
    demand = order.demands[number]
    if demand.by_blades and demand.step and (held := [at for at in demand.pairs if start <= at <= end]):
        start, end = held[0] - demand.step / 2, held[-1] + demand.step / 2
    return say.clearance(*((-end, -start) if demand.gap.reading.opens else (start, end)))


def turned_on_the_day(gap: Gap, *, right: bool) -> str:
    """What is done on the day of a preload that nobody reads; `right` by its running torque it is left."""
    how = f"its preload is not read on the day, but turned ({shown(str(gap.running))} is stated)"
    then = "What the plan lists goes in, then it is turned again and recorded."
    return "by its running torque it is right: nothing is read or changed." if right else f"{how}. {then}"
