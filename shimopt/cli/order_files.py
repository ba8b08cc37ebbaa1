"""The files that `shimopt order` writes: the purchase list, an order per supplier, the bench card."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shimopt.ordering.result import Order

__all__ = ["refuse_call", "refuse_files", "write_card", "write_order"]

_OF_ORDERS = (".csv", ".xlsx", ".txt", ".json")
_OF_CARDS = (".pdf", ".html", ".csv", ".txt")


def refuse_call(where: str, value: str, rule: str, remedy: str) -> None:
    """Raise an InputError about an option."""
    from shimopt.errors import InputError, Problem

    raise InputError([Problem("", where, value, rule, remedy)])


def refuse_files(outputs: Sequence[str], cards: Sequence[str]) -> None:
    """Refuse names that do not say what to write, that lie nowhere, or that stand twice, before anything is done."""
    taken: set[str] = set()
    for option, names, known in (("-o", outputs, _OF_ORDERS), ("--card", cards, _OF_CARDS)):
        for name in names:
            if name == "-" and option == "-o":
                continue
            path = Path(name)
            if path.suffix.casefold() not in known:
                refuse_call(option, name, "the file's ending says what is written", f"end it in {', '.join(known)}")
            if path.is_dir() or not path.parent.is_dir():
                what = "this is a folder" if path.is_dir() else "there is no such folder to write into"
                refuse_call(option, name, what, "name a file in a folder that is there")
            if os.path.realpath(path) in taken:
                refuse_call(option, name, "this file is to be written twice", "give each a name of its own")
            taken.add(os.path.realpath(path))


def write_order(path: Path, order: Order) -> None:
    """The purchase list, the orders as text, or everything as JSON, by the ending. Raises InputError."""
    from shimopt.render.json_view import json_text
    from shimopt.render.order_json import order_object
    from shimopt.render.purchase_list import order_texts, purchase_csv, purchase_xlsx
    from shimopt.tables.replacing import replace_file

    match path.suffix.casefold():
        case ".xlsx":
            content = purchase_xlsx(order)
        case ".csv":
            content = purchase_csv(order).encode()
        case ".txt":
            content = order_texts(order).encode()
        case _:
            content = json_text(order_object(order)).encode()
    replace_file(path, content)


def write_card(path: Path, order: Order, unit: str, paper: str, moment: tuple[str, datetime]) -> None:
    """The bench card, by the ending. Raises InputError."""
    from shimopt.cli.paper_commands import write_content
    from shimopt.cli.writing import write_text
    from shimopt.render.bench_card import card_content
    from shimopt.render.order_screen import card_lines
    from shimopt.render.purchase_list import card_csv

    ending = path.suffix.casefold()
    if ending == ".csv":
        write_text(path, card_csv(order))
    elif ending == ".txt":
        write_text(path, "".join(f"{text}\n" for text, _ in card_lines(order, unit, 80)))
    else:
        written, at = moment
        write_content(path, card_content(order, unit, written), paper, at)
