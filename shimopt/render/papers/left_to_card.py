"""Which places of a sheet its bench card decides, and why one is left open there: never two answers on one paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

from shimopt.ordering.order_result import Order
from shimopt.planner import Decision
from shimopt.words.sheet_words import CARD_STOPS, FITTED_BY_CARD, NO_ROW


def served_by_card(order: Order) -> set[str]:
    """The gaps that the card serves wherever their final reading falls."""
    holes = {hole.gap for hole in order.holes}
    alone = {demand.gap.name for number, demand in enumerate(order.demands) if number not in holes}
    return alone | {demand.gap.name for table in order.tables if not table.open for demand in table.demands}


def on_card(order: Order, decision: Decision) -> set[str]:
    """The places of which the card says what goes in: all that have rows, where any row is not what is planned.

    Where a place has none the plan's pieces stand, and where all rows are the plan's, one answer is enough.
    """
    rows = [
        (demand.place.name, one) for demand, card in zip(order.demands, order.cards, strict=True) for one in card.stacks
    ]
    tables = [table for table in order.tables if not table.rowless]
    rows += [(name, box.stacks[name]) for table in tables for box in table.boxes for name in table.places]
    # card and plan share out the same pieces otherwise: never some places by one and some by the other
    differs = any(sorted(stack) != sorted(decision.stacks[name]) for name, stack in rows)
    return {name for name, _ in rows} if differs else set()


def stopped_by_card(order: Order, decision: Decision) -> set[str]:
    """The places which the plan changes, or leaves not surely inside, though no row of their card fits anything: it
    says stop."""
    changed = {change.place for change in decision.changes if change.changed}
    outcome = decision.outcome.gaps
    unsure = {d.place.name for d in order.demands if outcome[d.gap.name].verdict != "inside"}
    rowless = {demand.place.name for demand, card in zip(order.demands, order.cards, strict=True) if not card.stacks}
    return (changed | unsure) & rowless


def why_left_open(place: str, by_card: Collection[str], stopped: Collection[str]) -> str:
    """Why a place has no pieces on the sheet."""
    if place in by_card:
        return FITTED_BY_CARD
    return CARD_STOPS if place in stopped else NO_ROW


def wanted_by_card(order: Order, decision: Decision, by_card: Collection[str]) -> set[str]:
    """The places without a row into which the plan puts what the card may need elsewhere: no piece is used twice."""
    if not by_card:
        return set()
    changes = [change for change in decision.changes if change.place not in by_card]
    wanted = order.set_aside
    for change in changes:
        wanted.update(decision.stacks.get(change.place, ()))
    bought = Counter[int]()
    for line in order.asked:
        bought[line.part] += line.pieces
    scarce = {line for line, count in wanted.items() if count > order.jobs[0].there[line] + bought[line]}
    return {
        change.place
        for change in changes
        if any(piece.other in by_card or piece.line in scarce for piece in change.into)
    }
