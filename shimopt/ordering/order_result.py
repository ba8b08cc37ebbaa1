"""An order as data: what to buy, the cards that go with it, what is not sure, what it is worth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import or_

from shimopt.arithmetic.clearance import Stack, Verdict, stands_out
from shimopt.job import Job, Supplier
from shimopt.ordering.cards import Band, Card
from shimopt.ordering.cheapest_ways import Way
from shimopt.ordering.demand import TOGETHER, Demand, Unanswered
from shimopt.ordering.market import Market, arrival_of, as_charged, bills_of
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.readings_together import Table
from shimopt.ordering.top_up import reaching
from shimopt.ordering.unserved_readings import Hole
from shimopt.ordering.worth import Option
from shimopt.parts import Offer, StockLine
from shimopt.planner import Chosen
from shimopt.proof.proven import Proof
from shimopt.seats import Screening


@dataclass(frozen=True, slots=True)
class Line:
    """So many packs of a part from a supplier; `cost` None where it has no price."""

    supplier: str
    part: int
    offer: Offer
    packs: int
    pieces: int
    cost: Fraction | None

    def and_(self, more: Line) -> Line:
        """It and more of the same offer, whose price is that of so many."""
        cost = None if self.cost is None or more.cost is None else self.cost + more.cost
        return replace(more, packs=self.packs + more.packs, pieces=self.pieces + more.pieces, cost=cost)


def line_of(market: Market, number: int, packs: int) -> Line:
    """So many packs of one of the market's buys."""
    buy = market.buys[number]
    cost = None if buy.offer.price is None else Fraction(buy.offer.price) * packs
    return Line(market.suppliers[buy.supplier].name, buy.line, buy.offer, packs, packs * buy.offer.pack, cost)


@dataclass(frozen=True, slots=True)
class Topped:
    """A line beside the order that fills a smallest order, and by demand what it may serve.

    Of the stacks that need more of this part than there is without it, the one that serves most readings. `spare_for`
    numbers the tables a row of which takes the part; `useful` how many pieces are asked for by more than is there
    without them: the others are spares.
    """

    line: Line
    serves: Mapping[int, Band]
    spare_for: tuple[int, ...] = ()
    useful: int = 0

    @property
    def gaps(self) -> tuple[int, ...]:
        """The demands that it may serve, by number."""
        return tuple(sorted(self.serves))


@dataclass(frozen=True, slots=True)
class Bill:
    """What a supplier asks: goods (None where a part has no price), what is missing to the smallest order, postage.

    `filled` is what fills the smallest order; where it leaves some of it, `reach` would bring the goods up to it at the
    least cost: what that adds to them, if it is not many packs.
    """

    supplier: Supplier
    goods: Fraction | None
    top_up: Fraction
    filled: Fraction = Fraction(0)
    reach: Line | None = None

    @property
    def total(self) -> Fraction | None:
        """All of it, at the smallest order where the goods are below; None where a part has no price."""
        return None if self.goods is None else self.goods + self.top_up + Fraction(self.supplier.postage)

    @property
    def lost(self) -> Fraction:
        """How much of the smallest order buys nothing."""
        return max(Fraction(0), self.top_up - self.filled)

    @property
    def beyond(self) -> Fraction:
        """How much more than its smallest order it is filled with."""
        return max(Fraction(0), self.filled - self.top_up)


@dataclass(frozen=True, slots=True)
class LevelProof:
    """A level's value and bound: gaps, nm, pieces, money or days; bound None where nothing better is known."""

    name: str
    value: Fraction
    bound: Fraction | None
    proven: bool
    seconds: float

    @property
    def proof(self) -> Proof:
        """What the proof rests on: bounds in whole numbers, or nothing."""
        return Proof.EXACT if self.proven else Proof.NONE


@dataclass(frozen=True, slots=True)
class Left:
    """How many of a part are in the drawer after the build: at least, at most, by what the final readings ask for."""

    part: int
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Planned:
    """What a plan fits at a gap, and whether that is inside then."""

    stack: Stack
    verdict: Verdict
    sure: bool


@dataclass(frozen=True, kw_only=True)
class Order:
    """What to buy, the cards that go with it, and how far it is sure and proven.

    `tables` say what to fit where places act together. `top_up` is what fills the smallest orders of its bills, at no
    cost beside theirs: lines, bills, levels, options and ways do without it; it comes in the parcel, so that cards and
    what is left afterwards count it.
    `planned` is by demand what the plan of today's readings fits, where the card's row for today's best estimate says
    something else; `contested` the parts of which all cards together would like more than there are: each keeps to what
    is set aside for it, and a plan of all final readings may divide them otherwise. `balanced` is the order that keeps
    the balances of what acts together wherever it can, where this one does not keep them; `unlimited` the one without
    the limits of this one, where they leave open what acts together. `out_of_time`: it stopped when its time was over.
    """

    jobs: tuple[Job, ...]
    screenings: tuple[Screening, ...]
    demands: tuple[Demand, ...]
    market: Market
    within_days: int | None
    spend: Decimal | None
    lines: tuple[Line, ...]
    bills: tuple[Bill, ...]
    cards: tuple[Card, ...]
    holes: tuple[Hole, ...]
    options: tuple[Option, ...]
    left: tuple[Left, ...]
    levels: tuple[LevelProof, ...]
    seconds: float
    unanswered: tuple[Unanswered, ...] = ()
    contested: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    planned: Mapping[int, Planned] = field(default_factory=dict)
    top_up: tuple[Topped, ...] = ()
    ways: tuple[Way, ...] = ()
    # within a limit of money, what is surer
    surer: Way | None = None
    tables: tuple[Table, ...] = ()
    searched_together: bool = False
    most_suppliers: int | None = None
    keeps_balances: bool = False
    balanced: Order | None = None
    unlimited: Order | None = None
    out_of_time: bool = False

    @property
    def stock(self) -> tuple[StockLine, ...]:
        """The drawer and catalogues that all jobs share."""
        return self.jobs[0].stock

    def wanted_elsewhere(self, number: int) -> list[int]:
        """The parts that the rows of a card take and another card would rather have: a plan may give them to it."""
        wanted = {line for gap, lines in self.contested.items() if gap != number for line in lines}
        return sorted(wanted & {line for stack in self.cards[number].stacks for line in stack})

    @property
    def limited(self) -> bool:
        """Whether something on offer may be left out: by when it comes, what it costs, or how many may send."""
        return (self.within_days, self.spend, self.most_suppliers) != (None, None, None)

    @property
    def open_together(self) -> bool:
        """Whether readings of what acts together are left open, or all of them."""
        return any(table.open for table in self.tables) or any(one.why in TOGETHER for one in self.unanswered)

    @property
    def answered(self) -> tuple[Demand, ...]:
        """The gaps with a card of their own, then those of tables."""
        return (*self.demands, *(demand for table in self.tables for demand in table.demands))

    @property
    def whole(self) -> bool:
        """Whether every gap has a card, and the cards leave no reading open."""
        left = any(one.why != "as set" for one in self.unanswered)
        return not self.holes and not left and not any(table.open for table in self.tables)

    @property
    def sure(self) -> bool:
        """Whether no reading is left open and every bracket is a worst case."""
        return self.whole and all(demand.gap.reading.basis == "worst case" for demand in self.answered)

    @property
    def proven(self) -> bool:
        """Whether every level is proven best."""
        return all(level.proven for level in self.levels)

    @property
    def cost(self) -> Fraction | None:
        """Goods, top-ups and postage; None where a part bought has no price."""
        totals = [bill.total for bill in self.bills]
        known = [total for total in totals if total is not None]
        return sum(known, Fraction(0)) if len(known) == len(totals) else None

    @property
    def cost_filled(self) -> Fraction | None:
        """The same with what fills smallest orders beyond what they ask for."""
        return None if self.cost is None else self.cost + sum(bill.beyond for bill in self.bills)

    @property
    def asked(self) -> tuple[Line, ...]:
        """What suppliers are asked to send, by part, with what fills their smallest orders: a line per offer."""
        together: dict[tuple[str, int, Offer], Line] = {}
        for line in (*self.lines, *(more.line for more in self.top_up)):
            # whatever the price for so many
            at = (line.supplier, line.part, replace(line.offer, price=None))
            together[at] = together[at].and_(line) if at in together else line
        suppliers = list(dict.fromkeys(line.supplier for line in self.lines))
        return tuple(sorted(together.values(), key=lambda line: (suppliers.index(line.supplier), line.part)))

    @property
    def set_aside(self) -> Counter[int]:
        """By stock line how many pieces the cards may need at once, those that they leave in their places included."""
        used = Counter[int]()
        for demand, card in zip(self.demands, self.cards, strict=True):
            used += card.most_of | Counter(demand.place.installed)
        for table in self.tables:
            used += reduce(or_, table.used, Counter(table.within))
        return used

    @property
    def awaited(self) -> dict[int, int]:
        """By stock line how many pieces the cards may need of those that are on order already, and not here yet."""
        if not self.answered:
            return {}
        spare = {left.part: left.least for left in self.left}
        needed = {i: line.coming - spare.get(i, 0) for i, line in enumerate(self.stock) if line.coming}
        return {i: count for i, count in needed.items() if count > 0}

    @property
    def arrives_in_days(self) -> int | None:
        """When the last parcel is there; None where nobody says."""
        return arrival_of([line.offer for line in self.lines])


def planned_otherwise(demands: Sequence[Demand], cards: Sequence[Card], today: Sequence[Chosen]) -> dict[int, Planned]:
    """By demand, what the plan of today's readings fits where the card fits something else at today's best estimate."""
    found = {}
    for number, (demand, card) in enumerate(zip(demands, cards, strict=True) if today else ()):
        best, chosen = demand.gap.reading.bracket.best, today[demand.job]
        stack, gap = chosen.stacks.get(demand.place.name, ()), chosen.outcome.gaps[demand.gap.name]
        if gap.verdict != "outside" and all(b.stack != stack for b in card.bands if b.start <= best <= b.end):
            found[number] = Planned(stack, gap.verdict, not stands_out(gap.after, demand.gap.window))
    return found


def lines_of(market: Market, purchase: Purchase) -> tuple[Line, ...]:
    """What is bought, by supplier and part."""
    bought = [(market.buys[n].supplier, line_of(market, n, packs)) for n, packs in enumerate(purchase.packs) if packs]
    return tuple(line for _, line in sorted(bought, key=lambda pair: (pair[0], pair[1].part)))


def asked_by(
    market: Market, purchase: Purchase, parcel: Sequence[int], most: int | None = None, *, adding: bool = True
) -> tuple[Bill, ...]:
    """What each supplier asks; `parcel` is the packs of all that comes, `most` what may be spent [coins].

    Parameter: adding, whether more may be asked for where goods stay below a smallest order.
    """
    unit, found = market.price_unit, list[Bill]()
    unknown = {b.supplier for b, n in zip(market.buys, purchase.packs, strict=True) if n and b.offer.price is None}
    parcel = as_charged(market, parcel)
    sent = bills_of(market, parcel)
    spare = None if most is None else most - sum(total for _, _, total in sent.values())
    for supplier, (goods, top_up, _) in bills_of(market, purchase.packs).items():
        terms, (with_fill, left, _), reach = market.suppliers[supplier], sent[supplier], None
        if supplier in unknown:
            found.append(Bill(terms, None, Fraction(0)))
            continue
        more = reaching(market, parcel, supplier) if left and adding else None
        if more is not None and spare is not None:
            # what is asked for must be there to be spent
            dearer = more[2] - with_fill - left
            more, spare = (None, spare) if dearer > spare else (more, spare - dearer)
        if more is not None:
            reach = replace(line_of(market, more[0], more[1]), cost=Fraction(more[2] - with_fill, unit))
        said, short, filled = (Fraction(coins, unit) for coins in (goods, top_up, with_fill - goods))
        found.append(Bill(terms, said, short, filled, reach))
    return tuple(found)


def left_over(
    after: Mapping[int, int], cards: Sequence[Card], kept: Sequence[Counter[int]], tables: Sequence[Table]
) -> tuple[Left, ...]:
    """What is in the drawer afterwards; where a card says stop, what is in the machine stays there (`kept`)."""
    there = Counter(after)
    most_used: Counter[int] = Counter()
    least_used: Counter[int] = Counter()
    for card, stays in zip(cards, kept, strict=True):
        most_used += card.most_of | stays
        least_used += (card.least_of & stays if card.bands else stays) if stays else card.least_of
    for table in tables:
        there.update(Counter(table.takes) + Counter(table.within))
        used = table.used
        for line in set().union(*used):
            most_used[line] += max(pieces[line] for pieces in used)
            least_used[line] += min(pieces[line] for pieces in used)
    found = []
    for line, total in sorted(there.items()):
        if total > least_used[line]:
            found.append(Left(line, total - most_used[line], total - least_used[line]))
    return tuple(found)
