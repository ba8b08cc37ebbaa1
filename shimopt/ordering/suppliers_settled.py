"""What is left of a model when it is settled which suppliers send: pieces that can be had, and the ranges of it all."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.market import Market
from shimopt.ordering.order_model import Program
from shimopt.proof.exact_bounds import NO_END, Range


class Settled:
    """These suppliers send, all of them and no others; None where any may.

    `most_of` is how many pieces of each stock line can be had: without end where one of them sells it.
    """

    def __init__(self, market: Market, stock: Sequence[int], senders: frozenset[int] | None) -> None:
        self.market, self.senders = market, senders
        sold = {buy.line for buy in market.buys if senders is None or buy.supplier in senders}
        self.most_of = {line: NO_END if line in sold else count for line, count in enumerate(stock)}

    def can_be_had(self, pieces: Stack) -> bool:
        """Whether there are so many pieces of each line."""
        return all(pieces.count(line) <= self.most_of[line] for line in pieces)

    def range(self, program: Program, struck: Collection[object] = ()) -> Range:
        """The range of every variable; kits that cannot be had or are struck (stretch, kit) are out."""
        columns = [
            (stretch.gap, stretch.segment, kit) not in struck and (not kit or self.can_be_had(kit))
            for stretch in program.stretches
            for kit in stretch.kits
        ]
        low = np.array([0] * len(columns) + [helper.low for helper in program.helpers], np.int64)
        high = np.array([*map(int, columns), *(helper.high for helper in program.helpers)], np.int64)
        for (_, line), pieces in program.aside.items():
            high[pieces[min(self.most_of[line], len(pieces)) :]] = 0
        if self.senders is not None:
            for supplier, at in program.buying.used.items():
                low[at] = high[at] = supplier in self.senders
            for buy, at in zip(self.market.buys, program.buying.packs, strict=True):
                if buy.supplier not in self.senders:
                    high[at] = 0
        return Range(low, high)
