"""An order per supplier as plain text, to send as it stands: no line is longer than mail takes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from rich.cells import cell_len

from shimopt.ordering.result import Order
from shimopt.render.screens.layout import folded, padded
from shimopt.words.mail_words import Mail, mail_of

__all__ = ["order_texts"]

_WIDTH = 72  # characters: mail that is quoted in an answer keeps within 80
_HEAD, _INDENT = 12, "      "


def order_texts(order: Order, day: str, need_by: date | None = None) -> str:
    """One plain-text order per supplier, as of a day."""
    texts = ["\n".join(_lines(mail_of(order, bill, day, need_by))) for bill in order.bills]
    between = f"\n\n{'=' * _WIDTH}\n\n"
    return between.join(texts) + "\n" if texts else "Nothing to order.\n"


def _lines(mail: Mail) -> Iterator[str]:
    for name, text in mail.head:
        yield from folded(text, _WIDTH, padded(f"{name}:", _HEAD), " " * _HEAD)
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
