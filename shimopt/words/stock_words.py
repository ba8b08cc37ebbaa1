"""The shop's stock in sentences: who holds what, until when, what was booked."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING

from shimopt.errors import shown
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part, StockLine
from shimopt.words.speaker import listed, plural, tagged

if TYPE_CHECKING:
    from shimopt.stock.holding import Lacking


def held_words(held: Held, title: str) -> str:
    """`S-10 would have served, and is held for Mill until Friday 2026-11-27 (A. Roe, bench 2).`

    Parameter: title, of the job that asks: what is held under the same may be its own, from where it lay before.
    """
    count = "" if held.pieces == 1 else f" ({plural(held.pieces, 'piece')})"
    own = "" if held.title != title else " If that is this job, moved or brought back: shimopt hold JOB --free."
    return f"{called(held.part)}{count} would have served, and is held for {shown(held.whose)}.{own}"


def now_held_words(held: Sequence[tuple[Part, int]], title: str, until: str, drawer: str, *, changed: bool) -> str:
    """`Held for Mill until Thursday 2026-12-10: S-10 and 2 x S-20 (stock:main).`"""
    if not held:
        return f"{shown(title)} takes nothing from {shown(drawer)}: there is nothing to hold."
    start = "Held" if changed else "Held already"
    return f"{start} for {shown(title)} until {day(until)}: {counted(held)} ({shown(drawer)})."


def held_before(open_still: Collection[str], held: bool) -> list[str]:
    """What is held is not fitted, or not relied on, before these gaps are settled; nothing where none are."""
    if not (held and open_still):
        return []
    are = "is" if len(open_still) == 1 else "are"
    return [f"Held, but {listed(sorted(open_still))} {are} to be settled first: shimopt plan JOB."]


def freed_words(freed: Sequence[tuple[Part, int]], title: str) -> str:
    """`No longer held for Mill: S-10.`"""
    if not freed:
        return f"Nothing was held for {shown(title)}."
    return f"No longer held for {shown(title)}: {counted(freed)}."


def gone_words(lacking: Lacking, held: Sequence[Held]) -> str:
    """`S-10 went meanwhile (1 wanted, none free): held for Quarry until Friday 2026-12-04 (A. Roe).`"""
    free = "none" if lacking.free <= 0 else str(lacking.free)
    by = [f"held for {one.whose}" for one in held if one.part == lacking.part]
    who = f": {listed(by, 20)}" if by else ""
    return f"{called(lacking.part)} went meanwhile ({lacking.wanted} wanted, {free} free){who}."


def not_in_stock_words(parts: Sequence[Part]) -> str:
    """Pieces that a record says are there, and the stock does not know."""
    names = listed([called(part) for part in dict.fromkeys(parts)], 20)
    return f"Nothing is held: {names} came out by an earlier record, and the stock does not count it. Take it in first."


def counted(pieces: Sequence[tuple[Part, int]]) -> str:
    """`S-10 and 2 x S-20`."""
    return listed([called(part) if count == 1 else f"{count} x {called(part)}" for part, count in pieces], 20)


def coming_words(stock: Sequence[StockLine], titles: Sequence[str]) -> list[str]:
    """What the order of these jobs counts on though it is not there yet, and what is on order for other jobs."""
    coming = [(line.part, line.coming) for line in stock if line.coming]
    others = dict[str, list[tuple[Part, int]]]()
    for line in stock:
        for title, pieces in line.coming_for_others:
            if title not in titles:
                others.setdefault(title, []).append((line.part, pieces))
    told = [
        f"On order for {shown(title)}, and not counted on here: {counted(pieces)}." for title, pieces in others.items()
    ]
    if not coming:
        return told
    told.insert(0, f"Counted as on hand, for it is on order already: {counted(coming)}.")
    if any(line.coming > line.coming_for_it for line in stock):
        told.append(
            "What was ordered for nobody in particular another job may count on, too. Say for whom it is: shimopt "
            "stock ordered PART=COUNT --for JOB. One order for all jobs that need it counts each piece once: shimopt "
            "order JOB JOB"
        )
    return told


def called(part: Part) -> str:
    """A part by its name, with its tag where it has one."""
    return tagged(part.name, part.piece)


def day(iso: str) -> str:
    """`Friday 2026-11-27`."""
    return f"{date.fromisoformat(iso):%A} {iso}"
