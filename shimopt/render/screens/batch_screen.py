"""A batch on a terminal: millions of gaps, or many jobs, a row each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.render.screens.laid_table import Cell, Row, table
from shimopt.render.screens.layout import Line, bold, columns, plain
from shimopt.words.speaker import plural


class Found(Protocol):
    """What a batch says of itself beside its counts."""

    @property
    def resumed(self) -> int:
        """Pieces that were finished before."""

    @property
    def begun_anew(self) -> bool:
        """Whether there were pieces of another batch."""

    @property
    def stray(self) -> int:
        """Files among the finished pieces that were none."""

    @property
    def not_read(self) -> Sequence[tuple[str, str]]:
        """Files and their columns that were not read."""


def batch_lines(counts: Mapping[str, int], output: str, seconds: float, found: Found) -> list[Line]:
    """The answer first: how many gaps came out how; then what else a reader should know."""
    gaps = sum(counts[key] for key in ("inside", "unproven", "outside", "refused"))
    lines: list[Line] = [
        (
            f"{gaps:,} gaps: {counts['inside']:,} inside, {counts['unproven']:,} inside by best estimate, "
            f"{counts['outside']:,} outside, {counts['refused']:,} refused.",
            True,
        )
    ]
    lines.append((f"{counts['pieces']:,} pieces fitted. Written to {shown(output)} in {seconds:.2f} s.", False))
    if counts["refused"]:
        lines.append(("Refused rows say in the column reason what is wrong with them.", False))
    if found.resumed:
        ending = "" if found.resumed == 1 else "s"
        lines.append((f"Went on from {found.resumed:,} finished piece{ending} of a batch that was cut off.", False))
    if found.begun_anew:
        lines.append(("What was left of another batch was not used: its inputs or options were not these.", False))
    if found.stray:
        lines.append(
            (
                f"Passed over: {plural(found.stray, 'file')} in {shown(output)}.unfinished, no finished pieces of it.",
                False,
            )
        )
    lines += [(f"Not read: column {shown(column)} of {shown(file)}.", False) for file, column in found.not_read]
    return lines


_COUNTS = {"gaps": "gaps", "inside": "inside", "unproven": "perhaps inside", "outside": "outside", "go_in": "go in"}
_ANSWERS = {0: "can be done", 1: "not all inside", 2: "input is wrong", 3: "a fault of ours"}


def _answer(row: Mapping[str, Any]) -> str:
    """What a job comes to; what has to be settled first can not be done today."""
    if row["settle_first"]:
        return "settle first" if row["exit_code"] == 0 else "not all inside; settle first"
    return _ANSWERS[row["exit_code"]]


def job_line(row: Mapping[str, Any]) -> str:
    """One job in a line."""
    if row["error"]:
        return f"{shown(row['job'])}: {_ANSWERS[row['exit_code']]}: {shown(row['error'])}"
    counts = f"{row['inside']} of {plural(row['gaps'], 'gap')} inside, {plural(row['go_in'], 'piece')} to fit"
    return f"{shown(row['job'])}: {_answer(row)}: {counts}"


def jobs_lines(rows: Sequence[Mapping[str, Any]], output: str | None, width: int) -> list[Line]:
    """How many can be done; the table; what is wrong with the jobs that are broken."""
    done = sum(row["exit_code"] == 0 and not row["settle_first"] for row in rows)
    first = sum(row["exit_code"] == 0 and bool(row["settle_first"]) for row in rows)
    broken = [row for row in rows if row["error"]]
    head = f"{done} of {plural(len(rows), 'job')} can be done"
    head += f"; in {plural(first, 'job')} something is to be settled first" if first else ""
    head += f"; {plural(len(broken), 'job')} could not be planned" if broken else ""
    head += "."
    lines: list[Line] = bold(head, width)
    laid: list[tuple[str, ...]] = [("job", *_COUNTS.values(), "answer")]
    laid += [
        (shown(row["job"]), *("" if row[key] is None else str(row[key]) for key in _COUNTS), _answer(row))
        for row in rows
    ]
    # a name is not folded while there is room
    head_row, *blocks = columns(laid, width, least_first=min(40, 1 + max(len(row[0]) for row in laid)))
    if any(cell_len(text) > width for block in (head_row, *blocks) for text in block):
        titles, *others = (Row(tuple(map(Cell, row))) for row in laid)
        lines += table(titles, others, width)
    else:
        lines += [(text, True) for text in head_row]
        lines += [(text, False) for block in blocks for text in block]
    for row in broken:
        lines += plain(f"{shown(row['job'])}: {shown(row['error'], 1000)}", width, rest="  ")
    if output is not None:
        lines.append((f"Written to {shown(output)}.", False))
    return lines
