"""A job as the server itself holds it: so that a reading is looked at, and its gap answered alone, without a wait.

It is read again when its files change, but not for a reading that the page itself has written: what a reading makes of
the job is known already.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from pathlib import Path
from typing import Any

from shimopt.bench.dimensions_said import refuse_bare, refuse_far
from shimopt.bench.gap_as_written import GapAsWritten, as_written
from shimopt.bench.reading_said import Said
from shimopt.bench.table_row import bracket_of, cells_of, row_read, with_row
from shimopt.door.alone import OneGap, one_gap
from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.job.build import Named, job_of
from shimopt.job.from_files import named_files, read_toml
from shimopt.job.gap import Window
from shimopt.job.job_errors import Written
from shimopt.tables.edit import read_to_change
from shimopt.words.bench_words import RECORDED


@dataclass(frozen=True)
class InHand:
    """A job with what it was read from; `gaps` as they are written, `stacks` of seats as far as they were asked for."""

    path: Path
    raw: dict[str, Any]
    named: Named
    job: Job
    gaps: dict[str, GapAsWritten]
    _: KW_ONLY
    stacks: dict[str, OneGap] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> InHand:
        """The job as its files are now. Raises InputError."""
        raw, kept = read_toml(path), list[Named]()

        def named(window: Window | None, problems: list[Any]) -> Named:
            found = named_files(Written(raw, str(path)), path.parent, window, problems, file=path)
            # what is held in a stock is asked by whoever plans
            kept.append(replace(found, drawer=None, inputs=(str(path), *found.inputs)))
            return kept[0]

        job = job_of(Written(raw, str(path)), named)
        gaps = as_written(raw)
        for row in kept[0].rows.rows:
            cells = cells_of(read_to_change(row.table.path), row.row.number)
            gaps[row.name] = GapAsWritten(row.name, "table", cells)
        return cls(path, raw, kept[0], job, {gap.name: gaps[gap.name] for gap in job.gaps})

    def why_not(self) -> str | None:
        """Why the page cannot give its gaps other readings; None where it can."""
        return RECORDED if self.job.records else None

    def with_said(self, gap: str, said: Said) -> InHand:
        """The job once this is said of a gap, looked at as every job is. Raises InputError with what is wrong."""
        if why := self.why_not():
            raise InputError.at(self.path, why, "give it there", where=gap)
        now = self.gaps[gap].with_said(said)
        raw, named = self.raw, self.named
        if now.form == "table":
            bracket = bracket_of(said, self.job.unit, gap)
            rows = tuple(row_read(row, bracket, said) if row.name == gap else row for row in named.rows.rows)
            named = replace(named, rows=replace(named.rows, rows=rows))
            now = self._in_row(gap, said)
        else:
            raw = {**raw, "gap": [changed(one, now, said) if one["name"] == gap else one for one in raw["gap"]]}
        job = job_of(Written(raw, str(self.path)), lambda *_: named)
        if said.dimensions and not said.checked:
            refuse_far(self.gaps[gap].value, said.dimensions, job.unit, gap)
        return replace(self, raw=raw, named=named, job=job, gaps={**self.gaps, gap: now})

    def with_new(self, gap: str, said: Said) -> InHand:
        """The same for a reading that has just come; one that was taken, or chosen, is not asked about again."""
        new = self.with_said(gap, said)
        if said.value and self.gaps[gap].form != "cover_gap":
            refuse_bare(said.value, self.job.gap[gap], new.job.gap[gap])
        return new

    def says(self, gap: str, said: Said) -> bool:
        """Whether this is what its files say of a gap."""
        now = self.gaps[gap]
        try:
            new = self._in_row(gap, said) if now.form == "table" else now.with_said(said)
        except InputError:
            return False
        return new.same_as(now)

    def _in_row(self, gap: str, said: Said) -> GapAsWritten:
        """What the row of a gap holds once this is said of it."""
        row = next(row for row in self.named.rows.rows if row.name == gap)
        bracket = bracket_of(said, self.job.unit, gap)
        written = with_row(row.table.path, row.row.number, bracket, checked=said.checked)
        return GapAsWritten(gap, "table", cells_of(written, row.row.number))

    def alone(self, gap: str) -> OneGap:
        """The gap alone, whatever is compared with it; its seat's stacks are listed once."""
        known = self.stacks.get(gap)
        if known is None or known.seat is None:
            known = self.stacks[gap] = one_gap(replace(self.job, balances=(), equal=()), gap)
        return replace(known, job=self.job, gap=self.job.gap[gap])


def changed(table: dict[str, Any], now: GapAsWritten, said: Said) -> dict[str, Any]:
    """A gap's table with another reading in place of the one that it has."""
    old = next(key for key in as_written({"gap": [table]}).values()).form
    found = {now.form if key == old else key: now.value if key == old else it for key, it in table.items()}
    found.pop("checked", None)
    return found | ({"checked": True} if said.checked else {})
