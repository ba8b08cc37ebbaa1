"""The pieces that were in while the gaps were read, as stock lines; a piece measured there has a line of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from shimopt.errors import Problem, nearest_name
from shimopt.job.place_schema import InstalledTable, PlaceTable
from shimopt.parts import Part, StockLine
from shimopt.parts.stock import with_micrometer

__all__ = ["installed_lines"]


def installed_lines(
    places: Sequence[PlaceTable],
    stock: Sequence[StockLine],
    error: int,
    file: Path,
    problems: list[Problem],
    *,
    recorded: bool,
) -> tuple[tuple[StockLine, ...], dict[str, tuple[int, ...]]]:
    """The stock with lines for measured pieces added, and by place the lines of what was in it.

    Parameters: error, the micrometer's [nm], for pieces measured without an error of their own; recorded, whether
    pieces were fitted since: what was in may then lie in the drawer.

    Parts that nobody knows, pieces that cannot be told apart and single pieces named twice are added to `problems`.
    """
    by_name: dict[str, list[StockLine]] = {}
    for line in stock:
        by_name.setdefault(line.part.name, []).append(line)
    found: list[tuple[str, StockLine]] = []
    singles: dict[tuple[str, str], str] = {}
    for number, place in enumerate(places, start=1):
        for entry, piece in enumerate(place.installed, start=1):
            where = f'[[place]] {number} "{place.name}", installed.{entry}'
            before = len(problems)
            problems += _named_twice(piece, {} if recorded else by_name, singles, file, where)
            found_line = _line(piece, by_name, error, file, where, problems)
            if found_line is not None and len(problems) == before:
                found.append((place.name, found_line))
    new = {line.part: line for _, line in found if line not in stock}
    lines = tuple(sorted((*stock, *new.values()), key=lambda line: line.part.order))
    at = {line.part: index for index, line in enumerate(lines)}
    return lines, {
        place.name: tuple(sorted(at[line.part] for name, line in found if name == place.name)) for place in places
    }


def _named_twice(
    piece: InstalledTable,
    by_name: Mapping[str, list[StockLine]],
    singles: dict[tuple[str, str], str],
    file: Path,
    where: str,
) -> Iterator[Problem]:
    """A tag names one single piece: it cannot lie in two places, nor in the drawer too."""
    if piece.piece is None:
        return
    mark = (piece.part, piece.piece)
    name = f"{piece.part} [{piece.piece}]"
    if mark in singles:
        yield Problem(
            str(file),
            where,
            name,
            f"this piece is installed twice, the other time at {singles[mark]}",
            "a tag names one piece: take one out, or name the part without its tag",
        )
    singles.setdefault(mark, where)
    if any(line.part.piece == piece.piece and line.on_hand for line in by_name.get(piece.part, [])):
        yield Problem(
            str(file),
            where,
            name,
            "this piece is in the drawer too",
            "what is installed does not count as on hand: set on_hand to 0 there",
        )


def _line(
    piece: InstalledTable,
    by_name: Mapping[str, list[StockLine]],
    error: int,
    file: Path,
    where: str,
    problems: list[Problem],
) -> StockLine | None:
    """The stock line of one piece; an existing one where it cannot be told from it."""
    known = by_name.get(piece.part, [])
    if not known:
        meant = nearest_name(piece.part, by_name)
        remedy = f"did you mean {meant}?" if meant else "give it a row in the drawer, with on_hand = 0 if there is none"
        problems.append(Problem(str(file), where, piece.part, "neither drawer nor catalogues have this part", remedy))
        return None
    same = [line for line in known if line.part.piece == piece.piece] or known
    if piece.measured is not None:
        model = next((line.part for line in same if line.part.piece == piece.piece), known[0].part)
        at = model.at if model.piece == piece.piece and piece.piece else ""
        part: Part = replace(model, thickness=piece.measured, piece=piece.piece, measured=True, at=at)
        (line,) = with_micrometer([StockLine(part, 0)], error) if error else (StockLine(part, 0),)
        return next((same for same in known if same.part == line.part), line)
    if piece.piece is not None:
        same = [line for line in known if line.part.piece == piece.piece]
        if not same:
            tags = ", ".join(sorted(line.part.piece for line in known if line.part.piece)) or "none"
            problems.append(
                Problem(
                    str(file),
                    where,
                    f"{piece.part} [{piece.piece}]",
                    "there is no such piece",
                    f"tags of this part: {tags}; or give its measured thickness",
                )
            )
            return None
    marked = [line for line in same if not line.part.measured] or same
    if len(marked) > 1:
        problems.append(
            Problem(
                str(file),
                where,
                piece.part,
                "several pieces have this name and are not alike",
                'say which: { part = "...", piece = "..." } or { part = "...", measured = "..." }',
            )
        )
        return None
    return marked[0]
