"""What was done and found on a job: the pieces that are in, and the readings after fitting."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine

__all__ = ["FittedPiece", "Record", "RecordedGap", "last_settled", "matching_line", "pieces_moved"]

DrawerState = Literal["pending", "done", "by hand", "untouched"]


@dataclass(frozen=True, slots=True)
class FittedPiece:
    """A piece in a place, with the thickness that the plan took it for [nm]."""

    part: str
    piece: str | None
    thickness: Bracket

    @classmethod
    def of(cls, part: Part) -> FittedPiece:
        """A piece of this part."""
        return cls(part.name, part.piece, part.thickness)


@dataclass(frozen=True, slots=True)
class RecordedGap:
    """A gap after fitting: what was predicted, and what was read; None where it was not read [nm]."""

    predicted: Bracket
    read: Bracket | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """One visit to the machine. `date` is ISO; `places` holds all that is in afterwards, not only what was changed.

    `drawer` says whether its counts were changed: "pending" while that was begun and not known to be finished, then
    `drawer_before` and `drawer_after` tell by fingerprint which of the two it is.
    """

    id: str
    date: str
    person: str
    instrument: str
    places: Mapping[str, tuple[FittedPiece, ...]]
    gaps: Mapping[str, RecordedGap]
    drawer: DrawerState = "untouched"
    drawer_before: str = ""
    drawer_after: str = ""


def matching_line(piece: FittedPiece, stock: tuple[StockLine, ...]) -> int | None:
    """The stock line that a piece cannot be told from; the nearest in thickness of the same name and tag."""
    same = [i for i, line in enumerate(stock) if (line.part.name, line.part.piece) == (piece.part, piece.piece)]
    exact = [i for i in same if stock[i].part.thickness == piece.thickness]
    if exact or not same:
        return exact[0] if exact else None

    def off(i: int) -> Fraction:
        return abs(stock[i].part.thickness.best - piece.thickness.best)

    # its thickness in the drawer may have been measured anew since
    return min(same, key=off) if len(same) == 1 else None


def pieces_moved(before: Record | None, after: Record) -> Counter[FittedPiece]:
    """What left the drawer for the machine (above zero) and what came back (below) between two records."""
    moved: Counter[FittedPiece] = Counter()
    for place in after.places.keys() | (before.places.keys() if before else set()):
        moved.update(after.places.get(place, ()))
        if before:
            moved.subtract(before.places.get(place, ()))
    return Counter({piece: count for piece, count in moved.items() if count})


def last_settled(records: Sequence[Record], was_in: Mapping[str, tuple[FittedPiece, ...]]) -> Record:
    """The last record that the drawer's counts agree with; what was in at first where they are still as they were."""
    first = Record("", "", "", "", was_in, {})
    return next((record for record in reversed(records) if record.drawer in ("done", "by hand")), first)
