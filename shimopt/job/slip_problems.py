"""Slips that stop a job, as problems: what was typed, what was probably meant, and how to say that it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from shimopt.errors import Problem, shown
from shimopt.job.gap import Gap
from shimopt.job.gaps_table import GapRow
from shimopt.job.job_errors import Keys, Written
from shimopt.job.model import Job
from shimopt.job.reading_slips import slips_of
from shimopt.job.schema import JobFile
from shimopt.job.size_slips import SizeSlip, size_slips
from shimopt.job.slip_evidence import Slip
from shimopt.job.window_slips import WindowSlip, window_slips
from shimopt.lengths import SPELLINGS, UNITS, LengthError, as_decimal, as_typed, toleranced

# from which figure to which a reading was typed [nm], and the unit that stood there
_AsWritten = tuple[tuple[Fraction, Fraction], str]
# more digits of a figure that was worked out nobody reads
_DIGITS = 4
_UNIT = re.compile(r"""([a-zµμ"]+)\s*$""", re.IGNORECASE)
_WHY = {
    "beyond_parts": "that is far above the window ({window}), and no stack that can be had comes near it",
    "blades": "no blades are made so near to one another",
    "nothing": "no gauge shows so little",
    "digits": "that is finer than one reads in this unit, and far below the window ({window})",
    "division": "that is less than one division of its dial, and far below the window ({window})",
    "first reading": "its first reading ({first}) is of another order",
}


def slip_problems(job: Job, contents: JobFile, rows: Sequence[GapRow], written: Written) -> Iterator[Problem]:
    """Everything in a job that stops it as a slip of a unit. `rows` are those of its table of gaps."""
    tables = {table.name: number for number, table in enumerate(contents.gap)}
    by_row = {row.name: row for row in rows}
    for slip in slips_of(job):
        if slip.stops:
            gap = job.gap[slip.gap]
            span, unit = (slip.low, slip.high), gap.typed_in or job.unit
            if (number := tables.get(slip.gap)) is not None:
                key = "after_cover" if slip.why == "first reading" else contents.gap[number].form.key
                span, unit = _as_written(written, number, key, unit) or (span, unit)
            rule, remedy = reading_words(slip, gap, job.unit, (span, unit))
            value = _typed(span, unit)
            if number is not None:
                yield written.problem(("gap", number, key), value, rule, remedy.format(where="the gap"))
            else:
                row = by_row[slip.gap]
                yield row.problem(f"low_{row.unit}", value, rule, remedy.format(where="the row, in a column checked"))
    for window in window_slips(job):
        if not window.stops:
            continue
        rule, remedy = window_words(window, job)
        yield written.problem(_window_at(window.gap, tables, contents), "", rule, remedy)
    for size in size_slips(job):
        if size.stops:
            yield _of_size(size, job)


def _as_written(written: Written, number: int, key: str, unit: str) -> _AsWritten | None:
    """From which figure to which a reading was typed, and the unit that stood there; None where they are not alike.

    Parameter: unit, of numbers without one.
    """
    form = written.raw["gap"][number].get(key)
    readings = form.get("readings", form.get("value")) if isinstance(form, dict) else form
    texts = readings if isinstance(readings, list) else [readings]
    units = {SPELLINGS.get(found[1]) if (found := _UNIT.search(str(text))) else unit for text in texts}
    (typed_in,) = units if len(units) == 1 else (None,)
    try:
        lengths = [abs(toleranced(text, unit).best) for text in texts]
    except LengthError:
        return None
    return ((min(lengths), max(lengths)), typed_in) if typed_in else None


def reading_words(slip: Slip, gap: Gap, unit: str, as_written: _AsWritten | None = None) -> tuple[str, str]:
    """Rule and remedy. Parameters: unit, the job's; as_written, what stood there, where that is known."""
    typed, typed_in = as_written or ((slip.low, slip.high), gap.typed_in or unit)
    limits, first = _window((gap.window.min, gap.window.max), unit), _typed((slip.usual,) * 2, unit)
    why = _WHY[slip.why].format(window=limits, first=first)
    remedy = "write what was read; if it was read so, add checked = true to {where}"
    if slip.meant is None:
        among = f" in one of {', '.join(map(shown, slip.terms))}" if slip.terms[1:] else ""
        among = f" in {shown(slip.terms[0])}" if len(slip.terms) == 1 else among
        return f"{_typed(typed, typed_in)}? a figure has probably slipped{among}: {why}", remedy
    factor = Fraction(UNITS[slip.unit], UNITS[typed_in]) if slip.unit else (slip.meant or slip.reading) / slip.reading
    said = _typed(typed, typed_in, factor)
    if slip.unit:
        said += f", or {_typed(typed, typed_in, said=slip.unit)},"
    said += f" or {_typed(typed, typed_in, Fraction(1, 10))}," if slip.point is not None else ""
    return f"{_typed(typed, typed_in)}? {said} was probably meant: {why}", remedy


def window_words(slip: WindowSlip, job: Job) -> tuple[str, str]:
    """Rule and remedy."""
    window = job.gap[slip.gap].window
    limits, factor = (window.min, window.max), slip.factor
    typed = _window(limits, job.unit)
    if slip.upper and window.max is not None:
        times = Fraction(1) if slip.unit else factor
        top = _typed((Fraction(window.max),) * 2, job.unit, times, said=slip.unit)
        rule = f"{typed}? {top} was probably meant for its upper end, hundreds of times the lower one and what is read"
        return rule, "write it in the window's unit; if it stands, add checked = true to the gap"
    meant = _window(limits, job.unit, factor)
    meant += f", or {_window(limits, job.unit, said=slip.unit)}," if slip.unit else ""
    rule = f"{typed}? {meant} was probably meant: what is read and the pieces in the drawer are of another order"
    return rule, "write the window in its unit; if it stands, add checked = true to the gap"


def _of_size(slip: SizeSlip, job: Job) -> Problem:
    drawer, row = str(job.drawer or "drawer"), slip.line.row
    if row is None and (offered := next(iter(slip.line.offers), None)):
        drawer, row = offered.catalogue, offered.row
    column = f"column thickness_{slip.line.typed_in}"
    where = f"row {row}, {column}" if row and not slip.all_sizes else column
    return Problem(drawer, where, _typed((slip.thickness,) * 2, slip.line.typed_in), *size_words(slip))


def size_words(slip: SizeSlip) -> tuple[str, str]:
    """Rule and remedy."""
    typed, meant = _typed((slip.thickness,) * 2, slip.line.typed_in), _typed((slip.meant,) * 2, slip.unit)
    in_column = _typed((slip.thickness,) * 2, slip.line.typed_in, Fraction(UNITS[slip.unit], UNITS[slip.line.typed_in]))
    if slip.all_sizes:
        rule = f"sizes such as {typed}? {meant} was probably meant: no gap of this job is of that order"
        way = "write them in its unit" if slip.unit == slip.line.typed_in else f"name the column thickness_{slip.unit}"
        return rule, f"{way}; if the sizes stand, add checked = true to a gap"
    said = meant if slip.unit == slip.line.typed_in else f"{meant} ({in_column})"
    order = (
        f"{', '.join(map(shown, slip.others[:3]))} and their like" if slip.others else "the other sizes and the gaps"
    )
    rule = f"{typed}? {said} was probably meant: {order} are of another order"
    return rule, "write its thickness in the column's unit; if it stands, measure it and fill in the measured thickness"


def _window_at(gap: str, tables: Mapping[str, int], contents: JobFile) -> Keys:
    number = tables.get(gap)
    own = number is not None and contents.gap[number].window is not None
    return ("gap", number, "window") if own and number is not None else ("window",)


def _typed(span: tuple[Fraction, Fraction], unit: str, factor: Fraction = Fraction(1), *, said: str = "") -> str:
    """From one length to another, times `factor`, with the digits that a person typed; `said`, as if in this unit."""
    low, high = (_figure(as_typed(nm, unit) * factor, exact=factor == 1) for nm in span)
    return f"{low} {said or unit}" if low == high else f"{low} to {high} {said or unit}"


def _figure(number: Fraction, *, exact: bool) -> str:
    """A number as typed; one that was worked out from it is rounded as one reads it."""
    text = as_decimal(number, 6)
    if exact or len(text.replace(".", "").lstrip("0")) <= _DIGITS:
        return text
    whole = len(str(int(number)).lstrip("0"))
    leading = len(text.partition(".")[2]) - len(text.partition(".")[2].lstrip("0")) if not whole else 0
    return as_decimal(number, max(0, _DIGITS - whole + leading))


def _window(limits: tuple[int | None, int | None], unit: str, factor: Fraction = Fraction(1), *, said: str = "") -> str:
    low, high = limits
    if low is not None and high is not None and high <= 0:
        return f"preload {_typed((Fraction(-high), Fraction(-low)), unit, factor, said=said)}"
    if low is not None and high is not None:
        return _typed((Fraction(low), Fraction(high)), unit, factor, said=said)
    limit = Fraction(low if low is not None else high or 0)
    return f"{'at least' if low is not None else 'at most'} {_typed((limit, limit), unit, factor, said=said)}"
