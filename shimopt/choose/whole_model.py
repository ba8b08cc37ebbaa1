"""The whole-number model: one yes-or-no column per option, exactly one option per place, and what they share.

Everything in it is a whole number (lengths in ticks). Rows read `sum of coefficient × variable <= limit`.
Variables are numbered: first a column per option, place after place, then the helpers (spreads, bought pieces, packs).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import NamedTuple

from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.candidates import Option, PlaceOptions, Scale
from shimopt.choose.coupling import Linked, Ties, add_fight, add_linked, add_ties, linked_gaps
from shimopt.job import Balance, Job, clusters_of
from shimopt.job.levels import Level
from shimopt.proof.rows import Row

__all__ = ["Aim", "Helper", "Model", "build_model"]

_OF_GAPS = frozenset(level for level in Level if level.of == "gap")


@dataclass(frozen=True, slots=True)
class Helper:
    """A variable that follows from the options chosen, with its range."""

    low: int
    high: int
    whole: bool


class Tied(NamedTuple):
    """A balance with the groups that it ties, what is taken off each member, and what may lie between them [ticks]."""

    balance: Balance
    groups: frozenset[int]
    offset: Mapping[str, int]
    within: int | None


class Aim(NamedTuple):
    """What is best: the levels in their order, and the order in which places are settled among equals, by number."""

    levels: Sequence[str]
    places: Sequence[int]


@dataclass(slots=True)
class Model:
    """Columns, helpers, rows and the terms of every level.

    `places` names, by group, the gap that its place moves alone ("" where there is none such), `place_of` its place;
    `linked` are the gaps that a place does not move alone; `outs` holds, by gap, the variables that are 1 where it is
    outside, `misses` the helper that is its miss where it has one. `linked_from` and `balances_from` hold gaps and
    balances by the first of their groups. The first `shared_rows` and `shared_helpers` are stock and purchases, which
    all places share.
    """

    job: Job
    scale: Scale
    groups: list[range]
    columns: list[Option]
    places: list[str]
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=dict)
    price_unit: int = 1
    linked: dict[str, Linked] = field(default_factory=dict)
    outs: dict[str, dict[int, int]] = field(default_factory=dict)
    place_of: list[str] = field(default_factory=list)
    misses: dict[str, int] = field(default_factory=dict)
    ties: Ties = field(default_factory=lambda: Ties((), ()))
    linked_from: Mapping[int, Sequence[Linked]] = field(default_factory=dict)
    balances_from: Mapping[int, Sequence[Tied]] = field(default_factory=dict)
    shared_rows: int = 0
    shared_helpers: int = 0

    @property
    def sizes(self) -> Sequence[int]:
        """By column, what it makes of its gap, or adds to its place: thin and thick ones are far apart."""
        return [option.best if option.change is None else option.change[1] for option in self.columns]

    def chosen(self, picked: Sequence[int]) -> tuple[int, ...]:
        """The columns that a choice picks, one per place."""
        return tuple(picked)

    def left(self, alive: Sequence[Sequence[int]]) -> list[list[int]]:
        """By place, the columns that are left."""
        return [list(columns) for columns in alive]

    def only(self, alive: Sequence[Sequence[int]], fixed: Mapping[int, int]) -> list[list[int]]:
        """What is left where these places have these columns."""
        return [[fixed[at]] if at in fixed else list(columns) for at, columns in enumerate(alive)]

    def terms(self, terms: Mapping[int, int]) -> dict[int, int]:
        """Terms of the columns as terms of what is picked."""
        return dict(terms)

    def add_row(self, terms: dict[int, int], limit: int) -> None:
        """A new row `sum of terms <= limit`."""
        self.rows.append(Row(terms, limit))

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
        value = sum(self.columns[c].share.get(level, 0) for c in chosen)
        if level in _OF_GAPS:
            value += sum(gap.judge.shares(gap.after(chosen))[level] for gap in self.linked.values())
        return value

    def _spreads(self, chosen: Sequence[int], *, excess: bool) -> list[int]:
        at = {self.places[g]: (self.columns[c].best, self.columns[c].outside) for g, c in enumerate(chosen)}
        behind = {name for balance in self.job.balances for name in self.job.gaps_behind(balance)}
        for name in behind & set(self.linked):
            after = self.linked[name].after(chosen)
            at[name] = (after[1], self.linked[name].judge.shares(after)["outside"] > 0)
        thick = {self.place_of[g]: c for g, c in enumerate(chosen)} if any(b.places for b in self.job.balances) else {}
        found = []
        for balance, _, offset, within in chain.from_iterable(self.balances_from.values()):
            if excess and within is None:
                continue
            if any(at[name][1] for name in self.job.gaps_behind(balance)):
                continue
            values = {name: at[name][0] for name in balance.gaps}
            values |= {name: self.thickness(thick[name]) for name in balance.places}
            even = [value - offset[name] for name, value in values.items()]
            spread = max(even) - min(even)
            found.append(max(0, spread - (within or 0)) if excess else spread)
        return found

    def thickness(self, column: int) -> int:
        """How thick a column's stack is by its best estimate [ticks]."""
        return sum(self.scale.ticks(self.job.stock[i].part.thickness.best) for i in self.columns[column].stack)

    def _purchase(self, chosen: Sequence[int]) -> dict[str, int]:
        used = Counter(i for c in chosen for i in self.columns[c].stack)
        bought = {i: n - self.job.there[i] for i, n in used.items() if n > self.job.there[i]}
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


def build_model(
    job: Job,
    scale: Scale,
    options: Sequence[PlaceOptions],
    supply: Mapping[int, int],
    fights: Mapping[tuple[str, ...], int] | None = None,
) -> Model:
    """The model of a job.

    Parameters: supply, what can be had of each stock line; fights, gaps whose windows surely miss each other, and by
    how much in all [ticks].
    """
    columns = [option for place in options for option in place.options]
    groups, start = [], 0
    for place in options:
        groups.append(range(start, start + len(place.options)))
        start += len(place.options)
    model = Model(job, scale, groups, columns, [place.gap for place in options], _supply=dict(supply))
    for level in ("short", "split", *(level for level in Level if level.of in ("gap", "stack"))):
        model.levels[level] = {c: share for c, option in enumerate(columns) if (share := option.share.get(level, 0))}
    for place, group in zip(options, groups, strict=True):
        if place.gap:
            model.outs[place.gap] = {c: 1 for c in group if columns[c].outside}
    _add_stock(model)
    model.shared_rows, model.shared_helpers = len(model.rows), len(model.helpers)
    place_of = model.place_of = [place.place for place in options]
    model.linked = linked_gaps(job, scale, groups, columns, place_of)
    for gap in model.linked.values():
        add_linked(model, gap, exact_outside=job.levels[0] != "outside")
    for gaps, miss in (fights or {}).items():
        add_fight(model, gaps, miss)
    group_of = {place: at for at, place in enumerate(place_of) if place}
    model.ties = add_ties(model, job, [cluster.places for cluster in clusters_of(job)], group_of)
    _add_balances(model)
    model.linked_from, model.balances_from = _linked_from(model), _balances_from(model)
    return model


def _linked_from(model: Model) -> dict[int, list[Linked]]:
    found: dict[int, list[Linked]] = defaultdict(list)
    for linked in model.linked.values():
        found[min(linked.groups)].append(linked)
    return found


def _balances_from(model: Model) -> dict[int, list[Tied]]:
    """Balances by the first group that each ties: those of its gaps, or of its places and all gaps that they move."""
    of_place = {place: at for at, place in enumerate(model.place_of) if place}
    of_gap = {gap: at for at, gap in enumerate(model.places) if gap}
    found: dict[int, list[Tied]] = defaultdict(list)
    for balance in model.job.balances:
        groups = {of_place[place] for place in balance.places}
        for name in model.job.gaps_behind(balance):
            groups |= set(model.linked[name].groups) if name in model.linked else {of_gap[name]}
        offset = {name: model.scale.ticks(balance.offset.get(name, 0)) for name in balance.members}
        within = None if balance.within is None else model.scale.ticks(balance.within)
        found[min(groups)].append(Tied(balance, frozenset(groups), offset, within))
    return found


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
        there = model.job.there[i]
        if most[i] <= there:
            continue
        if model.supply[i] <= there:
            model.rows.append(Row(dict(uses[i]), there))
            continue
        need = most[i] - there
        pieces = model.add_helper(0, need, whole=False)
        bought[pieces] = 1
        model.rows.append(Row({**uses[i], pieces: -1}, there))
        packs = {}
        for offer in line.offers:
            if offer.price is None:
                continue
            pack = model.add_helper(0, -(-need // offer.pack), whole=True)
            packs[pack] = -offer.pack
            cost[pack] = int(offer.price * model.price_unit)
        if packs:
            model.rows.append(Row({pieces: 1, **packs}, 0))
        else:
            unpriced[pieces] = 1
    model.levels |= {"bought": bought, "unpriced": unpriced, "cost": cost}


def _add_balances(model: Model) -> None:
    """The spread of a balance, and its excess; both nothing where a gap of the balance is outside."""
    spread, excess = {}, {}
    group_of = {gap: group for gap, group in zip(model.places, model.groups, strict=True) if gap}
    group_at = {place: group for place, group in zip(model.place_of, model.groups, strict=True) if place}
    for balance in model.job.balances:
        offsets = {name: model.scale.ticks(balance.offset.get(name, 0)) for name in balance.members}
        even = {
            name: _thick(model, group_at[name], offset)
            if balance.places
            else _even(model, name, group_of.get(name, range(0)), offset)
            for name, offset in offsets.items()
        }
        floor, ceiling = min(least for _, _, least, _ in even.values()), max(most for _, _, _, most in even.values())
        widest = ceiling - floor
        if widest == 0:
            continue
        outside = {at: 1 for name in model.job.gaps_behind(balance) for at in model.outs[name]}
        top, bottom = (model.add_helper(0, widest, whole=False) for _ in range(2))
        width = model.add_helper(0, widest, whole=False)
        spread[width] = 1
        # a gap outside sets the balance aside: the row that ties the width to top and bottom is then slack
        model.rows.append(Row({top: 1, bottom: -1, width: -1, **dict.fromkeys(outside, -widest)}, 0))
        for base, terms, _, _ in even.values():
            model.rows.append(Row({**terms, top: -1}, floor - base))
            model.rows.append(Row({**{c: -t for c, t in terms.items()}, bottom: 1}, base - floor))
        if balance.within is not None:
            over = model.add_helper(0, widest, whole=False)
            excess[over] = 1
            model.rows.append(Row({width: 1, over: -1}, model.scale.ticks(balance.within)))
    model.levels |= {"spread": spread, "excess": excess}


def _even(model: Model, gap: str, group: range, offset: int) -> tuple[int, dict[int, int], int, int]:
    """A gap's best estimate less its offset: a number, the terms that are added to it, and its least and most."""
    if gap in model.linked:
        linked = model.linked[gap]
        least, most = linked.range(1)
        return linked.judge.read[1] - offset, linked.terms(1), least - offset, most - offset
    return _one_of({c: model.columns[c].best - offset for c in group})


def _thick(model: Model, group: range, offset: int) -> tuple[int, dict[int, int], int, int]:
    """The same of a place: how thick its stack is, less its offset."""
    return _one_of({c: model.thickness(c) - offset for c in group})


def _one_of(values: Mapping[int, int]) -> tuple[int, dict[int, int], int, int]:
    """One column of a group is chosen: the least value goes into the number, so that terms stay small."""
    least = min(values.values())
    return least, {c: value - least for c, value in values.items() if value > least}, least, max(values.values())
