"""The whole-number model: one yes-or-no column per option, exactly one option per place, and what they share.

Everything in it is a whole number (lengths in ticks). Rows read `sum of coefficient × variable <= limit`.
Variables are numbered: first a column per option, place after place, then the helpers (spreads, bought pieces, packs).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shimopt.check.outcome import cheapest_packs
from shimopt.job import Job
from shimopt.stacks import Option, PlaceOptions, Scale

__all__ = ["Helper", "Model", "Row", "build_model"]


@dataclass(frozen=True, slots=True)
class Row:
    """`sum of terms <= limit`."""

    terms: dict[int, int]
    limit: int


@dataclass(frozen=True, slots=True)
class Helper:
    """A variable that follows from the options chosen, with its range."""

    low: int
    high: int
    whole: bool


@dataclass(slots=True)
class Model:
    """Columns, helpers, rows and the terms of every level."""

    job: Job
    scale: Scale
    groups: list[range]
    columns: list[Option]
    places: list[str]
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=dict)
    price_unit: int = 1
    whole_columns: bool = True

    def add_helper(self, low: int, high: int, *, whole: bool) -> int:
        """A new helper's number."""
        self.helpers.append(Helper(low, high, whole))
        return len(self.columns) + len(self.helpers) - 1

    def value_of(self, level: str, chosen: Sequence[int]) -> int:
        """A level's exact value when these columns are chosen, one per place."""
        if level in ("excess", "spread"):
            return sum(self._spreads(chosen, excess=level == "excess"))
        if level in ("bought", "unpriced", "cost"):
            return self._purchase(chosen)[level]
        return sum(self.columns[c].share.get(level, 0) for c in chosen)

    def _spreads(self, chosen: Sequence[int], *, excess: bool) -> list[int]:
        at = {self.places[g]: self.columns[c] for g, c in enumerate(chosen)}
        found = []
        for balance in self.job.balances:
            members = [at[name] for name in balance.gaps]
            if any(option.outside for option in members) or (excess and balance.within is None):
                continue
            offsets = [self.scale.ticks(balance.offset.get(name, 0)) for name in balance.gaps]
            even = [option.best - offset for option, offset in zip(members, offsets, strict=True)]
            spread = max(even) - min(even)
            found.append(max(0, spread - self.scale.ticks(balance.within or 0)) if excess else spread)
        return found

    def _purchase(self, chosen: Sequence[int]) -> dict[str, int]:
        used = Counter(i for c in chosen for i in self.columns[c].stack)
        bought = {i: n - self.job.stock[i].on_hand for i, n in used.items() if n > self.job.stock[i].on_hand}
        packs = [cheapest_packs(self.job.stock[i].offers, n) for i, n in bought.items()]
        cost = sum(price for price, _ in packs) * self.price_unit
        return {"bought": sum(bought.values()), "unpriced": sum(n for _, n in packs), "cost": int(cost)}

    def short_of(self, chosen: Sequence[int]) -> list[int]:
        """Stock lines of which more pieces are chosen than are on hand or can be bought."""
        used = Counter(i for c in chosen for i in self.columns[c].stack)
        return [i for i, n in used.items() if n > self.supply[i]]

    @property
    def supply(self) -> Mapping[int, int]:
        """How many pieces of each stock line can be had."""
        return self._supply

    _supply: dict[int, int] = field(default_factory=dict)


def build_model(job: Job, scale: Scale, options: Sequence[PlaceOptions], supply: Mapping[int, int]) -> Model:
    """The model of a job whose places each move one gap alone; `supply` counts what can be had of each stock line."""
    columns = [option for place in options for option in place.options]
    groups, start = [], 0
    for place in options:
        groups.append(range(start, start + len(place.options)))
        start += len(place.options)
    model = Model(job, scale, groups, columns, [place.gap for place in options], _supply=dict(supply))
    for level in ("outside", "miss", "unproven", "doubt", "pieces", "cautions", "target"):
        model.levels[level] = {c: option.share[level] for c, option in enumerate(columns) if option.share[level]}
    model.levels["opened"] = {}
    _add_stock(model)
    _add_balances(model)
    return model


def _add_stock(model: Model) -> None:
    """Pieces used are on hand, or bought in whole packs."""
    uses: dict[int, dict[int, int]] = defaultdict(dict)
    most: Counter[int] = Counter()
    for group in model.groups:
        here: Counter[int] = Counter()
        for column in group:
            for i, count in Counter(model.columns[column].stack).items():
                uses[i][column] = count
                here[i] = max(here[i], count)
        most.update(here)
    prices = [offer.price for line in model.job.stock for offer in line.offers if offer.price is not None]
    model.price_unit = 10 ** max((-min(0, int(price.as_tuple().exponent)) for price in prices), default=0)
    bought, unpriced, cost = {}, {}, {}
    for i in sorted(uses):
        line = model.job.stock[i]
        if most[i] <= line.on_hand:
            continue
        if model.supply[i] <= line.on_hand:
            model.rows.append(Row(dict(uses[i]), line.on_hand))
            continue
        need = most[i] - line.on_hand
        pieces = model.add_helper(0, need, whole=False)
        bought[pieces] = 1
        model.rows.append(Row({**uses[i], pieces: -1}, line.on_hand))
        priced = [offer for offer in line.offers if offer.price is not None]
        packs = {}
        for offer in priced:
            pack = model.add_helper(0, -(-need // offer.pack), whole=True)
            packs[pack] = -offer.pack
            assert offer.price is not None
            cost[pack] = int(offer.price * model.price_unit)
        if packs:
            model.rows.append(Row({pieces: 1, **packs}, 0))
        else:
            unpriced[pieces] = 1
    model.levels |= {"bought": bought, "unpriced": unpriced, "cost": cost}


def _add_balances(model: Model) -> None:
    """The spread of a balance, and its excess; both nothing where a gap of the balance is outside."""
    spread, excess = {}, {}
    group_of = dict(zip(model.places, model.groups, strict=True))
    for balance in model.job.balances:
        offset = {name: model.scale.ticks(balance.offset.get(name, 0)) for name in balance.gaps}
        even = {c: model.columns[c].best - offset[name] for name in balance.gaps for c in group_of[name]}
        floor, widest = min(even.values()), max(even.values()) - min(even.values())
        if widest == 0:
            continue
        outside = [c for name in balance.gaps for c in group_of[name] if model.columns[c].outside]
        top, bottom = (model.add_helper(0, widest, whole=False) for _ in range(2))
        width = model.add_helper(0, widest, whole=False)
        spread[width] = 1
        # a gap outside sets the balance aside: the row that ties the width to top and bottom is then slack
        model.rows.append(Row({top: 1, bottom: -1, width: -1, **dict.fromkeys(outside, -widest)}, 0))
        for name in balance.gaps:
            terms = {c: even[c] - floor for c in group_of[name] if even[c] != floor}
            model.rows.append(Row({**terms, top: -1}, 0))
            model.rows.append(Row({**{c: -t for c, t in terms.items()}, bottom: 1}, 0))
        if balance.within is not None:
            over = model.add_helper(0, widest, whole=False)
            excess[over] = 1
            model.rows.append(Row({width: 1, over: -1}, model.scale.ticks(balance.within)))
    model.levels |= {"spread": spread, "excess": excess}
