"""What was booked in the stock, and what lies in it, in sentences and cells."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shimopt.errors import shown
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part
from shimopt.stock.bookings import Booked
from shimopt.stock.differences import Difference
from shimopt.stock.lots import Lot
from shimopt.stock.stocktake import Counted
from shimopt.stock.told_of import Due, Stocktake
from shimopt.stock.undoing import Undone
from shimopt.words.speaker import Speaker, listed, plural, tagged
from shimopt.words.stock_words import called, counted, day

_NAMES = {"at": "lies at", "inner": "bore", "outer": "outside", "edge": "chamfer"}
_MOST = 12


def size(part: Part, say: Speaker) -> str:
    """How thick a part is: as measured, or as it is marked."""
    return f"{say.bracket(part.thickness.low, part.thickness.high)}{' measured' if part.measured else ''}"


def difference_words(one: Difference, say: Speaker) -> str:
    """`S-10: 4 on hand, becomes 6.`"""
    if one.lot is None:
        return f"{called(one.part)}, {size(one.part, say)}: new, {plural(one.becomes, 'piece')}."
    said = []
    if one.moved_to is not None:
        was, now = (say.bracket(part.thickness.low, part.thickness.high) for part in (one.part, one.moved_to))
        said.append(f"measured anew: {was}, now {now} ({one.becomes} on hand)")
    elif one.becomes != one.now:
        said.append(f"{one.now} on hand, becomes {one.becomes}")
    for what, old, new in one.told:
        told = _off if what == "tolerance" else _cells
        said.append(f"{_NAMES.get(what, what)} {told(old, say)}, becomes {told(new, say)}")
    return f"{called(one.part)}: {'; '.join(said)}."


def _off(cells: Sequence[Any], say: Speaker) -> str:
    above, below = cells
    if above is None:
        return "nothing"
    return f"±{say(above)}" if above == below else f"+{say(above)}/-{say(below)}"


def _cells(cells: Sequence[Any], say: Speaker) -> str:
    if all(isinstance(cell, int) for cell in cells):
        return say.bracket(cells[0], cells[-1])
    return shown(cells[0]) if cells[0] else "nothing"


def taken_lines(
    found: Sequence[Difference], left: Sequence[Part], drawer: str, say: Speaker, *, booked: bool
) -> list[str]:
    """What a table would change, or changed; and what it says nothing of."""
    seen = [one for one in found if one.differs]
    missing = _not_named(left)
    if not seen:
        agrees = f"{shown(drawer)} agrees with {'what the table names' if left else 'the table'}: nothing to book."
        return [agrees, *missing]
    lines = [*(difference_words(one, say) for one in seen), *missing]
    if booked:
        return [*lines, f"Booked in {shown(drawer)}: {plural(len(seen), 'row')}."]
    return [*lines, f"Not booked yet. To book it in {shown(drawer)}: the same command with --yes."]


def booked_words(one: Booked, kind: str) -> str:
    """`S-10: 4 on hand becomes 3.`"""
    said = []
    if one.moved:
        said.append(f"{one.on_hand} on hand becomes {one.on_hand + one.moved}")
    if one.due:
        said.append(f"{one.on_order} on order becomes {one.on_order + one.due}")
    unasked = kind == "arrived" and one.moved > -one.due
    more = f" ({one.moved + one.due} more than were on order)" if unasked else ""
    return f"{called(one.part)}: {', '.join(said) or 'as it was'}{more}."


def counted_lines(found: Counted, drawer: str, *, booked: bool) -> list[str]:
    """What was counted otherwise than the stock says, which jobs lose a piece, what nobody counted."""
    lines = [booked_words(one, "counted") for one in found.found] or ["What was counted agrees with the stock."]
    lines += [
        f"{shown(one.title)} loses {counted([(one.part, one.pieces)])}, held until {day(one.until)}: plan it again."
        for one in found.lost
    ]
    lines += _not_named(found.not_counted)
    if booked:
        return [*lines, f"Booked in {shown(drawer)}: a stocktake, {plural(len(found.found), 'count')} changed."]
    return [*lines, f"Not booked yet. To book it in {shown(drawer)}: the same command with --yes."]


def _not_named(parts: Sequence[Part]) -> list[str]:
    return [f"Not in the table, left as they are: {listed([called(part) for part in parts], _MOST)}."] if parts else []


def undone_lines(booking: Undone, found: Sequence[Booked]) -> list[str]:
    """What was undone."""
    rows = f"row {booking.first}" if booking.first == booking.last else f"rows {booking.first} to {booking.last}"
    when, why = booking.at[:16].replace("T", " "), f", {shown(booking.why)}" if booking.why else ""
    lines = [f"Undone, by a counter-booking: {booking.kind}, {rows} of {when} by {shown(booking.who)}{why}."]
    lines += [booked_words(one, "undone") for one in found]
    return lines + [
        f"{shown(one.title)} no longer holds {counted([(one.part, one.pieces)])}: hold it again."
        for one in booking.lost
    ]


def held_cell(lot: Lot, held: Sequence[Held]) -> str:
    """Who holds how many of a lot until when."""
    return "; ".join(f"{one.pieces} {shown(one.title)} to {one.until}" for one in held if one.part == lot.part)


def on_order_cell(lot: Lot, dues: Sequence[Due]) -> str:
    """How many of a lot are on order, and for whom."""
    who = "; ".join(f"{due.pieces} {shown(due.title)}" for due in dues if due.job)
    return f"{lot.on_order or ''}{f' ({who})' if who else ''}"


def origin_cell(part: Part) -> str:
    """Who delivered a lot's pieces, and the lot they came in: `Kestrel Shim Works, lot K114`."""
    said = [shown(part.supplier)] if part.supplier else []
    return ", ".join([*said, *([f"lot {shown(part.lot)}"] if part.lot else [])])


def stocktake_words(last: Stocktake) -> str:
    """`Counted last on 2026-11-26 by A. Roe: yearly.`"""
    return f"Counted last on {last.at[:10]} by {shown(last.who)}: {shown(last.why)}."


def ledger_words(row: dict[str, Any]) -> str:
    """One row of the ledger: `12  2026-11-26 16:20  fitted  S-10 4 to 3 ...`."""
    counts = []
    if row["moved"]:
        counts.append(f"{row['on_hand'] - row['moved']} to {row['on_hand']} on hand")
    if row["held"]:
        counts.append(f"{abs(row['held'])} {'held' if row['held'] > 0 else 'no longer held'}")
    if row["kind"] == "held" and "until" in row["detail"]:
        counts[-1] += f" until {row['detail']['until']}"
    if row["due"]:
        counts.append(f"{row['on_order'] - row['due']} to {row['on_order']} on order")
    if row["spots"]:
        counts.append(f"measured at {plural(len(row['spots'].split()), 'spot')}")
    if "row" in row["detail"]:
        counts.append(f"undoes row {row['detail']['row']}")
    what = f" {tagged(row['part'], row['piece'])}" if row["part"] else ""
    for_whom = f", for {shown(row['title'])}" if row["title"] else ""
    why = f" ({shown(row['why'])})" if row["why"] else ""
    moment = row["at"][:16].replace("T", " ")
    counted = f": {', '.join(counts)}" if counts else ""
    who = " at ".join(shown(row[key]) for key in ("who", "bench") if row[key])
    return f"{row['id']}  {moment}  {row['kind']}{what}{counted}{for_whom}{why}. {who}"
