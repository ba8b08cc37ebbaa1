"""The orders that use exactly these suppliers: what none of them can be below, and the best of them.

A supplier's postage is paid once however little is bought, which makes linear relaxations weak. With the suppliers
settled they are strong, and most sets of suppliers are ruled out by a bound. What is bought decides every level from
the cost on, so packs alone are asked to be whole at first: a small problem. Then the pieces are set aside for that
purchase; only where that cannot be done are all of them asked to be whole at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from math import gcd
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.choose.bounds import Bound, exact_bound, left_over
from shimopt.choose.model import Row
from shimopt.ordering.coverage import Segment
from shimopt.ordering.market import least_charge
from shimopt.ordering.pricing import FINE, Pricing
from shimopt.ordering.program import Kit, Program, rows_of
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.settled import Settled, whole
from shimopt.ordering.solver import Proposal, Range, Sums

__all__ = ["IMPOSSIBLE", "Branch", "Found", "Task"]

IMPOSSIBLE = 1 << 62
# a kit with this share of a stretch is set aside: counts of pieces are whole
_SHARE = 1e-6


class Task(NamedTuple):
    """A level to bring down: the model, its rows with what the levels above allow, these by name, the most nodes."""

    level: str
    program: Program
    rows: Sequence[Row]
    sums: Sums
    held: Mapping[str, int]
    nodes: int | None

    @property
    def objective(self) -> Mapping[int, int]:
        """The level's terms."""
        return self.program.levels[self.level]

    @property
    def unit(self) -> int:
        """What every value of the level is a multiple of."""
        return gcd(*self.objective.values()) or 1


class Found(NamedTuple):
    """A purchase, and the level's value as the model sees it: readings at which it has not looked count as served."""

    purchase: Purchase
    value: int


class Branch:
    """Orders from these suppliers, all of them and no others; None for any.

    `giving_up`: readings may be left open. `least` is what no order of the branch is below, by level.
    """

    def __init__(self, books: Books, senders: frozenset[int] | None, *, giving_up: bool) -> None:
        self.books, self.senders = books, senders
        self.least: dict[str, int] = {}
        self.relaxed: str | None = None
        self._settled = Settled(books.market, books.stock, senders)
        self._struck: set[tuple[int, Segment, Kit]] = set()
        # the bound of the relaxation, and the model that it is of
        self._bound: tuple[Program, Bound] | None = None
        self._left: tuple[Program, list[list[int]]] | None = None
        self._prices: list[float] | None = None
        # covers are listed where nothing is given up and all is a matter of cost
        self._by_covers = not giving_up and all(buy.offer.price is not None for buy in books.market.buys)
        self._pricing: tuple[Pricing, int] | None = None
        self._cover_program: Program | None = None

    def asks_at_least(self, level: str) -> int:
        """What is known of the level: at first the cost of its suppliers' postage and smallest orders."""
        known = self.least.get(level, 0)
        if level != "cost" or self.senders is None:
            return known
        return max(known, least_charge(self.books.market, self.senders))

    def forget_bound(self) -> None:
        """The model has changed: what was relaxed is no longer."""
        self.relaxed, self._bound = None, None

    # -- the relaxation

    def relax(self, task: Task) -> None:
        """Raise `least` to a bound that holds exactly, from the prices of the linear relaxation."""
        self.relaxed = task.level
        task = self._own(task)
        alive = self._alive(task.program)
        if not all(alive):
            self._raise(task.level, IMPOSSIBLE)
            return
        self._bound = None
        self._prices = task.sums.prices(self._settled.range(task.program, alive), task.objective)
        if self._prices is None:
            return
        program = self._settled.program(task.program)
        bound = exact_bound(program, alive, task.rows, task.objective, self._prices)
        self._bound = (task.program, bound)
        self._raise(task.level, bound.rounded_up(task.unit))

    def strike(self, task: Task, value: int) -> None:
        """Forget for good the kits that stand in no order as good as this value of the level."""
        program = self._own(task).program
        if self.relaxed != task.level or self._bound is None or self._bound[0] is not program:
            return
        alive = self._alive(program)
        for stretch, group, kept in zip(program.stretches, alive, left_over(alive, self._bound[1], value), strict=True):
            for column in set(group) - set(kept):
                self._struck.add((stretch.gap, stretch.segment, program.columns[column]))
        self._left = None

    def _raise(self, level: str, least: int) -> None:
        self.least[level] = max(self.least.get(level, 0), least)

    # -- the best order

    def improve(self, task: Task, known: Found | None) -> Found | None:
        """The best order of this branch, if it is better than the known one; `least` is raised to what is proven."""
        if task.level == "cost" and self._by_covers and self._prices is not None:
            better = self._improved_by_covers(task, known)
            known = better or known
            if not self._by_covers:
                return self._improved(task, known) or better
            return better
        return self._improved(self._own(task), known)

    def _improved_by_covers(self, task: Task, known: Found | None) -> Found | None:
        """The same, over whole covers; `_by_covers` is false afterwards where there are too many of them."""
        self._by_covers = False
        pricing = Pricing(self.books, self._settled)
        if not pricing.begin(task.program, self._prices or []):
            return None
        bound = pricing.bound(lambda program: program.levels[task.level], known.value if known else None)
        if bound is None:
            return None
        over = self._over(pricing.program(), task)
        self._raise(task.level, -(-bound // (FINE * over.unit)) * over.unit)
        if known is not None and self.least[task.level] >= known.value:
            self._by_covers, self._pricing = True, (pricing, bound)
            return None
        better = self._improved(over, known, proves=False)
        best = better or known
        whole = None if best is None else pricing.complete(bound, best.value)
        if best is None or whole is None:
            return better
        # these are all covers only while the best order found stands: what is kept is chosen once the level is done
        self._by_covers, self._pricing = True, (pricing, bound)
        return self._improved(self._over(whole, task), best) or better

    def _over(self, program: Program, task: Task) -> Task:
        """The task over another model."""
        rows = rows_of(program, task.held)
        return Task(task.level, program, rows, Sums(program, rows), task.held, task.nodes)

    def _own(self, task: Task) -> Task:
        """The task over this branch's covers, where they are known and hold all that an order can need."""
        if self._pricing is not None and "cost" in task.held:
            pricing, bound = self._pricing
            self._pricing, self._cover_program = None, pricing.complete(bound, task.held["cost"])
        return task if self._cover_program is None else self._over(self._cover_program, task)

    def _improved(self, task: Task, known: Found | None, *, proves: bool = True) -> Found | None:
        alive = self._alive(task.program)
        if not all(alive):
            if proves:
                self._raise(task.level, IMPOSSIBLE)
            return None
        if known is not None and self._bound is not None and self._bound[0] is task.program:
            # the known order may come from another model, with another unit
            alive = left_over(alive, self._bound[1], (known.value - 1) // task.unit * task.unit)
            if not all(alive):
                self._raise(task.level, known.value)
                return None
        within = self._settled.range(task.program, alive)
        below = None if known is None else known.value
        if task.level not in ("open", "missing"):
            proposal = self._asked(task, within, whole(task.program, aside=False), below)
            packs = None if proposal.values is None else proposal.values[task.program.packs]
            found = None if packs is None else self._set_aside(task, packs, within)
            if proposal.impossible or found is not None:
                return self._judged(task, proposal, found, known, proves=proves)
        proposal = self._asked(task, within, whole(task.program, aside=True), below)
        return self._judged(task, proposal, self._read(task, proposal), known, proves=proves)

    def _asked(self, task: Task, within: Range, marks: npt.NDArray[np.bool_], below: int | None) -> Proposal:
        """The solver's proposal; that nothing is possible is believed when it is said twice."""
        proposal = task.sums.best(within, task.objective, task.unit, marks, nodes=task.nodes, below=below)
        if proposal.impossible and below is None:
            return task.sums.best(within, task.objective, task.unit, marks, nodes=task.nodes, presolve=False)
        return proposal

    def set_aside(self, task: Task, packs: Sequence[int]) -> Found | None:
        """The order of these packs with the fewest pieces set aside; None where they don't serve all that they must."""
        task = self._own(task)
        return self._set_aside(
            task, np.array(packs, float), self._settled.range(task.program, self._alive(task.program))
        )

    def _set_aside(self, task: Task, packs: npt.NDArray[np.float64], within: Range) -> Found | None:
        program = task.program
        low, high = within.low.copy(), within.high.copy()
        low[program.packs] = high[program.packs] = np.minimum(np.round(packs), high[program.packs])
        fewest, marks = program.levels["aside"], whole(program, aside=True)
        return self._read(task, task.sums.best(Range(low, high), fewest, 1, marks, nodes=task.nodes))

    def _judged(
        self, task: Task, proposal: Proposal, found: Found | None, known: Found | None, *, proves: bool
    ) -> Found | None:
        """What is better than the known order, if anything; `least` is raised where the model `proves`."""
        nothing_better = IMPOSSIBLE if known is None else known.value
        if not proves:
            return found if found is not None and found.value < nothing_better else None
        if proposal.impossible:
            self._raise(task.level, nothing_better)
            return None
        better = found if found is not None and found.value < nothing_better else None
        if proposal.best and found is not None:
            self._raise(task.level, min(found.value, nothing_better))
        elif proposal.bound is not None and np.isfinite(proposal.bound):
            bound = int(-(-(proposal.bound - 1e-6 * task.unit) // task.unit)) * task.unit
            self._raise(task.level, min(bound, nothing_better if found is None else found.value))
        return better

    def _read(self, task: Task, proposal: Proposal) -> Found | None:
        """The purchase that a proposal means, worked out again; None where it breaks a rule."""
        if proposal.values is None:
            return None
        program, values = task.program, proposal.values
        aside: dict[tuple[int, int], int] = {}
        holes = []
        for stretch, group in zip(program.stretches, program.groups, strict=True):
            kit = self._kit(program, group, values)
            if kit is None:
                holes.append(stretch)
            for line, count in Counter(kit or ()).items():
                aside[stretch.gap, line] = max(aside.get((stretch.gap, line), 0), count)
        purchase = Purchase(tuple(round(values[at]) for at in program.packs), aside)
        if not self.books.can_be_done(purchase) or any(
            self.books.value_of(level, purchase) > value
            for level, value in task.held.items()
            if level not in ("open", "missing")
        ):
            return None
        if task.level == "missing":
            return Found(purchase, sum(stretch.segment.length for stretch in holes))
        if task.level == "open":
            return Found(purchase, sum(self.books.coverages[gap].whole for gap in {stretch.gap for stretch in holes}))
        return Found(purchase, self.books.value_of(task.level, purchase))

    @staticmethod
    def _kit(program: Program, group: Sequence[int], values: npt.NDArray[np.float64]) -> Kit:
        """The kit chosen; where several share a stretch, each of them is set aside wholly and any of them will do."""
        kits = [column for column in group if program.columns[column] is not None and values[column] > _SHARE]
        return program.columns[max(kits, key=lambda column: (values[column], -column))] if kits else None

    def _alive(self, program: Program) -> list[list[int]]:
        """By stretch: the kits that can be had from these suppliers and have not been struck."""
        if self._left is None or self._left[0] is not program:
            self._left = (
                program,
                [
                    [
                        column
                        for column in group
                        if self._settled.can_be_had(program.needs[column])
                        and (stretch.gap, stretch.segment, program.columns[column]) not in self._struck
                    ]
                    for stretch, group in zip(program.stretches, program.groups, strict=True)
                ],
            )
        return self._left[1]
