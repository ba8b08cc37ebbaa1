"""How uneven a balance can come out, whatever the final readings of its gaps are: by the rows of cards and tables.

A row of a table decides all its gaps at once; rows of different cards and tables may meet, whichever they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from shimopt.arithmetic.clearance import change_of, thickness_of
from shimopt.job import Balance
from shimopt.lengths import Bracket
from shimopt.ordering.after_fitting import after_fitting, fitted_rows
from shimopt.ordering.after_together import after_together
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Range

# of the gaps that an order answers, by number, final readings from .. to
Readings = tuple[tuple[int, Range], ...]


class _End(NamedTuple):
    """Where a member ends at one end of a row, less its offset, and at which reading; `row` is of which card or table.

    `read` are the readings of the row, of which the member's own, if it has one, is at `at`.
    """

    member: str
    after: Bracket
    row: tuple[int, int]
    read: Readings
    own: int | None
    at: Fraction
    fits: bool

    @property
    def reached(self) -> tuple[int, Fraction] | None:
        """The member's own gap and reading."""
        return None if self.own is None else (self.own, self.at)


@dataclass(frozen=True, slots=True)
class Uneven:
    """A balance of a job (by number) that states `within`, and the most that it can be uneven by [nm].

    `worst` by best estimates, None where not every member is answered; `widest` and `narrowest` are the gaps (by number
    among those answered) and final readings at which it is that uneven, None for a pack of a table; `most` with what
    readings and pieces may be off. `where` are the readings at which it is more than it may be, the worst first: by
    best estimates, or, where it is kept by these, as far as they may be off. `table` numbers the table that all members
    stand in, `rows` are its rows at which it is more than it may be by best estimates.
    """

    job: int
    balance: Balance
    worst: Fraction | None
    _: KW_ONLY
    widest: tuple[int, Fraction] | None = None
    narrowest: tuple[int, Fraction] | None = None
    most: Fraction = Fraction(0)
    where: tuple[Readings, ...] = ()
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

    @property
    def read_again(self) -> bool:
        """Whether its gaps, read again after fitting, show whether it is kept: they are meant alike."""
        return not self.balance.places and not any(self.balance.offset.values())


def unevenness(order: Order) -> list[Uneven]:
    """Of every balance that states how uneven it may be."""
    asked = ((n, balance) for n, job in enumerate(order.jobs) for balance in job.balances)
    return [_of(order, number, balance) for number, balance in asked if balance.within is not None]


def _of(order: Order, job: int, balance: Balance) -> Uneven:
    ends, limit = list(_ends(order, job, balance)), Fraction(balance.within or 0)
    stopped = {hole.gap for hole in order.holes}
    if {end.member for end in ends} != {*balance.members} or any(end.row[0] in stopped for end in ends):
        return Uneven(job, balance, None)
    apart = [
        (high.after.best - low.after.best, high.after.high - low.after.low, high, low)
        for high in ends
        for low in ends
        # one row of a table at a time
        if high.member != low.member and (high.row[0] != low.row[0] or high.row == low.row)
    ]
    if not apart:
        return Uneven(job, balance, Fraction(0))
    worst, _, high, low = max(apart, key=lambda pair: (pair[0], pair[2].read, pair[3].read))
    most, within = max(pair[1] for pair in apart), max(worst, Fraction(0)) <= limit
    over = dict[tuple[object, object], tuple[Fraction, _End, _End]]()
    for best, widest, one, two in apart:
        beyond = (widest if within else best) - limit
        if beyond > 0:
            known = over.get((one.row, two.row), (beyond, one, two))
            over[one.row, two.row] = max(known, (beyond, one, two), key=lambda of: of[0])
    found = sorted(over.values(), key=lambda of: -of[0])
    where = tuple(dict.fromkeys(_narrowed(one, two, beyond) for beyond, one, two in found))
    kinds, first = {end.row[0] for end in ends}, len(order.demands)
    table = min(kinds) - first if len(kinds) == 1 and min(kinds) >= first else None
    uneven = {one.row[1] for _, one, _ in found if not within}
    boxes = () if table is None else order.tables[table].boxes
    return Uneven(
        job,
        balance,
        max(worst, Fraction(0)),
        widest=high.reached,
        narrowest=low.reached,
        most=most,
        where=where,
        table=table,
        rows=tuple(box.ranges for n, box in enumerate(boxes) if n in uneven),
    )


def _narrowed(high: _End, low: _End, beyond: Fraction) -> Readings:
    """The readings of two rows at which their ends can be as much too far apart, or less; of packs those of the row."""
    found = dict[int, Range]()
    for end in (high, low):
        for number, (start, last) in end.read:
            if number == end.own:
                from_last, from_start = (max(start, last - beyond), last), (start, min(last, start + beyond))
                found[number] = from_last if end.at == last else from_start
            elif end.own is None:
                found[number] = (start, last)
    return tuple(sorted(found.items()))


def room_in_balances(order: Order, number: int) -> tuple[Fraction, Fraction] | None:
    """How much thinner and thicker in all the pieces of a gap's card may be, so that its balances stay as asked [nm].

    Where other members get pieces too, these may be off as well: each has half. None where no balance states a limit,
    or one is not kept as it is, or nobody knows, or what is promised of pieces and readings may be too much for it and
    its gaps, read again after fitting, show that.
    """
    demand, found = order.demands[number], list[tuple[Fraction, Fraction]]()
    for one in unevenness(order):
        balance = one.balance
        own = demand.place.name if balance.places else demand.gap.name
        if one.job != demand.job or own not in balance.members:
            continue
        if one.met is not True or one.table is not None or (one.can_be_more and one.read_again):
            return None
        ends = list(_ends(order, one.job, balance))
        mine, others = ([e.after.best for e in ends if (e.member == own) is its] for its in (True, False))
        share = 2 if any(end.fits for end in ends if end.member != own) else 1
        limit = Fraction(balance.within or 0)
        higher = min((limit - (a - b) for a in mine for b in others), default=limit) / share
        lower = min((limit - (b - a) for a in mine for b in others), default=limit) / share
        thicker_is_higher = bool(balance.places) or demand.effect > 0
        by = Fraction(1) if balance.places else demand.moves[1]
        thinner, thicker = (lower, higher) if thicker_is_higher else (higher, lower)
        found.append((thinner / by, thicker / by))
    return (min(one for one, _ in found), min(one for _, one in found)) if found else None


def _ends(order: Order, job: int, balance: Balance) -> Iterator[_End]:
    """Both ends of every row of the members of a balance."""
    for number, demand in enumerate(order.demands):
        name = demand.place.name if balance.places else demand.gap.name
        if demand.job == job and name in balance.members:
            yield from _of_card(order, number, name, balance)
    first = len(order.demands)
    for number, table in enumerate(order.tables):
        if table.job == job:
            yield from _of_table(order, number, first, balance)
        first += len(table.demands)


def _of_card(order: Order, number: int, name: str, balance: Balance) -> Iterator[_End]:
    """The ends of a card's rows; of `places` what is compared is how thick their packs are."""
    demand, off = order.demands[number], balance.offset.get(name, 0)
    for n, (stack, *ends) in enumerate(fitted_rows(demand, order.cards[number])):
        moved = demand.effect * change_of(demand.place, stack, order.stock).best
        for at in ends:
            low, high = after_fitting(demand, stack, order.stock, at, at)
            after = thickness_of(stack, order.stock) if balance.places else Bracket(low, at + moved, high)
            read = ((number, (ends[0], ends[1])),)
            yield _End(name, _less(after, off), (number, n), read, number, at, fits=bool(stack))


def _of_table(order: Order, number: int, first: int, balance: Balance) -> Iterator[_End]:
    """The ends of a table's rows, each gap's for itself; parameter: first, the number of its first gap."""
    table = order.tables[number]
    job = replace(order.jobs[table.job], stock=order.stock)
    for n, box in enumerate(table.boxes):
        row, read = (len(order.demands) + number, n), tuple((first + k, ends) for k, ends in enumerate(box.ranges))
        fits = any(box.stacks.values())
        for name in balance.places:
            if name in box.stacks:
                after = _less(thickness_of(box.stacks[name], order.stock), balance.offset.get(name, 0))
                yield _End(name, after, row, read, None, Fraction(0), fits)
        changed = {name: change_of(job.place[name], stack, order.stock).best for name, stack in box.stacks.items()}
        for end in (0, 1) if not balance.places else ():
            reached = after_together(job, table, box.stacks, [(ends[end], ends[end]) for ends in box.ranges])
            for k, (demand, ends, (low, high)) in enumerate(zip(table.demands, box.ranges, reached, strict=True)):
                name = demand.gap.name
                moved = sum((effect * changed[place] for place, effect in demand.gap.effects), Fraction(0))
                after = _less(Bracket(low, ends[end] + moved, high), balance.offset.get(name, 0))
                if name in balance.gaps:
                    yield _End(name, after, row, read, first + k, ends[end], fits)


def _less(bracket: Bracket, off: Fraction | int) -> Bracket:
    return Bracket(bracket.low - off, bracket.best - off, bracket.high - off)
