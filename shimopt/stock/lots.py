"""A lot, which is a row of the database, as a part with its counts, and back."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shimopt.errors import writable
from shimopt.lengths import Bracket
from shimopt.parts.part import Part, StockLine
from shimopt.stock.described import DESCRIBED, described
from shimopt.stock.store import StockError, Transaction

_PART = (
    "part",
    "piece",
    "measured",
    "low_nm",
    "high_nm",
    "marked_nm",
    "inner_low_nm",
    "inner_high_nm",
    "outer_low_nm",
    "outer_high_nm",
    "edge_nm",
    "material",
    "form",
    "hardness",
    "provenance",
    "lies_at",
    "note",
    "typed_in",
)
# all that a lot is but for its counts
CELLS = ("single", *_PART)
# who delivered its pieces, the lot they came in, and the tolerance on the label of what was measured, where these are
# known: the ledger alone says it, in `lot_is`
_ORIGIN = ("supplier", "lot", "tolerance")
ORIGIN = tuple(cell for what in _ORIGIN for cell in DESCRIBED[what])
TOLD = "(SELECT lot_is FROM ledger WHERE ledger.lot = lot.id AND lot_is <> '' ORDER BY ledger.id DESC LIMIT 1)"
_INSERT = (
    f"INSERT INTO lot (drawer, single, {', '.join(_PART)}) VALUES (?, ?, {', '.join('?' * len(_PART))}) RETURNING id"
)
_SELECT = (
    f"SELECT id, on_hand, promised, on_order, single, {', '.join(_PART)}, {TOLD}, "
    "(SELECT COALESCE(SUM(pieces), 0) FROM promise WHERE promise.lot = lot.id AND state = 'held' AND job = ?) "
    "FROM lot WHERE drawer = ? ORDER BY id"
)


@dataclass(frozen=True, slots=True)
class Lot:
    """Like pieces: how many are on hand, promised to jobs, `mine` of these to the job that asks, and on order."""

    id: int
    part: Part
    on_hand: int
    promised: int
    mine: int
    on_order: int
    single: bool
    typed_in: str

    @property
    def free(self) -> int:
        """How many the job that asks may use."""
        return self.on_hand - self.promised + self.mine

    @property
    def line(self) -> StockLine:
        """What the job that asks sees of it."""
        return StockLine(self.part, self.free, (), self.id, self.typed_in, self.mine, self.on_order)


def drawer_number(within: Transaction, name: str, *, create: bool = False) -> int | None:
    """The number of a drawer by its name; None where there is none, and it is not to be made."""
    name = writable(name)
    found = within.rows("SELECT id FROM drawer WHERE name = ?", name)
    if not found and create:
        found = within.rows("INSERT INTO drawer (name) VALUES (?) RETURNING id", name)
    return int(found[0][0]) if found else None


def known_drawer(within: Transaction, name: str, store: str) -> int:
    """The number of a drawer that is there. Raises StockError."""
    if (number := drawer_number(within, name)) is None:
        known = [other for (other,) in within.rows("SELECT name FROM drawer ORDER BY name")]
        begun = f"it has: {', '.join(known)}; a new one begins with shimopt stock take-in"
        remedy = begun if known else "fill it first: shimopt stock take-in drawer.csv"
        raise StockError(store, "the stock has no drawer of this name", remedy, name)
    return number


def lots_of(within: Transaction, drawer: int, job: str = "") -> Iterator[Lot]:
    """The lots of a drawer, as this job sees them."""
    for number, on_hand, promised, on_order, single, *cells, told, mine in within.rows(_SELECT, job, drawer):
        part = _part(cells, origin_told(told))
        yield Lot(number, part, on_hand, promised, int(mine), on_order, bool(single), cells[-1])


def origin_told(lot_is: str | None) -> dict[str, Any]:
    """Supplier, lot and tolerance as a row of the ledger tells them; none of those that it does not."""
    told = json.loads(lot_is or "{}")
    return {what: told[what] for what in ORIGIN if told.get(what)}


def origin_of(part: Part) -> dict[str, Any]:
    """Supplier, lot and tolerance of a part, as the ledger is to tell them."""
    cells = {what: zip(DESCRIBED[what], described(part, what), strict=True) for what in _ORIGIN}
    return {cell: known for pairs in cells.values() for cell, known in pairs if known}


def kind_of(part: Part) -> object:
    """What tells one lot of a drawer from another, as the database does."""
    return part.name, part.piece, part.measured, part.thickness.low.__floor__(), part.thickness.high.__ceil__()


def in_use(lots: Iterable[Lot]) -> list[Lot]:
    """Without what a piece was before it was measured anew: lots of nothing that have a namesake."""
    called = defaultdict[tuple[str, str | None], list[Lot]](list)
    for lot in lots:
        called[lot.part.name, lot.part.piece].append(lot)
    found = list[Lot]()
    for namesakes in called.values():
        # where nothing is left of any, the last of them says what the part was
        found += [lot for lot in namesakes if lot.on_hand or lot.promised or lot.on_order] or namesakes[-1:]
    return found


def add_lot(within: Transaction, drawer: int, line: StockLine, *, single: bool) -> int:
    """A new lot with no pieces yet; its number. Raises BrokenRuleError."""
    part = line.part
    values = (
        part.name,
        part.piece or "",
        int(part.measured),
        # whole nanometres, outward: what is promised of a piece's thickness still holds
        part.thickness.low.__floor__(),
        part.thickness.high.__ceil__(),
        part.marked,
        *_ends(part.inner),
        *_ends(part.outer),
        part.edge,
        part.material,
        part.form,
        part.hardness,
        part.provenance,
        part.at,
        part.note,
        line.typed_in,
    )
    return int(within.rows(_INSERT, drawer, int(single), *values)[0][0])


def _ends(bracket: Bracket | None) -> tuple[int | None, int | None]:
    return (None, None) if bracket is None else (bracket.low.__floor__(), bracket.high.__ceil__())


def _part(cells: Sequence[Any], origin: Mapping[str, Any]) -> Part:
    told = dict(zip(_PART, cells, strict=True))
    above, below = (origin.get(cell, 0) for cell in DESCRIBED["tolerance"])
    return Part(
        told["part"],
        Bracket.between(told["low_nm"], told["high_nm"]),
        told["piece"] or None,
        bool(told["measured"]),
        told["marked_nm"],
        inner=_bracket(told["inner_low_nm"], told["inner_high_nm"]),
        outer=_bracket(told["outer_low_nm"], told["outer_high_nm"]),
        material=told["material"],
        form=told["form"],
        at=told["lies_at"],
        note=told["note"],
        hardness=told["hardness"],
        edge=told["edge_nm"],
        provenance=told["provenance"],
        supplier=origin.get("supplier", ""),
        lot=origin.get("lot", ""),
        tolerance=(above, below) if above or below else None,
    )


def _bracket(low: int | None, high: int | None) -> Bracket | None:
    return None if low is None or high is None else Bracket.between(low, high)
