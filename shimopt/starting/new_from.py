"""What `shimopt new --from` takes of another job: its unit, window, seats, drawer and catalogues."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.errors import InputError, shown
from shimopt.machine import beside, seen_from
from shimopt.starting.typed_text import quoted

if TYPE_CHECKING:
    from shimopt.parts.drawer_and_catalogues import Stock

_TABLES = ("window", "stacks", "seat")


@dataclass(frozen=True, slots=True)
class Base:
    """The tables to begin the new job file with, and the parts of the other job.

    Its drawer's own file is named, not copied: counts in two copies of one drawer would soon disagree; one of a stock,
    such as `stock:main`, is named as it is. `catalogues` are files, or the names of those that come with shimopt.
    """

    name: str
    unit: str
    tables: str
    has_window: bool
    seats: Sequence[str]
    drawer: Path | str | None
    catalogues: Sequence[Path | str]
    stock: Stock

    def head(self, folder: Path) -> list[str]:
        """The keys that name files, as they are seen from the folder of the new job."""
        named = self.drawer if isinstance(self.drawer, str) else self.drawer and seen_from(folder, self.drawer)
        lines = [f"drawer = {quoted(named)}"] if named else []
        known = [one if isinstance(one, str) else seen_from(folder, one) for one in self.catalogues]
        return [*lines, f"catalogues = [{', '.join(map(quoted, known))}]"] if known else lines


def base_of(path: Path, folder: Path) -> Base:
    """What a new job in a folder begins with.

    Raises InputError where the other job is wrong, or its drawer is one of a stock that is not found from the folder.
    """
    import tomlkit

    from shimopt.job import load_job, load_stock
    from shimopt.job.from_files import job_path
    from shimopt.parts.drawer_and_catalogues import Stock

    job, file = load_job(path), job_path(path)
    shared = job.drawer_of if job.drawer_of is not None and job.drawer_of.shared else None
    if shared:
        _refuse_another_stock(file.parent, folder, shared.name)
    other = tomlkit.parse(file.read_text(encoding="utf-8-sig"))
    kept = tomlkit.document()
    for key in _TABLES:
        if key in other:
            kept[key] = other[key]
    seats: Any = other.get("seat", [])
    named = [(beside(file.parent, str(name)), str(name)) for name in other.get("catalogues", [])]
    catalogues = [there if there.exists() else name for there, name in named]
    return Base(
        shown(job.title),
        job.unit,
        tomlkit.dumps(kept).strip("\n"),
        "window" in other,
        [str(seat["name"]) for seat in seats],
        shared.name if shared else job.drawer,
        catalogues,
        Stock(job.stock) if shared else load_stock(job.drawer, catalogues),
    )


def _refuse_another_stock(there: Path, folder: Path, drawer: str) -> None:
    """Raise InputError where the stock that a job finds beside it is not the one that a new folder would find."""
    from shimopt.stock.address import stock_beside

    theirs, here = stock_beside(there), stock_beside(folder)
    if isinstance(theirs, Path) and isinstance(here, Path) and os.path.realpath(theirs) != os.path.realpath(here):
        rule = f"the other job's drawer is {drawer} of {theirs}, and a job here would not find that stock"
        remedy = f"make the new job beside the other one, or name the stock: SHIMOPT_STOCK={theirs}"
        raise InputError.at("", rule, remedy, where="--from", value=str(folder))
