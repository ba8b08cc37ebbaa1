"""What only the job as a whole can show: names there twice, names of nothing, gaps that no window allows for.

Looked at in the raw tables, so that one run shows everything that is wrong even where a table cannot be read.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shimopt.errors import Problem, nearest_name
from shimopt.job.gaps_table import GapRow, GapRows
from shimopt.job.whole_places import place_problems

__all__ = ["whole_problems"]

_MOST_GAPS = 200_000


@dataclass(frozen=True, slots=True)
class _Named:
    """A name and where it stands."""

    name: str
    file: str
    where: str


def whole_problems(raw: Mapping[str, Any], table: GapRows, file: Path, gaps_file: Path | None) -> Iterator[Problem]:
    """What does not fit together in a job and its gaps table."""
    rows, all_rows = table.rows, table.complete
    seats, places, balances = (_named(raw, table, file) for table in ("seat", "place", "balance"))
    suppliers = _named(raw, "supplier", file)
    gaps = _named(raw, "gap", file) + [_Named(row.name, str(gaps_file), f"{row.where}, column gap") for row in rows]
    for kind, named in (
        ("seat", seats),
        ("place", places),
        ("gap", gaps),
        ("balance", balances),
        ("supplier", suppliers),
    ):
        yield from _doubles(kind, named)
    yield from _unknown_seats(raw, rows, file, gaps_file, [seat.name for seat in seats])
    if all_rows or "place" in raw:
        names = [place.name for place in places] if "place" in raw else [gap.name for gap in gaps]
        yield from place_problems(raw, names, list(_tables(raw, "gap")), file)
    yield from _unknown_gaps(raw, file, {gap.name for gap in gaps} if all_rows else None)
    yield from _balances_of_rows(rows, gaps_file, {balance.name for balance in balances}, all_rows=all_rows)
    if not gaps and not raw.get("gap") and all_rows:
        yield Problem(str(file), "", "", "the job has no gaps", 'add a [[gap]], or name a table: gaps = "gaps.csv"')
    if (count := len(gaps)) > _MOST_GAPS:
        yield Problem(str(file), "", f"{count:,}", f"a job has at most {_MOST_GAPS:,} gaps", "split it")
    without = [where.removeprefix("[[gap]] ") for where, gap in _tables(raw, "gap") if "window" not in gap]
    without += [f'{row.where} "{row.name}"' for row in rows if row.window is None]
    if without and "window" not in raw:
        yield Problem(
            str(file),
            "[window]",
            ", ".join(without[:20]) + (", ..." if len(without) > 20 else ""),
            "the job has no [window], and these gaps have none of their own",
            "add [window] with min, max and source, or a window to each gap",
        )


def _tables(raw: Mapping[str, Any], key: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The tables `[[key]]` with their places, and nothing that only looks like one."""
    listed = raw.get(key)
    # [key] for [[key]] is refused elsewhere; its names are known all the same
    for number, table in enumerate(listed if isinstance(listed, list) else [listed], start=1):
        if isinstance(table, dict):
            name = table.get("name")
            yield f'[[{key}]] {number} "{name}"' if isinstance(name, str) else f"[[{key}]] {number}", table


def _named(raw: Mapping[str, Any], key: str, file: Path) -> list[_Named]:
    return [
        _Named(table["name"], str(file), f"{where}, name")
        for where, table in _tables(raw, key)
        if isinstance(table.get("name"), str)
    ]


def _doubles(kind: str, named: Sequence[_Named]) -> Iterator[Problem]:
    first: dict[str, _Named] = {}
    for one in named:
        if one.name in first:
            other = first[one.name]
            beside = other.where if other.file == one.file else f"{other.where} of {other.file}"
            yield Problem(
                one.file,
                one.where,
                one.name,
                f"two {kind}s have this name, the other at {beside}",
                "give each a name of its own",
            )
        first.setdefault(one.name, one)


def _unknown_seats(
    raw: Mapping[str, Any], rows: Sequence[GapRow], file: Path, gaps_file: Path | None, seats: Collection[str]
) -> Iterator[Problem]:
    wanted = [
        _Named(table["seat"], str(file), f"{where}, seat")
        for key in ("place", "gap")
        for where, table in _tables(raw, key)
        if isinstance(table.get("seat"), str)
    ] + [_Named(row.seat, str(gaps_file), f"{row.where}, column seat") for row in rows if row.seat]
    for one in wanted:
        if one.name not in seats:
            meant = nearest_name(one.name, seats)
            remedy = f"did you mean {meant}?" if meant else f'add a [[seat]] with name = "{one.name}"'
            yield Problem(one.file, one.where, one.name, "there is no such seat", remedy)


def _unknown_gaps(raw: Mapping[str, Any], file: Path, gaps: Collection[str] | None) -> Iterator[Problem]:
    """Balances of gaps that nobody described; None for gaps where not all of them are known."""
    for where, table in _tables(raw, "balance"):
        listed, offset = table.get("gaps"), table.get("offset")
        members = [name for name in listed if isinstance(name, str)] if isinstance(listed, list) else []
        for name in members if gaps is not None else []:
            if name not in (gaps or ()):
                yield Problem(str(file), f"{where}, gaps", name, "there is no such gap", _or_take_out(name, gaps or ()))
        for name in offset if isinstance(offset, dict) else []:
            if name not in members:
                yield Problem(
                    str(file), f"{where}, offset", name, "this gap is not in the balance", _or_take_out(name, members)
                )


def _or_take_out(name: str, known: Collection[str]) -> str:
    meant = nearest_name(name, known)
    return f"did you mean {meant}?" if meant else "take it out"


def _balances_of_rows(
    rows: Sequence[GapRow], gaps_file: Path | None, in_job: Collection[str], *, all_rows: bool
) -> Iterator[Problem]:
    by_name: dict[str, list[GapRow]] = {}
    for row in rows:
        if row.balance:
            by_name.setdefault(row.balance, []).append(row)
    for name, members in by_name.items():
        where = f"{members[0].where}, column balance"
        if name in in_job:
            yield Problem(
                str(gaps_file),
                where,
                name,
                "the job has a [[balance]] of this name",
                "say in one of the two places which gaps it compares",
            )
        elif len(members) < 2 and all_rows:
            yield Problem(
                str(gaps_file),
                where,
                name,
                "a balance compares at least two gaps",
                "give another gap this balance, or leave the cell blank",
            )
