"""What changes at every place, as JSON: out, stays, in and where from; the same piece by piece in the order of work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Changes, Piece, PlaceChange
from shimopt.parts import Part
from shimopt.planner import Decision
from shimopt.render.json.results_json import mm


def change_objects(decision: Decision) -> list[dict[str, Any]]:
    """One entry per place, also where all stays as it is."""
    return [_change(decision, change) for change in decision.changes]


def change_totals(changes: Changes) -> dict[str, int]:
    """What the changes come to: places by what becomes of them, and pieces by where they go."""
    return {
        "places_opened": len(changes.opened),
        "places_filled": len(changes.filled),
        "places_left": len(changes.left),
        "places_empty": len(changes.empty),
        "pieces_between_places": len(changes.between_places),
        "pieces_from_bench": len(changes.going_in(BENCH)),
        "pieces_from_drawer": len(changes.going_in(DRAWER)),
        "pieces_to_drawer": len(changes.to_drawer),
        "pieces_to_buy": len(changes.going_in(ORDER)),
    }


def _change(decision: Decision, change: PlaceChange) -> dict[str, Any]:
    parts = [line.part for line in decision.job.stock]
    return {
        "place": change.place,
        "out": [_piece(parts[line], count) | _goes(parts[line], to) for (line, to), count in _counted(change.out)],
        "stays": [
            *(_piece(parts[line], count) for line, count in Counter(change.stays).items()),
        ],
        "in": [
            _piece(parts[line], count) | {"from": came, "at": parts[line].at or None if came == DRAWER else None}
            for (line, came), count in _counted(change.into)
        ],
        "stays_out": [_piece(parts[line], count) for line, count in Counter(change.stays_out).items()],
        "thicker": mm(change.thicker),
    }


def _goes(part: Part, to: str) -> dict[str, Any]:
    """Where a piece goes that comes out; what is worn is put aside, and goes into no drawer."""
    if to == DRAWER and part.worn:
        return {"to": "aside", "at": None}
    return {"to": to, "at": part.at or None if to == DRAWER else None}


def _counted(pieces: Sequence[Piece]) -> list[tuple[tuple[int, str], int]]:
    return list(Counter((piece.line, piece.other) for piece in pieces).items())


def _piece(part: Part, count: int) -> dict[str, Any]:
    return {"part": part.name, "piece": part.piece, "pieces": count, "thickness": mm(part.thickness.best)}


def move_objects(decision: Decision) -> list[dict[str, Any]]:
    """One row per single piece: out to the bench, then in, then what is left over to the drawer."""
    rows = []
    for move in decision.moves:
        part = decision.job.stock[move.line].part
        target = "aside" if move.target == DRAWER and part.worn else move.target
        row = {"part": part.name, "piece": part.piece, "from": move.source, "to": target}
        rows.append(row | ({"out_of": move.out_of} if move.out_of is not None and move.source == BENCH else {}))
    return rows


def bought_at(change: PlaceChange) -> Counter[int]:
    """How many pieces of each stock line are to be ordered for a place."""
    return Counter(piece.line for piece in change.into if piece.other == ORDER)
