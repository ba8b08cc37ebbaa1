"""What is left of a model when it is settled which suppliers send: kits that can be had, ranges, what must be whole."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from shimopt.choose.model import Helper
from shimopt.ordering.market import Market
from shimopt.ordering.program import Program
from shimopt.ordering.solver import Range

__all__ = ["Settled", "whole"]

_NO_END = 1 << 62


class Settled:
    """These suppliers send, all of them and no others; None where any may.

    `most_of` is how many pieces of each stock line can be had: without end where one of them sells it.
    """

    def __init__(self, market: Market, stock: Sequence[int], senders: frozenset[int] | None) -> None:
        self.market, self.senders = market, senders
        sold = {buy.line for buy in market.buys if senders is None or buy.supplier in senders}
        self.most_of = {line: _NO_END if line in sold else count for line, count in enumerate(stock)}

    @property
    def lines(self) -> list[int]:
        """The stock lines of which there is a piece to be had."""
        return [line for line, most in self.most_of.items() if most]

    def can_be_had(self, pieces: Mapping[int, int]) -> bool:
        """Whether there are so many pieces of each line."""
        return all(count <= self.most_of[line] for line, count in pieces.items())

    def program(self, program: Program) -> Program:
        """The model with the ranges of its helpers settled."""
        if self.senders is None:
            return program
        helpers, first = list(program.helpers), len(program.columns)
        for supplier, at in program.used.items():
            sends = int(supplier in self.senders)
            helpers[at - first] = Helper(sends, sends, whole=True)
        for buy, at in zip(self.market.buys, program.packs, strict=True):
            if buy.supplier not in self.senders:
                helpers[at - first] = Helper(0, 0, whole=True)
        for (_, line), pieces in program.aside.items():
            for at in pieces[self.most_of[line] :]:
                helpers[at - first] = Helper(0, 0, whole=True)
        return replace(program, helpers=helpers)

    def range(self, program: Program, alive: Sequence[Collection[int]]) -> Range:
        """The range of every variable where these columns of each group are left."""
        helpers = self.program(program).helpers
        columns = np.zeros(len(program.columns))
        columns[[column for group in alive for column in group]] = 1.0
        low = np.concatenate([np.zeros(len(columns)), [float(helper.low) for helper in helpers]])
        return Range(low, np.concatenate([columns, [float(helper.high) for helper in helpers]]))


def whole(program: Program, *, aside: bool) -> npt.NDArray[np.bool_]:
    """What must be whole: all helpers that are counts, those of pieces set aside only where asked. Kits follow."""
    columns = aside and program.whole_columns
    marks = np.array([columns] * len(program.columns) + [helper.whole for helper in program.helpers])
    if not aside:
        marks[[at for pieces in program.aside.values() for at in pieces]] = False
    return marks
