"""The search in a large market: an order from few sizes, then all stacks that an order as good can hold.

The best order among these is the best of all. Where they are too many, a bound of all orders still holds
(`large_market_bound.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from shimopt.ordering.cheaper_gap_by_gap import cheaper
from shimopt.ordering.cheapest_order import Hunt, Step
from shimopt.ordering.market import least_charge
from shimopt.ordering.order_request import Case
from shimopt.ordering.purchase import LEVELS, Books, Purchase
from shimopt.ordering.stretches import first_purchase
from shimopt.ordering.supplier_branch import Branch, alone_from, best_from
from shimopt.proof.exact_bounds import NO_END
from shimopt.watch import ORDER_STEPS, Watch

# of few stacks a step takes so little that there are more of them
_STACKS_A_STEP, _MOST_TIMES = 4_000, 20
# of more gaps than this it takes long to look at all that one supplier sells
_FEW_GAPS = 6

Found = tuple[Case, Hunt, Sequence[Step]]


def narrowed_hunt(case: Case, watch: Watch, told: Callable[[Case, Purchase, Sequence[Step]], None]) -> Found | None:
    """The best purchase found, with its case and levels; None where few sizes do not serve all gaps everywhere."""

    def first(case: Case, order: Purchase) -> None:
        """Tell what there is, before anything takes long."""
        known = [Step(level, case.books.value_of(level, order), None, False, 0.0) for level in LEVELS]
        told(case, order, [step._replace(bound=None) for step in _open_above(known, 0)])

    begun = _begun(case, watch, first)
    if begun is None:
        return None
    few, start = begun
    first(few, start)
    bound, closed = few.closed(start, watch) if few.books.value_of("cost", start) else (0, None)
    least_told: list[int] = []

    def looked_at(case: Case, start: Purchase) -> Found:
        """Hunt in a case; what is dearer than what was told is not told again."""
        stacks = sum(len(coverage.candidates) for coverage in case.books.coverages)
        times = min(_MOST_TIMES, max(1, _STACKS_A_STEP // max(1, stacks)))
        longer = Watch(watch.left(), times * (watch.steps or ORDER_STEPS))
        hunt = Hunt(case.books, case.coins, longer, start, least=bound)
        for steps in hunt.levels():
            cost = case.books.value_of("cost", hunt.best)
            if not least_told or cost <= least_told[-1]:
                least_told.append(cost)
                told(case, hunt.best, _open_above(steps, bound))
        return case, hunt, steps

    if closed is not None:
        # what is left out stands in no order as good
        return _of_its_supplier(*looked_at(closed, _started(closed.books, start)), watch)
    if few.sizes is None and len(case.demands) > _FEW_GAPS:
        # of many gaps one supplier was looked at as far as it pays
        hunt = Hunt(few.books, few.coins, watch, start)
        found: Found = few, hunt, hunt.not_searched()
    else:
        found = looked_at(few, start)
    return _of_its_supplier(found[0], found[1], _open_above(found[2], bound), watch)


def _of_its_supplier(case: Case, hunt: Hunt, steps: Sequence[Step], watch: Watch) -> Found:
    """The same, or of all that one supplier sells an order that is better below the cost, or cheaper.

    Below a cost that is not proven nothing else is looked for: what `suppliers` finds must not be better.
    """
    if len(case.demands) > _FEW_GAPS or all(step.proven for step in steps):
        return case, hunt, steps
    used = {case.market.buys[n].supplier for n, packs in enumerate(hunt.best.packs) if packs}
    for supplier in sorted(used if len(used) == 1 else {buy.supplier for buy in case.market.buys}):
        alone = None if watch.over() else case.of_supplier(supplier)
        cost = next(step.value for step in steps if step.level == "cost")
        if alone is None or least_charge(case.market, [supplier]) > cost:
            continue
        best = _best_of_all_from(alone, supplier, watch)
        values = [alone.books.value_of(step.level, best) for step in steps]
        if values >= [step.value for step in steps]:
            continue
        if case.books.value_of("open", best):
            # what was looked at does not hold it
            case, hunt = alone, Hunt(alone.books, None, watch, best)
        # ties are settled among what is as good
        hunt.best, hunt.held = best, dict(zip((step.level for step in steps), values, strict=True))
        steps = [step._replace(value=value) for step, value in zip(steps, values, strict=True)]
    return case, hunt, steps


def _best_of_all_from(alone: Case, supplier: int, watch: Watch) -> Purchase:
    """The best order found of all that a supplier sells."""
    here = [n for n, buy in enumerate(alone.market.buys) if buy.supplier == supplier]
    of_one = Hunt(Books(alone.books.coverages, alone.books.stock, alone.market.of([supplier])), None, watch)
    *_, _ = of_one.levels()
    of_one.settle_ties()
    packs = dict(zip(here, of_one.best.packs, strict=True))
    return Purchase(tuple(packs.get(n, 0) for n in range(len(alone.market.buys))), of_one.best.aside)


def from_one_supplier(case: Case, watch: Watch) -> Found | None:
    """The best order found from any supplier alone; None where none serves all.

    What `narrowed_hunt` looks at of them, no more: its order, from whoever it may be, is never dearer.
    """
    best: tuple[int, Purchase, Case, int] | None = None
    bounds = list[int]()
    for branch, alone in sorted(_alone(case, watch), key=lambda pair: pair[0].asks_at_least("cost")):
        supplier = min(branch.senders or {0})
        if best is None or branch.asks_at_least("cost") < best[0]:
            few = len(case.demands) <= _FEW_GAPS
            found = _best_of_all_from(alone, supplier, watch) if few else best_from(branch, NO_END, watch)
            if found is not None and (best is None or alone.books.value_of("cost", found) < best[0]):
                best = alone.books.value_of("cost", found), found, alone, supplier
        bounds.append(branch.asks_at_least("cost"))
    if best is None:
        return None
    cost, found, alone, supplier = best
    some = alone.market.of([supplier])
    packs = [n for n, buy in zip(found.packs, alone.market.buys, strict=True) if buy.supplier == supplier]
    alone = replace(alone, books=Books(alone.books.coverages, alone.books.stock, some))
    hunt = Hunt(alone.books, None, watch, Purchase(tuple(packs), found.aside))
    return alone, hunt, _open_above(hunt.not_searched(), min(cost, *bounds))


def _begun(case: Case, watch: Watch, first: Callable[[Case, Purchase], None]) -> tuple[Case, Purchase] | None:
    """The cheapest order found from few sizes or from one supplier, and what was looked at; None where none was.

    Parameter: first, told of an order as soon as there is one.
    """
    found: list[tuple[Case, Purchase]] = []
    few: Case | None = case
    while few is not None:
        if all(coverage.whole for coverage in few.books.coverages):
            start = _started(few.books)
            # each gap has a stack for every reading; all at once they may want the same pieces
            if few.books.value_of("open", start) == 0:
                found.append((few, start))
                break
        few = few.wider()
    best = found[0][1] if found else None
    cost = case.books.value_of("cost", best) if best is not None else NO_END
    alone, told = list[tuple[Branch, Case]](), best is not None
    for branch, of_one in () if cost == 0 else _alone(case, watch):
        alone.append((branch, of_one))
        near = None if told or branch.exchange is None else branch.exchange.of(branch.senders or ())
        if near is not None:
            first(of_one, near)
            told = True
    # the one that may be cheapest first: it soon rules the others out
    for branch, of_one in sorted(alone, key=lambda pair: pair[0].asks_at_least("cost")):
        # looked at as where only one may send, so that this never finds anything cheaper
        looked_at = not watch.over() and branch.asks_at_least("cost") < cost
        order = best_from(branch, NO_END, watch) if looked_at else None
        if order is not None and of_one.books.value_of("cost", order) < cost:
            found.append((of_one, order))
            cost = of_one.books.value_of("cost", order)
    return found[-1] if found else None


def _alone(case: Case, watch: Watch) -> Iterator[tuple[Branch, Case]]:
    """Every supplier who alone can serve all gaps, and what there is then."""
    for supplier in sorted({buy.supplier for buy in case.market.buys}):
        alone = None if watch.over() else case.of_supplier(supplier)
        if alone is not None and all(coverage.whole for coverage in alone.books.coverages):
            yield alone_from(alone.books, frozenset([supplier])), alone


def _started(books: Books, known: Purchase | None = None) -> Purchase:
    """An order to start from, no worse than the one known."""
    return cheaper(books, first_purchase(books, buying=True) if known is None else known)


def _open_above(steps: Sequence[Step], bound: int) -> list[Step]:
    """The levels where not all stacks were looked at: every gap is served, and no order costs less than the bound."""
    done, proven = list[Step](), True
    for step in steps:
        least = bound if step.level == "cost" else 0
        # what is nothing at all cannot be less
        proven = proven and least >= step.value
        done.append(step._replace(bound=min(least, step.value), proven=True) if proven else _unproven(step, bound))
    return done


def _unproven(step: Step, bound: int) -> Step:
    return step._replace(bound=min(bound, step.value) if step.level == "cost" else None, proven=False)
