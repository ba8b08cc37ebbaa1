"""What only the job as a whole can show: names there twice, names of nothing, gaps that no window allows for.

Looked at in the raw tables, so that one run shows everything that is wrong even where a table cannot be read.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

from shimopt.errors import Problem, did_you_mean
from shimopt.job.gaps_table import GapRow, GapRows
from shimopt.job.job_errors import Keys, Written, entry

_MOST_GAPS = 200_000


def whole_problems(written: Written, table: GapRows) -> Iterator[Problem]:
    """What does not fit together in a job and its gaps table."""
    raw = written.raw
    named = {kind: list(_named(written, kind)) for kind in ("seat", "place", "gap", "balance", "supplier")}
    names = {kind: [name for name, _ in found] for kind, found in named.items()}
    gaps = [*named["gap"], *((row.name, row.problem("gap", row.name, "", "")) for row in table.rows)]
    names["gap"] = [name for name, _ in gaps]
    for kind in ("seat", "place", "gap", "balance", "supplier"):
        yield from _doubles(kind, gaps if kind == "gap" else named[kind])
    yield from _unknown_seats(written, table, names["seat"])
    if table.complete or "place" in raw:
        places = names["place" if "place" in raw else "gap"]
        yield from _unknown_places(written, places)
        yield from _unknown_members(written, "places", "place", set(places))
    yield from _unknown_members(written, "gaps", "gap", set(names["gap"]) if table.complete else None)
    yield from _balances_of_rows(table, set(names["balance"]))
    if not gaps and not raw.get("gap") and table.complete:
        remedy = 'add a [[gap]], or name a table: gaps = "gaps.csv" (`shimopt batch` takes the table beside the job)'
        yield written.problem((), "", "the job has no gaps", remedy)
    if (count := len(gaps)) > _MOST_GAPS:
        yield written.problem((), f"{count:,}", f"a job has at most {_MOST_GAPS:,} gaps", "split it")
    if "window" not in raw:
        yield from _without_window(written, table)


def _named(written: Written, kind: str) -> Iterator[tuple[str, Problem]]:
    """Names and where they stand: a problem that only lacks its words."""
    for at, table in written.tables(kind):
        if isinstance(name := table.get("name"), str):
            yield name, written.problem((*at, "name"), name, "", "")


def _doubles(kind: str, named: Collection[tuple[str, Problem]]) -> Iterator[Problem]:
    first: dict[str, Problem] = {}
    for name, one in named:
        other = first.setdefault(name, one)
        if other is not one:
            beside = other.where if other.file == one.file else f"{other.where} of {other.file}"
            rule = f"two {kind}s have this name, the other at {beside}"
            yield Problem(one.file, one.where, name, rule, "give each a name of its own", one.field)


def _unknown_seats(written: Written, table: GapRows, seats: Collection[str]) -> Iterator[Problem]:
    def words(name: str) -> tuple[str, str]:
        remedy = did_you_mean(name, seats, f'add a [[seat]] with name = "{name}"')
        return "there is no such seat", remedy

    for kind in ("place", "gap"):
        for at, one in written.tables(kind):
            if isinstance(name := one.get("seat"), str) and name not in seats:
                yield written.problem((*at, "seat"), name, *words(name))
    for row in table.rows:
        if row.seat and row.seat not in seats:
            yield row.problem("seat", row.seat, *words(row.seat))


def _unknown_places(written: Written, places: Collection[str]) -> Iterator[Problem]:
    """Unknown places in `effects` and `equal`, and a place in two lists of equal packs."""

    def unknown(at: Keys, name: str) -> Problem:
        remedy = did_you_mean(name, places, f'add a [[place]] with name = "{name}"')
        return written.problem(at, name, "there is no such place", remedy)

    for at, gap in written.tables("gap"):
        effects = gap.get("effects")
        for name in effects if isinstance(effects, dict) else []:
            if name not in places:
                yield unknown((*at, "effects"), name)
    lists = _lists(written.raw.get("equal"))
    seen: set[str] = set()
    for name in (name for names in lists if isinstance(names, list) for name in names if isinstance(name, str)):
        if name not in places:
            yield unknown(("equal",), name)
        if name in seen and len(lists) > 1:
            rule = "this place stands in two lists of equal packs"
            yield written.problem(("equal",), name, rule, "put all places with the same pack into one list")
        seen.add(name)


def _lists(equal: Any) -> list[Any]:
    lists = equal if isinstance(equal, list) else []
    return lists if any(isinstance(names, list) for names in lists) else [lists]


def _unknown_members(written: Written, key: str, kind: str, known: Collection[str] | None) -> Iterator[Problem]:
    """Balances of gaps or places that nobody described; None for `known` where not all of them are."""

    def or_take_out(name: str, known: Collection[str]) -> str:
        return did_you_mean(name, known, "take it out")

    for at, table in written.tables("balance"):
        if key not in table:
            continue
        listed, offset = table.get(key), table.get("offset")
        members = [name for name in listed if isinstance(name, str)] if isinstance(listed, list) else []
        for name in members if known is not None else []:
            if name not in (known or ()):
                yield written.problem((*at, key), name, f"there is no such {kind}", or_take_out(name, known or ()))
        for name in offset if isinstance(offset, dict) else []:
            if name not in members:
                remedy = or_take_out(name, members)
                yield written.problem((*at, "offset"), name, f"this {kind} is not in the balance", remedy)


def _balances_of_rows(table: GapRows, in_job: Collection[str]) -> Iterator[Problem]:
    by_name: dict[str, list[GapRow]] = {}
    for row in table.rows:
        if row.balance:
            by_name.setdefault(row.balance, []).append(row)
    for name, members in by_name.items():
        if name in in_job:
            remedy = "say in one of the two places which gaps it compares"
            yield members[0].problem("balance", name, "the job has a [[balance]] of this name", remedy)
        elif len(members) < 2 and table.complete:
            remedy = "give another gap this balance, or leave the cell blank"
            yield members[0].problem("balance", name, "a balance compares at least two gaps", remedy)


def _without_window(written: Written, table: GapRows) -> Iterator[Problem]:
    # the only one may be written as [gap], which is refused elsewhere
    tables = [(int(at[1]) if at[1:] else 0, gap) for at, gap in written.tables("gap")]
    without = [entry(number, gap) for number, gap in tables if "window" not in gap]
    without += [f'{row.where} "{row.name}"' for row in table.rows if row.window is None]
    if without:
        value = ", ".join(without[:20]) + (", ..." if len(without) > 20 else "")
        rule = "the job has no [window], and these gaps have none of their own"
        remedy = "add [window] with min, max and source, or a window to each gap"
        yield Problem(written.file, "[window]", value, rule, remedy, "window")
