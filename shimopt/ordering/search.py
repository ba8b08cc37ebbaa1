"""The cheapest order, level after level, each proven best before the next is looked at.

A supplier's postage makes linear relaxations weak, so every set of suppliers that could be used is a branch of its own.
Of a branch, in this order: a bound that holds exactly from the prices of the linear relaxation; the kits that no order
as good as the best known can use are struck; HiGHS searches among what is left. Its proposal is worked out again in
whole numbers. Where a card from the proposal leaves readings open at which the model has not looked, it looks there
too, and the level is done again: the model with fewer stretches is never worse than the whole, so its bounds hold.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import combinations
from math import gcd
from time import monotonic
from typing import NamedTuple

from shimopt.choose.bounds import Bound, left_over
from shimopt.choose.model import Row
from shimopt.choose.solver import Answer, Solver
from shimopt.errors import FaultError
from shimopt.ordering.coverage import Candidate, Coverage, Segment
from shimopt.ordering.market import Market
from shimopt.ordering.program import LEVELS, TIES, Kit, Program, Stretch, build_program, days_of
from shimopt.ordering.solver import exact_bound, propose, relaxed_prices

__all__ = ["Purchase", "Search", "Step"]

# beyond so many suppliers every set of them would be too many; then they are left to the solver
_MOST_SUPPLIERS = 6
_FIRST_KITS = 40
_MORE_KITS = 60
_ROUNDS_OF_PRICES = 25
# fewer new kits than these a round hardly move the bound
_FEW_NEW = 20
# a model of all kits that is no larger than so many times the one of some is solved at once
_NEARLY_ALL = 2
_MOST_ROUNDS = 200
_STRETCHES_A_ROUND = 12


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is bought, and what is set aside for each gap's card: `aside` counts pieces by (gap, line)."""

    packs: tuple[int, ...]
    aside: dict[tuple[int, int], int]

    def pieces_for(self, gap: int) -> dict[int, int]:
        """The scarce pieces that a gap's card may use, by stock line."""
        return {line: count for (at, line), count in self.aside.items() if at == gap}


class Step(NamedTuple):
    """A level's value and bound in whole ticks, coins, days or pieces."""

    level: str
    value: int
    bound: int | None
    proven: bool
    seconds: float


@dataclass
class _Branch:
    """The orders that use exactly these suppliers (None: any), and what no such order can be below at a level."""

    senders: frozenset[int] | None
    looked_at: list[list[Stretch]]
    least: dict[str, int] = field(default_factory=dict)
    program: Program | None = None


class _Found(NamedTuple):
    purchase: Purchase
    value: int
    branch: _Branch


class Search:
    """Finds the best purchase for these coverages; `stock` counts pieces on hand, `spend` caps the cost [coins]."""

    def __init__(
        self,
        coverages: Sequence[Coverage],
        stock: Sequence[int],
        market: Market,
        spend: int | None,
        nodes: int | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> None:
        self.coverages, self.stock, self.market, self.spend = coverages, stock, market, spend
        self.nodes, self.progress = nodes, progress
        self.held: dict[str, int] = {}
        self.all_proven = True
        sold = {buy.line for buy in market.buys}
        # where all that can be served can be bought and money is no object, nothing needs to be given up
        self.giving_up = spend is not None or any(
            c.left_open([x for x in c.candidates if set(x.scarce) <= sold]) != c.hopeless for c in coverages
        )
        self.branches = [_Branch(senders, [[] for _ in coverages]) for senders in self._sender_sets()]
        for gap, coverage in enumerate(coverages):
            self._look_at(gap, _telling(coverage))
        self.best: _Found | None = None

    def _sender_sets(self) -> list[frozenset[int] | None]:
        suppliers = sorted({buy.supplier for buy in self.market.buys})
        if self.giving_up or len(suppliers) > _MOST_SUPPLIERS:
            return [None]
        return [frozenset(some) for n in range(len(suppliers) + 1) for some in combinations(suppliers, n)]

    def run(self) -> tuple[Purchase, list[Step]]:
        """The best purchase and its levels; ties are settled so that the same job always gets the same order."""
        steps = [self._level(name) for name in LEVELS]
        for name in TIES:
            self._level(name)
        assert self.best is not None
        return self.best.purchase, steps

    # -- one level

    def _level(self, name: str) -> Step:
        start = monotonic()
        if self.progress:
            self.progress(name)
        value, bound = self._hopeless(name), None  # type: int, int | None
        if name in ("open", "missing") and not self.giving_up:
            bound = value
        else:
            value, bound = self._least(name)
        proven = bound is not None and bound >= value
        self.held[name] = value
        self.all_proven = self.all_proven and proven
        for branch in self.branches:
            branch.program = None
        return Step(name, value, bound if self.all_proven or proven else None, self.all_proven, monotonic() - start)

    def _hopeless(self, name: str) -> int:
        """What no purchase can mend: gaps with such readings, or how long these are together."""
        if name == "open":
            return sum(not c.whole for c in self.coverages)
        return sum(segment.length for c in self.coverages for segment in c.hopeless)

    def _least(self, name: str) -> tuple[int, int | None]:
        """The level's value and bound, over all branches and with all stretches that matter looked at."""
        for _ in range(_MOST_ROUNDS):
            found, bound = self._over_branches(name)
            if found is None and self.best is None and self.nodes is not None:
                # something to start from is needed, however long that takes
                limit, self.nodes = self.nodes, None
                found, bound = self._over_branches(name)
                self.nodes = limit
            if found is None:
                break
            overlooked = self._overlooked(found.purchase)
            if not overlooked:
                self.best = found
                self.branches = [b for b in self.branches if b.least.get(name, 0) <= found.value]
                return found.value, bound
            for gap, segments in overlooked.items():
                self._look_at(gap, segments)
        if self.best is None:
            raise FaultError("no order was found")
        return self.value_of(name, self.best.purchase), None

    def _over_branches(self, name: str) -> tuple[_Found | None, int | None]:
        """The best that the model finds as it is, and a bound for it."""
        found = self._kept(name)
        bounds: list[int] = []
        for branch in sorted(
            self.branches, key=lambda b: (max(b.least.get(name, 0), self._cheap(b, name)), len(b.senders or ()))
        ):
            cheap = max(branch.least.get(name, 0), self._cheap(branch, name))
            branch.least[name] = cheap
            if found is not None and cheap >= found.value:
                bounds.append(cheap)
                continue
            better, bound = self._in_branch(branch, name, found)
            branch.least[name] = max(cheap, bound)
            bounds.append(branch.least[name])
            found = better or found
        if found is None:
            return None, None
        return found, min(found.value, min(bounds, default=found.value))

    def _kept(self, name: str) -> _Found | None:
        """The order found so far, which holds at all levels above."""
        if self.best is None:
            return None
        return _Found(self.best.purchase, self.value_of(name, self.best.purchase), self.best.branch)

    def _cheap(self, branch: _Branch, name: str) -> int:
        """What a branch's suppliers ask for in any case."""
        if name != "cost" or branch.senders is None:
            return 0
        terms = [self.market.suppliers[s] for s in branch.senders]
        return sum(self.market.coins(t.postage) + self.market.coins(t.smallest_order) for t in terms)

    # -- one branch

    def _in_branch(self, branch: _Branch, name: str, known: _Found | None) -> tuple[_Found | None, int]:
        """An order of this branch that is better than the known one, if there is one, and the branch's bound."""
        program = self._program(branch)
        nothing = 1 << 62
        if any(not group for group in program.groups):
            return None, nothing
        objective = {at: f for at, f in program.levels[name].items() if f}
        unit = gcd(*objective.values()) if objective else 1
        rows = self._rows(program)
        bound, near = _priced(program, rows, objective, known.value if known else None, unit)
        if bound is None:
            # either nothing keeps to all rows, or the linear solver broke down; only the former rules the branch out
            only = self._proposed(branch, program, program.groups, rows, name, unit)
            better = only.found if only.found and (known is None or only.found.value < known.value) else None
            return better, nothing if only.best and only.found is None else max(0, only.bound)
        least = bound.rounded_up(unit)
        best = known
        if best is not None:
            if least >= best.value:
                return None, least
            alive = left_over(program.groups, bound, best.value - unit)
            if any(not group for group in alive):
                return None, best.value
            near = [[c for c in group if c in set(some)] or some[:1] for group, some in zip(near, alive, strict=True)]
        else:
            alive = program.groups
        if sum(map(len, alive)) <= _NEARLY_ALL * sum(map(len, near)):
            near = [list(group) for group in alive]
        few = self._proposed(branch, program, near, rows, name, unit)
        if few.found is not None and (best is None or few.found.value < best.value):
            best = few.found
            if least >= best.value:
                return best, least
            alive = left_over(program.groups, bound, best.value)
        if few.best and all(set(a) <= set(n) for a, n in zip(alive, near, strict=True)):
            least = max(least, _lowest(few.found, best, nothing))
        elif all(set(a) <= set(n) for a, n in zip(alive, near, strict=True)):
            least = max(least, few.bound)
        else:
            all_ = self._proposed(branch, program, alive, rows, name, unit)
            if all_.found is not None and (best is None or all_.found.value < best.value):
                best = all_.found
            least = max(least, _lowest(all_.found, best, nothing) if all_.best else all_.bound)
        if best is not None:
            self._strike(branch, program, left_over(program.groups, bound, best.value))
        return (best if best is not known else None), least

    def _program(self, branch: _Branch) -> Program:
        if branch.program is None:
            branch.program = build_program(self.coverages, branch.looked_at, self.stock, self.market, branch.senders)
        return branch.program

    def _rows(self, program: Program) -> list[Row]:
        rows = list(program.rows)
        for level, value in self.held.items():
            if level in ("open", "missing"):
                value -= self._hopeless(level)
            if program.levels[level]:
                rows.append(Row(program.levels[level], value))
        if self.spend is not None and program.levels["cost"]:
            rows.append(Row(program.levels["cost"], self.spend))
        return rows

    def _strike(self, branch: _Branch, program: Program, alive: list[list[int]]) -> None:
        """Forget the kits that cannot stand in any order as good as the best known."""
        if any(not group for group in alive):
            return
        kept = iter(alive)
        branch.looked_at = [
            [Stretch(stretch.segment, [program.columns[c] for c in next(kept)]) for stretch in stretches]
            for stretches in branch.looked_at
        ]
        branch.program = None

    class _Asked(NamedTuple):
        found: _Found | None
        best: bool
        bound: int

    def _proposed(
        self, branch: _Branch, program: Program, alive: list[list[int]], rows: list[Row], name: str, unit: int
    ) -> _Asked:
        """What a solver finds among these kits, worked out again; a solver that errs is not believed."""
        objective = {at: f for at, f in program.levels[name].items() if f}
        for solver in Solver:
            proposal = propose(program, alive, rows, objective, unit, None, self.nodes, solver)
            if proposal.impossible:
                return self._Asked(None, True, 0)
            if proposal.answer is Answer.NONE:
                continue
            purchase = self._purchase(program, proposal.chosen, proposal.helpers)
            if not self._holds(purchase):
                continue
            value = self._model_value(name, program, proposal.chosen, purchase)
            best = proposal.answer is Answer.BEST
            whole = 0 if proposal.bound is None else -int(-(proposal.bound - 1e-6 * unit) // unit) * unit
            return self._Asked(_Found(purchase, value, branch), best, value if best else whole)
        return self._Asked(None, False, 0)

    def _purchase(self, program: Program, chosen: Sequence[int], helpers: Sequence[int]) -> Purchase:
        aside: Counter[tuple[int, int]] = Counter()
        for gap, column in zip(program.gap_of, chosen, strict=True):
            for line, count in Counter(program.columns[column] or ()).items():
                aside[gap, line] = max(aside[gap, line], count)
        packs = tuple(helpers[at - len(program.columns)] for at in program.packs)
        return Purchase(packs, dict(aside))

    def _holds(self, purchase: Purchase) -> bool:
        """Whether drawer and packs hold what is set aside, at no more than what the levels above allow."""
        there = Counter(dict(enumerate(self.stock)))
        for buy, packs in zip(self.market.buys, purchase.packs, strict=True):
            there[buy.line] += packs * buy.offer.pack
        wanted: Counter[int] = Counter()
        for (_, line), count in purchase.aside.items():
            wanted[line] += count
        if any(count > there[line] for line, count in wanted.items()) or min(purchase.packs, default=0) < 0:
            return False
        if self.spend is not None and self.value_of("cost", purchase) > self.spend:
            return False
        return all(
            self.value_of(level, purchase) <= value
            for level, value in self.held.items()
            if level not in ("open", "missing")
        )

    def _model_value(self, name: str, program: Program, chosen: Sequence[int], purchase: Purchase) -> int:
        """A level as the model sees it: readings at which it has not looked count as served."""
        if name not in ("open", "missing"):
            return self.value_of(name, purchase)
        holes = [c for c in chosen if program.columns[c] is None]
        if name == "missing":
            return self._hopeless(name) + sum(program.levels[name].get(c, 0) for c in holes)
        gaps = {gap for gap, c in zip(program.gap_of, chosen, strict=True) if program.columns[c] is None}
        return self._hopeless(name) + sum(self.coverages[gap].whole for gap in gaps)

    # -- what a purchase is worth

    def value_of(self, level: str, purchase: Purchase) -> int:
        """A level's exact value."""
        bought = [
            (n, buy, packs)
            for n, (buy, packs) in enumerate(zip(self.market.buys, purchase.packs, strict=True))
            if packs
        ]
        match level:
            case "open":
                return sum(bool(self.left_open(gap, purchase)) for gap in range(len(self.coverages)))
            case "missing":
                return sum(s.length for gap in range(len(self.coverages)) for s in self.left_open(gap, purchase))
            case "unpriced":
                return sum(packs * buy.offer.pack for _, buy, packs in bought if buy.offer.price is None)
            case "cost":
                return sum(total for _, _, total in self.bills(purchase).values())
            case "arrival":
                return max((days_of(self.market, n) for n, _, _ in bought), default=0)
            case "bought":
                return sum(packs * buy.offer.pack for _, buy, packs in bought)
            case "packs":
                return sum(packs * (n + 1) for n, _, packs in bought)
        return sum(purchase.aside.values())

    def bills(self, purchase: Purchase) -> dict[int, tuple[int, int, int]]:
        """By supplier: goods, top-up to the smallest order, and the total with postage [coins]."""
        goods: Counter[int] = Counter()
        for buy, packs in zip(self.market.buys, purchase.packs, strict=True):
            if packs:
                goods[buy.supplier] += packs * self.market.coins(buy.offer.price or Decimal(0))
        bills = {}
        for supplier, sum_ in sorted(goods.items()):
            terms = self.market.suppliers[supplier]
            top_up = max(0, self.market.coins(terms.smallest_order) - sum_)
            bills[supplier] = (sum_, top_up, sum_ + top_up + self.market.coins(terms.postage))
        return bills

    def card_stacks(self, gap: int, purchase: Purchase) -> list[Candidate]:
        """The stacks that a gap's card may use."""
        return self.coverages[gap].makeable(purchase.pieces_for(gap))

    def left_open(self, gap: int, purchase: Purchase) -> list[Segment]:
        """The readings of a gap that its card leaves open."""
        return self.coverages[gap].left_open(self.card_stacks(gap, purchase))

    # -- where to look

    def _look_at(self, gap: int, segments: Sequence[Segment]) -> None:
        coverage = self.coverages[gap]
        wanted = {segment: [(kit, Counter(kit)) for kit in coverage.kits_at(segment)] for segment in segments}
        for branch in self.branches:
            seen = {stretch.segment for stretch in branch.looked_at[gap]}
            buys = self.market.buys
            sold = {buy.line for buy in buys if branch.senders is None or buy.supplier in branch.senders}
            for segment in segments:
                if segment in seen:
                    continue
                kits: list[Kit] = [
                    kit
                    for kit, counts in wanted[segment]
                    if all(line in sold or count <= self.stock[line] for line, count in counts.items())
                ]
                branch.looked_at[gap].append(Stretch(segment, [*kits, None] if self.giving_up else kits))
            branch.program = None

    def _overlooked(self, purchase: Purchase) -> dict[int, list[Segment]]:
        """Stretches that could be served, are not, and were not looked at: per gap, spread over what is open."""
        found = {}
        for gap, coverage in enumerate(self.coverages):
            seen = {stretch.segment for stretch in self.branches[0].looked_at[gap]}
            open_ = self.left_open(gap, purchase)
            hopeless = coverage.hopeless
            new = [
                segment for segment in coverage.segments
                if segment not in seen and _lies_in(segment, open_) and not _lies_in(segment, hopeless)
            ]  # fmt: skip
            if new:
                step = -(-len(new) // _STRETCHES_A_ROUND)
                # the ends of what is open tell most
                found[gap] = sorted({*new[:: step or 1], new[-1]})
        return found


def _lowest(found: _Found | None, best: _Found | None, nothing: int) -> int:
    """What a branch cannot be below after a proven search of what was not struck."""
    # what was struck is no better than the best
    return min((one.value for one in (found, best) if one is not None), default=nothing)


def _lies_in(segment: Segment, stretches: Sequence[Segment]) -> bool:
    return any(s.start <= segment.start and segment.end <= s.end for s in stretches)


def _telling(coverage: Coverage) -> list[Segment]:
    """Stretches to look at first: both ends and the middle of what can be served."""
    can = [segment for segment in coverage.segments if not _lies_in(segment, coverage.hopeless)]
    return sorted({can[0], can[len(can) // 2], can[-1]}) if can else []


def _priced(
    program: Program, rows: Sequence[Row], objective: dict[int, int], known: int | None, unit: int
) -> tuple[Bound | None, list[list[int]]]:
    """A bound that holds for all kits, from prices of a relaxation with few of them, and the kits that it used.

    Kits are added while they promise less than those that are there (column generation), and no longer than the bound
    is below what is known. None where the linear solver gives no prices.
    """
    near = [
        group[:_FIRST_KITS] + ([group[-1]] if program.columns[group[-1]] is None else []) for group in program.groups
    ]
    near = [sorted(set(group)) for group in near]
    bound: Bound | None = None
    for _ in range(_ROUNDS_OF_PRICES):
        prices = relaxed_prices(program, near, rows, objective)
        if prices is None:
            whole = relaxed_prices(program, program.groups, rows, objective)
            if whole is None:
                return None, near
            return exact_bound(program, program.groups, rows, objective, whole), program.groups
        here = exact_bound(program, program.groups, rows, objective, prices)
        bound = here if bound is None else max(bound, here, key=lambda b: b.fine)
        if known is not None and bound.rounded_up(unit) >= known:
            return bound, near
        grown = 0
        for at, group in enumerate(program.groups):
            there = set(near[at])
            least = min(here.above[c] for c in there)
            better = sorted((here.above[c], c) for c in group if c not in there and here.above[c] < least - 1024)
            near[at] += [c for _, c in better[:_MORE_KITS]]
            grown += len(better[:_MORE_KITS])
        if grown < _FEW_NEW:
            break
    return bound, near
