"""What of a table differs from what it said before, against what is on hand in the stock now.

What a table said before is known from its stamps (`written_out`), or from the last time that the same file was taken
in. So a table that is older than the stock undoes nothing that happened since.
"""

from __future__ import annotations

import json
from collections.abc import Sequence, Set
from dataclasses import KW_ONLY, dataclass
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part, StockLine
from shimopt.stock.described import DESCRIBED, ByPart, alike, described, near
from shimopt.stock.ledger import undone_requests
from shimopt.stock.lots import Lot, drawer_number, in_use, lots_of
from shimopt.stock.promises import held_for_others
from shimopt.stock.stock_sheet import Sheet
from shimopt.stock.store import Transaction
from shimopt.stock.written_out import Stamp

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


def differences(within: Transaction | None, drawer: str, sheet: Sheet) -> list[Difference]:
    """What of a table differs from what it said before, against what is on hand now (None: there is no stock yet).

    Raises InputError where more would leave than is there or others left free.
    """
    number = None if within is None else drawer_number(within, drawer)
    if within is None or number is None:
        return [_new(line) for line, _ in sheet.lines]
    lots = {lot.id: lot for lot in lots_of(within, number)}
    used = in_use(lots.values())
    by_part, used_by_part = ByPart((lot.part, lot) for lot in lots.values()), ByPart((lot.part, lot) for lot in used)
    in_table, old = ByPart((line.part, line) for line, _ in sheet.lines), lots.keys() - {lot.id for lot in used}
    said = _said_before(within, number, sheet)
    found, problems = [], list[Problem]()
    held = tuple(held_for_others(within, number, ""))
    for line, stamp in sheet.lines:
        lot = lots.get(stamp.lot) if stamp is not None else None
        like = by_part.alike(line.part)
        if lot is None or lot.part.name != line.part.name or (like is not None and like != lot and like.id in said):
            # a row that somebody added, or that was measured anew and taken in since
            now = _corrected(line.part, in_table, used_by_part)
            # what this table said last of the part was another size: it is corrected back
            back = like is not None and now is not None and said.get(now.id, (0, 0))[1] > said.get(like.id, (0, 0))[1]
            lot, stamp = now if back else like or now, None
        one = _new(line) if lot is None else _changed(within, line, lot, stamp, said.get(lot.id), sheet)
        if lot is not None and (problem := _too_few(one, lot, held, sheet) or _of_old(one, lot, old, sheet)):
            problems.append(problem)
        known = None if lot is None else said.get(lot.id)
        # what a table without stamps says is kept, for the next time that it is taken in
        news = (stamp is None and known is None) or (known is not None and known[0] != line.on_hand)
        if one.differs or news:
            found.append(one)
    if problems:
        raise InputError(problems)
    return found


def _corrected(part: Part, in_table: ByPart[StockLine], lots: ByPart[Lot]) -> Lot | None:
    """The one lot that is called so, where the table no longer has it: what the table says is its size now.

    Pieces that only their measured thickness tells apart are each their own.
    """
    called = lots.called(part)
    if len(called) != 1 or (part.piece is None and (part.measured or called[0].part.measured)):
        return None
    return None if in_table.alike(called[0].part) else called[0]


def not_in_table(within: Transaction, drawer: str, sheet: Sheet, found: Sequence[Difference]) -> list[Part]:
    """The parts on hand or on order of which a table says nothing: they stay as they are."""
    number = drawer_number(within, drawer)
    named = {one.lot for one in found} | {stamp.lot for _, stamp in sheet.lines if stamp is not None}
    lots = [] if number is None else in_use(lots_of(within, number))
    left = [lot.part for lot in lots if (lot.on_hand or lot.on_order) and lot.id not in named]
    in_table = ByPart((line.part, line) for line, _ in sheet.lines)
    return [part for part in left if in_table.alike(part) is None]


def _new(line: StockLine) -> Difference:
    return Difference(line.part, 0, line.on_hand, line.on_hand, None, row=line.row or 0, typed_in=line.typed_in)


def _changed(
    within: Transaction, line: StockLine, lot: Lot, stamp: Stamp | None, said: Said | None, sheet: Sheet
) -> Difference:
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
        if (sheet.says(what) or any(new))
        and not near(old, new)
        and not near(new, _told_at(within, lot.id, what, old, since))
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
    undone = undone_requests(within, drawer)
    for at, lot, request, detail in within.rows(sql, drawer, written):
        told = json.loads(detail)
        if request in undone:
            continue
        if told.get("file") == sheet.key and (not stamps or told.get("sheet") in stamps):
            found[lot] = int(told["says"]), int(at)
    return found


def _of_old(one: Difference, lot: Lot, old: Set[int], sheet: Sheet) -> Problem | None:
    """More of what a part was before it was measured anew elsewhere: of its name there would be two."""
    if lot.part.measured or one.becomes <= 0 or lot.on_hand or lot.id not in old:
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
