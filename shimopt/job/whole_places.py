"""What only the job as a whole can show of written-out places: effects on places and packs that nobody described."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from shimopt.errors import Problem, nearest_name

__all__ = ["place_problems"]

Tables = Sequence[tuple[str, Mapping[str, Any]]]


def place_problems(raw: Mapping[str, Any], places: Collection[str], gaps: Tables, file: Path) -> Iterator[Problem]:
    """Unknown places in `effects` and `equal`, and a place in two lists of equal packs.

    Parameters: places, the names of all places; gaps, the raw [[gap]] tables with where they stand.
    """
    for where, gap in gaps:
        effects = gap.get("effects")
        for name in effects if isinstance(effects, dict) else []:
            if name not in places:
                yield _no_such_place(file, f"{where}, effects", name, places)
    listed = raw.get("equal")
    lists = listed if isinstance(listed, list) else []
    lists = lists if any(isinstance(names, list) for names in lists) else [lists]
    seen: set[str] = set()
    for names in lists:
        for name in names if isinstance(names, list) else []:
            if not isinstance(name, str):
                continue
            if name not in places:
                yield _no_such_place(file, "equal", name, places)
            if name in seen and len(lists) > 1:
                yield Problem(
                    str(file),
                    "equal",
                    name,
                    "this place stands in two lists of equal packs",
                    "put all places with the same pack into one list",
                )
            seen.add(name)


def _no_such_place(file: Path, where: str, name: str, places: Collection[str]) -> Problem:
    meant = nearest_name(name, places)
    remedy = f"did you mean {meant}?" if meant else f'add a [[place]] with name = "{name}"'
    return Problem(str(file), where, name, "there is no such place", remedy)
