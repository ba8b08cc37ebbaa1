"""The orders that use exactly these suppliers: what none of them can be below, and the best of them.

A supplier's postage is paid once however little is bought, which makes linear relaxations weak. With the suppliers
settled they are strong, and most sets of suppliers are ruled out by a bound. The cost is brought down over whole
covers, as long as there are not too many of them; everything else over stretches of readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shimopt.ordering.cheaper_gap_by_gap import Exchange
from shimopt.ordering.cover_prices import CoverPrices, Priced
from shimopt.ordering.covers import Covers
from shimopt.ordering.market import least_charge, least_days
from shimopt.ordering.one_level import Asked, Found, Level
from shimopt.ordering.order_model import Kit, Program
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.stretches import Goods, Looking
from shimopt.ordering.suppliers_settled import Settled
from shimopt.proof.branch_and_bound import closed
from shimopt.proof.exact_bounds import FINE, NO_END, Bound, Sums
from shimopt.proof.highs import Relaxation
from shimopt.watch import Few, Watch

_NODES_FOR_A_START = 60
# in a large market, a bound that is below the order by more than this part of it is left as it is
_FAR = 8
# parts of the bound by which a cover may be dearer where good orders are looked for, as long as that is not too many
_NEAR = (50, 100, 200)
# for more gaps the solver's own search takes minutes to propose an order, and seldom a better one
_FEW_GAPS = 20


class Root(NamedTuple):
    """A level asked of a model, its relaxation, and the bound that this gives; None where there is no answer."""

    asked: Asked
    relaxation: Relaxation
    bound: Bound | None


class Branch:
    """Orders from these suppliers, all of them and no others; None for any.

    `least` is what no order of the branch is below, by level: bounds that hold exactly. `covers` are those of every
    gap, None where the branch goes by stretches.
    """

    def __init__(
        self,
        books: Books,
        senders: frozenset[int] | None,
        looking: Looking,
        covers: Sequence[Covers] | None,
        exchange: Exchange | None = None,
    ) -> None:
        self.books, self.senders, self.looking, self.exchange = books, senders, looking, exchange
        self.settled = Settled(books.market, books.stock, senders)
        self.least: dict[str, int] = {}
        # what all that is bought costs at least, where that was asked
        self.goods: int | None = None
        self.struck: set[tuple[int, object, Kit]] = set()
        self.covers = None if covers is None else CoverPrices(books, self.settled, covers)
        self.priced: list[Priced] = []
        self.many = exchange is not None or len(books.coverages) > _FEW_GAPS
        # the model of all covers that an order needs, once the cost is known
        self.over_covers: Program | None = None
        self.root: Root | None = None

    def asks_at_least(self, level: str) -> int:
        """What is known of the level: at first its suppliers' postage and smallest orders, and when all have sent."""
        known, market = self.least.get(level, 0), self.books.market
        if self.senders is not None and level == "cost":
            return max(known, least_charge(market, self.senders, self.goods or 0))
        if self.senders is not None and level == "arrival":
            return max(known, least_days(market, self.senders))
        return known

    def _raise(self, level: str, least: int) -> None:
        self.least[level] = max(self.least.get(level, 0), least)

    def tighten(self, level: Level, known: Found) -> Found | None:
        """Raise `least` by the next way that takes little; the best order known then, None where no way is left."""
        if self.covers is not None and level.name == "cost":
            return self._tighten_covers(self.covers, level, known)
        if self.root is not None:
            return None
        program, sums = self._model(level)
        asked = self._asked(level, program, sums, known)
        relaxation = Relaxation(sums, asked.task.objective, asked.task.within)
        bound, values = asked.task.bound_of(asked.task.within, relaxation)
        self.root = Root(asked, relaxation, bound)
        self._raise(level.name, NO_END if bound is None else bound.rounded_up(asked.task.unit))
        if self.exchange is not None and level.name == "cost" and values is not None:
            # a good order soon spares most other sets of suppliers
            known = self._better(self.exchange.of(self.senders or (), asked.leaning(values)), known)
        return known

    def _better(self, near: Purchase | None, known: Found) -> Found:
        """The cheaper of two orders."""
        if near is not None and (cost := self.books.value_of("cost", near)) < known.value:
            return Found(near, cost)
        return known

    def _tighten_covers(self, covers: CoverPrices, level: Level, known: Found) -> Found | None:
        """The same over covers: prices of pieces first, then those of the relaxation, and an order of the best."""
        if len(self.priced) == 2:
            return None
        if self.priced and not self.many:
            # an order that the bound reaches already spares the rest
            known, _ = self._over(covers.program(self.priced[0].known), level, known, _NODES_FOR_A_START)
        if self.priced and known.value <= self.asks_at_least(level.name):
            return known
        if not self.priced:
            more = covers.at_least()
        elif self.exchange is None:
            more = covers.tightened(self.priced[0], known.value, near=not self.many)
        else:
            near = self.exchange.of(self.senders or ())
            known = self._better(near, known)
            more = covers.tightened(self.priced[0], known.value, near=False, of_order=near)
        if more is None or not (self.many or all(more.known)):
            # too many covers: by stretches, then
            self.covers = None
            return known
        self.priced.append(more)
        self._raise(level.name, -(-more.bound // FINE))
        if self.many and len(self.priced) == 2 and self.asks_at_least(level.name) < known.value:
            known = self._proposed(covers, more, level, known)
        return known

    def _proposed(self, covers: CoverPrices, priced: Priced, level: Level, known: Found) -> Found:
        """The best order that the solver's own search proposes over covers little dearer than the bound.

        Where these are too many, over those that the bound was made of.
        """
        least = priced.bound // FINE
        some = (covers.complete(priced, min(known.value, least + least // part)) for part in _NEAR)
        program = next((one for one in some if one is not None), None) or covers.program(priced.known)
        asked = self._asked(level, program, program.holding(level.held), known)
        asked.propose(Relaxation(asked.task.sums, asked.task.objective, asked.task.within), known, None)
        return asked.best

    def spare(self, goods: Goods, value: int) -> None:
        """Leave out what stands in no order of this cost, by a bound of what all goods cost."""
        self.goods = 0
        if goods.bound is not None:
            market, self.goods = self.books.market, goods.bound.rounded_up(1)
            postage = sum(market.coins(market.suppliers[sender].postage) for sender in self.senders or ())
            self._strike(goods.bound, goods.program, value - postage)

    def _strike(self, bound: Bound, program: Program, value: int) -> None:
        """Strike the kits that stand in nothing as good as this value."""
        worse = np.flatnonzero(bound.too_dear(value + 1)).tolist()
        kits = [(stretch.gap, stretch.segment, kit) for stretch in program.stretches for kit in stretch.kits]
        self.struck.update(kits[column] for column in worse)

    def start_anew(self) -> None:
        """Forget what was asked of a model that is no longer as it was."""
        self.root = None

    def _model(self, level: Level) -> tuple[Program, Sums]:
        if self.over_covers is not None:
            return self.over_covers, self.over_covers.holding(level.held)
        return self.looking.program, self.looking.holding(level.held)

    def improve(self, level: Level, known: Found) -> Found:
        """The best order of this branch, or the known one; `least` is raised to what is proven."""
        if self.covers is not None and level.name == "cost":
            known, _ = self._over(self.covers.program(self.priced[-1].known), level, known, _NODES_FOR_A_START)
            every = self.covers.complete(self.priced[-1], known.value)
            if every is not None:
                known, least = self._over(every, level, known, None)
                self._raise(level.name, least)
                return known
            if self.exchange is not None:
                # in a large market stretches take long, and their bound is seldom as near
                return known
            # too many covers: by stretches, then
            self.covers = None
            known = self.tighten(level, known) or known
        if self.root is None:
            return known
        asked, relaxation, bound = self.root
        if len(self.books.coverages) <= _FEW_GAPS:
            asked.propose(relaxation, known, bound)
            known = asked.best
        # an order that the model thinks too well of is no reason to prove anything: it looks further first
        if self.looking.overlooked(known.purchase):
            return known
        if self.exchange is not None and len(self.books.coverages) > _FEW_GAPS:
            return known
        least = known.value if bound is None else bound.rounded_up(asked.task.unit)
        far = level.name == "cost" and least < known.value - known.value // _FAR
        if self.exchange is not None and far:
            # so far below an order a bound does not come up to it in the steps that there are
            return min(known, asked.best, key=lambda found: found.value)
        if bound is not None and least < known.value:
            self._raise(level.name, closed(asked.task.narrowed(bound, known.value), known.value, level.limit))
        return min(known, asked.best, key=lambda found: found.value)

    def _over(self, program: Program, level: Level, known: Found, nodes: int | None) -> tuple[Found, int]:
        """The best order over these covers, after so many nodes, and what none over them is below."""
        asked = self._asked(level, program, program.holding(level.held), known)
        least = closed(asked.task, known.value, level.limit if nodes is None else Few(nodes, level.limit))
        return asked.best, least

    def _asked(self, level: Level, program: Program, sums: Sums, known: Found) -> Asked:
        return Asked(self.books, level, program, sums, self.settled.range(program, self.struck), known)

    def settle(self, level: str, value: int) -> None:
        """The level's value is known: forget what stands in no order as good as this."""
        if level == "cost" and self.covers is not None and self.priced:
            self.over_covers = self.covers.complete(self.priced[-1], value)
        elif self.root is not None:
            program, bound = self.root.asked.program, self.root.bound
            if bound is not None:
                # what can be as good as this stays in
                self._strike(bound, program, value)
        self.root = None

    def set_aside(self, level: Level, known: Found) -> Found | None:
        """The purchase known with the fewest pieces set aside; None where this model does not hold it."""
        program, sums = self._model(level)
        return self._asked(level, program, sums, known).set_aside(known.purchase.packs, fewest=True)


def alone_from(books: Books, senders: frozenset[int]) -> Branch:
    """The orders from these suppliers alone, with what their pieces cost at least; no gap is given up."""
    looking = Looking(books, giving_up=False, telling=True)
    branch = Branch(books, senders, looking, [Covers(coverage) for coverage in books.coverages], Exchange(books))
    level = Level("cost", {}, Few(_NODES_FOR_A_START, Watch()), Watch())
    branch.tighten(level, Found(Purchase((0,) * len(books.market.buys), {}), NO_END))
    return branch


def best_from(branch: Branch, cost: int, watch: Watch) -> Purchase | None:
    """The best order of a branch found soon that is cheaper than this cost; None where none is."""
    books = branch.books
    if branch.asks_at_least("cost") >= cost or branch.exchange is None:
        return None
    level = Level("cost", {}, Few(_NODES_FOR_A_START, watch), watch)
    best = Found(Purchase((0,) * len(books.market.buys), {}), cost)
    near = branch.exchange.of(branch.senders or ())
    if near is not None and books.value_of("cost", near) < cost:
        best = Found(near, books.value_of("cost", near))
    # by stretches it takes long, and is done in the search all the same
    while branch.covers is not None and branch.asks_at_least("cost") < best.value:
        known = branch.tighten(level, best)
        if known is None:
            break
        best = known
    return best.purchase if best.value < cost else None
