"""Which database is meant, by SHIMOPT_STOCK or a stock.db beside the jobs, and opening it."""

from __future__ import annotations

import os
import re
from pathlib import Path

from shimopt.errors import InputError
from shimopt.parts.part_rows import Models
from shimopt.stock.job_id import job_key
from shimopt.stock.ledger import clock_and_last
from shimopt.stock.meant import clock_is_behind, holds_are_over
from shimopt.stock.people import Asking, this_bench, this_person
from shimopt.stock.promises import released
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.stock_drawer import NO_MODELS, StockDrawer
from shimopt.stock.store import Store

FILE = "stock.db"
VARIABLE = "SHIMOPT_STOCK"
# as deep as the bench lists jobs
_FOLDERS_UP = 3
# what somebody who means a server may have written: never a file, whose name is printed, and with it a password
_ADDRESS = re.compile(
    r"""[a-z][a-z0-9+.-]+:      # a kind, such as postgresql: (one letter is a drive)
    | postgres
    | \w+\s*=                  # host=... user=...
    | .*(password|passwd)\s*= | .*://
    | ([a-z]:[/\\].*|(?![a-z]:[/\\]).*):.*@    # user:password@
    | (?![a-z]:)[^/\\.~][^/\\]*@    # user@host; a folder on the way to a file may be called so""",
    re.IGNORECASE | re.VERBOSE | re.DOTALL,
)


def stock_beside(folder: Path) -> Path | str:
    """Where the stock of jobs in this folder is: as SHIMOPT_STOCK says, else the nearest stock.db, here or up to three
    folders up.
    """
    if said := os.environ.get(VARIABLE, "").strip():
        return said if _ADDRESS.match(said) else Path(said)
    here = folder / FILE
    above = (up / FILE for up in Path(os.path.realpath(folder)).parents[:_FOLDERS_UP])
    return next((file for file in (here, *above) if file.exists()), here)


def opened_stock(at: Path | str, *, create: bool = False) -> Store:
    """The stock, opened; holds whose last day is over are let go first. Raises StockError."""
    store = _store(at, create=create)
    with store.reading() as within:
        clock, last = clock_and_last(within)
        day = within.day(max(clock, last))
        over = within.rows(
            "SELECT part, title, until FROM promise JOIN lot ON lot.id = promise.lot "
            "WHERE state = 'held' AND until < ? ORDER BY promise.id",
            day,
        )
    if clock < last:
        clock_is_behind(last)
    if over:
        with store.writing() as within:
            released(within, day, this_person(), this_bench())
        holds_are_over([(part, title, until) for part, title, until in over])
    return store


def _store(at: Path | str, *, create: bool) -> Store:
    if isinstance(at, Path):
        return SqliteStore(at, create=create)
    if at.startswith(("postgresql://", "postgres://")):
        # most stocks lie in a file
        from shimopt.stock.postgres_store import PostgresStore

        return PostgresStore(at, create=create)
    # no more of it than its kind: the rest may hold a password
    rule, remedy = "this kind of database is not known", "name a file, or postgresql://USER@HOST/DATABASE"
    kind = re.match(r"[a-z]{2,12}(?=://)", at)
    raise InputError.at("", rule, remedy, where=VARIABLE, value=kind.group() if kind else "")


def drawer_for_job(drawer: str, folder: Path, file: Path | None, title: str, models: Models = NO_MODELS) -> StockDrawer:
    """A drawer of the stock beside a job, as that job sees it. Raises StockError.

    Parameters: file, the job's own; a job in no file holds nothing. models, what its catalogues know of parts.
    """
    asking = Asking() if file is None else Asking(job_key(file), title or file.parent.name, file)
    return StockDrawer(opened_stock(stock_beside(folder)), drawer, asking, models)
