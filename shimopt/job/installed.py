"""The pieces that were in, while the gaps were read or before, as stock lines; one measured there has its own line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

from shimopt.errors import Problem, did_you_mean, shown
from shimopt.job.job_errors import Keys, Written
from shimopt.job.places import InstalledTable, PlaceTable
from shimopt.lengths import LengthError, decimal_text, length_of, spelled
from shimopt.parts import Part, StockLine
from shimopt.parts.drawer_and_catalogues import with_micrometer
from shimopt.parts.part import called, off_label


def installed_lines(
    places: Sequence[PlaceTable],
    stock: Sequence[StockLine],
    error: int,
    written: Written,
    problems: list[Problem],
    *,
    recorded: bool,
) -> tuple[tuple[StockLine, ...], dict[str, dict[str, tuple[int, ...]]]]:
    """The stock with lines for pieces measured in the machine, and of "installed" and "came_out" the lines by place.

    What came out for the reading lies at hand: where nothing was recorded since it counts as on hand.

    Parameters: error, the micrometer's [nm], for pieces measured without an error of their own; recorded, whether
    pieces were fitted since: what was in may then lie in the drawer.

    Parts that nobody knows, pieces that cannot be told apart and single pieces named twice are added to `problems`.
    """
    by_name: dict[str, list[StockLine]] = {}
    for line in stock:
        by_name.setdefault(line.part.name, []).append(line)
    found: dict[str, list[tuple[str, StockLine]]] = {"installed": [], "came_out": []}
    singles: dict[tuple[str, str], str] = {}
    for number, place in enumerate(places):
        listed = [("installed", *one) for one in enumerate(place.installed)]
        listed += [("came_out", *one) for one in enumerate(place.came_out)]
        for key, entry, piece in listed:
            at: Keys = ("place", number, key, entry)
            before = len(problems)
            problems += _named_twice(piece, {} if recorded else by_name, singles, written, at)
            found_line = installed_line(piece, by_name, error, partial(written.problem, at), problems)
            if found_line is not None and len(problems) == before:
                found[key].append((place.name, found_line))
    every = [line for lines in found.values() for _, line in lines]
    new = {line.part: line for line in every if line not in stock}
    lines = sorted((*stock, *new.values()), key=lambda line: line.part.order) if every else list(stock)
    named = {line.part.name for line in every}
    index = {line.part: i for i, line in enumerate(lines) if line.part.name in named}
    was_in = {
        key: {
            place.name: tuple(sorted(index[line.part] for name, line in lines_of if name == place.name))
            for place in places
        }
        for key, lines_of in found.items()
    }
    if not recorded:
        at_hand = Counter(i for out in was_in["came_out"].values() for i in out)
        for i, count in at_hand.items():
            lines[i] = replace(lines[i], on_hand=lines[i].on_hand + count)
    return tuple(lines), was_in


def _named_twice(
    piece: InstalledTable,
    by_name: Mapping[str, list[StockLine]],
    singles: dict[tuple[str, str], str],
    written: Written,
    at: Keys,
) -> Iterator[Problem]:
    """A tag names one single piece: it cannot lie in two places, nor in the drawer too."""
    if piece.piece is None:
        return
    mark = (piece.part, piece.piece)
    name = called(piece.part, piece.piece)
    if mark in singles:
        rule = f"this piece was in two places, the other time at {singles[mark]}"
        remedy = "a tag names one piece: take one out, or name the part without its tag"
        yield written.problem(at, name, rule, remedy)
    singles.setdefault(mark, written.where(at))
    if any(line.part.piece == piece.piece and line.on_hand for line in by_name.get(piece.part, [])):
        remedy = "what was in does not count as on hand in the drawer: set on_hand to 0 there"
        yield written.problem(at, name, "this piece is in the drawer too", remedy)


def _of_that_thickness(typed: str, by_name: Mapping[str, list[StockLine]]) -> list[str]:
    """The first parts that are as thick as was typed instead of a name; none where it is no length."""
    try:
        thickness = length_of(typed, None)
    except LengthError:
        return []
    return [name for name, lines in by_name.items() if any(one.part.thickness.best == thickness for one in lines)][:3]


def installed_line(
    piece: InstalledTable,
    by_name: Mapping[str, list[StockLine]],
    error: int,
    wrong: Callable[[str, str, str], Problem],
    problems: list[Problem],
) -> StockLine | None:
    """The stock line of one piece; an existing one where it cannot be told from it.

    Of a part that nobody knows the problem offers a row: one of a name like it would be another thickness.
    """
    known = by_name.get(piece.part, [])
    if not known:
        unit = next((line.typed_in for lines in by_name.values() for line in lines if line.typed_in), "mm")
        thickness = "its thickness" if piece.measured is None else f"thickness {spelled(piece.measured.best, unit)}"
        row = f"give it a row in the drawer: part {piece.part}, {thickness}, on_hand = 0, for it is in the machine"
        remedy = did_you_mean(piece.part, (name for name in by_name if _is_one_name(name, piece.part)), row)
        if as_thick := _of_that_thickness(piece.part, by_name):
            remedy = f"name it as the drawer does: {', '.join(map(shown, as_thick))}"
        problems.append(wrong(piece.part, "neither drawer nor catalogues have this part", remedy))
        return None
    same = [line for line in known if line.part.piece == piece.piece] or known
    if piece.measured is not None:
        if all(off_label(piece.measured.best, line.part.thickness.best) for line in known):
            rule = (
                f"{decimal_text(piece.measured.best, 'mm')} mm is of another order than the part's own "
                f"{decimal_text(known[0].part.thickness.best, 'mm')} mm"
            )
            problems.append(
                wrong(piece.part, rule, "check unit and decimal point of what was measured, and the part's name")
            )
            return None
        alike = [line.part for line in same if line.part.piece == piece.piece]
        # what another was found to be says nothing of this one
        model = next((part for part in alike if not part.measured), alike[0] if alike else known[0].part)
        at = model.at if model.piece == piece.piece and piece.piece else ""
        part: Part = replace(model, thickness=piece.measured, piece=piece.piece, measured=True, at=at)
        (line,) = with_micrometer([StockLine(part, 0)], error) if error else (StockLine(part, 0),)
        return next((same for same in known if same.part == line.part), line)
    if piece.piece is not None:
        same = [line for line in known if line.part.piece == piece.piece]
        if not same:
            tags = ", ".join(sorted(line.part.piece for line in known if line.part.piece)) or "none"
            remedy = f"tags of this part: {tags}; or give its measured thickness"
            problems.append(wrong(called(piece.part, piece.piece), "there is no such piece", remedy))
            return None
    marked = [line for line in same if not line.part.measured] or same
    if len(marked) > 1:
        remedy = 'say which: { part = "...", piece = "..." } or { part = "...", measured = "..." }'
        problems.append(wrong(piece.part, "several pieces have this name and are not alike", remedy))
        return None
    return marked[0]


def _is_one_name(one: str, other: str) -> bool:
    """Whether two names can be one part misspelt: they differ in signs and capitals alone."""
    letters = ["".join(ch for ch in name.casefold() if ch.isalnum()) for name in (one, other)]
    return letters[0] == letters[1]
