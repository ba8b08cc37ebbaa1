"""How uneven a balance can come out, whatever the final readings of its gaps are: by the rows of their cards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import change_of, thickness_of
from shimopt.job import Balance
from shimopt.ordering.order_result import Order


@dataclass(frozen=True, slots=True)
class Uneven:
    """A balance of a job (by number) that states `within`, and the most that it can be uneven by [nm].

    `worst` is None where not every member has a card of its own; `widest` and `narrowest` are the demands (by number)
    and final readings at which it is that uneven.
    """

    job: int
    balance: Balance
    worst: Fraction | None
    widest: tuple[int, Fraction] = (0, Fraction(0))
    narrowest: tuple[int, Fraction] = (0, Fraction(0))

    @property
    def met(self) -> bool | None:
        """Whether it keeps within its limit at every final reading; None where nobody knows."""
        return None if self.worst is None else self.worst <= (self.balance.within or 0)


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
    members = [n for n, name in names.items() if name in asked]
    stopped = {hole.gap for hole in order.holes}
    if len(members) < len(asked) or stopped & {*members}:
        return Uneven(job, balance, None)
    reached = [
        (after - balance.offset.get(names[n], 0), n, reading)
        for n in members
        for reading, after in _after(order, n, packs=bool(balance.places))
    ]
    apart = [(high[0] - low[0], high, low) for high in reached for low in reached if high[1] != low[1]]
    if not apart:
        return Uneven(job, balance, Fraction(0))
    worst, high, low = max(apart)
    return Uneven(job, balance, max(worst, Fraction(0)), high[1:], low[1:])


def _after(order: Order, number: int, *, packs: bool) -> Iterator[tuple[Fraction, Fraction]]:
    """Final readings at which a gap ends furthest out, with its best estimate after fitting: the ends of every row.

    Of `packs` what is compared is how thick they are.
    """
    demand = order.demands[number]
    for band in order.cards[number].bands:
        moved = demand.effect * change_of(demand.place, band.stack, order.stock).best
        thick = thickness_of(band.stack, order.stock).best
        # a pair of blades has one best estimate, and nothing else is read by them
        pairs = [at for at in demand.pairs if band.start <= at <= band.end]
        ends = (pairs[0], pairs[-1]) if pairs else () if demand.pairs else (band.start, band.end)
        for reading in ends:
            yield reading, thick if packs else reading + moved
