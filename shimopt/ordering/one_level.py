"""One level asked of one model: the whole-number problem, and the purchases that its answers mean.

What is bought decides every level from the cost on, so packs are made whole first; then the pieces are set aside for
that purchase, and only where that cannot be done are these branched on too. Every purchase is worked out again by
plain arithmetic (`Books`), and one that breaks a rule is none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from math import gcd
from typing import NamedTuple

import numpy as np

from shimopt.ordering.coverage import fits_into
from shimopt.ordering.order_model import Kit, Program, Stretch, set_aside_for
from shimopt.ordering.purchase import Books, Purchase
from shimopt.proof.branch_and_bound import Closing
from shimopt.proof.exact_bounds import Bound, Floats, Range, Sums, Wholes
from shimopt.proof.highs import Relaxation
from shimopt.watch import Limit, Watch

# a kit with this share of a stretch is set aside: counts of pieces are whole
_SHARE = 1e-6
_NODES_TO_SET_ASIDE = 100
_NODES_TO_PROPOSE = 20
_MANY_KITS = 4_000


class Level(NamedTuple):
    """A level to bring down, what is held of those above, and when to stop."""

    name: str
    held: Mapping[str, int]
    limit: Limit
    watch: Watch


class Found(NamedTuple):
    """A purchase, and the level's value as the model sees it: readings at which it has not looked count as served."""

    purchase: Purchase
    value: int


class Asked:
    """A level of a model, and `best`, the best order known; `sums` are the model's rows with what is held."""

    def __init__(self, books: Books, level: Level, program: Program, sums: Sums, within: Range, best: Found) -> None:
        self.books, self.level, self.program, self.best = books, level, program, best
        order = program.order
        if level.name in ("open", "missing"):
            # kits decide these levels, not packs
            order = np.minimum(order, 1)
        self.task = self._closing(level.name, sums, within, order, self._improves)

    def _closing(
        self, name: str, sums: Sums, within: Range, order: Wholes, read: Callable[[Floats], int | None]
    ) -> Closing:
        terms = self.program.levels[name]
        return Closing(sums, sums.terms(terms), gcd(*terms.values()) or 1, within, order, read)

    def _improves(self, values: Floats) -> int | None:
        """The value of the order that an answer means; it is kept where it is better."""
        apart = np.abs(values - np.rint(values)) > _SHARE
        if (apart & (self.task.order == 2)).any():
            found = self.set_aside(np.rint(values[self.program.buying.packs]).astype(int).tolist(), fewest=False)
        else:
            found = self._read(values, self.level.name)
        if found is None:
            return None
        self.best = min(self.best, found, key=lambda order: order.value)
        return found.value

    def set_aside(self, packs: Sequence[int], *, fewest: bool) -> Found | None:
        """An order of these packs, with the `fewest` pieces set aside where asked; None where none was found."""
        low, high = self.task.within.low.copy(), self.task.within.high.copy()
        at = self.program.buying.packs
        low[at] = high[at] = np.minimum(packs, high[at])
        there = self.books.there(Purchase(tuple(packs), {}))
        # what cannot be made of drawer and packs is no kit then
        high[[n for n, kit in enumerate(self.program.columns) if kit is not None and not fits_into(kit, there)]] = 0
        sums, within = self.task.sums, Range(low, high)
        if (low > high).any():
            return None
        relaxation = Relaxation(sums, sums.terms(self.program.levels["aside"] if fewest else {}), within)
        values = relaxation.proposed(self.program.order > 0, _NODES_TO_SET_ASIDE, self.level.watch.left())
        return None if values is None else self._read(values, self.level.name)

    def propose(self, relaxation: Relaxation, known: Found, bound: Bound | None) -> None:
        """Let HiGHS search a little for an order better than the known one: the less is left to look at then.

        Of very many kits only those that the prices of a bound call best are proposed.
        """
        self.best = known
        if bound is not None and len(bound.above) > _MANY_KITS:
            within, worst = self.task.within, np.partition(bound.above, _MANY_KITS)[_MANY_KITS]
            high = within.high.copy()
            high[: len(bound.above)][bound.above > worst] = 0
            relaxation = Relaxation(self.task.sums, self.task.objective, Range(within.low, high))
        whole = (self.task.order == 1) if (self.task.order == 1).any() else self.task.order > 0
        values = relaxation.proposed(whole, _NODES_TO_PROPOSE, self.level.watch.left())
        if values is not None:
            self._improves(values)

    def leaning(self, values: Floats) -> Mapping[tuple[int, int], int]:
        """What an answer sets aside by gap and line where each choice is what it leans to most; no order yet."""
        return self._chosen(values)[0]

    def _chosen(self, values: Floats) -> tuple[dict[tuple[int, int], int], list[Stretch]]:
        """What is set aside by gap and line, and the stretches given up."""
        program = self.program
        aside = {
            (gap, line): count
            for gap, coverage in enumerate(self.books.coverages)
            for line, count in Counter(coverage.kept).items()
        }
        holes = []
        for stretch, group in zip(program.stretches, program.groups, strict=True):
            kit = _kit(program, group, values)
            if kit is None:
                holes.append(stretch)
            for line, count in Counter(set_aside_for(kit, self.books.coverages[stretch.gap])).items():
                aside[stretch.gap, line] = max(aside.get((stretch.gap, line), 0), count)
        return aside, holes

    def _read(self, values: Floats, level: str) -> Found | None:
        """The purchase that an answer means, worked out again; None where it breaks a rule."""
        aside, holes = self._chosen(values)
        purchase = Purchase(tuple(round(values[at]) for at in self.program.buying.packs), aside)
        if not self.books.can_be_done(purchase):
            return None
        seen = {
            "missing": sum(stretch.segment.length for stretch in holes),
            "open": sum(self.books.coverages[gap].whole for gap in {stretch.gap for stretch in holes}),
        }

        def value_of(name: str) -> int:
            return seen[name] if name in seen else self.books.value_of(name, purchase)

        if any(value_of(name) > value for name, value in self.level.held.items()):
            return None
        return Found(purchase, value_of(level))


def _kit(program: Program, group: Sequence[int], values: Floats) -> Kit:
    """The kit chosen; where several share a stretch, each of them is set aside wholly and any of them will do."""
    kits = [column for column in group if program.columns[column] is not None and values[column] > _SHARE]
    return program.columns[max(kits, key=lambda column: (values[column], -column))] if kits else None
