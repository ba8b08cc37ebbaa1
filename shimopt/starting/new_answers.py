"""What was answered to `shimopt new`, and the files that say it: job.toml and the drawer."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from shimopt.starting.typed_text import quoted

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.parts.drawer_and_catalogues import Stock
    from shimopt.starting.new_from import Base

# least and largest clearance, each None where there is none
Limits = tuple[Decimal | None, Decimal | None]


class PieceIn(NamedTuple):
    """A piece by its name in the drawer; `size` is 0 where another job's drawer knows it."""

    name: str
    size: Decimal


@dataclass(frozen=True, slots=True)
class GapRead:
    """A gap: its reading as a key and table of the job file, the pieces that were in, and its seat.

    `checked`: somebody looked at the reading again.
    """

    name: str
    form: str
    table: str
    was_in: tuple[PieceIn, ...] = ()
    seat: str = ""
    checked: bool = False

    @property
    def covered(self) -> bool:
        """Whether its shims lie under a cover, not between the parts."""
        return self.form == "cover_gap"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """All that was answered, in `unit`; what `base` holds, another job, is not asked.

    `sizes` counts what is on hand; `measured` are sizes that were looked at again.
    `bore` is that of the shims, and `shaft` the text of the diameter they sit on, empty where nobody measured it.
    """

    title: str = ""
    unit: str = ""
    window: Limits = (None, None)
    source: str = ""
    shaft: str = ""
    bore: Decimal | None = None
    gaps: Sequence[GapRead] = ()
    sizes: dict[Decimal, int] = field(default_factory=dict)
    measured: frozenset[Decimal] = frozenset()
    base: Base | None = None

    @property
    def counts(self) -> dict[Decimal, int]:
        """What is on hand by its size, 0 of what lies in the machine alone."""
        in_machine = {piece.size: 0 for gap in self.gaps for piece in gap.was_in}
        return self.sizes if self.base else in_machine | self.sizes


def job_text(answers: Answers, folder: Path) -> str:
    """The text of job.toml, for this folder: files are named as they are seen from there."""
    lines = [
        f"title  = {quoted(answers.title)}",
        f'unit   = "{answers.unit}"',
        *(answers.base.head(folder) if answers.base else ['drawer = "drawer.csv"']),
    ]
    if answers.base is not None and answers.base.tables:
        lines += ["", answers.base.tables]
    if answers.base is None or not answers.base.has_window:
        lines += ["", *_window_lines(answers)]
    if answers.base is None:
        lines += ["", *_seat_lines(answers)]
    was_in = any(gap.was_in for gap in answers.gaps)
    for gap in answers.gaps:
        seat = [f"seat   = {quoted(gap.seat)}"] if gap.seat else []
        if was_in:
            key = "came_out" if gap.covered else "installed"
            pieces = [f"{key} = [{', '.join(quoted(piece.name) for piece in gap.was_in)}]"] if gap.was_in else []
            lines += ["", "[[place]]", f"name   = {quoted(gap.name)}", *seat, *pieces]
        lines += ["", "[[gap]]", f"name   = {quoted(gap.name)}", *([] if was_in else seat)]
        lines += [f"{gap.form} = {gap.table}", *(["checked = true"] if gap.checked else [])]
    return "\n".join(lines) + "\n"


def drawer_text(answers: Answers) -> str:
    """The drawer as a table; sizes that were looked at again stand as measured, too."""
    unit, bore = answers.unit, answers.bore
    head = [f"thickness_{unit}"]
    if answers.measured:
        head.append(f"measured_{unit}")
    if bore is not None:
        head.append(f"inner_{unit}")
    rows = [f"part,{','.join(head)},on_hand"]
    for size, count in sorted(answers.counts.items()):
        cells = ["", f"{size:f}"]
        if answers.measured:
            cells.append(f"{size:f}" if size in answers.measured else "")
        if bore is not None:
            cells.append(f"{bore:f}")
        rows.append(",".join([*cells, str(count)]))
    return "\n".join(rows) + "\n"


def named_size(size: Decimal, unit: str) -> str:
    """What a piece of the drawer is called that has no other name than its size."""
    from shimopt.lengths import to_nm
    from shimopt.parts.part_rows import named_by

    return named_by(round(to_nm(Fraction(size), unit)), unit)


def stock_of(answers: Answers) -> Stock:
    """The parts of the other job's drawer, or those that the drawer's text describes."""
    from shimopt.lengths import Bracket, to_nm
    from shimopt.parts import Part, StockLine
    from shimopt.parts.drawer_and_catalogues import Stock

    if answers.base is not None:
        return answers.base.stock
    lines = []
    for size, count in answers.counts.items():
        thick = to_nm(Fraction(size), answers.unit)
        measured = size in answers.measured
        part = Part(named_size(size, answers.unit), Bracket.between(thick, thick), measured=measured)
        lines.append(StockLine(part, count, typed_in=answers.unit))
    return Stock(tuple(sorted(lines, key=lambda line: line.part.order)))


def job_as_read(answers: Answers, stock: Stock) -> Job:
    """The job that the text makes with these parts. Raises InputError with what is wrong in it."""
    from shimopt.job import job_from

    return job_from({**tomllib.loads(job_text(answers, Path())), "drawer": None, "catalogues": None}, stock)


def _window_lines(answers: Answers) -> list[str]:
    low, high = answers.window
    if low is not None and high is not None and high < 0:
        limits = [f"preload = [{-high:f}, {-low:f}]"]
    else:
        limits = [f"min    = {_limit(low)}", f"max    = {_limit(high)}"]
    return [
        "[window]                       # for every gap that has none of its own",
        *limits,
        f"source = {quoted(answers.source)}",
    ]


def _seat_lines(answers: Answers) -> list[str]:
    if answers.shaft:
        return [
            "[[seat]]                       # what the shims sit on",
            'name  = "seat"',
            f"shaft = {quoted(answers.shaft)}",
        ]
    return [
        '# To have bores checked, describe the seat and name it in each gap: seat = "shaft end"',
        "# [[seat]]",
        '# name  = "shaft end"',
        '# shaft = "16 mm ± 0.01 mm"',
    ]


def _limit(number: Decimal | None) -> str:
    return '"none"' if number is None else f"{number:f}"
