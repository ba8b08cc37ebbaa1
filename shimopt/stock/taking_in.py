"""A table taken into a drawer of the stock: what in it differs from what it said before is booked, and nothing else.

What a table said before is known from its stamps (`written_out`), or from the last time that the same file was taken
in. So a table that is older than the stock undoes nothing that happened since.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.parts.drawer import Held
from shimopt.parts.drawer_and_catalogues import load_stock
from shimopt.parts.part import Part, StockLine
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import Lot, add_lot, drawer_number, in_use, lots_of
from shimopt.stock.people import file_key
from shimopt.stock.promises import held_for_others
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction
from shimopt.stock.written_out import Stamp, stamp_of
from shimopt.tables.read import read_table

# a table holds whole nanometres, and ends that are rounded outward
_ROUNDED = 2
_UNDONE = "SELECT detail FROM ledger WHERE drawer = ? AND kind = 'undone'"


# what a lot is told to be beside its thickness, and the columns that hold it
DESCRIBED: dict[str, tuple[str, ...]] = {
    "at": ("lies_at",),
    "note": ("note",),
    "inner": ("inner_low_nm", "inner_high_nm"),
    "outer": ("outer_low_nm", "outer_high_nm"),
    "edge": ("edge_nm",),
    "material": ("material",),
    "form": ("form",),
    "hardness": ("hardness",),
}
Told = tuple[str, list[Any], list[Any]]
# what a table said of a lot's count, and in which ledger row that stands
Said = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Difference:
    """One row that differs: `now` on hand, and what it `becomes`; `lot` is None for what is new.

    `moved_to` is the part as it was measured anew: all of the lot goes there. `told` what else changed: what, and the
    cells of the database as they were and become. `says` is what the table says is on hand.
    """

    part: Part
    now: int
    becomes: int
    says: int
    lot: int | None
    _: KW_ONLY
    moved_to: Part | None = None
    told: tuple[Told, ...] = ()
    row: int = 0
    typed_in: str = ""

    @property
    def differs(self) -> bool:
        """Whether there is anything to be seen."""
        return self.lot is None or self.becomes != self.now or bool(self.told) or self.moved_to is not None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table that was read: its lines with the stamps that stand beside them, None where there is none."""

    path: Path
    lines: tuple[tuple[StockLine, Stamp | None], ...]

    @property
    def key(self) -> str:
        """What tells this file from others."""
        return file_key(self.path)


def read_sheet(path: Path, catalogues: Sequence[Path] = ()) -> Sheet:
    """Read a table of parts on hand. Raises InputError."""
    lines = [line for line in load_stock(path, catalogues).lines if line.row is not None]
    table = read_table(path, "drawer")
    stamps = (
        {row.number: stamp_of(table.cell(row, "stock_row")) for row in table.rows} if _stamped(table.columns) else {}
    )
    return Sheet(path, tuple((replace(line, offers=()), stamps.get(line.row or 0)) for line in lines))


def _stamped(columns: Sequence[str]) -> bool:
    return "stock_row" in columns


def differences(within: Transaction | None, drawer: str, sheet: Sheet) -> list[Difference]:
    """What of a table differs from what it said before, against what is on hand now (None: there is no stock yet).

    Raises InputError where more would leave than is there or others left free.
    """
    number = None if within is None else drawer_number(within, drawer)
    if within is None or number is None:
        return [_new(line) for line, _ in sheet.lines]
    lots = {lot.id: lot for lot in lots_of(within, number)}
    used = in_use(lots.values())
    said = _said_before(within, number, sheet)
    found, problems = [], list[Problem]()
    held = tuple(held_for_others(within, number, ""))
    for line, stamp in sheet.lines:
        lot = lots.get(stamp.lot) if stamp is not None else None
        like = next((one for one in lots.values() if alike(one.part, line.part)), None)
        if lot is None or lot.part.name != line.part.name or (like is not None and like != lot and like.id in said):
            # a row that somebody added, or that was measured anew and taken in since
            now = _corrected(line.part, sheet, used)
            # what this table said last of the part was another size: it is corrected back
            back = like is not None and now is not None and said.get(now.id, (0, 0))[1] > said.get(like.id, (0, 0))[1]
            lot, stamp = now if back else like or now, None
        one = _new(line) if lot is None else _changed(within, line, lot, stamp, said.get(lot.id))
        if lot is not None and (problem := _too_few(one, lot, held, sheet) or _of_old(one, lot, used, sheet)):
            problems.append(problem)
        known = None if lot is None else said.get(lot.id)
        # what a table without stamps says is kept, for the next time that it is taken in
        news = (stamp is None and known is None) or (known is not None and known[0] != line.on_hand)
        if one.differs or news:
            found.append(one)
    if problems:
        raise InputError(problems)
    return found


def _corrected(part: Part, sheet: Sheet, lots: Sequence[Lot]) -> Lot | None:
    """The one lot that is called so, where the table no longer has it: what the table says is its size now.

    Pieces that only their measured thickness tells apart are each their own.
    """
    called = [lot for lot in lots if (lot.part.name, lot.part.piece) == (part.name, part.piece)]
    if len(called) != 1 or (part.piece is None and (part.measured or called[0].part.measured)):
        return None
    return None if any(alike(called[0].part, line.part) for line, _ in sheet.lines) else called[0]


def not_in_table(within: Transaction, drawer: str, sheet: Sheet, found: Sequence[Difference]) -> list[Part]:
    """The parts on hand or on order of which a table says nothing: they stay as they are."""
    number = drawer_number(within, drawer)
    named = {one.lot for one in found} | {stamp.lot for _, stamp in sheet.lines if stamp is not None}
    lots = [] if number is None else in_use(lots_of(within, number))
    left = [lot.part for lot in lots if (lot.on_hand or lot.on_order) and lot.id not in named]
    return [part for part in left if not any(alike(part, line.part) for line, _ in sheet.lines)]


def _new(line: StockLine) -> Difference:
    return Difference(line.part, 0, line.on_hand, line.on_hand, None, row=line.row or 0, typed_in=line.typed_in)


def _changed(within: Transaction, line: StockLine, lot: Lot, stamp: Stamp | None, said: Said | None) -> Difference:
    """A row of a lot that is there: by how much its count was changed since the table last said it."""
    # of a table that never said anything its count is what counts
    before, since = lot.on_hand, None
    if said is not None:
        before, since = said
    elif stamp is not None:
        before, since = _on_hand_at(within, stamp), stamp.ledger
    becomes = lot.on_hand + line.on_hand - before
    moved_to = None if alike(lot.part, line.part) else line.part
    cells = ((what, described(lot.part, what), described(line.part, what)) for what in DESCRIBED)
    told = tuple(
        (what, old, new)
        for what, old, new in cells
        if not _near(old, new) and not _near(new, _told_at(within, lot.id, what, old, since))
    )
    return Difference(
        lot.part,
        lot.on_hand,
        becomes,
        line.on_hand,
        lot.id,
        moved_to=moved_to,
        told=told,
        row=line.row or 0,
        typed_in=line.typed_in,
    )


def _on_hand_at(within: Transaction, stamp: Stamp) -> int:
    sql = "SELECT on_hand FROM ledger WHERE lot = ? AND id <= ? ORDER BY id DESC LIMIT 1"
    found = within.rows(sql, stamp.lot, stamp.ledger)
    return int(found[0][0]) if found else 0


def described(part: Part, what: str) -> list[Any]:
    """What a part is told to be, as the columns of `DESCRIBED` hold it."""
    value = getattr(part, what)
    if what in ("inner", "outer"):
        return [None, None] if value is None else [value.low.__floor__(), value.high.__ceil__()]
    return [value]


def _near(one: list[Any], other: list[Any]) -> bool:
    """Whether cells are the same as far as a table can say."""
    if one == other:
        return True
    numbers = all(isinstance(cell, int) for cell in (*one, *other))
    return numbers and all(abs(here - there) <= _ROUNDED for here, there in zip(one, other, strict=True))


def _told_at(within: Transaction, lot: int, what: str, now: list[Any], since: int | None) -> list[Any]:
    """What a table last said that it was; what is known now where it never did."""
    if since is None:
        return now
    sql = "SELECT detail FROM ledger WHERE lot = ? AND id > ? AND kind = 'described' ORDER BY id"
    changes = [json.loads(detail) for (detail,) in within.rows(sql, lot, since)]
    return next((change[what][0] for change in changes if what in change), now)


def _said_before(within: Transaction, drawer: int, sheet: Sheet) -> dict[int, Said]:
    """By lot what this file said when it was last taken in; a table written out since says something new."""
    written = max((stamp.ledger for _, stamp in sheet.lines if stamp is not None), default=0)
    sql = (
        "SELECT id, lot, request, detail FROM ledger WHERE drawer = ? AND kind IN ('taken in', 'measured') AND id > ? "
        "AND detail <> '' ORDER BY id"
    )
    stamps = {stamp.sheet for _, stamp in sheet.lines if stamp is not None}
    found = {}
    undone = {json.loads(detail)["undoes"] for (detail,) in within.rows(_UNDONE, drawer)}
    for at, lot, request, detail in within.rows(sql, drawer, written):
        told = json.loads(detail)
        if request in undone:
            continue
        if told.get("file") == sheet.key and (not stamps or told.get("sheet") in stamps):
            found[lot] = int(told["says"]), int(at)
    return found


def _of_old(one: Difference, lot: Lot, used: Sequence[Lot], sheet: Sheet) -> Problem | None:
    """More of what a part was before it was measured anew elsewhere: of its name there would be two."""
    if lot.part.measured or one.becomes <= 0 or lot.on_hand or any(each.id == lot.id for each in used):
        return None
    rule = "another table said since that this part has another size"
    remedy = "change it in the table as it is now: shimopt stock write-out FILE"
    return Problem(str(sheet.path), f"row {one.row}", f"{one.says} x {lot.part.name}", rule, remedy)


def _too_few(one: Difference, lot: Lot, held: Sequence[Held], sheet: Sheet) -> Problem | None:
    """More leaves than is there, or is free."""
    least = lot.promised if one.moved_to is None else 0
    if one.becomes >= least and not (one.moved_to and lot.promised):
        return None
    who = [each.whose for each in held if each.part == lot.part]
    goes = "it was measured anew, and" if one.moved_to else f"{one.now - one.becomes} fewer than there were, and"
    rule = f"{goes} {lot.promised} of {lot.on_hand} on hand are held for {' and for '.join(who)}"
    if one.becomes < 0 or not lot.promised:
        rule = f"{one.now - one.becomes} fewer than there were, and only {lot.on_hand} are on hand"
    remedy = "count them again; who holds pieces lets them go with: shimopt hold JOB --free"
    return Problem(str(sheet.path), f"row {one.row}", f"{one.says} x {lot.part.name}", rule, remedy)


def book(store: Store, drawer: str, sheet: Sheet, given: Given) -> list[Difference]:
    """Book what differs, all or nothing; what that was. Raises InputError."""
    try:
        with store.writing() as within:
            if is_known(within, given.request):
                return []
            number = drawer_number(within, drawer, create=True) or 0
            found = differences(within, drawer, sheet)
            stamps = {stamp.lot: stamp.sheet for _, stamp in sheet.lines if stamp is not None}
            entries = [entry for one in found for entry in _entries(within, number, one, sheet, stamps)]
            append(within, entries, given)
    except BrokenRuleError as error:
        rule = "the stock does not allow it, or somebody booked the same at this moment; nothing was booked"
        raise StockError(store.name, rule, "look at the differences again, without --yes", error.rule) from None
    return found


def _entries(
    within: Transaction, drawer: int, one: Difference, sheet: Sheet, stamps: Mapping[int, str]
) -> Iterator[Entry]:
    """What the ledger is told of one row."""
    lot, becomes = one.lot, one.becomes
    if lot is not None and one.moved_to is not None:
        # what is on order comes as what it is called now
        due = next(each.on_order for each in lots_of(within, drawer) if each.id == lot)
        yield Entry("measured", drawer, lot, moved=-one.now, due=-due, detail={"was": one.part.name})
        new = next((each.id for each in lots_of(within, drawer) if _kind(each.part) == _kind(one.moved_to)), None)
        lot = new or _added(within, drawer, one.moved_to, one)
        yield Entry("measured", drawer, lot, moved=becomes, due=due, detail=_says(one, sheet, stamps.get(one.lot or 0)))
        return
    if lot is None:
        lot = _added(within, drawer, one.part, one)
    yield Entry("taken in", drawer, lot, moved=becomes - one.now, detail=_says(one, sheet, stamps.get(lot)))
    if one.told:
        columns = ((DESCRIBED[what], cells) for what, _, cells in one.told)
        cells_now = dict(pair for names, cells in columns for pair in zip(names, cells, strict=True))
        detail = {what: [old, now] for what, old, now in one.told}
        yield Entry("described", drawer, lot, detail=detail, becomes=cells_now)


def _added(within: Transaction, drawer: int, part: Part, one: Difference) -> int:
    single = part.measured and part.piece is not None and one.becomes <= 1
    return add_lot(within, drawer, StockLine(part, 0, typed_in=one.typed_in), single=single)


def _says(one: Difference, sheet: Sheet, stamp: str | None) -> dict[str, object]:
    return {"file": sheet.key, "says": one.says} | ({"sheet": stamp} if stamp else {})


def alike(one: Part, other: Part) -> bool:
    """Whether two parts are the same as far as a table can say."""
    ends = ((one.thickness.low, other.thickness.low), (one.thickness.high, other.thickness.high))
    near = all(abs(here - there) <= _ROUNDED for here, there in ends)
    return (one.name, one.piece, one.measured) == (other.name, other.piece, other.measured) and near


def _kind(part: Part) -> object:
    return part.name, part.piece, part.measured, part.thickness.low.__floor__(), part.thickness.high.__ceil__()
