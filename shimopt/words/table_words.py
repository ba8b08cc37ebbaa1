"""The small table of a bench card for gaps whose places act together: their readings, and every place's pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from shimopt.arithmetic.changes import changes_of
from shimopt.errors import shown
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Box, Table
from shimopt.words.card_words import MOVED, CardRow, fit_words, named, readings_text
from shimopt.words.order_part_words import order_part
from shimopt.words.reading_words import limits_text, read_how
from shimopt.words.speaker import Speaker, listed


def table_name(order: Order, table: Table) -> str:
    """The gaps that are read together."""
    return listed([named(order, table.job, demand.gap.name) for demand in table.demands])


def table_allowed(table: Table, say: Speaker) -> str:
    """The window of each gap."""
    return "; ".join(f"{shown(d.gap.name)}: {limits_text(d.gap.window, say.about(d.gap))}" for d in table.demands)


def table_how(table: Table) -> str:
    """By what the gaps are read."""
    return listed(list(dict.fromkeys(read_how(demand.gap.reading) for demand in table.demands)))


def table_rows(order: Order, table: Table, say: Speaker) -> list[CardRow]:
    """A row per box: every reading, and what each place gets; none where there are too many readings."""
    if table.rowless:
        return []
    return [CardRow(_read(order, table, box, say), _fits(order, table, box)) for box in table.boxes]


def table_notes(order: Order, table: Table) -> Iterator[str]:
    """What to do with other readings, or where there are no rows."""
    fits = [box.stacks for box in table.boxes]
    if table.rowless:
        yield "this order is enough for all final readings: read them all, put the parcel into the drawer, then"
        yield "`shimopt plan JOB` with these readings says what to fit; `--drawer FILE` where the drawer is another"
        return
    yield f"any other reading: {MOVED}"
    # what is turned is not read in a length again
    if loaded := [d.gap.name for d in table.demands if d.gap.window.wants_preload and d.gap.reading.bracket.high <= 0]:
        names = listed([shown(name) for name in loaded])
        yield f"{names}: a preload is turned, not read again; rows count while its torque is what the maker states"
    if any(len({order.stock[i].part.thickness.best for i in stack}) > 1 for fit in fits for stack in fit.values()):
        yield "several pieces: in the order named, the first against the fixed face"


def turned(table: Table) -> list[str]:
    """The gaps whose preload is turned, not read in a length: no row asks for it where all rows take it alike."""
    loaded = {d.gap.name for d in table.demands if d.gap.window.wants_preload and d.gap.reading.bracket.high <= 0}
    alike = [
        demand.gap.name
        for at, demand in enumerate(table.demands)
        if demand.gap.name in loaded and len({box.ranges[at] for box in table.boxes}) == 1
    ]
    return alike if len(alike) < len(table.demands) else []


def _read(order: Order, table: Table, box: Box, say: Speaker) -> str:
    left = turned(table)
    return "; ".join(
        f"{shown(demand.gap.name)}: {readings_text(order, demand, low, high, say)}"
        for demand, (low, high) in zip(table.demands, box.ranges, strict=True)
        if demand.gap.name not in left
    )


def _fits(order: Order, table: Table, box: Box) -> tuple[str, ...]:
    job = replace(order.jobs[table.job], stock=tuple(order.stock))
    changes = changes_of(job, {place.name: place.installed for place in job.places} | dict(box.stacks))

    def told(name: str) -> str:
        fit = f"{shown(name)}: {fit_words(order, job.place[name], box.stacks[name])}"
        # it is as thick as what went out, which another like it need not be
        over = Counter((piece.other, piece.line) for piece in changes.at[name].into if piece.other in table.places)
        pieces = [
            f"{f'{n} x ' if n > 1 else ''}{order_part(order, i)} out of {shown(at)}" for (at, i), n in over.items()
        ]
        return f"{fit} ({listed(pieces)})" if pieces else fit

    return tuple(map(told, table.places))
