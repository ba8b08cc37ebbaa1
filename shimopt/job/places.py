"""Places from their tables, and what moves each gap."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction

from shimopt.job.model import EffectSource, Gap, Place, Seat
from shimopt.job.place_schema import EffectTable, PlaceTable

__all__ = ["effects_of", "places_of", "places_of_gaps"]

Effects = tuple[tuple[str, Fraction], ...]


def effects_of(
    name: str, stated: Mapping[str, EffectTable] | None, places: Collection[str] | None, own: Fraction
) -> tuple[Effects, tuple[EffectSource, ...]]:
    """What moves a gap, and where the figures come from.

    A gap that states no effects is moved by the place of its own name, by `own`. `places` are those written out, None
    where none are: then every gap has such a place; else it may have none.
    """
    if stated is None:
        return (((name, own),) if places is None or name in places else ()), ()
    known = [table.known(place) for place, table in stated.items()]
    effects = tuple((found.place, found.effect) for found in known if found.effect)
    # a bare number needs no more words
    told = tuple(found for found in known if found.kind != "figure" or found.source or found.geometry is not None)
    return effects, told


def places_of(
    tables: Sequence[PlaceTable],
    gaps: Sequence[Gap],
    seats: Mapping[str | None, Seat],
    installed: Mapping[str, tuple[int, ...]],
    most: int,
) -> tuple[Place, ...]:
    """Written-out places; `most` pieces in one stack where neither place nor seat says less.

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
                installed.get(table.name, ()),
                table.keep,
                table.keep_within,
            )
        )
    return tuple(places)


def places_of_gaps(gaps: Sequence[Gap], most: int) -> tuple[Place, ...]:
    """One place for each gap, with its name and seat; what the seat says of the most pieces comes before the job."""
    return tuple(
        Place(g.name, g.seat, g.seat.most_pieces or most, g.seat.fewest_pieces) if g.seat else Place(g.name, None, most)
        for g in gaps
    )
