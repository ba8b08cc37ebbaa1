"""The drawer of a stock that one job sees: what is free or held for it, and how its pieces come and go."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from shimopt.parts.drawer import (
    Accepted,
    Change,
    DrawerChangedError,
    Held,
    Moved,
    matching_line,
    plain_row,
    told_apart,
    worked_out,
)
from shimopt.parts.drawer_and_catalogues import completed
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.part import Part, StockLine
from shimopt.parts.part_rows import Models
from shimopt.stock.ledger import Entry, Given, append, is_known, version_of
from shimopt.stock.lots import Lot, add_lot, in_use, known_drawer, lots_of, origin_of
from shimopt.stock.people import RECORD, Asking
from shimopt.stock.promises import ended, held_for_others
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction
from shimopt.stock.told_of import Due, dues_of

NO_MODELS = Models({}, complete=True, ambiguous=frozenset())


class StockDrawer:
    """A drawer of a stock, as a job sees it (`asking`), with what its catalogues know of parts (`models`).

    Raises StockError where the stock has no such drawer.
    """

    writable = True
    shared = True

    def __init__(self, store: Store, drawer: str, asking: Asking, models: Models = NO_MODELS) -> None:
        self.store, self.drawer, self.asking, self.models = store, drawer, asking, models
        with store.reading() as within:
            self.number = known_drawer(within, drawer, store.name)

    def __repr__(self) -> str:
        return f"<StockDrawer {self.name!r}>"

    def lasting(self) -> StockDrawer:
        """The same, for a job that goes on being known wherever it is moved."""
        return StockDrawer(self.store, self.drawer, self.asking.lasting(), self.models)

    def of_no_job(self) -> StockDrawer:
        """The same, asked for by no job: what is held for any is held for others."""
        return StockDrawer(self.store, self.drawer, Asking(), self.models)

    @property
    def key(self) -> str:
        """What tells it from the drawers of other stocks."""
        return f"{self.name} {self.store.name}"

    @property
    def files(self) -> tuple[str, ...]:
        """The file that nothing may be written over."""
        return (self.store.name,) if self.store.dialect == "sqlite" else ()

    @property
    def name(self) -> str:
        """What a job calls it."""
        return f"stock:{self.drawer}"

    def lots(self) -> list[Lot]:
        """Every lot that is in use, as the job sees it, in natural order. Raises StockError."""
        with self.store.reading() as within:
            return self.lots_within(within)

    def lots_within(self, within: Transaction) -> list[Lot]:
        """The same, within a transaction."""
        return _in_order(in_use(self._all_lots(within)))

    def _all_lots(self, within: Transaction) -> list[Lot]:
        """What a piece was before it was measured anew included, for a piece may come back as that."""
        lots = lots_of(within, self.number, self.asking.job)
        return _in_order(replace(lot, part=completed(lot.part, self.models)) for lot in lots)

    def stock(self) -> tuple[StockLine, ...]:
        """What is free or held for the job, in natural order. Raises StockError."""
        with self.store.reading() as within:
            lots = self.lots_within(within)
            dues = dues_of(within, self.number) if any(lot.on_order for lot in lots) else {}
        return tuple(self._line(lot, dues.get(lot.id, ())) for lot in lots)

    def _line(self, lot: Lot, dues: Sequence[Due]) -> StockLine:
        others = tuple((due.title, due.pieces) for due in dues if due.job not in ("", self.asking.job))
        return replace(
            lot.line,
            coming=lot.on_order - sum(pieces for _, pieces in others),
            coming_for_it=sum(due.pieces for due in dues if due.job and due.job == self.asking.job),
            coming_for_others=others,
        )

    def held(self) -> tuple[Held, ...]:
        """What is held for other jobs. Raises StockError."""
        with self.store.reading() as within:
            held = tuple(held_for_others(within, self.number, self.asking.job))
        return tuple(replace(one, part=completed(one.part, self.models)) for one in held)

    def version(self) -> str:
        """Another after every change of a count; holding changes none. Raises StockError."""
        with self.store.reading() as within:
            return version_of(within, self.number)

    def move(self, changes: Sequence[Change], expected_version: str, record_id: str, person: str = "") -> Moved:
        """Make all changes or none, as every drawer does; what was held for the job is no longer.

        Raises DrawerChangedError, InputError.
        """
        given = replace(self.asking.given(who=person), request=f"{RECORD}{record_id}")
        with self._writing() as within:
            if is_known(within, given.request):
                return Moved(version_of(within, self.number), ())
            if expected_version != version_of(within, self.number):
                raise DrawerChangedError(self.name)
            lots = self._all_lots(within)
            seen = [lot.line for lot in lots]
            made = worked_out(changes, seen, self.name, tuple(held_for_others(within, self.number, self.asking.job)))
            on_hand = Counter({lot.id: lot.on_hand for lot in lots})
            entries, fitted, told = list[Entry](), Counter[int](), list[Change]()
            for change in made:
                at = matching_line(change.piece, seen, taken=change.by < 0)
                lot = lots[at].id if at is not None else self._new_lot(within, change)
                if change.by < 0:
                    fitted[lot] -= change.by
                entries.append(Entry("fitted" if change.by < 0 else "back", self.number, lot, moved=change.by))
                # what lies in it, what is held for others included
                told.append(replace(change, count=on_hand[lot]))
                on_hand[lot] += change.by
            # what is held is let go first: no more may be held than is on hand
            ends = ended(within, self.number, "freed", given, fitted=fitted)
            # an id that moved nothing is known too
            append(within, [*ends, *entries] or [Entry("fitted", self.number)], given)
            return Moved(version_of(within, self.number), tuple(told))

    def _new_lot(self, within: Transaction, change: Change) -> int:
        """The lot of pieces that come out of a machine and lie in none: made as another of their part is."""
        piece = change.piece
        like = next((lot.part for lot in self.lots_within(within) if lot.part.name == piece.part), None)
        part = Part(piece.part, piece.thickness, piece.piece)
        if like is not None:
            part = replace(like, thickness=piece.thickness, piece=piece.piece, measured=True, at="")
        single = piece.piece is not None and change.by == 1
        return add_lot(within, self.number, StockLine(part, 0), single=single)

    def accept(self, pieces: Sequence[MeasuredPiece]) -> Accepted:
        """Put pieces in, each told apart by name and tag, as every drawer does. Raises InputError."""
        given = self.asking.given()
        with self._writing() as within:
            lots = self._all_lots(within)
            on_hand = [StockLine(lot.part, lot.on_hand, (), lot.id) for lot in lots]
            new, old, fewer = told_apart(pieces, on_hand, self.name)
            entries = []
            for piece in new:
                single = bool(piece.spots) and piece.count == 1
                lot = add_lot(within, self.number, StockLine(piece.part, 0), single=single)
                told = {"spots": " ".join(map(str, piece.spots))} if piece.spots else {}
                entries.append(
                    Entry("came", self.number, lot, moved=piece.count, detail=told, becomes=origin_of(piece.part))
                )
            append(within, [*entries, *self._no_longer_due(lots, new)], given)
            _measured(within, new, entries, given)
        return Accepted(tuple(map(plain_row, new)), old, bool(new), fewer)

    def _no_longer_due(self, lots: Sequence[Lot], came: Sequence[MeasuredPiece]) -> Iterator[Entry]:
        """What was on order under the name of pieces that came: it is here, each with its measure."""
        left = Counter[str]()
        for piece in came:
            left[piece.part.name] += piece.count
        for lot in lots:
            due = min(lot.on_order, left[lot.part.name])
            left[lot.part.name] -= due
            if due:
                yield Entry("arrived", self.number, lot.id, due=-due)

    @contextmanager
    def _writing(self) -> Iterator[Transaction]:
        """A transaction; a rule that the database keeps and that would be broken is told. Raises StockError."""
        try:
            with self.store.writing() as within:
                yield within
        except BrokenRuleError as error:
            rule, remedy = (
                "the stock does not allow this, and nothing was booked",
                "look at it again: shimopt stock show",
            )
            raise StockError(self.name, rule, remedy, error.rule) from None


def _in_order(lots: Iterable[Lot]) -> list[Lot]:
    return sorted(lots, key=lambda lot: lot.part.order)


def _measured(within: Transaction, pieces: Sequence[MeasuredPiece], entries: Sequence[Entry], given: Given) -> None:
    """Keep what was measured of new pieces, spot by spot."""
    rows = []
    for piece, entry in zip(pieces, entries, strict=True):
        low, high = piece.part.thickness.low.__floor__(), piece.part.thickness.high.__ceil__()
        if piece.spots:
            rows.append((entry.lot, given.who, low, high, entry.detail["spots"]))
    within.run_each(
        "INSERT INTO measurement (lot, at, who, low_nm, high_nm, spots) "
        "VALUES (?, (SELECT MAX(at) FROM ledger), ?, ?, ?, ?)",
        rows,
    )
