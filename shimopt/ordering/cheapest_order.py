"""The cheapest order, level after level, each proven best before the next is looked at.

Every set of suppliers is a branch of its own (`supplier_branch`); the one with the lowest bound is always looked at
first, so that most are never searched. Where a card of the best order found leaves readings open at which the model has
not looked, it looks there too, and the level is done again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from heapq import heapify, heappop, heappush
from itertools import combinations, count
from time import monotonic
from typing import NamedTuple

from shimopt.errors import FaultError
from shimopt.ordering.cheaper_gap_by_gap import Exchange, cheaper
from shimopt.ordering.covers import Covers
from shimopt.ordering.market import bills_of, least_charge
from shimopt.ordering.one_level import Found, Level
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.ordering.stretches import Asking, Goods, Looking, first_purchase
from shimopt.ordering.supplier_branch import Branch
from shimopt.proof.exact_bounds import NO_END
from shimopt.proof.proven import proof_of
from shimopt.watch import Few, Limit, Watch

# beyond so many suppliers every set of them would be too many; then they are left to the search
MOST_SUPPLIERS = 6
_MOST_ROUNDS = 300
# of so many stacks of all gaps it is soon known who has to set aside what
_FEW_STACKS = 2_000
# in a large market of so many everything is proven as in any other
_FEW_LEFT = 1_000
# of more gaps than this an order is made cheaper gap by gap, and few sets of suppliers are searched
_MANY_GAPS, _MOST_IMPROVED = 20, 3
# for each question, where nobody says
_MOST_NODES = 20_000


class Step(NamedTuple):
    """A level's value and bound in whole ticks, coins, days or pieces."""

    level: str
    value: int
    bound: int | None
    proven: bool
    seconds: float


class Hunt:
    """Finds the best purchase for these coverages.

    Parameters: spend, the most that the order may cost [coins]; watch, when to stop, and the most search nodes for
    each question; start, an order to start from, of a large market; asking, what is asked beside the levels: then
    readings may be given up; least, what no order costs less than, as far as is known.
    """

    def __init__(
        self,
        books: Books,
        spend: int | None,
        watch: Watch,
        start: Purchase | None = None,
        asking: Asking | None = None,
        least: int = 0,
    ) -> None:
        self.books, self.spend, self.watch, self.least = books, spend, watch, least
        self.large = start is not None and sum(len(c.candidates) for c in books.coverages) > _FEW_LEFT
        self.held: dict[str, int] = {} if spend is None else {"cost": spend}
        self.proven = True
        sold = {buy.line for buy in books.market.buys}
        # where all that can be served can be bought and money is no object, nothing is ever given up
        self.giving_up = (spend, asking) != (None, None) or any(
            c.left_open([x for x in c.candidates if set(x.scarce) <= sold]) != list(c.hopeless) for c in books.coverages
        )
        senders = self._sender_sets()
        # where readings are given up and nothing can be bought, every stretch counts, and kits are few
        few = self.giving_up and senders == [frozenset()]
        self.looking = Looking(books, giving_up=self.giving_up, telling=not few, asking=asking)
        # covers are listed where nothing is given up and all is a matter of cost
        priced = all(buy.offer.price is not None for buy in books.market.buys)
        by_covers = priced and not self.giving_up
        covers = [Covers(coverage) for coverage in books.coverages] if by_covers else None
        exchange = Exchange(books) if self.large and not self.giving_up else None
        self.branches = [Branch(books, some, self.looking, covers, exchange) for some in senders]
        self.best = start or self._first()

    def _sender_sets(self) -> list[frozenset[int] | None]:
        """The sets of suppliers that could be used; beyond so many suppliers only any of them."""
        market = self.books.market
        suppliers = sorted({buy.supplier for buy in market.buys})
        if len(suppliers) > MOST_SUPPLIERS:
            return [None]
        sets = [frozenset(some) for n in range(len(suppliers) + 1) for some in combinations(suppliers, n)]
        return [senders for senders in sets if self.spend is None or least_charge(market, senders) <= self.spend]

    def _first(self) -> Purchase:
        """An order to start from."""
        bought = first_purchase(self.books, buying=True)
        served = not self.giving_up and not any(coverage.stays for coverage in self.books.coverages)
        if served and len(self.books.coverages) > _MANY_GAPS:
            bought = cheaper(self.books, bought)
        if self.spend is None or self.books.value_of("cost", bought) <= self.spend:
            return bought
        return first_purchase(self.books, buying=False)

    def levels(self) -> Iterator[list[Step]]:
        """What is known of all levels: of an order to start from, then after each; `best` is the order that is meant.

        Ties are still to be settled: see `settle_ties`.
        """
        done: list[Step] = []
        yield self._with_rest(done)
        for level in LEVELS:
            self.watch.begins(level)
            done.append(self._step(level))
            yield self._with_rest(done)

    def cheapest(self, start: Purchase, limit: Limit) -> tuple[Purchase, int]:
        """The cheapest purchase found of which is true what is asked, else `start`, and what none costs less than.

        Parameter: limit, when to stop, of all rounds together.
        """
        self.best, self.held, bound = start, {"unpriced": 0}, 0
        self.looking.asks_anew()
        for _ in range(_MOST_ROUNDS):
            for branch in self.branches:
                branch.start_anew()
            found, least = self._over_branches("cost", self._known("cost"), limit)
            bound = max(bound, least, min(branch.asks_at_least("cost") for branch in self.branches))
            # a start that is not what is asked may leave open where nobody has looked yet
            looked = found.purchase is self.best and not self.looking.overlooked(found.purchase)
            if looked or not self.looking.looks_further(found.purchase):
                asking = self.looking.asking
                return (found.purchase if asking is None or asking.is_true_of(found.purchase) else start), bound
            if limit.over():
                break
        return start, bound

    def not_searched(self) -> list[Step]:
        """What is known of all levels where nothing is looked for beside the order to start from."""
        self.proven = False
        return self._with_rest([])

    def settle_ties(self) -> None:
        """Of all orders as good, always the same for the same job, with the fewest pieces set aside."""
        self._step("packs")
        self._set_fewest_aside()

    def _with_rest(self, done: Sequence[Step]) -> list[Step]:
        """The levels done, and the others as they stand."""
        return [
            *done,
            *(Step(level, self.books.value_of(level, self.best), None, False, 0.0) for level in LEVELS[len(done) :]),
        ]

    # -- one level

    def _step(self, level: str) -> Step:
        start, beyond_help = monotonic(), self._hopeless(level)
        value, bound = self._least(level)
        self.held[level] = value
        self.branches = [branch for branch in self.branches if branch.asks_at_least(level) <= value]
        self.proven = self.proven and proof_of(value, bound).proven
        if self.proven or not self._only_proven:
            for branch in self.branches:
                branch.settle(level, value)
        # a bound holds given the levels above at their values; below one that is not proven there is none
        shown = beyond_help + bound if self.proven or bound < value else None
        return Step(level, beyond_help + value, shown, self.proven, monotonic() - start)

    def _hopeless(self, level: str) -> int:
        """What no purchase can mend: gaps with readings that nothing serves, or how long these are together."""
        coverages = self.books.coverages
        if level == "open":
            return sum(not c.whole for c in coverages)
        return sum(s.length for c in coverages for s in c.hopeless) if level == "missing" else 0

    def _known(self, level: str) -> Found:
        if self.looking.asking is not None and not self.looking.asking.is_true_of(self.best):
            return Found(self.best, NO_END)
        return Found(self.best, self.books.value_of(level, self.best) - self._hopeless(level))

    def _least(self, level: str) -> tuple[int, int]:
        """The level's value and bound over all branches, with all stretches that matter looked at."""
        for _ in range(_MOST_ROUNDS):
            known = self._known(level)
            if known.value == 0:
                return 0, 0
            if self._only_proven and not self.proven:
                return known.value, 0
            found, bound = self._over_branches(level, known)
            if found.purchase is self.best or not self.looking.looks_further(found.purchase):
                self._take(found.purchase)
                return found.value, bound
            for branch in self.branches:
                branch.start_anew()
        return self._known(level).value, 0

    @property
    def _only_proven(self) -> bool:
        """Below a level that is not proven nothing is, and of so many gaps or stacks every search is long."""
        return self.large or len(self.books.coverages) > _MANY_GAPS

    def _over_branches(self, name: str, known: Found, limit: Limit | None = None) -> tuple[Found, int]:
        """The best that the model finds as it is, and a bound for it; the branch with the lowest bound goes first."""
        level = Level(name, self.held, limit or Few(self.watch.steps or _MOST_NODES, self.watch), self.watch)
        branches = self.branches
        if name in ("open", "missing") and self.spend is None:
            # where money is no object, more suppliers never serve less
            branches = [max(branches, key=lambda branch: len(branch.senders or ()))]
        number = count()
        waiting = [(branch.asks_at_least(name), next(number), branch) for branch in branches]
        heapify(waiting)
        many = len(self.books.coverages) > _MANY_GAPS
        # of a large market most are closed by their covers, which is soon done
        bound, left = NO_END, _MOST_IMPROVED if many and not self.large else len(branches)
        floor = self.least if name == "cost" else 0
        while waiting and max(waiting[0][0], floor) < known.value:
            least, place, branch = heappop(waiting)
            if self.watch.over() or not left or (limit is not None and limit.over()):
                bound = min(bound, least)
                continue
            if (
                name == "cost"
                and self.large
                and len(branch.senders or ()) > 1
                and branch.goods is None
                and branch.covers is None
            ):
                # what the goods cost, whoever sends them, rules most sets of several suppliers out
                branch.spare(self._goods, known.value)
                heappush(waiting, (branch.asks_at_least(name), place, branch))
                continue
            tightened = branch.tighten(level, known)
            if tightened is not None:
                known = tightened
                heappush(waiting, (branch.asks_at_least(name), place, branch))
                continue
            known, left = branch.improve(level, known), left - 1
            if self.looking.overlooked(known.purchase):
                return known, 0
            bound = min(bound, max(least, branch.asks_at_least(name)))
        return known, min(known.value, max(floor, min(bound, waiting[0][0] if waiting else NO_END)))

    @cached_property
    def _goods(self) -> Goods:
        return self.looking.goods(self.held)

    def _take(self, purchase: Purchase) -> None:
        for level, value in self.held.items():
            if self.books.value_of(level, purchase) - self._hopeless(level) > value:
                raise FaultError(f"an order does not keep to what was found for {level}")
        self.best = purchase

    def _set_fewest_aside(self) -> None:
        """The best order with the fewest pieces set aside for its packs."""
        if self._apart() or (self.large and not self.proven):
            # of an order that is not the best of all, what else it sets aside is no matter
            return
        known = self._known("packs")
        used = bills_of(self.books.market, known.purchase.packs).keys()
        branch = next((b for b in self.branches if b.senders is None or b.senders == used), None)
        found = None if branch is None else self._fewest(branch, known, self.held)
        if found is not None:
            self._take(found)

    def _apart(self) -> bool:
        """Whether gap after gap can have its fewest pieces from what those before it leave; for many stacks.

        All together they may need fewer. Where readings are left open, or a gap lacks what one before it took, they
        have to be looked at together all the same.
        """
        gaps = self.books.coverages
        few = len(gaps) == 1 or sum(len(coverage.candidates) for coverage in gaps) <= _FEW_STACKS
        if few or any(self.books.left_open(gap, self.best) for gap in range(len(gaps))):
            return False
        left, aside = self.books.there(self.best), dict[tuple[int, int], int]()
        for gap, coverage in enumerate(gaps):
            makeable = replace(coverage, candidates=tuple(coverage.makeable(left)))
            if not makeable.whole:
                return False
            books = Books([makeable], [left[i] for i in range(len(self.books.stock))], self.books.market.of(()))
            branch = Branch(books, frozenset(), Looking(books, giving_up=False, telling=True), None)
            found = self._fewest(branch, Found(Purchase((), {}), 0), {})
            if found is None:
                return False
            own = found.pieces_for(0)
            left.subtract(own)
            aside |= {(gap, line): count for line, count in own.items()}
        self._take(Purchase(self.best.packs, aside))
        return True

    def _fewest(self, branch: Branch, known: Found, held: Mapping[str, int]) -> Purchase | None:
        """These packs with the fewest pieces set aside in a branch; None where none was found."""
        level = Level("packs", held, Few(self.watch.steps or _MOST_NODES, self.watch), self.watch)
        for _ in range(_MOST_ROUNDS):
            found = branch.set_aside(level, known)
            if found is None or not branch.looking.looks_further(found.purchase):
                return None if found is None else found.purchase
        return None
