"""What `shimopt new --from` takes of another job: its unit, window, seats, drawer and catalogues."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.machine import seen_from

if TYPE_CHECKING:
    from shimopt.parts.stock import Stock

__all__ = ["Base", "base_of"]

_TABLES = ("window", "stacks", "seat")


@dataclass(frozen=True, slots=True)
class Base:
    """The keys and the tables to begin the new job file with, and what they hold.

    `drawer` is the other job's own file: counts in two copies of one drawer would soon disagree.
    """

    unit: str
    head: Sequence[str]
    tables: str
    has_window: bool
    seats: Sequence[str]
    drawer: Path | None
    stock: Stock


def base_of(path: Path, folder: Path) -> Base:
    """What a new job in `folder` begins with. Raises InputError where the other job is wrong."""
    import tomlkit

    from shimopt.job import load_job
    from shimopt.job.from_files import job_path

    job, file = load_job(path), job_path(path)
    other = tomlkit.parse(file.read_text(encoding="utf-8-sig"))
    kept = tomlkit.document()
    for key in _TABLES:
        if key in other:
            kept[key] = other[key]
    head = [] if job.drawer is None else [f"drawer = {_quoted(seen_from(folder, job.drawer))}"]
    names = [_catalogue(str(name), file.parent, folder) for name in other.get("catalogues", [])]
    if names:
        head.append(f"catalogues = [{', '.join(map(_quoted, names))}]")
    seats: Any = other.get("seat", [])
    return Base(
        job.unit,
        head,
        tomlkit.dumps(kept).strip("\n"),
        "window" in other,
        [str(seat["name"]) for seat in seats],
        job.drawer,
        _stock(job.drawer, [str(name) for name in other.get("catalogues", [])], file.parent),
    )


def _stock(drawer: Path | None, catalogues: Sequence[str], folder: Path) -> Stock:
    from shimopt.job import load_stock

    there = [str(folder / name) if (folder / name).exists() else name for name in catalogues]
    return load_stock(drawer, there)


def _catalogue(name: str, beside: Path, folder: Path) -> str:
    """A catalogue's name as the new job has to say it: a file by its way, one that comes with shimopt as it is."""
    return seen_from(folder, beside / name) if (beside / name).exists() else name


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
