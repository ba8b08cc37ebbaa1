"""`[[record]]` in job.toml. It is written by `shimopt record`; keys of a later version are passed over, not refused."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from shimopt.job.record import DrawerState, FittedPiece, Record, RecordedGap
from shimopt.lengths import Bracket, LengthError, length_of, toleranced

__all__ = ["RecordTable"]


def _bracket(value: Any) -> Bracket:
    """A bracket as `"9 thou"`, `"9 thou ± 0.5 thou"` or `{ low = ..., best = ..., high = ... }`."""
    try:
        if isinstance(value, dict):
            low, best, high = (length_of(value.get(end, ""), None) for end in ("low", "best", "high"))
            if not low <= best <= high:
                words = {"rule": "low, best and high are in order", "remedy": "put them in order"}
                raise PydanticCustomError("wrong", "{rule}. {remedy}", words)
            middle = Bracket.between(low, high)
            # ends are whole nanometres, so a best estimate in the middle may have lost half of one
            return middle if abs(middle.best - best) < 1 else Bracket(middle.low, Fraction(best), middle.high)
        return toleranced(value, None)
    except LengthError as error:
        raise PydanticCustomError("wrong", "{rule}. {remedy}", {"rule": error.rule, "remedy": error.remedy}) from None


def _date(value: Any) -> str:
    if isinstance(value, datetime.datetime):
        return value.isoformat(timespec="minutes")
    return value.isoformat() if isinstance(value, datetime.date) else str(value)[:40]


_Length = Annotated[Bracket, BeforeValidator(_bracket)]


class _Written(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True, arbitrary_types_allowed=True)


class _Piece(_Written):
    part: str
    piece: str | None = None
    thickness: _Length


class _Place(_Written):
    name: str
    installed: list[_Piece] = Field(default_factory=list)


class _Gap(_Written):
    name: str
    predicted: _Length
    read: _Length | None = None


class RecordTable(_Written):
    """One `[[record]]`."""

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
        places = {p.name: tuple(FittedPiece(x.part, x.piece, x.thickness) for x in p.installed) for p in self.place}
        gaps = {gap.name: RecordedGap(gap.predicted, gap.read) for gap in self.gap}
        return Record(
            self.id,
            self.date,
            self.person,
            self.instrument,
            places,
            gaps,
            self.drawer,
            self.drawer_before,
            self.drawer_after,
        )
