"""The order on a terminal: the answer first, then what to buy, the cards, what is not sure, what it is worth; a parcel.

A parcel: is it all there and enough, then line by line, what is off, what is lost, what to do.
"""

from __future__ import annotations

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.ordering.order_result import Order
from shimopt.receiving import Parcel
from shimopt.render.screens.laid_table import Cell, Row, table
from shimopt.render.screens.layout import Line, bold, padded, plain, section, spaced
from shimopt.words.bill_words import bill_text, line_text, topped_text
from shimopt.words.card_first_words import OverRows, over_rows
from shimopt.words.card_words import card_notes, card_rows, gap_text
from shimopt.words.order_sections import order_sections
from shimopt.words.order_told_words import WORTH_HEAD, worth_rows
from shimopt.words.order_words import order_headline
from shimopt.words.parcel_words import (
    again_words,
    against_words,
    asked_words,
    held_words,
    lost_together_words,
    lost_words,
    next_steps,
    owed_words,
    parcel_headline,
)
from shimopt.words.sheet_words import READ_AND_FIT, READ_THEN_PLAN
from shimopt.words.speaker import Speaker, ended, unit_name
from shimopt.words.table_words import table_name, table_notes, table_rows, with_rows
from shimopt.words.worth_words import worth_notes


def order_lines(order: Order, unit: str, width: int) -> list[Line]:
    """All lines of the screen, each with whether it is bold."""
    say = Speaker(unit, order.stock)
    titles = ended(" + ".join(shown(job.title) for job in order.jobs))
    over = over_rows(order, say)
    answer = bold(order_headline(order, over), width)
    answer += plain(f"{titles} All lengths in {unit_name(unit)}.", width)
    sections = [answer, _buy(order, width), card_lines(order, over, unit, width)]
    for heading, lines in order_sections(order, over, say).items():
        if heading == "What each job takes":
            sections.append(_worth(order, width))
        sections.append(section(heading, lines, width))
    return spaced(sections)


def card_lines(order: Order, over: OverRows, unit: str, width: int) -> list[Line]:
    """The bench card: per gap what comes `over` its rows, and from which to which final reading to fit what."""
    say = Speaker(unit, order.stock)
    if not order.answered:
        return []
    doing = READ_AND_FIT if with_rows(order) else READ_THEN_PLAN
    lines: list[Line] = bold(f"Bench card: {doing[0].lower()}{doing[1:]}", width)
    for number in range(len(order.cards)):
        lines += bold(gap_text(order, number), width, "  ", "    ")
        lines += [line for words in over.cards[number] for line in bold(words, width, "    ", "      ")]
        rows = card_rows(order, number, say)
        widest = max((cell_len(row.read) for row in rows), default=0)
        for row in rows:
            lines += plain(row.told, width, f"    {padded(row.read, widest)}  ", " " * (widest + 6))
        for note in card_notes(order, number, say):
            lines += plain(note, width, "    ", "      ")
    for acting, first in zip(order.tables, over.tables, strict=True):
        lines += bold(table_name(order, acting), width, "  ", "    ")
        lines += [line for words in first for line in bold(words, width, "    ", "      ")]
        for row in table_rows(order, acting, say):
            lines += plain(row.read, width, "    ", "      ")
            for fit in row.fits:
                lines += plain(fit, width, "      ", "        ")
            lines += plain(f"then {row.then}", width, "      ", "        ") if row.then else []
        for note in table_notes(order, acting, say):
            lines += plain(note, width, "    ", "      ")
    return lines


def _buy(order: Order, width: int) -> list[Line]:
    texts: list[tuple[str, str]] = []
    for bill in order.bills:
        name = bill.supplier.name
        texts.append((f"{shown(name) or '(no supplier named)'}: {bill_text(order, bill)}", "  "))
        texts += [(line_text(order, line), "    ") for line in order.lines if line.supplier == name]
        more = [one for one in order.top_up if one.line.supplier == name]
        texts += [("to fill the smallest order (--no-top-up leaves it out):", "    ")] if more else []
        texts += [(topped_text(order, one), "      ") for one in more]
    lines: list[Line] = [("Buy", True)] if texts else []
    for text, indent in texts:
        lines += plain(text, width, indent, indent + "  ")
    return lines


def _worth(order: Order, width: int) -> list[Line]:
    rows = worth_rows(order)
    if not rows:
        return []
    head, *others = (Row(tuple(map(Cell, row))) for row in (WORTH_HEAD, *rows))
    laid = table(head, others, width - 2)
    return [
        ("What is it worth?", True),
        *((f"  {line}", False) for line, _ in laid if line.strip()),
        *(line for text in worth_notes(order) for line in plain(text, width, "  ", "    ")),
    ]


def parcel_lines(parcel: Parcel, unit: str, width: int, *, written: bool, with_card: bool) -> list[Line]:
    """All lines of the screen; `written` where the pieces are in the drawer, `with_card` where the card is made."""
    say = Speaker(unit, parcel.stock)
    titles = ended(" + ".join(shown(job.title) for job in parcel.jobs))
    answer = bold(parcel_headline(parcel), width)
    answer += plain(f"{titles} {against_words(parcel)} All lengths in {unit_name(unit)}.", width)
    lost = [f"{lost_words(parcel, one, say)}." for one in parcel.lost]
    lost += lost_together_words(parcel, say)
    odd = [held_words(parcel, one, say) for one in parcel.held if one.kind != "as ordered"]
    return spaced(
        (
            answer,
            section("Ordered", [asked_words(parcel, n) for n in range(len(parcel.asked.lines))], width),
            section("Not as ordered", odd, width),
            section("Owed by the supplier", owed_words(parcel), width),
            section("No longer served", lost, width),
            section("To make it enough", again_words(parcel), width),
            section("Next", next_steps(parcel, written=written, with_card=with_card), width),
        )
    )
