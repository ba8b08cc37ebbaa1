"""The whole-number model of an order over whole covers: each gap chooses one set of pieces that serves it wherever.

Its relaxation is far tighter than that of single stretches (`program`), but there can be too many covers to list: then
only those are in it that could still be part of an order good enough (`pricing`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market
from shimopt.ordering.program import Program, Stretch, add_holding, add_packs, add_terms

__all__ = ["cover_program"]


def cover_program(
    coverages: Sequence[Coverage],
    covers: Sequence[Collection[Stack]],
    most: Mapping[int, int],
    stock: Sequence[int],
    market: Market,
) -> Program:
    """The model of these covers, by gap; `most` is what all gaps together could ask for of each line that can be had.

    It counts covers that are not in the model too: a bound that is to hold for them must leave room for their packs.
    """
    stretches = [Stretch(gap, Segment(c.low, c.high), sorted(covers[gap])) for gap, c in enumerate(coverages)]
    program = Program(stretches, whole_columns=True)
    takers: dict[int, dict[int, int]] = defaultdict(dict)
    firsts: dict[int, dict[int, dict[int, int]]] = defaultdict(lambda: defaultdict(dict))
    for stretch in stretches:
        start = len(program.columns)
        program.columns += stretch.kits
        program.groups.append(list(range(start, len(program.columns))))
        for column in program.groups[-1]:
            counts = Counter(program.columns[column])
            program.needs.append(counts)
            program.levels["aside"][column] = counts.total()
            for line, count in counts.items():
                takers[line][column] = count
                firsts[line][stretch.gap][column] = 1
    add_packs(program, most, stock, market)
    for line in sorted(most):
        add_holding(program, line, takers[line], firsts[line], stock, market)
    add_terms(program, market)
    return program
