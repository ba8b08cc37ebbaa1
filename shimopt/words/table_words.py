"""The small table of a bench card for gaps whose places act together: their readings, and every place's pieces."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from shimopt.errors import shown
from shimopt.ordering.boxes import Box, Table
from shimopt.ordering.demand import Demand
from shimopt.ordering.result import Order
from shimopt.words.card_words import CardRow, first_of, fit_words, named
from shimopt.words.reading_words import limits_text, read_how
from shimopt.words.speaker import Speaker, listed

__all__ = ["table_allowed", "table_first", "table_how", "table_name", "table_notes", "table_rows"]

# more readings than this make a table that nobody reads on the bench
_MOST_READINGS = 2


def table_name(order: Order, table: Table) -> str:
    """The gaps that are read together."""
    return listed([named(order, table.job, demand.gap.name) for demand in table.demands])


def table_allowed(table: Table, say: Speaker) -> str:
    """The window of each gap."""
    return "; ".join(f"{shown(d.gap.name)} {limits_text(d.gap.window, say.about(d.gap))}" for d in table.demands)


def table_how(table: Table) -> str:
    """By what the gaps are read."""
    return listed(list(dict.fromkeys(read_how(demand.gap.reading) for demand in table.demands)))


def table_rows(order: Order, table: Table, say: Speaker) -> list[CardRow]:
    """A row per box: every reading, and what each place gets; none where there are too many readings."""
    if len(table.demands) > _MOST_READINGS:
        return []
    return [CardRow(_read(order, table, box, say), _fit(order, table, box)) for box in table.boxes]


def table_first(order: Order, table: Table, say: Speaker) -> dict[str, list[str]]:
    """What is settled before a row of the table counts, by gap; only of those with something to settle."""
    fits = [box.stacks for box in table.boxes]
    told = {named(order, table.job, d.gap.name): first_of(order, d, fits, say) for d in table.demands}
    return {name: words for name, words in told.items() if words}


def table_notes(order: Order, table: Table, say: Speaker) -> Iterator[str]:
    """What stands before the rows, and what to do with other readings, or where there are no rows."""
    fits = [box.stacks for box in table.boxes]
    first = dict.fromkeys(words for told in table_first(order, table, say).values() for words in told)
    for words in first:
        yield f"first: {words.removesuffix('.')}"
    if first:
        yield "only once that is settled does a row count"
    if len(table.demands) > _MOST_READINGS:
        yield "this order is enough for all final readings: read them all, put the parcel into the drawer, then"
        yield "`shimopt plan JOB` with these readings says what to fit; `--drawer FILE` where the drawer is another"
        return
    yield "any other reading: something moved, stop and measure again, then plan again"
    if any(len({order.stock[i].part.thickness.best for i in stack}) > 1 for fit in fits for stack in fit.values()):
        yield "several pieces: in the order named, the first against the fixed face"


def _read(order: Order, table: Table, box: Box, say: Speaker) -> str:
    return "; ".join(
        f"{shown(demand.gap.name)}: {_of_gap(order, demand, low, high, say)}"
        for demand, (low, high) in zip(table.demands, box.ranges, strict=True)
    )


def _of_gap(order: Order, demand: Demand, low: Fraction, high: Fraction, say: Speaker) -> str:
    """A gap's readings as they are read: from which blade that goes to which does not, or from .. to."""
    sign = -1 if demand.gap.reading.opens else 1
    pairs = [sign * at for at in demand.pairs if low <= at <= high]
    half = demand.gap.reading.no_blade if demand.blind else demand.step
    if not pairs or half is None:
        ends = sorted((sign * low, sign * high))
        return say.about(demand.gap).clearance(*ends)
    own = Speaker(order.jobs[demand.job].unit)
    own = own.bare if own.unit == say.unit else own
    go, no_go = min(pairs) - Fraction(half) / 2, max(pairs) + Fraction(half) / 2
    return f"{own(go)} goes, {own(no_go)} does not" if go else f"{own(no_go)} does not go"


def _fit(order: Order, table: Table, box: Box) -> str:
    job = order.jobs[table.job]
    return "; ".join(f"{shown(name)}: {fit_words(order, job.place[name], box.stacks[name])}" for name in table.places)
