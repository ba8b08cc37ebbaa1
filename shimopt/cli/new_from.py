"""What `shimopt new --from` takes of another job: its unit, window, seats, drawer and catalogues."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.cli.new_readings import quoted
from shimopt.errors import shown
from shimopt.machine import beside, seen_from

if TYPE_CHECKING:
    from shimopt.parts.drawer_and_catalogues import Stock

_TABLES = ("window", "stacks", "seat")


@dataclass(frozen=True, slots=True)
class Base:
    """The tables to begin the new job file with, and the parts of the other job.

    Its drawer's own file is named, not copied: counts in two copies of one drawer would soon disagree. `catalogues` are
    files, or the names of those that come with shimopt.
    """

    name: str
    unit: str
    tables: str
    has_window: bool
    seats: Sequence[str]
    drawer: Path | None
    catalogues: Sequence[Path | str]
    stock: Stock

    def head(self, folder: Path) -> list[str]:
        """The keys that name files, as they are seen from the folder of the new job."""
        lines = [] if self.drawer is None else [f"drawer = {quoted(seen_from(folder, self.drawer))}"]
        named = [one if isinstance(one, str) else seen_from(folder, one) for one in self.catalogues]
        return [*lines, f"catalogues = [{', '.join(map(quoted, named))}]"] if named else lines


def base_of(path: Path) -> Base:
    """What a new job begins with. Raises InputError where the other job is wrong."""
    import tomlkit

    from shimopt.job import load_job, load_stock
    from shimopt.job.from_files import job_path

    job, file = load_job(path), job_path(path)
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
        job.drawer,
        catalogues,
        load_stock(job.drawer, catalogues),
    )
