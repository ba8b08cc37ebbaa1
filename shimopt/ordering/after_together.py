"""What gaps whose places act together come to by a row of their table, and how far a piece may be off its label."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from shimopt.arithmetic.clearance import Stack, turnover
from shimopt.job import Job
from shimopt.lengths import Bracket
from shimopt.ordering.readings_together import Range, Stacks, Table, moved_by
from shimopt.ordering.unserved_readings import read_in


def after_together(job: Job, table: Table, stacks: Stacks, readings: Sequence[Range]) -> list[Range]:
    """By gap, from where to where it lies with these stacks, where its best estimate was from .. to [nm].

    Parameter: job, the table's, with the stock of the order.
    """
    found = []
    for demand, ends in zip(table.demands, readings, strict=True):
        start, end = read_in(demand, *ends)
        low, high = moved_by(job, demand.gap, stacks)
        found.append((start - demand.below + low, end + demand.above + high))
    return found


def blade_rows_of(table: Table) -> Iterator[tuple[tuple[Range, ...], Stacks | None]]:
    """A row per pair of neighbouring blades of each gap, and what is fitted then; None where nothing serves."""
    if table.rowless or not all(demand.pairs for demand in table.demands):
        return
    for cell in product(*(demand.pairs for demand in table.demands)):
        serving = (
            box.stacks
            for box in table.boxes
            if all(low <= x <= high for x, (low, high) in zip(cell, box.ranges, strict=True))
        )
        yield tuple((x, x) for x in cell), next(serving, None)


def still_serving_together(job: Job, table: Table) -> dict[int, Bracket]:
    """By stock line that goes in by any row, how thick a piece of it may be found so that all rows still serve.

    However many pieces that move a gap are off at once, all the same way: each has its share of the room that the row
    leaves. Where a row leaves none, it is what the label says and no more.
    """
    room: dict[int, Fraction] = {}
    for box in table.boxes:
        into: Mapping[str, Stack] = {n: turnover(job.place[n].installed, box.stacks[n])[0] for n in table.places}
        for demand, (low, high) in zip(table.demands, after_together(job, table, box.stacks, box.ranges), strict=True):
            window = demand.gap.window
            ends = [low - window.min] if window.min is not None else []
            ends += [window.max - high] if window.max is not None else []
            moving = [name for name, _ in demand.gap.effects if into.get(name)]
            weight = sum(len(into[name]) * max(map(abs, demand.gap.reach(name))) for name in moving)
            if weight and ends:
                each = max(Fraction(0), min(ends)) / weight
                for i in {i for name in moving for i in into[name]}:
                    room[i] = min(room.get(i, each), each)
    thick = {i: job.stock[i].part.thickness for i in sorted(room)}
    return {i: Bracket(one.low - room[i], one.best, one.high + room[i]) for i, one in thick.items()}
