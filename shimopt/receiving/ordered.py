"""What was ordered: the lines of an order, or of the list that an order wrote."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import chain
from operator import or_
from pathlib import Path
from typing import Any, NamedTuple

from shimopt.errors import InputError, Problem, did_you_mean
from shimopt.job import Job
from shimopt.ordering.merged_jobs import merged
from shimopt.ordering.order_result import Order
from shimopt.parts import StockLine
from shimopt.tables.columns import read_columns
from shimopt.tables.csv_text import harmless
from shimopt.tables.files import MOST_TABLE_BYTES, decoded, file_bytes
from shimopt.tables.read import read_table

_LIST = "purchase list"
_ANOTHER = "name the list that `shimopt order JOB -o purchase.csv` or -o order.json wrote"


class Asked(NamedTuple):
    """So many pieces of a stock line from a supplier."""

    part: int
    supplier: str
    pieces: int


@dataclass(frozen=True, slots=True)
class AskedFor:
    """All that was ordered; `file` is the list that says so, empty where the order was worked out anew.

    `out_of_drawer` is how many pieces by name its cards take beside those, where the list holds its cards.
    """

    lines: tuple[Asked, ...]
    file: str = ""
    out_of_drawer: Mapping[str, int] = field(default_factory=dict)

    def gone_from(self, jobs: Sequence[Job]) -> dict[str, int]:
        """What its cards take out of the drawer, and neither this nor a place holds any more, by name."""
        there = Counter(job.stock[i].part.name for job in jobs for place in job.places for i in place.installed)
        for line in merged(jobs).jobs[0].stock:
            there[line.part.name] += line.on_hand
        return dict(Counter(self.out_of_drawer) - there)


def asked_of(order: Order) -> AskedFor:
    """What an order asks for, with what fills its smallest orders."""
    return AskedFor(tuple(Asked(line.part, line.supplier, line.pieces) for line in order.asked))


def asked_in(path: Path, stock: Sequence[StockLine]) -> AskedFor:
    """What a purchase list (.csv) or an order (.json) asks for, by the stock of the jobs. Raises InputError."""
    out_of_drawer = dict[str, int]()
    if path.suffix.casefold() == ".json":
        rows, problems, out_of_drawer = _rows_of_json(path)
    else:
        rows, problems = _rows_of_table(path)
    lines = []
    for where, supplier, name, pieces in rows:
        line = _line(name, supplier, stock)
        if line is not None:
            lines.append(Asked(line, supplier, pieces))
            continue
        remedy = did_you_mean(name, (one.part.name for one in stock), "is it the list of this job?")
        problems.append(Problem(str(path), where, name, "no catalogue or drawer of the job has this part", remedy))
    if problems:
        raise InputError(problems)
    return AskedFor(tuple(lines), str(path), out_of_drawer)


def _line(name: str, supplier: str, stock: Sequence[StockLine]) -> int | None:
    """The stock line of a name on a list; where several have it, the one that this supplier offers."""
    # a list for spreadsheets has an apostrophe before what they would run
    same = [i for i, one in enumerate(stock) if name in (one.part.name, harmless(one.part.name))]
    offered = [i for i in same if any(offer.supplier == supplier for offer in stock[i].offers)]
    return next(iter([*offered, *same]), None)


def _rows_of_table(path: Path) -> tuple[list[tuple[str, str, str, int]], list[Problem]]:
    """Where it stands, supplier, part and pieces of every row that is a part, and what is wrong. Raises InputError."""
    table = read_table(path, _LIST)
    columns = read_columns(table, (), ("supplier", "part", "pieces"), ["part", "pieces"])
    if columns is None:
        raise InputError(table.problems)
    rows = []
    for row in table.rows:
        # postage and top-up are no pieces
        if columns.text(row, "pieces"):
            pieces = columns.count(row, "pieces", least=1)
            rows.append((f"row {row.number}", columns.text(row, "supplier"), columns.text(row, "part"), pieces or 0))
    if not rows and not table.problems:
        table.complain(None, "pieces", "", f"the {_LIST} orders nothing", _ANOTHER)
    return rows, table.problems


def _rows_of_json(path: Path) -> tuple[list[tuple[str, str, str, int]], list[Problem], dict[str, int]]:
    text = decoded(file_bytes(path, MOST_TABLE_BYTES, "order"), path, "order")
    try:
        order = json.loads(text)
        named = (("lines", order["lines"]), ("top_up", order.get("top_up", [])))
        rows = [(f"{key}[{n}]", *_of_json(line)) for key, lines in named for n, line in enumerate(lines)]
        taken = _taken(order)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError.at(path, "this is not the JSON of an order", _ANOTHER) from None
    if not rows:
        raise InputError.at(path, "the order orders nothing", _ANOTHER, where="lines")
    bought = Counter[str]()
    for _, _, part, pieces in rows:
        bought[part] += pieces
    return rows, [], dict(taken - bought)


def _taken(order: Mapping[str, Any]) -> Counter[str]:
    """How many pieces by name all cards of an order take at most. Raises KeyError, TypeError, AttributeError."""
    taken = Counter[str]()
    for card in order.get("cards", []):
        taken += reduce(or_, (_pieces(row["stack"]) for row in card["bands"]), Counter[str]())
    for table in order.get("tables", []):
        rows = ([place["stack"] for place in row["stacks"] or ()] for row in table["rows"])
        taken += reduce(or_, (_pieces(chain.from_iterable(row)) for row in rows), Counter[str]())
    return taken


def _pieces(stack: Iterable[Mapping[str, Any]]) -> Counter[str]:
    found = Counter[str]()
    for one in stack:
        found[str(one["part"])] += int(one["pieces"])
    return found


def _of_json(line: Any) -> tuple[str, str, int]:
    """Supplier, part and pieces of a line. Raises ValueError, KeyError, TypeError."""
    supplier, part, pieces = line["supplier"], line["part"], line["pieces"]
    if not isinstance(supplier, str) or not isinstance(part, str) or type(pieces) is not int or pieces < 1:
        raise ValueError
    return supplier, part, pieces
