"""A database that holds a stock, whichever it is: transactions, and what goes wrong in them.

SQL is written once, with `?` for values, and where two dialects differ a store says how.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from typing import Any, Protocol, TypeAlias

from shimopt.errors import InputError

# a query, and its values
Question: TypeAlias = tuple[Any, ...]


class StockError(InputError):
    """The stock cannot be opened, read or written: what stands in the way, and what helps."""

    def __init__(self, name: str, rule: str, remedy: str, value: str = "") -> None:
        super().__init__(InputError.at(name, rule, remedy, value=value).problems)


class NoStockError(StockError):
    """There is no stock yet where one is looked for."""

    def __init__(self, name: str) -> None:
        start = "start it from the drawer's table: shimopt stock take-in drawer.csv --yes"
        super().__init__(name, "there is no stock here yet", start)


class BrokenRuleError(StockError):
    """The database refused a statement; `rule` is the name of the constraint or trigger, or what it said."""

    def __init__(self, rule: str) -> None:
        self.rule = rule
        told = "a rule of the stock does not allow it, and nothing was booked"
        super().__init__("", told, "look at it again: shimopt stock show, shimopt stock check", rule)


class Transaction(Protocol):
    """All or nothing of it happens."""

    @property
    def dialect(self) -> str:
        """The folder of the database's migrations."""

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        """What a query gives."""

    def answers(self, *questions: Question) -> list[list[tuple[Any, ...]]]:
        """What several queries give, which are asked at once."""

    def run(self, sql: str, *values: Any) -> None:
        """Do a statement. Raises BrokenRuleError, here or at the next query or the end."""

    def run_each(self, sql: str, rows: Iterable[Sequence[Any]]) -> None:
        """Do a statement once for each row of values, one after the other. Raises BrokenRuleError, as `run` does."""

    def insert(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        """Insert rows at once: what comes of a row is done when all are in. Raises BrokenRuleError, as `run` does."""

    def script(self, sql: str) -> None:
        """Do several statements that have no values."""

    @property
    def clock(self) -> str:
        """This moment by the database's clock, as the ledger has it (UTC, to the second): an expression of SQL."""

    def day(self, moment: str) -> str:
        """The day of a moment, where the database is."""

    def guards(self) -> dict[str, str]:
        """What watches over the rows, such as `TRIGGER lot_not_deleted`, and its text where that is kept as written."""


class Store(Protocol):
    """A stock's database. `name` is what messages call it: it holds no password."""

    @property
    def name(self) -> str:
        """What messages call it."""

    @property
    def dialect(self) -> str:
        """The folder of its migrations."""

    def reading(self) -> AbstractContextManager[Transaction]:
        """Everything read in it is of one moment. Raises StockError."""

    def writing(self) -> AbstractContextManager[Transaction]:
        """Everything written in it, or nothing, and by nobody else meanwhile: what is read in it stays so.

        Raises StockError; BrokenRuleError passes through.
        """

    def close(self) -> None:
        """Let go of the database."""
