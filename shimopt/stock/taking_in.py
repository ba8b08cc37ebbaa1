"""A table taken into a drawer of the stock: what in it differs from what it said before is booked, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shimopt.parts.part import Part, StockLine
from shimopt.stock.described import DESCRIBED
from shimopt.stock.differences import Difference, differences
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import add_lot, drawer_number, kind_of, lots_of, origin_of
from shimopt.stock.stock_sheet import Sheet
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction


def book(store: Store, drawer: str, sheet: Sheet, given: Given) -> list[Difference]:
    """Book what differs, all or nothing; what that was. Raises InputError."""
    try:
        with store.writing() as within:
            if is_known(within, given.request):
                return []
            number = drawer_number(within, drawer, create=True) or 0
            found = differences(within, drawer, sheet)
            stamps = {stamp.lot: stamp.sheet for _, stamp in sheet.lines if stamp is not None}
            booked = _Booking(within, number, sheet, stamps)
            entries = [entry for one in found for entry in booked.entries(one)]
            append(within, entries, given)
    except BrokenRuleError as error:
        rule = "the stock does not allow it, or somebody booked the same at this moment; nothing was booked"
        raise StockError(store.name, rule, "look at the differences again, without --yes", error.rule) from None
    return found


class _Booking:
    """What the ledger is told of a table, row by row; lots that are new are made on the way."""

    def __init__(self, within: Transaction, drawer: int, sheet: Sheet, stamps: Mapping[int, str]) -> None:
        self._within, self._drawer, self._sheet, self._stamps = within, drawer, sheet, stamps
        ((self._name,),) = within.rows("SELECT name FROM drawer WHERE id = ?", drawer)
        lots = list(lots_of(within, drawer))
        self._on_order = {lot.id: lot.on_order for lot in lots}
        self._by_kind = {kind_of(lot.part): lot.id for lot in lots}

    def entries(self, one: Difference) -> Iterator[Entry]:
        """What the ledger is told of one row."""
        lot, drawer = one.lot, self._drawer
        if lot is not None and one.moved_to is not None:
            # what is on order comes as what it is called now
            due = self._on_order[lot]
            yield Entry("measured", drawer, lot, moved=-one.now, due=-due, detail={"was": one.part.name})
            there = self._by_kind.get(kind_of(one.moved_to))
            new = there or self._added(one.moved_to, one)
            # a piece that is measured anew comes from where it came from
            origin = {} if there else origin_of(one.part) | origin_of(one.moved_to)
            says = self._says(one, lot)
            yield Entry("measured", drawer, new, moved=one.becomes, due=due, detail=says, becomes=origin)
            return
        origin = {} if lot is not None else origin_of(one.part)
        if lot is None:
            lot = self._added(one.part, one)
        says = self._says(one, lot)
        yield Entry("taken in", drawer, lot, moved=one.becomes - one.now, detail=says, becomes=origin)
        if one.told:
            columns = ((DESCRIBED[what], cells) for what, _, cells in one.told)
            cells_now = dict(pair for names, cells in columns for pair in zip(names, cells, strict=True))
            detail = {what: [old, now] for what, old, now in one.told}
            yield Entry("described", drawer, lot, detail=detail, becomes=cells_now)

    def _added(self, part: Part, one: Difference) -> int:
        single = part.measured and part.piece is not None and one.becomes <= 1
        lot = add_lot(self._within, self._drawer, StockLine(part, 0, typed_in=one.typed_in), single=single)
        self._by_kind[kind_of(part)] = lot
        return lot

    def _says(self, one: Difference, lot: int) -> dict[str, object]:
        stamp = self._stamps.get(lot)
        return {"drawer": self._name, "file": self._sheet.key, "says": one.says} | ({"sheet": stamp} if stamp else {})
