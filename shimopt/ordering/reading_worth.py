"""What one more reading of a gap is worth: fit, order, or read again first, by what each costs on average.

Costs are what is charged for parcels, and for each strip-down after a fitting that did not come out: what was stated. A
fitting that does not come out calls for the order that serves whatever the gap may be then, which is at most what the
parcel costs. Readings themselves are counted as free. Where a parcel makes a stack that is surely inside, that is
fitted, and nothing is stripped down again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.errors import InputError
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.ordering.another_reading import Further, Told, as_of_today, by_hand, could_be_read, further_readings
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Line, Order
from shimopt.planner import Decision, chosen_stacks
from shimopt.readings import Reading
from shimopt.watch import Watch

_STEPS = 500


@dataclass(frozen=True, slots=True)
class Way:
    """One way on: "fit" what is on hand, "one" order for what the gap reads, "all" order for all that it may be.

    "sure": order what makes a stack that is surely inside, where that costs more than "all" or is another parcel.
    "none": none of these is to be had, and what that costs counts nowhere.

    `now` is paid at once, `again` the chance that it is stripped down once more, and `cost` what comes of it on
    average, that chance and a later parcel included. `lines` are bought.
    """

    name: Literal["fit", "one", "all", "sure", "none"]
    now: Fraction
    again: Fraction | float
    cost: Fraction | float
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class _Orders:
    """The order for `all` that a gap may be, whether a stack of it is surely inside, and if not, a `sure` one.

    `holds`: the chance that such a stack is inside, 1 but where the gauge is known to be off at times.
    """

    all: Order | None = None
    all_sure: bool = False
    sure: Order | None = None
    holds: Fraction | float = Fraction(1)


@dataclass(frozen=True, slots=True)
class AfterReading:
    """Another reading, what it costs on average with the cheapest way after each outcome, and how often it is stripped.

    Both are None where after some outcome no way is known.
    """

    further: Further
    again: Fraction | float | None
    cost: Fraction | float | None
    ways: tuple[Way | None, ...]


@dataclass(frozen=True, slots=True)
class ReadingWorth:
    """What can be done about a gap that is not surely inside; `order` serves all that it may be, None without prices.

    `not_priced` says why not. `unserved`: nothing on hand or on offer serves all that it may be.
    """

    gap: str
    today: Told
    ways: tuple[Way, ...]
    readings: tuple[AfterReading, ...]
    order: Order | None
    strip_down: Fraction
    not_priced: str = ""
    unserved: bool = False

    @property
    def cheapest_way(self) -> Way | None:
        """The best without another reading."""
        return _cheapest(self.ways)

    @property
    def best_reading(self) -> AfterReading | None:
        """The reading that costs least on average, where that is better than none; else None."""
        best, found = self.cheapest_way, None
        for one in self.readings:
            if one.cost is None or one.again is None:
                continue
            if best is None or (one.cost, one.again) < (best.cost, best.again):
                beaten = found is None or (one.cost, one.again) < (found.cost, found.again)
                found = one if beaten else found
        return found

    @property
    def saves(self) -> Fraction | float:
        """How much less that costs on average."""
        way, reading = self.cheapest_way, self.best_reading
        return Fraction(0) if way is None or reading is None or reading.cost is None else way.cost - reading.cost


def worth_of(
    decision: Decision, name: str, strip_down: Fraction = Fraction(0), blades: int | None = None
) -> list[ReadingWorth]:
    """Of a gap, where another reading may tell more of it; else nothing.

    Parameters: strip_down, what it costs to strip the machine once more; blades, the step of the finer set [nm].
    """
    return [_worth(decision, name, strip_down, blades)] if could_be_read(decision, name) else []


def _worth(decision: Decision, name: str, strip_down: Fraction, blades: int | None) -> ReadingWorth:
    today = as_of_today(decision, name)
    further = further_readings(decision, name, blades)
    try:
        orders = [_orders(name, today), *(_orders(name, one) for way in further for one in way.told)]
    except InputError as error:
        return ReadingWorth(
            name,
            today,
            tuple(_ways(today, _Orders(), strip_down)),
            tuple(AfterReading(way, None, None, ()) for way in further),
            None,
            strip_down,
            error.problems[0].rule,
        )
    first, *rest = orders
    readings = []
    for way in further:
        of_way, rest = rest[: len(way.told)], rest[len(way.told) :]
        after = tuple(_cheapest(_ways(told, order, strip_down)) for told, order in zip(way.told, of_way, strict=True))
        readings.append(_after(way, after))
    ways, unserved = tuple(_ways(today, first, strip_down)), not _serves_all(first.all)
    return ReadingWorth(name, today, ways, tuple(readings), first.all, strip_down, unserved=unserved)


def _orders(name: str, told: Told) -> _Orders:
    """What serves every length that the gap may have, beside the drawer, and what makes it sure; nothing where none is
    needed."""
    if told.sure:
        return _Orders()
    gap = told.job.gap[name]
    known, shift = told.known, gap.reading.shift
    reading = by_hand(gap, Reading(known, gap.reading.kind))
    then = _with(told.job, replace(gap, reading=reading, final_reading=0, again=None, blades=None))
    order = make_order([then], top_up=False, watch=Watch(steps=_STEPS))
    if not _serves_all(order):
        return _Orders(order)
    if order.lines and (holds := _holds_with(then, name, order)):
        return _Orders(order, all_sure=True, holds=holds)
    # one stack for all of it: an order for one reading, about which the gap may lie anywhere in what is known
    half, middle = (known.high - known.low) / 2 + shift, (known.low + known.high) / 2
    kind = "value" if gap.reading.after_fitting or gap.reading.kind == "table" else gap.reading.kind
    point = Reading(Bracket.between(middle, middle), kind)
    one_stack = replace(gap, reading=point, final_reading=None, again=(half, half), blades=None)
    sure = make_order([_with(told.job, one_stack)], top_up=False, watch=Watch(steps=_STEPS))
    if _serves_all(sure) and sure.lines and (holds := _holds_with(then, name, sure)):
        return _Orders(order, sure=sure, holds=holds)
    return _Orders(order)


def _with(job: Job, gap: Gap) -> Job:
    return replace(job, gaps=tuple(gap if one.name == gap.name else one for one in job.gaps))


def _holds_with(job: Job, name: str, order: Order) -> Fraction | float:
    """How likely a gap is inside that a plan makes surely inside once the parcel is there; 0 where none does."""
    stock = list(job.stock)
    for line in order.lines:
        stock[line.part] = replace(stock[line.part], on_hand=stock[line.part].on_hand + line.pieces)
    then = replace(job, stock=tuple(stock))
    chosen = chosen_stacks(then)
    if chosen.outcome.gaps[name].verdict != "inside":
        return Fraction(0)
    exact = job.gap[name].reading.repeats is None
    return Fraction(1) if exact else chance_inside(then, job.gap[name], chosen.stacks)


def _serves_all(order: Order | None) -> bool:
    return order is None or (order.whole and not any(option.without for option in order.options))


def _ways(told: Told, orders: _Orders, strip_down: Fraction) -> list[Way]:
    if told.sure:
        # 1 but where a gauge that repeats so is known to be off at times
        fails: Fraction | float = 1 - told.chance
        return [Way("fit", Fraction(0), fails, fails * strip_down)]
    order = orders.all
    options = {option.name: option for option in order.options} if order is not None else {}
    one, sure = options.get("exact"), options.get("sure")
    later = sure.cost if sure is not None and _serves_all(order) else None
    ways = list[Way]()
    fails = 1 - told.chance
    if told.fits:
        ways.append(Way("fit", Fraction(0), fails, fails * (strip_down + (later or 0))))
    if later and order is not None:
        if not told.fits and one is not None and one.cost and one.cost < later:
            fails = 1 - one.chance
            ways.append(Way("one", one.cost, fails, one.cost + fails * (strip_down + later)))
        if not told.fits and one is not None:
            fails = 1 - one.chance
        if orders.all_sure:
            fails = 1 - orders.holds
        ways.append(Way("all", later, fails, later + fails * strip_down, order.lines))
    if orders.sure is not None and (cost := orders.sure.cost) is not None:
        fails = 1 - orders.holds
        ways.append(Way("sure", cost, fails, cost + fails * strip_down, orders.sure.lines))
    return ways or [Way("none", Fraction(0), Fraction(0), Fraction(0))]


def _after(further: Further, ways: Sequence[Way | None]) -> AfterReading:
    known = [way for way in ways if way is not None]
    if len(known) < len(ways):
        return AfterReading(further, None, None, tuple(ways))
    shares = [one.share for one in further.told]
    again = sum((share * way.again for share, way in zip(shares, known, strict=True)), Fraction(0))
    cost = sum((share * way.cost for share, way in zip(shares, known, strict=True)), Fraction(0))
    return AfterReading(further, again, cost, tuple(ways))


def _cheapest(ways: Sequence[Way]) -> Way | None:
    return min(ways, key=lambda way: (way.cost, way.again), default=None)
