"""What a shell offers at the tab key: names of gaps, places, seats and catalogues, as a job's file has them just now.

A file that cannot be read offers nothing, and says nothing: the command itself will.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from shimopt.machine import is_folder

__all__ = ["catalogues", "gaps", "gaps_of", "places_of", "seats"]


def gaps(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's gaps."""
    return _items(_gap_names(_job_file(context)), begun)


def gaps_of(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's gaps, each with the sign after which its reading follows."""
    return _items((f"{name}=" for name in _gap_names(_job_file(context))), begun)


def places_of(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's places, each with the sign after which its pieces follow; if none is written, those of its gaps."""
    file = _job_file(context)
    names = list(_names(_table(file), "place")) or list(_gap_names(file))
    return _items((f"{name}=" for name in names), begun)


def seats(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's seats."""
    return _items(_names(_table(_job_file(context)), "seat"), begun)


def catalogues(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The catalogues that come with shimopt; where none begins so, files."""
    from shimopt.job import built_in_catalogues

    return _items(sorted(built_in_catalogues()), begun) or [CompletionItem(begun, type="file")]


def _items(names: Iterator[str] | list[str], begun: str) -> list[CompletionItem]:
    return [CompletionItem(name) for name in names if name.startswith(begun) and name.isprintable()]


def _job_file(context: click.Context) -> Path:
    # where an option still waits for its value, the job stands among what is not yet given out
    named = context.params.get("job") or next(iter(context.args), "")
    path = Path(named)
    return path / "job.toml" if is_folder(path) else path


def _table(file: Path) -> dict[str, Any]:
    import tomllib

    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _names(job: dict[str, Any], kind: str) -> Iterator[str]:
    listed = job.get(kind)
    for table in listed if isinstance(listed, list) else []:
        if isinstance(table, dict) and isinstance(table.get("name"), str):
            yield table["name"]


def _gap_names(file: Path) -> Iterator[str]:
    job = _table(file)
    yield from _names(job, "gap")
    if isinstance(job.get("gaps"), str):
        from shimopt.errors import InputError
        from shimopt.machine import beside
        from shimopt.tables.read import read_table

        try:
            table = read_table(beside(file.parent, job["gaps"]), "gaps table")
        except InputError:
            return
        yield from (table.cell(row, "gap") for row in table.rows)
