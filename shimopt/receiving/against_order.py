"""The pieces of a parcel against what was ordered: as ordered, wrong, standing in for one of its size, or spare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shimopt.job import Seat
from shimopt.parts import Part, StockLine
from shimopt.receiving.ordered import AskedFor
from shimopt.seats import on_seat
from shimopt.seats.incoming import Checked
from shimopt.seats.stack_facts import NotAsLabelled

# how far a piece may be off a label without a tolerance [nm]
_LEAST_OFF = 30_000
Kind = Literal["as ordered", "wrong", "stands in", "spare"]


@dataclass(frozen=True, slots=True)
class Held:
    """So many `pieces` of a row, what they are, and the ordered line that they count towards, if any.

    What is "wrong" is of an ordered name, and off its label or fit for no seat; it counts towards the line that it was
    sent for, as what has to be sent again.
    """

    checked: Checked
    kind: Kind
    pieces: int
    line: int | None = None

    @property
    def fits(self) -> bool:
        """Whether it suits a seat, if need be with care, whatever it was ordered as."""
        return fits(self.checked)


def held_against(
    asked: AskedFor, checked: Sequence[Checked], stock: Sequence[StockLine], seats: Sequence[Seat]
) -> tuple[Held, ...]:
    """Every piece, rows in their order; a row of several may be told in parts.

    What is as ordered counts first, then what is wrong, and what is still open another of the same size may stand for.
    """
    open_ = [line.pieces for line in asked.lines]
    names = [stock[line.part].part.name for line in asked.lines]
    found: list[tuple[int, Held]] = []
    left = {at: one.piece.count for at, one in enumerate(checked)}

    def take(at: int, kind: Kind, lines: Sequence[int]) -> None:
        for line in lines:
            count = min(left[at], open_[line])
            if count:
                found.append((at, Held(checked[at], kind, count, line)))
                left[at] -= count
                open_[line] -= count

    for at, one in enumerate(checked):
        if not _wrong(one):
            take(at, "as ordered", [n for n, name in enumerate(names) if name == one.piece.part.name])
    for at, one in enumerate(checked):
        if fits(one):
            alike = [n for n, line in enumerate(asked.lines) if _stands_in(one, stock[line.part].part, seats)]
            take(at, "stands in", [n for n in alike if names[n] != one.piece.part.name or not off_its_label(one)])
    for at, one in enumerate(checked):
        line = next((n for n, name in enumerate(names) if name == one.piece.part.name), None)
        if left[at]:
            kind: Kind = "wrong" if _wrong(one) and (line is not None or not fits(one)) else "spare"
            found.append((at, Held(one, kind, left[at], line if kind == "wrong" else None)))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0]))


def fits(checked: Checked) -> bool:
    """Whether a piece suits a seat, or a place without one where its diameters are what its label says."""
    suits = {name for name, answer in checked.seats.items() if answer.verdict != "stop"}
    off = {one.fact.what for one in checked.findings if isinstance(one.fact, NotAsLabelled)}
    return bool(suits - {""} or ("" in suits and not off - {"thickness"}))


def off_its_label(one: Checked) -> bool:
    """Whether a piece is not what its label says.

    Where nobody states a tolerance: off by more than a tenth and by more than 0.03 mm (common practice, no source).
    """
    part = one.piece.part
    if one.as_labelled is not None or not part.measured or not part.marked:
        return one.as_labelled is False
    off = abs(part.thickness.best - part.marked)
    return off * 10 > part.marked and off > _LEAST_OFF


def _wrong(one: Checked) -> bool:
    return off_its_label(one) or not fits(one)


def _stands_in(one: Checked, ordered: Part, seats: Sequence[Seat]) -> bool:
    """Whether a piece is of the size of an ordered part, and suits every seat that this one would suit."""
    piece = one.piece.part
    meets = piece.thickness.low <= ordered.thickness.high and piece.thickness.high >= ordered.thickness.low
    marked_so = not off_its_label(one) and piece.marked is not None and piece.marked == ordered.marked
    if not meets and not marked_so:
        return False
    wanted = [seat.name for seat in seats if on_seat(ordered, seat).verdict != "stop"]
    if wanted == [""] and len(seats) > 1 and piece.inner and ordered.inner:
        # it is for a place whose shaft nobody states: only what is bored alike can stand in
        return piece.inner.low <= ordered.inner.high and ordered.inner.low <= piece.inner.high
    return all(one.seats[name].verdict != "stop" for name in wanted if name in one.seats)
