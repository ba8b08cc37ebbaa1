"""What was done and found on a job: the pieces that are in, and the readings after fitting."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from shimopt.assembly import RunningTorque, running_torque
from shimopt.errors import RefusedError
from shimopt.lengths import Bracket, length_of, toleranced
from shimopt.parts.drawer import FittedPiece

DrawerState = Literal["pending", "done", "by hand", "untouched"]


@dataclass(frozen=True, slots=True)
class RecordedGap:
    """A gap after fitting: what was predicted, and what was read; None where it was not read [nm].

    `running` is the running torque measured then, None where it was not; `blades` the feeler blade that went and the
    next one that did not, where it was read by such a pair [nm]; `machined` what was done to it without a shim; `pulls`
    of how many pulls of a dial it is the mean, 0 where it is of none.
    """

    predicted: Bracket
    read: Bracket | None = None
    running: RunningTorque | None = None
    blades: tuple[int, int] | None = None
    machined: str = ""
    pulls: int = 0


@dataclass(frozen=True, slots=True)
class Record:
    """One visit to the machine. `date` is ISO; `places` holds all that is in afterwards, not only what was changed.

    `drawer` says whether its counts were changed: "pending" while that was begun and not known to be finished, "by
    hand" where a person was told what to change. `drawer_before` and `drawer_after` are the drawer's versions before
    and after the change.
    """

    id: str
    date: str
    person: str
    instrument: str
    places: Mapping[str, tuple[FittedPiece, ...]]
    gaps: Mapping[str, RecordedGap]
    _: KW_ONLY
    drawer: DrawerState = "untouched"
    drawer_before: str = ""
    drawer_after: str = ""


def pieces_moved(before: Record | None, after: Record) -> Counter[FittedPiece]:
    """What left the drawer for the machine (above zero) and what came back (below) between two records."""
    moved: Counter[FittedPiece] = Counter()
    for place in after.places.keys() | (before.places.keys() if before else set()):
        now = after.places.get(place, ())
        moved.update(now)
        if before:
            moved.subtract(measured_anew(before.places.get(place, ()), now))
    return Counter({piece: count for piece, count in moved.items() if count})


def measured_anew(before: Sequence[FittedPiece], now: Sequence[FittedPiece]) -> list[FittedPiece]:
    """The pieces before, those that a record says were measured where they are by what they are known as now."""
    found = list(before)
    for piece in now:
        same = (n for n, old in enumerate(found) if (old.part, old.piece) == (piece.part, piece.piece))
        at = next((n for n in same if any(alike(found[n].thickness, one) for one in piece.was)), None)
        if at is not None:
            found[at] = piece
    return found


def alike(one: Bracket, other: Bracket) -> bool:
    """Whether two thicknesses are the same as far as a record can say: it knows whole nanometres."""
    ends = ((one.low, other.low), (one.best, other.best), (one.high, other.high))
    return all(abs(here - there) <= 1 for here, there in ends)


def settled(record: Record, drawer_now: str) -> bool:
    """Whether the drawer's counts agree with a record, as far as can be seen from its version now.

    What a person was to change by hand is not changed while the drawer is in the version that it was in then.
    """
    by_hand = record.drawer == "by hand" and record.drawer_before != drawer_now
    return record.drawer == "done" or by_hand


def last_settled(records: Sequence[Record], was_in: Mapping[str, tuple[FittedPiece, ...]], drawer_now: str) -> Record:
    """The last record that the drawer's counts agree with; what was in at first where they are still as they were."""
    first = Record("", "", "", "", was_in, {})
    return next((record for record in reversed(records) if settled(record, drawer_now)), first)


def _bracket(value: Any) -> Bracket:
    """A bracket as `"9 thou"`, `"9 thou ± 0.5 thou"` or `{ low = ..., best = ..., high = ... }`."""
    if not isinstance(value, dict):
        return toleranced(value, None)
    low, best, high = (length_of(value.get(end, ""), None) for end in ("low", "best", "high"))
    if not low <= best <= high:
        raise RefusedError("low, best and high are in order", "put them in order")
    middle = Bracket.between(low, high)
    # ends are whole nanometres, so a best estimate in the middle may have lost half of one
    return middle if abs(middle.best - best) < 1 else Bracket(middle.low, Fraction(best), middle.high)


def _date(value: Any) -> str:
    if isinstance(value, datetime.datetime):
        return value.isoformat(timespec="minutes")
    return value.isoformat() if isinstance(value, datetime.date) else str(value)[:40]


def _running(value: Any) -> RunningTorque:
    return running_torque(str(value))


_Length = Annotated[Bracket, BeforeValidator(_bracket)]
_Running = Annotated[RunningTorque, BeforeValidator(_running)]


class _Written(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True, arbitrary_types_allowed=True, defer_build=True)


class _Piece(_Written):
    part: str
    piece: str | None = None
    thickness: _Length
    was: list[_Length] = Field(default_factory=list)
    supplier: str = ""
    lot: str = ""

    def fitted(self) -> FittedPiece:
        return FittedPiece(self.part, self.piece, self.thickness, tuple(self.was), self.supplier, self.lot)


class _Place(_Written):
    name: str
    installed: list[_Piece] = Field(default_factory=list)


class _Gap(_Written):
    name: str
    predicted: _Length
    read: _Length | None = None
    running_torque: _Running | None = None
    go: _Length | None = None
    no_go: _Length | None = None
    machined: str = ""
    pulls: int = 0

    def recorded(self) -> RecordedGap:
        pair = None if self.go is None or self.no_go is None else (int(self.go.best), int(self.no_go.best))
        return RecordedGap(self.predicted, self.read, self.running_torque, pair, self.machined, self.pulls)


class RecordTable(_Written):
    """One `[[record]]`, as `shimopt record` writes it; keys of a later version are passed over, not refused."""

    id: str = ""
    date: Annotated[str, BeforeValidator(_date)] = ""
    person: str = ""
    instrument: str = ""
    drawer: DrawerState = "untouched"
    drawer_before: str = ""
    drawer_after: str = ""
    place: list[_Place] = Field(default_factory=list)
    gap: list[_Gap] = Field(default_factory=list)

    def record(self) -> Record:
        """The record that the table describes."""
        places = {p.name: tuple(piece.fitted() for piece in p.installed) for p in self.place}
        gaps = {gap.name: gap.recorded() for gap in self.gap}
        return Record(
            self.id,
            self.date,
            self.person,
            self.instrument,
            places,
            gaps,
            drawer=self.drawer,
            drawer_before=self.drawer_before,
            drawer_after=self.drawer_after,
        )
