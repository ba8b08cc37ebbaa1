"""Places that are written out: `[[place]]`, what is in them, and `equal`; and those that gaps have of their own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, StrictBool, field_validator, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, NotNegative, OneOrMoreTexts, Reach, Text, whole_number
from shimopt.job.gap import Gap
from shimopt.job.model import Place
from shimopt.job.seat import Seat
from shimopt.lengths import Bracket

Few = Annotated[int, whole_number(0, 50, "a number of pieces")]


class PiecesTable(JobTable):
    """`pieces` of a place."""

    min: Few = 0
    max: Few | None = None

    @model_validator(mode="after")
    def _in_order(self) -> PiecesTable:
        if self.max is not None and self.min > self.max:
            raise RefusedError(f"min {self.min} is above max {self.max}", "swap them")
        return self


def a_thickness(measured: Bracket) -> Bracket:
    """What a piece measured, as it is. Raises RefusedError."""
    if measured.low <= 0:
        raise RefusedError("a thickness is above zero over its whole tolerance", "measure the piece again")
    return measured


class InstalledTable(JobTable):
    """A piece that was in during the reading; a bare text is its part."""

    part: Text
    piece: Text | None = None
    measured: Reach | None = None

    @field_validator("measured")
    @classmethod
    def _above_zero(cls, value: Bracket | None) -> Bracket | None:
        return value if value is None else a_thickness(value)


def _installed(value: Any) -> Any:
    return {"part": value} if isinstance(value, str) else value


Pieces = list[Annotated[InstalledTable, BeforeValidator(_installed)]]


class PlaceTable(JobTable):
    """One `[[place]]`: `installed` was in while its gaps were read, `came_out` was in before and taken out to read."""

    name: Text
    seat: Text | None = None
    parts: OneOrMoreTexts | None = None
    pieces: PiecesTable = PiecesTable()
    installed: Pieces = Field(default_factory=list)
    came_out: Pieces = Field(default_factory=list)
    keep: StrictBool = True
    keep_within: NotNegative | None = None

    @field_validator("name")
    @classmethod
    def _not_a_store(cls, value: str) -> str:
        if value in ("bench", "drawer", "order"):
            raise RefusedError("a place has a name that no store of pieces has", "give it another name")
        return value

    @model_validator(mode="after")
    def _not_too_many(self) -> PlaceTable:
        if len(self.installed) > 50 or len(self.came_out) > 50:
            raise RefusedError("at most 50 pieces can be in one place", "check what was in")
        return self


def _equal_lists(value: Any) -> Any:
    """One list of places, or a list of such lists, as a list of lists with two places or more."""
    if not isinstance(value, list):
        return value
    lists = value if any(isinstance(inner, list) for inner in value) else [value]
    for names in lists:
        if not isinstance(names, list) or len(names) < 2:
            raise RefusedError("equal packs are those of at least two places", 'write equal = ["left", "right"]')
        if all(isinstance(name, str) for name in names) and len(set(names)) < len(names):
            raise RefusedError("a name stands twice in this list", "name each place once")
    return lists


EqualPacks = Annotated[list[list[Text]], BeforeValidator(_equal_lists)]


def places_of(
    tables: Sequence[PlaceTable],
    gaps: Sequence[Gap],
    seats: Mapping[str | None, Seat],
    was_in: Mapping[str, Mapping[str, tuple[int, ...]]],
    most: int,
    *,
    assumed: bool,
) -> tuple[Place, ...]:
    """Written-out places; `most` pieces in one stack where neither place nor seat says less, which may be `assumed`.

    A place that names no seat has that of the gap of its own name.
    """
    seat_of_gap = {gap.name: gap.seat for gap in gaps}
    places = []
    for table in tables:
        seat = seat_of_gap.get(table.name) if table.seat is None else seats.get(table.seat)
        limits = [limit for limit in (table.pieces.max, seat.most_pieces if seat else None) if limit is not None]
        fewest = max(table.pieces.min, seat.fewest_pieces if seat else 0)
        places.append(
            Place(
                table.name,
                seat,
                min(limits, default=most),
                fewest,
                was_in["installed"][table.name],
                table.keep,
                table.keep_within,
                came_out=was_in["came_out"][table.name],
                parts=tuple(table.parts or ()),
                most_assumed=assumed and not limits,
            )
        )
    return tuple(places)


def places_of_gaps(gaps: Sequence[Gap], most: int, *, assumed: bool) -> tuple[Place, ...]:
    """One place for each gap, with its name and seat; what the seat says of the most pieces comes before the job."""
    return tuple(
        Place(
            g.name,
            g.seat,
            g.seat.most_pieces or most,
            g.seat.fewest_pieces,
            most_assumed=assumed and not g.seat.most_pieces,
        )
        if g.seat
        else Place(g.name, None, most, most_assumed=assumed)
        for g in gaps
    )
