"""The whole-number model: one yes-or-no column per option, exactly one option per place, and what they share.

Everything in it is a whole number (lengths in ticks). Rows read `sum of coefficient × variable <= limit`.
Variables are numbered: first a column per option, place after place, then the helpers (spreads, bought pieces, packs).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

from shimopt.arithmetic.clearance import Stack, pieces_in
from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.candidates import Option, Scale
from shimopt.choose.coupling import Linked, Ties
from shimopt.job import Balance, Gap, Job
from shimopt.job.levels import Level
from shimopt.parts import natural_key
from shimopt.proof.rows import Row

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
    `supply` is what can be had of each stock line; `linked` are the gaps that a place does not move alone; `outs`
    holds, by gap, the variables that are 1 where it is outside, `misses` the helper that is its miss where it has one.
    `linked_from` and `balances_from` hold gaps and balances by the first of their groups. The first `shared_rows` and
    `shared_helpers` are stock and purchases, which all places share.
    """

    job: Job
    scale: Scale
    groups: list[range]
    columns: list[Option]
    places: list[str]
    _: KW_ONLY
    supply: Mapping[int, int] = field(default_factory=dict)
    helpers: list[Helper] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    levels: dict[str, dict[int, int]] = field(default_factory=dict)
    price_unit: int = 1
    linked: dict[str, Linked] = field(default_factory=dict)
    outs: dict[str, dict[int, int]] = field(default_factory=dict)
    place_of: list[str] = field(default_factory=list)
    misses: dict[str, int] = field(default_factory=dict)
    ties: Ties = field(default_factory=Ties)
    linked_from: Mapping[int, Sequence[Linked]] = field(default_factory=dict)
    balances_from: Mapping[int, Sequence[Tied]] = field(default_factory=dict)
    shared_rows: int = 0
    shared_helpers: int = 0
    own_rows: int = 0
    own_helpers: int = 0
    loose: bool = False
    # what every column adds to a level, and the group of every gap with a place of its own, once they were asked for
    _shares: dict[str, list[int]] = field(default_factory=dict)
    _group_of: dict[str, int] = field(default_factory=dict)

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

    def picked(self, chosen: Sequence[int]) -> tuple[int, ...]:
        """The choice that picks these columns, one per place."""
        return tuple(chosen)

    def only(self, alive: Sequence[Sequence[int]], kept: Mapping[int, Sequence[int]]) -> list[list[int]]:
        """What is left where these places have some of these columns."""
        return [[c for c in columns if c in kept.get(at, columns)] for at, columns in enumerate(alive)]

    def columns_of(self, stacks: Mapping[str, Stack]) -> tuple[int, ...] | None:
        """The column of every group that puts these stacks in the places; None where one of them is no option."""
        columns = self.columns
        found = [
            next((c for c in group if not name or columns[c].stack == stacks[name]), None)
            for name, group in zip(self.place_of, self.groups, strict=True)
        ]
        chosen = tuple(c for c in found if c is not None)
        return chosen if len(chosen) == len(found) else None

    def tied_groups(self) -> Iterable[Sequence[int]]:
        """The groups that a gap, a balance or a tie holds together, by what holds them."""
        yield from (linked.groups for linked in self.linked.values())
        if not self.loose:
            yield from (sorted(tied.groups) for tied in chain.from_iterable(self.balances_from.values()))
        yield from self.ties.equal
        yield from self.ties.together

    def without_balances(self) -> Model:
        """The same without the rows of balances, for columns of which no choice comes to more than balances may."""
        levels = {**self.levels, "excess": dict[int, int](), "spread": dict[int, int]()}
        rows, helpers = self.rows[: self.own_rows], self.helpers[: self.own_helpers]
        return replace(self, rows=rows, helpers=helpers, levels=levels, loose=True)

    def clusters(self) -> list[list[int]]:
        """Groups that a gap, a balance or a tie holds together, in the order of their first."""
        root = list(range(len(self.groups)))

        def found(at: int) -> int:
            while root[at] != at:
                root[at] = root[root[at]]
                at = root[at]
            return at

        for tied in self.tied_groups():
            groups = sorted(map(found, tied))
            for other in groups[1:]:
                root[found(other)] = groups[0]
        together: dict[int, list[int]] = {}
        for at in range(len(root)):
            together.setdefault(found(at), []).append(at)
        return [together[first] for first in sorted(together)]

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
        shares = self._shares.get(level)
        if shares is None:
            shares = self._shares[level] = [option.share.get(level, 0) for option in self.columns]
        value = sum(map(shares.__getitem__, chosen))
        if level in _OF_GAPS:
            value += sum(gap.judge.shares(gap.after(chosen))[level] for gap in self.linked.values())
        return value

    def _spreads(self, chosen: Sequence[int], *, excess: bool) -> list[int]:
        if not self._group_of:
            self._group_of.update((name, group) for group, name in enumerate(self.places))
        thick = {self.place_of[g]: c for g, c in enumerate(chosen)} if any(b.places for b in self.job.balances) else {}
        found = []
        for balance, _, offset, within in chain.from_iterable(self.balances_from.values()):
            if excess and within is None:
                continue
            at = {name: self._best_of(name, chosen) for name in self.job.gaps_behind(balance)}
            if any(outside for _, outside in at.values()):
                continue
            values = {name: at[name][0] for name in balance.gaps}
            values |= {name: self.thickness(thick[name]) for name in balance.places}
            even = [value - offset[name] for name, value in values.items()]
            spread = max(even) - min(even)
            found.append(max(0, spread - (within or 0)) if excess else spread)
        return found

    def _best_of(self, gap: str, chosen: Sequence[int]) -> tuple[int, bool]:
        """What a gap comes to by its best estimate [ticks], and whether it is outside."""
        if (linked := self.linked.get(gap)) is not None:
            after = linked.after(chosen)
            return after[1], linked.judge.shares(after)["outside"] > 0
        option = self.columns[chosen[self._group_of[gap]]]
        return option.best, option.outside

    def thickness(self, column: int) -> int:
        """How thick a column's stack is by its best estimate [ticks]."""
        return sum(self.scale.ticks(self.job.stock[i].part.thickness.best) for i in self.columns[column].stack)

    def stacks_of(self, chosen: Sequence[int]) -> dict[str, Stack]:
        """The stack of every place when these columns are chosen."""
        return {name: self.columns[c].stack for name, c in zip(self.place_of, chosen, strict=True) if name}

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

    def most_taken(self, alive: Iterable[Sequence[int]]) -> list[tuple[int, int]]:
        """Stock lines, and how many pieces of each these columns can take together, one picked of every group."""
        most: Counter[int] = Counter()
        for columns in alive:
            here: dict[int, int] = {}
            for c in columns:
                stack = self.columns[c].stack
                for i in stack:
                    if (count := stack.count(i)) > here.get(i, 0):
                        here[i] = count
            most.update(here)
        return sorted(most.items())

    def pieces(self, column: int) -> tuple[tuple[str, Fraction], ...]:
        """What a column's stack holds, as equal packs have it in common."""
        return pieces_in(self.columns[column].stack, self.job.stock)

    def keeps_ties(self, chosen: Sequence[int]) -> bool:
        """Whether a choice of one column per group keeps to what groups share besides gaps and stock."""
        stay = [c == group[0] for c, group in zip(chosen, self.groups, strict=True)]
        for groups in self.ties.equal:
            packs = {self.pieces(chosen[group]) for group in groups}
            if len(packs) > 1 and not all(stay[group] for group in groups):
                return False
        for groups in self.ties.together:
            short = any(self.columns[chosen[group]].share.get("short") for group in groups)
            if short and not all(stay[group] for group in groups):
                return False
        for groups, gaps, most in self.ties.worth:
            if not all(stay[group] for group in groups) and sum(self._off(name, chosen) != 0 for name in gaps) > most:
                return False
        return all(self._off(name, chosen) >= least for name, least in self.ties.tight)

    def _off(self, gap: str, chosen: Sequence[int]) -> int:
        """How far a gap's best estimate is outside, below 0 where too tight."""
        return self.linked[gap].judge.off(self.linked[gap].after(chosen)[1])


def tie_order(job: Job, alone: Mapping[str, Gap]) -> list[int]:
    """Places as written in the job, then those of a table by name; `alone` is the gap of places that move one alone."""

    def key(at: int) -> tuple[object, ...]:
        name = job.places[at].name
        of_table = name in alone and alone[name].reading.kind == "table"
        return (1, natural_key(name), name) if of_table else (0, at)

    return sorted(range(len(job.places)), key=key)
