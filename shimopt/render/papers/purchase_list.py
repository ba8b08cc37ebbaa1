"""What goes to others: the purchase list as CSV and XLSX, an order per supplier as plain text.

The text is sent as it stands: no line is longer than mail takes.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.ordering.order_result import Line, Order
from shimopt.render.screens.layout import folded, padded
from shimopt.tables.csv_text import csv_of, harmless
from shimopt.words.mail_words import Mail, asks_words, mail_of, not_yet, said_of
from shimopt.words.money_words import charged_in
from shimopt.words.order_words import order_headline

Cell = str | int | float | None
_WIDEST = 60  # characters
_HEAD = (
    *("supplier", "part", "packs", "pack", "pieces", "cost", "currency", "lead_days"),
    # so many of the packs only fill the smallest order; a pack; what it is by its label; the job's order number
    *("filling_packs", "unit_price", "thickness_mm", "inner_mm", "outer_mm", "order_number"),
)


def _rows(order: Order) -> list[tuple[Cell, ...]]:
    """By supplier a row per part, then postage, what is short of the smallest order, and the total without that."""
    found = list[dict[str, Cell]]()
    wait, number = not_yet(order), said_of(order.jobs, "order_number") or None
    filling = Counter({(more.line.supplier, more.line.part): more.line.packs for more in order.top_up})
    for bill in order.bills:
        terms, rate = bill.supplier, Fraction(bill.supplier.rate)
        first: dict[str, Cell] = {"supplier": terms.name, "order_number": number}
        rows = list[dict[str, Cell]]()
        if wait:
            rows.append({"part": f"({' '.join(wait)})"})
        rows += [
            _of_line(order, line) | {"filling_packs": filling[line.supplier, line.part] or None}
            for line in order.asked
            if line.supplier == terms.name
        ]
        sums = {"(postage)": Fraction(terms.postage)}
        if bill.total is not None:
            sums["(total)"] = bill.total - bill.lost + bill.beyond
        currency = charged_in(order, terms)
        rows += [
            {"part": what, "cost": float(sum_ / rate), "currency": currency} for what, sum_ in sums.items() if sum_
        ]
        if asks := asks_words(order, bill):
            rows.append({"part": f"({asks})"})
        found += [first | row for row in rows]
    return [tuple(row.get(name) for name in _HEAD) for row in found]


def _of_line(order: Order, line: Line) -> dict[str, Cell]:
    """What is bought of a part, in the supplier's money, with its sizes by its label."""
    part, rate = order.stock[line.part].part, Fraction(line.offer.rate)
    cost, price = (None if money is None else float(Fraction(money) / rate) for money in (line.cost, line.offer.price))
    marked = part.thickness.best if part.marked is None else part.marked
    sizes = {"inner_mm": part.inner, "outer_mm": part.outer}
    return {
        **{"part": part.name, "packs": line.packs, "pack": line.offer.pack, "pieces": line.pieces, "cost": cost},
        **{"currency": line.offer.charged_in or order.market.currency, "lead_days": line.offer.lead_days},
        **{"unit_price": price, "thickness_mm": float(Fraction(marked) / 10**6)},
        **{name: None if size is None else float(size.best / 10**6) for name, size in sizes.items()},
    }


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
