"""The cheapest order, level after level, each proven best before the next is looked at.

Every set of suppliers is a branch of its own (`branch`); the one with the lowest bound is always looked at first, so
that most are never searched. Where a card of the best order found leaves readings open at which the model has not
looked, it looks there too, and the level is done again: a model that looks at fewer stretches is never worse than the
whole, so its bounds hold.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from heapq import heapify, heappop, heappush
from itertools import combinations, count
from time import monotonic
from typing import NamedTuple

from shimopt.errors import FaultError
from shimopt.ordering.branch import IMPOSSIBLE, Branch, Found, Task
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market, bills_of, least_charge
from shimopt.ordering.program import Program, Stretch, build_program, rows_of
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.ordering.solver import Sums

__all__ = ["Search", "Step"]

# beyond so many suppliers every set of them would be too many; then they are left to the solver
_MOST_SUPPLIERS = 6
_MOST_ROUNDS = 300
_STRETCHES_A_ROUND = 12


class Step(NamedTuple):
    """A level's value and bound in whole ticks, coins, days or pieces."""

    level: str
    value: int
    bound: int | None
    proven: bool
    seconds: float


class Search:
    """Finds the best purchase for these coverages.

    Parameters: stock, pieces that are there by line; spend, the most that the order may cost [coins]; nodes, the most
    search nodes for each question; progress, told each level as it begins.
    """

    def __init__(
        self,
        coverages: Sequence[Coverage],
        stock: Sequence[int],
        market: Market,
        spend: int | None = None,
        nodes: int | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> None:
        self.books = Books(coverages, stock, market)
        self.spend, self.nodes, self.progress = spend, nodes, progress
        self.held: dict[str, int] = {}
        self.all_proven = True
        self.best: Purchase | None = None
        sold = {buy.line for buy in market.buys}
        # where all that can be served can be bought and money is no object, nothing is ever given up
        self.giving_up = spend is not None or any(
            c.left_open([x for x in c.candidates if set(x.scarce) <= sold]) != list(c.hopeless) for c in coverages
        )
        self.branches = [Branch(self.books, senders, giving_up=self.giving_up) for senders in self._sender_sets()]
        self._stretches: list[Stretch] = []
        self._seen: list[set[Segment]] = [set() for _ in coverages]
        self._program: Program | None = None
        # where readings are given up and nothing can be bought, every stretch counts, and kits are few
        few = self.giving_up and len(self.branches) == 1 and self.branches[0].senders == frozenset()
        for gap, coverage in enumerate(coverages):
            self._look_at(gap, _servable(coverage) if few else _telling(coverage))

    def _sender_sets(self) -> list[frozenset[int] | None]:
        """The sets of suppliers that could be used; beyond so many suppliers only any of them."""
        market = self.books.market
        suppliers = sorted({buy.supplier for buy in market.buys})
        if len(suppliers) > _MOST_SUPPLIERS:
            return [None]
        sets = [frozenset(some) for n in range(len(suppliers) + 1) for some in combinations(suppliers, n)]
        return [senders for senders in sets if self.spend is None or least_charge(market, senders) <= self.spend]

    def run(self) -> tuple[Purchase, list[Step]]:
        """The best purchase and its levels; ties are settled so that the same job always gets the same order."""
        steps = [self._level(level) for level in LEVELS]
        self._level("packs")
        return self._with_fewest_aside(), steps

    # -- one level

    def _level(self, level: str) -> Step:
        start = monotonic()
        if self.progress:
            self.progress(level)
        beyond_help = self._hopeless(level)
        value, bound = (0, 0) if self._stands_at_nothing(level) else self._least(level)
        proven = bound >= value
        self.held[level] = value
        self.branches = [branch for branch in self.branches if branch.asks_at_least(level) <= value]
        self.all_proven = self.all_proven and proven
        shown = beyond_help + bound if self.all_proven or proven else None
        return Step(level, beyond_help + value, shown, self.all_proven, monotonic() - start)

    def _hopeless(self, level: str) -> int:
        """What no purchase can mend: gaps with readings that nothing serves, or how long these are together."""
        coverages = self.books.coverages
        if level == "open":
            return sum(not c.whole for c in coverages)
        return sum(s.length for c in coverages for s in c.hopeless) if level == "missing" else 0

    def _stands_at_nothing(self, level: str) -> bool:
        """Whether the level is at nothing whatever is bought."""
        if level == "unpriced":
            return all(buy.offer.price is not None for buy in self.books.market.buys)
        return level in ("open", "missing") and not self.giving_up

    def _least(self, level: str) -> tuple[int, int]:
        """The level's value and bound over all branches, with all stretches that matter looked at."""
        for _ in range(_MOST_ROUNDS):
            task = self._task(level, self.nodes)
            found, bound = self._over_branches(task)
            if found is None and self.nodes is not None:
                # something to start from is needed, however long that takes
                found, bound = self._over_branches(self._task(level, None))
            if found is None:
                break
            overlooked = self._overlooked(found.purchase)
            if not overlooked:
                self._check_what_is_held(found.purchase)
                self.best = found.purchase
                for branch in self.branches:
                    branch.strike(task, found.value)
                return found.value, bound
            for gap, segments in overlooked.items():
                self._look_at(gap, segments)
        if self.best is None:
            raise FaultError("no order was found, not even an empty one")
        return self._known(level).value, 0

    def _over_branches(self, task: Task) -> tuple[Found | None, int]:
        """The best that the model finds as it is, and a bound for it; the branch with the lowest bound goes first."""
        level = task.level
        found = None if self.best is None else self._known(level)
        order = count()
        branches = self.branches
        if level in ("open", "missing") and self.spend is None:
            # where money is no object, more suppliers never serve less
            branches = [max(branches, key=lambda branch: len(branch.senders or ()))]
        waiting = [(branch.asks_at_least(level), next(order), branch) for branch in branches]
        heapify(waiting)
        searched = IMPOSSIBLE
        while waiting:
            least, number, branch = heappop(waiting)
            if least >= IMPOSSIBLE or (found is not None and least >= found.value):
                return found, min(least, searched, found.value if found else least)
            if branch.relaxed != level:
                branch.relax(task)
                heappush(waiting, (branch.asks_at_least(level), number, branch))
                continue
            found = branch.improve(task, found) or found
            searched = min(searched, branch.asks_at_least(level))
        return found, min(searched, found.value if found else searched)

    def _with_fewest_aside(self) -> Purchase:
        """The best order with the fewest pieces set aside for its packs."""
        for _ in range(_MOST_ROUNDS):
            packs = self._known("packs").purchase.packs
            task = self._task("packs", None)
            used = bills_of(self.books.market, packs).keys()
            branch = next((b for b in self.branches if b.senders is None or b.senders == used), None)
            found = None if branch is None else branch.set_aside(task, packs)
            if found is None:
                break
            overlooked = self._overlooked(found.purchase)
            if not overlooked:
                self._check_what_is_held(found.purchase)
                return found.purchase
            for gap, segments in overlooked.items():
                self._look_at(gap, segments)
        return self._known("packs").purchase

    def _task(self, level: str, nodes: int | None) -> Task:
        """The question as the model now stands."""
        if self._program is None:
            books = self.books
            self._program = build_program(books.coverages, self._stretches, books.stock, books.market)
            for branch in self.branches:
                branch.forget_bound()
        program = self._program
        held = dict(self.held)
        if self.spend is not None:
            held["cost"] = min(self.spend, held.get("cost", self.spend))
        rows = rows_of(program, held)
        return Task(level, program, rows, Sums(program, rows), held, nodes)

    def _known(self, level: str) -> Found:
        """The order found so far, which holds at all levels above."""
        if self.best is None:
            raise FaultError("no order was found")
        return Found(self.best, self.books.value_of(level, self.best) - self._hopeless(level))

    def _check_what_is_held(self, purchase: Purchase) -> None:
        for level, value in self.held.items():
            if self.books.value_of(level, purchase) - self._hopeless(level) > value:
                raise FaultError(f"an order does not keep to what was found for {level}")

    # -- where to look

    def _look_at(self, gap: int, segments: Sequence[Segment]) -> None:
        for segment in segments:
            if segment not in self._seen[gap]:
                self._seen[gap].add(segment)
                kits = self.books.coverages[gap].kits_at(segment)
                self._stretches.append(Stretch(gap, segment, [*kits, None] if self.giving_up else kits))
                self._program = None

    def _overlooked(self, purchase: Purchase) -> dict[int, list[Segment]]:
        """Stretches that could be served, are not, and were not looked at: per gap, spread over what is open."""
        found = {}
        for gap, coverage in enumerate(self.books.coverages):
            open_ = self.books.left_open(gap, purchase)
            new = [
                segment
                for segment in coverage.segments
                if segment not in self._seen[gap]
                and _lies_in(segment, open_)
                and not _lies_in(segment, coverage.hopeless)
            ]
            if new:
                # the ends of what is open tell most
                found[gap] = sorted({*new[:: -(-len(new) // _STRETCHES_A_ROUND)], new[-1]})
        return found


def _lies_in(segment: Segment, stretches: Sequence[Segment]) -> bool:
    return any(s.start <= segment.start and segment.end <= s.end for s in stretches)


def _servable(coverage: Coverage) -> list[Segment]:
    """The stretches that some stack serves."""
    return [segment for segment in coverage.segments if not _lies_in(segment, coverage.hopeless)]


def _telling(coverage: Coverage) -> list[Segment]:
    """Stretches to look at first: both ends and the middle of what can be served."""
    can = _servable(coverage)
    return sorted({can[0], can[len(can) // 2], can[-1]}) if can else []
