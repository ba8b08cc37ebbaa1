"""How uneven a balance can come out, whatever the final readings of its gaps are: by the rows of their cards.

Rows of gaps that act together decide all of them at once, so that each is looked at by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import permutations

from shimopt.arithmetic.clearance import change_of, thickness_of
from shimopt.job import Balance
from shimopt.lengths import Bracket
from shimopt.ordering.after_fitting import after_fitting, fitted_rows
from shimopt.ordering.after_together import after_together
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Range

_Reached = tuple[Bracket, int, Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Uneven:
    """A balance of a job (by number) that states `within`, and the most that it can be uneven by [nm].

    `worst` by best estimates, None where not every member has a card of its own; `widest` and `narrowest` are the
    demands (by number) and final readings at which it is that uneven; `most` with what readings and pieces may be off.
    `table` numbers the table that all members stand in, `rows` are its readings at which it is more than it may be.
    """

    job: int
    balance: Balance
    worst: Fraction | None
    widest: tuple[int, Fraction] = (0, Fraction(0))
    narrowest: tuple[int, Fraction] = (0, Fraction(0))
    most: Fraction = Fraction(0)
    table: int | None = None
    rows: tuple[tuple[Range, ...], ...] = ()

    @property
    def met(self) -> bool | None:
        """Whether it keeps within its limit at every final reading, by best estimates; None where nobody knows."""
        return None if self.worst is None else self.worst <= (self.balance.within or 0)

    @property
    def can_be_more(self) -> bool:
        """Whether it can come out more uneven than is asked."""
        return self.worst is not None and max(self.worst, self.most) > (self.balance.within or 0)


def unevenness(order: Order) -> list[Uneven]:
    """Of every balance that states how uneven it may be."""
    found = []
    for number, job in enumerate(order.jobs):
        for balance in job.balances:
            if balance.within is not None:
                found.append(_of(order, number, balance))
    return found


def _of(order: Order, job: int, balance: Balance) -> Uneven:
    names = {n: d.place.name if balance.places else d.gap.name for n, d in enumerate(order.demands) if d.job == job}
    asked = balance.places or balance.gaps
    for number, table in enumerate(order.tables):
        named = table.places if balance.places else [demand.gap.name for demand in table.demands]
        if table.job == job and {*asked} <= {*named}:
            return _of_table(order, number, balance)
    members = [n for n, name in names.items() if name in asked]
    stopped = {hole.gap for hole in order.holes}
    if len(members) < len(asked) or stopped & {*members}:
        return Uneven(job, balance, None)
    reached = _reached(order, job, balance)
    apart = [
        (high[0].best - high[3] - low[0].best + low[3], high[1:3], low[1:3])
        for high in reached
        for low in reached
        if high[1] != low[1]
    ]
    if not apart:
        return Uneven(job, balance, Fraction(0))
    worst, high, low = max(apart)
    most = max(one[0].high - one[3] - two[0].low + two[3] for one in reached for two in reached if one[1] != two[1])
    return Uneven(job, balance, max(worst, Fraction(0)), high, low, most)


def room_in_balances(order: Order, number: int) -> tuple[Fraction, Fraction] | None:
    """How much thinner and thicker in all the pieces of a gap's card may be, so that its balances stay as asked [nm].

    Where other members get pieces too, these may be off as well: each has half. None where no balance states a limit,
    or one is not kept as it is, or nobody knows.
    """
    demand, found = order.demands[number], list[tuple[Fraction, Fraction]]()
    for one in unevenness(order):
        balance, job = one.balance, one.job
        own = demand.place.name if balance.places else demand.gap.name
        if job != demand.job or own not in (balance.places or balance.gaps):
            continue
        if one.met is not True or one.table is not None or balance.within is None:
            return None
        reached = _reached(order, job, balance)
        others = [row for row in reached if row[1] != number]
        fits = any(stack for _, n, _, _ in others for stack, _, _ in fitted_rows(order.demands[n], order.cards[n]))
        limit = Fraction(balance.within)
        ends = [
            (mine[0].best - mine[3], other[0].best - other[3])
            for mine in reached
            for other in others
            if mine[1] == number
        ]
        higher = min((limit - (mine - other) for mine, other in ends), default=limit) / (2 if fits else 1)
        lower = min((limit - (other - mine) for mine, other in ends), default=limit) / (2 if fits else 1)
        thicker_is_higher = bool(balance.places) or demand.effect > 0
        by = Fraction(1) if balance.places else demand.moves[1]
        thinner, thicker = (lower, higher) if thicker_is_higher else (higher, lower)
        found.append((thinner / by, thicker / by))
    return (min(one for one, _ in found), min(one for _, one in found)) if found else None


def _reached(order: Order, job: int, balance: Balance) -> list[_Reached]:
    """Where the members of a balance end, with their demand (by number), the final reading and the offset."""
    names = {n: d.place.name if balance.places else d.gap.name for n, d in enumerate(order.demands) if d.job == job}
    return [
        (after, n, reading, Fraction(balance.offset.get(names[n], 0)))
        for n, name in names.items()
        if name in (balance.places or balance.gaps)
        for reading, after in _after(order, n, packs=bool(balance.places))
    ]


def _of_table(order: Order, number: int, balance: Balance) -> Uneven:
    """Row by row, from its first readings to its last, each gap's for itself."""
    table, worst, most, rows = order.tables[number], Fraction(0), Fraction(0), list[tuple[Range, ...]]()
    job = replace(order.jobs[table.job], stock=order.stock)
    for box in table.boxes:
        changed = {name: change_of(job.place[name], stack, order.stock) for name, stack in box.stacks.items()}
        # of each member the least and most by best estimates, then with what readings and pieces may be off
        ends = list[tuple[Fraction, Fraction, Fraction, Fraction]]()
        for name in balance.places:
            thick, off = thickness_of(box.stacks[name], order.stock), balance.offset.get(name, 0)
            ends.append((thick.best - off, thick.best - off, thick.low - off, thick.high - off))
        after = after_together(job, table, box.stacks, box.ranges)
        for demand, (low, high), (least, greatest) in zip(table.demands, box.ranges, after, strict=True):
            if not balance.places and demand.gap.name in balance.gaps:
                off = balance.offset.get(demand.gap.name, 0)
                moved = sum((effect * changed[name].best for name, effect in demand.gap.effects), Fraction(0)) - off
                ends.append((low + moved, high + moved, least - off, greatest - off))
        apart = [(a[1] - b[0], a[3] - b[2]) for a, b in permutations(ends, 2)]
        here = max((one for one, _ in apart), default=Fraction(0))
        worst, most = max(worst, here), max(most, *(end for _, end in apart))
        if here > (balance.within or 0):
            rows.append(box.ranges)
    return Uneven(table.job, balance, worst, most=most, table=number, rows=tuple(rows))


def _after(order: Order, number: int, *, packs: bool) -> Iterator[tuple[Fraction, Bracket]]:
    """Final readings at which a gap ends furthest out, with where it lies after fitting: the ends of every row.

    Of `packs` what is compared is how thick they are.
    """
    demand = order.demands[number]
    for stack, start, end in fitted_rows(demand, order.cards[number]):
        moved = demand.effect * change_of(demand.place, stack, order.stock).best
        thick = thickness_of(stack, order.stock)
        for reading in (start, end):
            low, high = after_fitting(demand, stack, order.stock, reading, reading)
            yield reading, thick if packs else Bracket(low, reading + moved, high)
