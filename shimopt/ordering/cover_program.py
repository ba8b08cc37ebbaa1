"""The whole-number model of an order over whole covers: each gap chooses one set of pieces that serves it wherever.

Its relaxation is far tighter than that of single stretches (`program`), but there can be too many covers to list: then
only those are in it that could still be part of an order good enough (`pricing`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence

from shimopt.check.arithmetic import Stack
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market
from shimopt.ordering.program import Program, Stretch, add_holding, add_packs, add_terms

__all__ = ["cover_program"]


def cover_program(
    coverages: Sequence[Coverage],
    covers: Sequence[Collection[Stack]],
    lines: Collection[int],
    stock: Sequence[int],
    market: Market,
) -> Program:
    """The model of these covers, by gap; `lines` are all that any cover might hold, here or not."""
    stretches = [Stretch(gap, Segment(c.low, c.high), sorted(covers[gap])) for gap, c in enumerate(coverages)]
    program = Program(stretches, whole_columns=True)
    wanted: Counter[int] = Counter()
    takers: dict[int, dict[int, int]] = defaultdict(dict)
    firsts: dict[int, dict[int, dict[int, int]]] = defaultdict(lambda: defaultdict(dict))
    for stretch in stretches:
        most: Counter[int] = Counter()
        start = len(program.columns)
        program.columns += stretch.kits
        program.groups.append(list(range(start, len(program.columns))))
        for column in program.groups[-1]:
            counts = Counter(program.columns[column])
            program.needs.append(counts)
            most |= counts
            program.levels["aside"][column] = counts.total()
            for line, count in counts.items():
                takers[line][column] = count
                firsts[line][stretch.gap][column] = 1
        wanted += most
    add_packs(program, wanted, stock, market)
    for line in sorted(lines):
        add_holding(program, line, takers[line], firsts[line], stock, market)
    add_terms(program, market)
    return program
