"""The order on a terminal: the answer first, then what to buy, the cards, what is not sure, what it is worth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from shimopt.errors import shown
from shimopt.lengths import spelled
from shimopt.ordering.order import Order
from shimopt.render.layout import Line, columns, folded
from shimopt.render.words.names import chance_text, part_text, stack_text
from shimopt.render.words.order_words import (
    OPTION_NAMES,
    assumed_words,
    cost_text,
    days_text,
    end_words,
    gap_text,
    hole_words,
    level_text,
    line_text,
    money,
    next_words,
    order_headline,
    order_reasons,
    read_text,
)

__all__ = ["card_lines", "order_lines"]


def order_lines(order: Order, unit: str, width: int) -> list[Line]:
    """All lines of the screen, each with whether it is bold."""
    titles = " + ".join(shown(job.title) for job in order.jobs)
    answer = [(line, True) for line in folded(order_headline(order), width)]
    answer += [(line, False) for line in folded(f"{titles}. All lengths in {unit}.", width)]
    sections = (
        answer,
        _buy(order, width),
        card_lines(order, unit, width),
        _section("Not covered", [hole_words(order, hole, unit) for hole in order.holes], width),
        _section("Why", [words for _, _, words in order_reasons(order)], width),
        _worth(order, width),
        _section("What each job takes", _jobs(order), width),
        _section("Left in the drawer afterwards", _left(order), width),
        _section("Assumed", assumed_words(order), width),
        _proof(order, unit, width),
        _section("Next", next_words(order), width),
    )
    return [line for section in sections for line in ([*section, ("", False)] if section else [])][:-1]


def card_lines(order: Order, unit: str, width: int) -> list[Line]:
    """The bench card: per gap from which to which final reading to fit what."""
    lines: list[Line] = [("Bench card: read the final gap, fit what its row says", True)]
    for number, card in enumerate(order.cards):
        lines += [(line, True) for line in folded(gap_text(order, number), width, "  ", "    ")]
        if not card.bands:
            lines.append(("    no stack serves it", False))
            continue
        if card.rows:
            rows = [(_blades(row.go, row.no_go, unit), _fit(order, row.stack)) for row in card.rows]
        else:
            rows = [(read_text(order, number, band.start, band.end, unit, with_unit=False), _fit(order, band.stack))
                    for band in card.bands]  # fmt: skip
        widest = max(len(read) for read, _ in rows)
        for read, fit in rows:
            lines += [(line, False) for line in folded(fit, width, f"    {read:<{widest}}  ", " " * (widest + 6))]
        beyond = "" if card.rows else f"{end_words(order, number, unit)}: as the end row; "
        beyond += "further out: something moved, stop and measure again"
        lines += [(line, False) for line in folded(beyond, width, "    ", "      ")]
    return lines


def _blades(go: Fraction, no_go: Fraction, unit: str) -> str:
    return f"{spelled(go, unit, with_unit=False)} goes, {spelled(no_go, unit, with_unit=False)} does not"


def _fit(order: Order, stack: tuple[int, ...] | None) -> str:
    return "not covered: stop" if stack is None else f"fit {stack_text(order.jobs[0], stack)}"


def _buy(order: Order, width: int) -> list[Line]:
    texts: list[tuple[str, str]] = []
    for bill in order.bills:
        name = bill.supplier.name
        extra = f"goods {money(order, bill.goods)}"
        extra += f", top-up {money(order, bill.top_up)}" if bill.top_up else ""
        extra += f", postage {money(order, bill.total - bill.goods - bill.top_up)}"
        texts.append((f"{shown(name) or '(no supplier named)'}: {money(order, bill.total)} ({extra})", "  "))
        texts += [(line_text(order, line), "    ") for line in order.lines if line.supplier == name]
    lines: list[Line] = [("Buy", True)] if texts else []
    for text, indent in texts:
        lines += [(line, False) for line in folded(text, width, indent, indent + "  ")]
    return lines


def _worth(order: Order, width: int) -> list[Line]:
    rows = [("", "cost", "arrives in", "one order is enough")]
    for option in order.options:
        chance = f"{'' if option.chance in (0, 1) else 'at least '}{chance_text(option.chance)}"
        cost = cost_text(order, option.cost)
        rows.append((OPTION_NAMES[option.name], cost, days_text(option.arrives_in_days), chance))
    laid = columns(rows, width - 2)
    return [("What is it worth?", True), *((f"  {line}", False) for block in laid for line in block)]


def _jobs(order: Order) -> list[str]:
    if len(order.jobs) == 1:
        return []
    texts = []
    for number, job in enumerate(order.jobs):
        aside: Counter[int] = Counter()
        for demand, card in zip(order.demands, order.cards, strict=True):
            if demand.job == number:
                aside += card.most_of
        parts = ", ".join(f"{n} x {part_text(order.jobs[0], i)}" for i, n in sorted(aside.items())) or "nothing"
        texts.append(f"{shown(job.title)}: {parts}.")
    return texts


def _left(order: Order) -> list[str]:
    texts = []
    for left in order.left:
        count = f"{left.least}" if left.least == left.most else f"{left.least} to {left.most}"
        texts.append(f"{count} x {part_text(order.jobs[0], left.part)}")
    return [", ".join(texts) + "."] if texts else []


def _proof(order: Order, unit: str, width: int) -> list[Line]:
    start = "Proven best at every level" if order.proven else "Not proven best at every level"
    when = f"{'in' if order.proven else 'after'} {order.seconds:.2f} s"
    levels = [level_text(order, level, unit) for level in order.levels if level.name != "unpriced" or level.value]
    return _section(
        "Proof", [f"{start}, {when}; every card checked again by plain arithmetic.", ", ".join(levels) + "."], width
    )


def _section(title: str, texts: Iterable[str], width: int) -> list[Line]:
    lines = [line for text in texts for line in folded(text, width, "  ", "    ")]
    return [(title, True), *((line, False) for line in lines)] if lines else []
