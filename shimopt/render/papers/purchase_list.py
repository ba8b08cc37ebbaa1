"""What goes to others: the purchase list as CSV and XLSX, an order per supplier as plain text.

The text is sent as it stands: no line is longer than mail takes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.ordering.order_result import Order
from shimopt.render.screens.layout import folded, padded
from shimopt.tables.csv_text import csv_of, harmless
from shimopt.words.mail_words import Mail, mail_of, not_yet
from shimopt.words.money_words import charged_in
from shimopt.words.order_words import order_headline

Cell = str | int | float | None
_WIDEST = 60  # characters
_HEAD = ("supplier", "part", "packs", "pack", "pieces", "cost", "currency", "lead_days")


def _rows(order: Order) -> list[tuple[Cell, ...]]:
    rows: list[tuple[Cell, ...]] = []
    wait = not_yet(order)
    for bill in order.bills:
        name, rate, currency = bill.supplier.name, Fraction(bill.supplier.rate), charged_in(order, bill.supplier)
        if wait:
            rows.append((name, f"({' '.join(wait)})", None, None, None, None, None, None))
        for line in order.asked:
            if line.supplier == name:
                part, cost = order.stock[line.part].part.name, None if line.cost is None else float(line.cost / rate)
                rows.append(
                    (name, part, line.packs, line.offer.pack, line.pieces, cost, currency, line.offer.lead_days)
                )
        for what, amount in (
            ("(top-up to the smallest order)", bill.top_up - order.topped_up(name)),
            ("(postage)", bill.supplier.postage),
        ):
            if amount:
                rows.append((name, what, None, None, None, float(Fraction(amount) / rate), currency, None))
    return rows


def purchase_csv(order: Order, *, semicolons: bool = False, exact_names: bool = False) -> str:
    """The purchase list, supplier by supplier, as `csv_of` writes it."""
    return csv_of(_HEAD, _rows(order), semicolons=semicolons, exact_names=exact_names)


def purchase_xlsx(order: Order, *, exact_names: bool = False) -> bytes:
    """The purchase list as a workbook with one sheet per supplier; with `exact_names` texts are as they are."""
    from openpyxl import Workbook

    book = Workbook()
    first = book.active
    rows = _rows(order)
    names = list(dict.fromkeys(str(row[0]) for row in rows))
    for number, name in enumerate(names, start=1):
        # sheet names are at most 31 characters without []:*?/\ and differ in more than case
        kept = "".join(" " if ch in "[]:*?/\\'" or not ch.isprintable() else ch for ch in name)[:24].strip()
        sheet = book.create_sheet(f"{number} {kept}".strip())
        sheet.append(list(_HEAD))
        for row in rows:
            if row[0] == name:
                sheet.append([_printable(cell, exact_names=exact_names) for cell in row])
                for cell in sheet[sheet.max_row]:
                    # else what begins with = is a formula
                    cell.data_type = "s" if isinstance(cell.value, str) else cell.data_type
        for column in sheet.columns:
            longest = max(len(str(cell.value or "")) for cell in column)
            sheet.column_dimensions[column[0].column_letter].width = min(longest + 2, _WIDEST)
    if names and first is not None:
        book.remove(first)
    elif first is not None:
        first.append(list(_HEAD))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _printable(cell: Cell, *, exact_names: bool) -> Cell:
    if not isinstance(cell, str):
        return cell
    return shown(cell if exact_names else harmless(cell), 2000)


_WIDTH = 72  # characters: mail that is quoted in an answer keeps within 80
_KEY, _INDENT = 12, "      "


def order_texts(order: Order, day: str, need_by: date | None = None) -> str:
    """One plain-text order per supplier, as of a day."""
    texts = ["\n".join(_lines(mail_of(order, bill, day, need_by))) for bill in order.bills]
    between = f"\n\n{'=' * _WIDTH}\n\n"
    return between.join(texts) + "\n" if texts else _no_mail(order)


def _no_mail(order: Order) -> str:
    """Why no supplier is written to, in place of a mail."""
    return "".join(f"{line}\n" for line in folded(order_headline(order), _WIDTH))


def _lines(mail: Mail) -> Iterator[str]:
    yield from (line for text in mail.wait for line in folded(text, _WIDTH))
    yield from [""] if mail.wait else []
    for name, text in mail.head:
        yield from folded(text, _WIDTH, padded(f"{name}:", _KEY), " " * _KEY)
    yield from ("", "Please send:", "")
    for item in mail.items:
        yield from folded(item.part, _WIDTH, "  ", _INDENT)
        yield from _with_amount(item.count, item.sum)
    yield from [""] if mail.sums else []
    for name, amount in mail.sums:
        yield from _with_amount(name, amount)
    yield from ("", *(line for text in mail.closing for line in folded(text, _WIDTH)))
    if mail.sender:
        yield from ("", *folded(mail.sender, _WIDTH))


def _with_amount(text: str, amount: str) -> Iterator[str]:
    """A text with its amount at the right end of its last line."""
    room = _WIDTH - cell_len(amount) - 2
    *first, last = folded(text, room, _INDENT, _INDENT + "  ")
    yield from first
    yield f"{padded(last, _WIDTH - cell_len(amount))}{amount}".rstrip()
