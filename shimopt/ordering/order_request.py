"""What is asked of an order: jobs with a common stock, what their gaps may ask for, and what could serve them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, reduce
from operator import or_

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.job import Job
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.cheapest_order import MOST_SUPPLIERS, Hunt
from shimopt.ordering.cheapest_ways import Sharing, Way, cheaper_of, cheapest_parts, searched_ways, surer_way
from shimopt.ordering.choices_together import Choices
from shimopt.ordering.coverage import Candidate, Coverage, Sizes
from shimopt.ordering.demand import TOGETHER, Demand, Unanswered, demands_of, scale_of
from shimopt.ordering.large_market_bound import MarketBound
from shimopt.ordering.large_market_stacks import FEW, Narrowed, is_large
from shimopt.ordering.likely_enough import LikelyEnough
from shimopt.ordering.market import Market, market_of
from shimopt.ordering.merged_jobs import merged
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.readings_together import Table
from shimopt.ordering.row_stack import Preference
from shimopt.ordering.supply import Supply, pieces_there
from shimopt.ordering.unserved_together import chance_of
from shimopt.ordering.worth import Option, chance_served, chance_within, option_of
from shimopt.parts import StockLine
from shimopt.planner import Chosen, chosen_stacks
from shimopt.seats import Screening, screen
from shimopt.watch import Watch

# of a large market so many stacks of all gaps together are looked at
_MOST_STACKS = 60_000
# beyond so many stacks of all gaps, more where places act together, cheaper ways are only parts of the order
_MOST_FOR_WAYS, _MOST_TOGETHER = 600, 2_000


@dataclass(frozen=True)
class Case:
    """What is asked: jobs with a common stock, their demands and what could serve them, and what it may cost."""

    jobs: tuple[Job, ...]
    screenings: tuple[Screening, ...]
    unanswered: tuple[Unanswered, ...]
    books: Books
    supply: Supply
    complete: bool
    within_days: int | None
    spend: Decimal | None
    _: KW_ONLY
    own: tuple[frozenset[int], ...] = ()
    # where the market is large: what narrows it, and how many sizes are looked at, None for all that matter
    narrowed: Narrowed | None = None
    sizes: int | None = None
    # of what acts together: what to fit, and the packs that only this asks for
    tables: tuple[Table, ...] = ()
    for_tables: tuple[int, ...] = ()
    # whether the levels were searched for what acts together as well
    searched_together: bool = False
    # what acts together as gaps after the others, where it is known how likely their readings are
    cells: tuple[Choices, ...] = ()
    # whether what a smallest order leaves over is filled
    fills: bool = True
    # whether what is bought for what acts together keeps its balances, whatever that costs
    keeps_balances: bool = False
    # how many suppliers may send at most
    most_suppliers: int | None = None

    @property
    def market(self) -> Market:
        """What can be bought."""
        return self.books.market

    @property
    def scale(self) -> Scale:
        """Ticks of all lengths."""
        return self.supply.scale

    @property
    def stock(self) -> Sequence[StockLine]:
        """The drawer and catalogues that all jobs share."""
        return self.supply.stock

    @property
    def demands(self) -> tuple[Demand, ...]:
        """What each gap may ask for."""
        return tuple(coverage.demand for coverage in self.books.coverages)

    @property
    def coins(self) -> int | None:
        """The most that it may cost [coins]."""
        return None if self.spend is None else int(self.spend * self.market.price_unit)

    def closed(self, order: Purchase, watch: Watch) -> tuple[int, Case | None]:
        """What no order costs less than of all on offer [coins], and the same case with all stacks that one as good as
        this order can hold; None where these are too many.
        """
        if self.narrowed is None:
            return 0, None
        bound = MarketBound(self.narrowed, self.books, order, _MOST_STACKS // 6, watch)
        return bound.least, None if bound.stacks is None else self._with_stacks(bound.stacks, self.sizes)

    def of_supplier(self, supplier: int) -> Case | None:
        """The same with all stacks of what is there and what this supplier sells; None where these are too many."""
        if self.narrowed is None:
            return None
        sold = {buy.line for buy in self.market.buys if buy.supplier == supplier}
        stacks = self.narrowed.stacks(
            [line for line in self.narrowed.lines if self.narrowed.there[line] or line in sold]
        )
        return self._with_stacks(stacks, None) if sum(map(len, stacks)) <= _MOST_STACKS else None

    def wider(self) -> Case | None:
        """The same with twice as many sizes looked at; None where that makes too many stacks, or these are all."""
        if self.narrowed is None or self.sizes is None:
            return None
        lines = self.narrowed.cheapest(2 * self.sizes)
        stacks = self.narrowed.stacks(lines)
        if lines == self.narrowed.cheapest(self.sizes) or sum(map(len, stacks)) > _MOST_STACKS:
            return None
        return self._with_stacks(stacks, 2 * self.sizes)

    def _with_stacks(self, stacks: Sequence[Sequence[Stack]], sizes: int | None) -> Case:
        coverages, complete = self.supply.coverages(self.demands, stacks)
        return replace(self, books=Books(coverages, self.books.stock, self.market), complete=complete, sizes=sizes)

    def whole_market(self) -> Case:
        """The same with all stacks of all sizes."""
        coverages, complete = self.supply.coverages(self.demands)
        books = Books(coverages, self.books.stock, self.market)
        return replace(self, books=books, complete=complete, narrowed=None, sizes=None)

    def there(self, purchase: Purchase) -> Counter[int]:
        """The pieces that the gaps with a card can have once the parcels are there: not what tables set aside."""
        there = self.books.there(purchase)
        for table in self.tables:
            there.subtract(table.takes)
        return there

    def further(self, purchase: Purchase) -> list[Coverage]:
        """By gap, what drawer and parcel serve some way beyond its range of readings."""
        # what is not read by blades has no rows there
        offered = [None if demand.step is not None else () for demand in self.demands]
        drawer = self.supply.with_no_more(self.there(purchase))
        return drawer.coverages([demand.further for demand in self.demands], offered)[0]

    def today(self, purchase: Purchase, watch: Watch) -> list[Chosen]:
        """What the plan of today's readings chooses for every job once the parcels are there, in the time left."""
        bought = self.market.pieces(purchase.packs)
        stock = tuple(replace(line, on_hand=line.on_hand + bought[i]) for i, line in enumerate(self.stock))
        return [chosen_stacks(replace(job, stock=stock), watch=Watch(watch.left())) for job in self.jobs]

    def preferences(self, today: Sequence[Chosen]) -> list[Preference]:
        """By demand, which stack its rows rather fit; without a plan of today's readings no balance is looked at."""
        found = []
        for demand in self.demands:
            cautions = self.screenings[demand.job].cautions[demand.place.name]
            outcome = today[demand.job].outcome if today else None
            found.append(Preference(self.jobs[demand.job], demand, cautions, outcome))
        return found

    def cards(
        self, books: Books, purchase: Purchase, preferences: Sequence[Preference], further: Sequence[Coverage] = ()
    ) -> tuple[Card, ...]:
        """The cards that a purchase makes for these coverages, and for what is further out."""
        made = []
        for gap, coverage in enumerate(books.coverages):
            pieces = purchase.pieces_for(gap)
            beyond = further[gap].for_rows(pieces) if further else []
            made.append(card_of(coverage, coverage.for_rows(pieces), self.scale, preferences[gap], beyond))
        return tuple(made)

    @cached_property
    def hopeless(self) -> frozenset[int]:
        """The gaps that nothing serves at any reading, whatever is bought."""
        return frozenset(gap for gap, coverage in enumerate(self.books.coverages) if not coverage.candidates)

    def option(self, name: str, packs: tuple[int, ...], pieces: Sequence[Mapping[int, int]]) -> Option:
        """A way to order, with the pieces that it gives each gap."""
        return option_of(name, packs, pieces, self.market, self._chance, self.hopeless)

    def ways(
        self,
        sure: Purchase,
        surely: Fraction | float,
        exact: Purchase,
        pieces: Sequence[Sequence[Mapping[int, int]]],
        watch: Watch,
    ) -> tuple[tuple[Way, ...], Way | None]:
        """The cheapest ways to a chance, and what is surer within a limit of money; none without all prices.

        Parameters: sure, the order, and surely, the chance that it is enough; exact, that for today's readings; pieces,
        all that the two give each gap.
        """
        bought = zip(self.market.buys, sure.packs, exact.packs, strict=True)
        if any(some and buy.offer.price is None for buy, *some in bought if any(some)) or not any(sure.packs):
            return (), None
        gaps = [gap for gap in range(len(self.demands) + len(self.cells)) if gap not in self.hopeless]
        asked = self._likely_enough(gaps)
        # of very many suppliers the search knows no sets
        within, senders = self.most_suppliers, len({buy.supplier for buy in self.market.buys})
        if asked is not None and (within is None or senders <= max(within, MOST_SUPPLIERS)):

            def hunt() -> Hunt:
                begun = Hunt(asked.books, None, watch, asking=asked)
                begun.branches = [one for one in begun.branches if len(one.senders or ()) <= (within or senders)]
                return begun

            ways = searched_ways(hunt(), asked, sure, surely, self.coins)
            if asked.rough:
                ways = cheaper_of(ways, self._parts(sure, surely, exact, pieces, gaps))
            return ways, None if self.coins is None else surer_way(hunt, asked, (sure, surely), self.coins, ways)
        return self._parts(sure, surely, exact, pieces, gaps), None

    def _parts(
        self,
        sure: Purchase,
        surely: Fraction | float,
        exact: Purchase,
        pieces: Sequence[Sequence[Mapping[int, int]]],
        gaps: Collection[int],
    ) -> tuple[Way, ...]:
        """The cheapest ways among parts of the two orders, as `ways` is told of them."""
        packs = tuple(map(max, zip(exact.packs, sure.packs, strict=True)))
        own: list[Counter[int]] = [reduce(or_, map(Counter, of_gap)) for of_gap in zip(*pieces, strict=True)]

        def chance(gap: int, pieces: Mapping[int, int]) -> Fraction | float:
            return self._chance(gap, pieces) if gap in gaps else Fraction(1)

        sharing = Sharing(self.market, self.books.stock, own, chance)
        return cheapest_parts(sharing, packs, sure.packs, surely, self.most_suppliers)

    def _likely_enough(self, gaps: Collection[int]) -> LikelyEnough | None:
        """What asks how likely these gaps are served; None where there is too much on offer."""
        if self.narrowed is not None:
            return None
        coverages, chances = list(self.books.coverages), list[list[Fraction | float]]()
        for choices in self.cells:
            parts = sorted(choices.equal_parts())
            middles = (tuple((low + high) // 2 for low, high in part) for part in parts)
            coverages.append(choices.coverage(dict.fromkeys(middles, 1)))
            chances.append([chance_of(choices.demands, choices.read(part)) for part in parts])
        most = _MOST_TOGETHER if self.cells else _MOST_FOR_WAYS
        if sum(len(one.candidates) for one in coverages) > most:
            return None
        sizes = [Sizes(demand, self.stock, self.scale) for demand in self.demands]

        def within(gap: int, stretches: Sequence[tuple[int, int]]) -> Fraction | float:
            if gap < len(self.demands):
                return chance_within(self.demands[gap], stretches, self.scale)
            served = {at for start, end in stretches for at in range(start, end)}
            return sum((chances[gap - len(self.demands)][at] for at in sorted(served)), Fraction(0))

        def served(gap: int, stacks: Sequence[Candidate], pieces: Mapping[int, int]) -> Fraction | float:
            if gap >= len(self.demands):
                return self._chance(gap, pieces)
            stretches = [sizes[gap].served_by(one.stack) for one in stacks]
            return max(chance_within(self.demands[gap], stretches, self.scale), self._chance(gap, pieces))

        rough = [gap for gap, choices in enumerate(self.cells, start=len(self.demands)) if not choices.by_blades]
        return LikelyEnough(Books(coverages, self.books.stock, self.market), gaps, within, served, rough)

    def _chance(self, gap: int, pieces: Mapping[int, int]) -> Fraction | float:
        """That a gap, or what acts together after the gaps with a card, is served by such pieces."""
        if gap >= len(self.demands):
            return self.cells[gap - len(self.demands)].chance(pieces)
        return chance_served(self.demands[gap], pieces, self.stock, self.scale)


def case_of(
    jobs: Sequence[Job],
    within_days: int | None,
    spend: Decimal | None,
    senders: Collection[int] | None = None,
    *,
    unpriced: bool = True,
) -> Case:
    """The case of these jobs; parameters and errors as of `make_order`.

    Parameters: senders, the only suppliers, by number; unpriced, whether what has no price may be bought.
    """
    together = merged(jobs)
    stock = together.jobs[0].stock
    screenings = tuple(screen(job) for job in together.jobs)
    demands, unanswered = [], []
    for number, (job, found) in enumerate(zip(together.jobs, screenings, strict=True)):
        served, left = demands_of(number, job, found, together.own[number])
        demands += served
        unanswered += left
    files = ", ".join(job.inputs[0] if job.inputs else job.title for job in together.jobs)
    # what has no price cannot be kept within a budget
    currency = next((job.money.currency for job in together.jobs if job.money.currency), "")
    market = market_of(stock, together.suppliers, files, within_days, currency).without(
        unpriced=unpriced and spend is None
    )
    market = market if senders is None else market.of(senders)
    there = pieces_there(demands, stock)
    taken = _together_at_most(together.jobs, screenings, unanswered)
    sold = frozenset(buy.line for buy in market.buys)
    supply, narrowed = Supply(stock, there, sold, scale_of(demands, stock), together=taken), None
    stacks: Sequence[Sequence[Stack]] = ()
    if spend is None and is_large(market, demands):
        narrowed = Narrowed(demands, stock, there, market, supply.scale)
        stacks = narrowed.stacks(narrowed.cheapest(FEW))
    coverages, complete = supply.coverages(demands, stacks)
    books = Books(coverages, there, market)
    case = Case(together.jobs, screenings, tuple(unanswered), books, supply, complete, within_days, spend)
    return replace(case, own=together.own, narrowed=narrowed, sizes=FEW if narrowed else None)


def _together_at_most(
    jobs: Sequence[Job], screenings: Sequence[Screening], unanswered: Sequence[Unanswered]
) -> Counter[int]:
    """The most pieces of each stock line that places that act together could take."""
    gaps = {(one.job, one.gap.name) for one in unanswered if one.why in TOGETHER}
    most: Counter[int] = Counter()
    for number, (job, found) in enumerate(zip(jobs, screenings, strict=True)):
        for cluster in job.clusters:
            if gaps & {(number, name) for name in cluster.gaps}:
                for place in (job.place[name] for name in cluster.places):
                    most.update(dict.fromkeys(found.suits[place.name], max(place.most_pieces, len(place.installed))))
    return most
