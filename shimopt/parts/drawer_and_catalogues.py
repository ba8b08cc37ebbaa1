"""From a drawer and its catalogues to stock: what is on hand, what could be bought, and what of that is wanted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.lengths import Bracket
from shimopt.parts.part import Part, StockLine
from shimopt.parts.part_rows import LENGTHS, PLAIN, Models, RowReader
from shimopt.tables.columns import Columns, complain_of_no_column, read_columns
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, Source, read_table


@dataclass(frozen=True, slots=True)
class Stock:
    """Every kind of piece in natural order, and the columns that nobody reads."""

    lines: tuple[StockLine, ...]
    not_read: tuple[tuple[str, str], ...] = ()

    def __repr__(self) -> str:
        """One line, as a notebook shows it."""
        on_hand = sum(line.on_hand for line in self.lines)
        return f"<Stock, kinds of piece: {len(self.lines)}; pieces on hand: {on_hand}>"


def load_stock(drawer: Source | None, catalogues: Sequence[Source], *, complete: bool = True) -> Stock:
    """Read the drawer and the catalogues; `complete` is false where a catalogue that the job names is not among them.

    Raises InputError with the problems of all of them.
    """
    problems: list[Problem] = []
    not_read: list[tuple[str, str]] = []
    offered: list[StockLine] = []
    for catalogue in catalogues:
        offered += _read(catalogue, "catalogue", None, problems, not_read)
    on_hand: list[StockLine] = []
    if drawer is not None:
        # a drawer cannot be blamed for parts that stand in a catalogue which could not be read
        models = _models((line.part for line in offered), complete=complete and not problems)
        on_hand = _read(drawer, "drawer", models, problems, not_read)
    if problems:
        raise InputError(problems)
    lines = tuple(sorted(_merged(on_hand + offered), key=lambda line: line.part.order))
    return Stock(lines, tuple(not_read))


def beside_catalogues(on_hand: Iterable[StockLine], offered: Stock) -> Stock:
    """What a drawer holds that is kept in no table, and what catalogues offer."""
    lines = sorted(_merged([*on_hand, *offered.lines]), key=lambda line: line.part.order)
    return Stock(tuple(lines), offered.not_read)


def models_of(offered: Stock) -> Models:
    """The parts that catalogues know, by name: from them a drawer takes what it does not know itself."""
    return _models((line.part for line in offered.lines), complete=True)


def completed(part: Part, models: Models) -> Part:
    """A part of a drawer that is kept in no table, with what a catalogue knows of it, as a table's row has it."""
    model = models.by_name.get(part.name)
    if model is None or part.name in models.ambiguous:
        return part
    as_marked = part.thickness.exact and not part.measured and part.marked == model.marked
    return replace(
        part,
        thickness=model.thickness if as_marked else part.thickness,
        inner=part.inner or model.inner,
        outer=part.outer or model.outer,
        material=part.material or model.material,
        form=part.form or model.form,
        note=part.note or model.note,
        hardness=part.hardness or model.hardness,
        edge=model.edge if part.edge is None else part.edge,
        provenance=part.provenance or model.provenance,
    )


def _models(parts: Iterable[Part], *, complete: bool) -> Models:
    models: dict[str, Part] = {}
    ambiguous: set[str] = set()
    for part in parts:
        same = models.setdefault(part.name, part)
        if same is not part:
            if _dimensions(part) != _dimensions(same):
                ambiguous.add(part.name)
            # the first in natural order, wherever it stands
            models[part.name] = min(same, part, key=lambda part: part.order)
    return Models(models, complete, frozenset(ambiguous))


def _read(
    source: Source,
    what: str,
    models: Models | None,
    problems: list[Problem],
    not_read: list[tuple[str, str]],
) -> list[StockLine]:
    """The lines of one table; a drawer (`models` are given) may take what it leaves out from a catalogue."""
    try:
        table = read_table(source, what)
    except InputError as error:
        problems += error.problems
        return []
    columns = read_columns(table, LENGTHS, PLAIN, ["part", "thickness"] if models is None else [])
    lines: list[StockLine] = []
    if columns is not None and models is not None and not _says_thickness(columns, models):
        complain_of_no_column(table, "thickness", is_length=True)
    elif columns is not None:
        idle = (
            ("price", "currency", "pack", "price_from", "lead_days")
            if models is not None
            else ("on_hand", "at", "piece", "lot")
        )
        not_read += [(table.path.name, column) for column in [*columns.not_read, *(c for c in idle if columns.has(c))]]
        seen: dict[object, int] = {}
        reader = RowReader(columns, models, table.path.name)
        for row in table.rows:
            line = reader.line(row)
            if line is not None:
                _refuse_double(line, columns, row, seen, models is not None)
                lines.append(line)
            if len(table.problems) >= MOST_LISTED:
                table.complain(None, "", "", "more may be wrong than is listed here", "mend these first")
                break
    problems += table.problems
    return lines


def _says_thickness(columns: Columns, models: Models) -> bool:
    """Whether a drawer has a column from which a thickness can come."""
    from_catalogue = columns.has("part") and (models.by_name or not models.complete)
    return bool(from_catalogue) or columns.has("thickness") or columns.has("measured")


def _refuse_double(line: StockLine, columns: Columns, row: Row, seen: dict[object, int], in_drawer: bool) -> None:
    part = line.part
    mark = (
        (part.name, part.piece, part.thickness if part.measured else None)
        if in_drawer
        else (part.name, line.offers[0].supplier)
    )
    if mark in seen:
        lot = f"; of another lot, write that into `piece` too: {part.lot}" if part.lot else ""
        remedy = (
            f"put the counts together, or tell the pieces apart by name, `piece` or measured thickness{lot}"
            if in_drawer
            else "keep one row, or name the `supplier` of each"
        )
        columns.table.complain(row, "part", part.name, f"the part stands on row {seen[mark]} already", remedy)
    seen.setdefault(mark, row.number)


def _merged(lines: Iterable[StockLine]) -> list[StockLine]:
    """One line per kind: an offer joins a drawer line that it cannot be told from."""
    lines = list(lines)
    if len({(line.part.name, line.part.piece) for line in lines}) == len(lines):
        return lines
    merged: list[StockLine] = []
    named: dict[tuple[str, str | None], list[int]] = {}
    for line in lines:
        alike = named.setdefault((line.part.name, line.part.piece), [])
        at = next((at for at in alike if _dimensions(merged[at].part) == _dimensions(line.part)), None)
        if at is None:
            alike.append(len(merged))
            merged.append(line)
        else:
            old = merged[at]
            merged[at] = replace(old, on_hand=old.on_hand + line.on_hand, offers=old.offers + line.offers)
    return merged


def _dimensions(part: Part) -> tuple[Bracket, Bracket | None, Bracket | None]:
    return part.thickness, part.inner, part.outer


def with_micrometer(lines: Iterable[StockLine], error: int) -> tuple[StockLine, ...]:
    """Stock in natural order; a measured piece that states no measuring error is taken as ± `error` [nm].

    What the shop's micrometer may be off by holds for every piece that was measured with it.
    """
    return tuple(sorted((_with_error(line, error) for line in lines), key=lambda line: line.part.order))


def _with_error(line: StockLine, error: int) -> StockLine:
    thickness = line.part.thickness
    if not line.part.measured or not thickness.exact or thickness.best <= error:
        return line
    wide = Bracket(thickness.low - error, thickness.best, thickness.high + error)
    return replace(line, part=replace(line.part, thickness=wide))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Ranges in which thickness, bore and outside must lie [nm]; None where anything will do."""

    thickness: tuple[int, int] | None = None
    inner: tuple[int, int] | None = None
    outer: tuple[int, int] | None = None

    def takes(self, line: StockLine) -> bool:
        """Whether a part is in all ranges; one whose dimension is not known is not."""
        part = line.part
        if not (_inside(part.inner, self.inner) and _inside(part.outer, self.outer)):
            return False
        if self.thickness is None or part.marked is None:
            return _inside(part.thickness, self.thickness)
        return self.thickness[0] <= part.marked <= self.thickness[1]


@dataclass(frozen=True, slots=True)
class Offered:
    """A part of a catalogue."""

    line: StockLine
    catalogue: str


def _inside(bracket: Bracket | None, wanted: tuple[int, int] | None) -> bool:
    """Whether the bracket meets the range."""
    if wanted is None:
        return True
    return bracket is not None and bracket.low <= wanted[1] and wanted[0] <= bracket.high


def search(catalogues: Mapping[str, Path], wanted: Wanted) -> Iterable[Offered]:
    """The parts of these catalogues that are wanted, catalogue by catalogue, in natural order. Raises InputError."""
    for name, path in catalogues.items():
        for line in load_stock(None, [path]).lines:
            if wanted.takes(line):
                yield Offered(line, name)
