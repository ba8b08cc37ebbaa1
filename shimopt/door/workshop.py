"""Before and after fitting, from Python: which parts suit which seats, and what was read in the end."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from shimopt.assembly import running_torque as running_torque_of
from shimopt.door.given import JobLike, known, loaded, names_of
from shimopt.door.planned import Plan, plan
from shimopt.errors import InputError, Problem, RefusedError
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket, mm_number
from shimopt.parts import Part
from shimopt.recording import (
    Recorded,
    Visit,
    blades_after,
    fitted_otherwise,
    machined_after,
    pulls_after,
    record_job,
    refuse_slips,
)
from shimopt.seats import OnSeat
from shimopt.seats.incoming import check_pieces
from shimopt.tables.read import Source
from shimopt.words.speaker import Speaker, plural

if TYPE_CHECKING:
    import pandas as pd

Value = TypeVar("Value")


@dataclass(frozen=True, repr=False)
class Recording:
    """What was recorded of a job after fitting; `recorded` holds all of it as data."""

    recorded: Recorded
    job: Job

    @property
    def compared(self) -> pd.DataFrame:
        """One row per gap that was read: predicted and found, by best estimates, how far off, verdict, likely cause."""
        import pandas as pd

        rows = []
        for row in self.recorded.compared:
            lengths = (mm_number(nm) for nm in (row.predicted.best, row.found.best, row.off))
            rows.append((row.gap, *lengths, row.verdict, row.code))
        return pd.DataFrame(rows, columns=["gap", "predicted_mm", "found_mm", "off_mm", "verdict", "likely"])

    @property
    def table(self) -> dict[str, Any]:
        """The record as the mapping of a job holds it, one of its list `record`."""
        from shimopt.recording.job_file import as_table

        return as_table(self.recorded.record, self.job.unit)

    def __repr__(self) -> str:
        """One line: which day, and how many gaps agree with the plan."""
        rows, day = self.recorded.compared, self.recorded.record.date[:10]
        agree, gaps = sum(row.code == "agrees" for row in rows), plural(len(rows), "gap")
        return f"<Recording of {day}: {agree} of {gaps} as predicted>"


def fit(
    job: JobLike,
    *,
    parts: str | Collection[str] = (),
    seats: str | Collection[str] = (),
    measured: Source | str | None = None,
) -> pd.DataFrame:
    """Hold parts, or pieces in hand, against seats: one row for each on each seat, with its verdict and why.

    Parameters: job, as for `plan`; parts and seats, only those of these names (all if not given); measured, a table of
    pieces in hand (a path or a frame) to check in place of the parts. The columns: seat, part, piece, verdict ("suits",
    "caution", or "stop": must not be fitted), found (sentences), not_checked (rules that had no dimension to go by),
    place (the one that takes only the parts that it names, empty for the seat itself), and for pieces in hand
    as_labelled in its stead. Raises InputError.

    >>> import shimopt
    >>> frame = shimopt.fit("demo_data/swing-bridge", parts=["W-08"])
    >>> frame[frame["verdict"] == "stop"]["seat"].tolist()
    ['plain end']
    """
    import pandas as pd

    from shimopt.seats import on_place_all, on_seat_all
    from shimopt.words.finding_words import finding_words

    held, parts, seats = loaded(job), names_of(parts), names_of(seats)
    say, by_name = Speaker(held.unit, held.stock), {seat.name: seat for seat in held.seats}
    asked = [by_name[known(name, by_name, "seats", "seat")] for name in seats] or list(held.seats)
    columns = ["seat", "part", "piece", "verdict", "found", "not_checked"]
    rows: list[tuple[Any, ...]] = []

    def row(seat: str, part: Part, answer: OnSeat) -> tuple[Any, ...]:
        found = " ".join(finding_words(finding, say) for finding in answer.findings)
        return (seat, part.name, part.piece, answer.verdict, found, ", ".join(one.rule for one in answer.not_checked))

    if measured is not None:
        source = Path(measured) if isinstance(measured, str) else measured
        for one in check_pieces(held, source, asked, parts):
            rows += [(*row(seat, one.piece.part, answer), one.as_labelled) for seat, answer in one.seats.items()]
        return pd.DataFrame(rows, columns=[*columns, "as_labelled"])
    names = {line.part.name: line.part for line in held.stock}
    wanted = {known(name, names, "parts", "part") for name in parts} or set(names)
    here = [line.part for line in held.stock if line.part.name in wanted]
    for seat in asked:
        rows += [
            (*row(seat.name, part, answer), "") for part, answer in zip(here, on_seat_all(here, seat), strict=True)
        ]
    for place in held.places:
        if place.parts and (place.seat is None or place.seat in asked):
            on, answers = place.seat.name if place.seat else "", on_place_all(here, place)
            rows += [(*row(on, part, answer), place.name) for part, answer in zip(here, answers, strict=True)]
    return pd.DataFrame(rows, columns=[*columns, "place"])


def record(
    of: Plan | JobLike,
    after: Mapping[str, str | float | Decimal],
    *,
    # what is asked on a sheet of paper, each by its name: more than six
    person: str,
    instrument: str,
    fitted: Mapping[str, str] | None = None,
    running_torque: Mapping[str, str] | None = None,
    machined: Mapping[str, str] | None = None,
    read: date | None = None,
    update_drawer: bool = False,
) -> Recording:
    """Record what gaps read after the plan was fitted, and compare it with the plan.

    Parameters: of, the plan that was fitted, or a job that is planned first; after, readings by gap: a number in the
    job's unit, "9 thou", "9 to 10 thou" (9 goes, 10 does not) or "0.23 mm ± 0.01 mm", with ", checked" behind it where
    it looks like a slip of a unit or a point and was read so; person and instrument, who read it with what; fitted, by
    place all that is in it where that is not as planned ("H5 + 2 x S-02", "H5 measured 0.148 mm", "nothing");
    running_torque, by gap what it takes to turn it ("1.2 N·m, without oil"), which may stand in place of all readings;
    machined, by gap what was done without a shim ("shoulder faced 0.25 mm"); read, the day (today if not given);
    update_drawer, whether the drawer's counts follow. A job from a file gets the record written into it; one from a
    mapping goes on with `[recording.table]` as its `record` and the drawer of the job before as its stock. Raises
    InputError; nothing is written then.

    >>> import shimopt
    >>> window = {"min": 0.1, "max": 0.3, "source": "sheet 7"}
    >>> drum = {"unit": "mm", "window": window, "gap": [{"name": "drum", "value": 0.2}]}
    >>> plan = shimopt.plan(shimopt.job_from(drum, shimopt.load_stock()))
    >>> done = shimopt.record(plan, {"drum": 0.21}, person="M. Hale", instrument="blades")
    >>> done.compared["found_mm"].tolist()
    [0.21]
    >>> shimopt.job_from(drum | {"record": [done.table]}, plan.job.drawer_of).records[0].person
    'M. Hale'
    """
    made = of if isinstance(of, Plan) else plan(of)
    running = _by_gap(made, "running_torque", running_torque or {}, lambda text, _: running_torque_of(text))
    found = _readings(made, after, needed=not running)
    otherwise = fitted_otherwise(made.decision, [f"{place}={pieces}" for place, pieces in (fitted or {}).items()])
    texts = [f"{name}={text}" for name, text in after.items()]
    refuse_slips(texts, found, otherwise.predicted, made.decision.job)
    day = (read or datetime.now(UTC).astimezone().date()).isoformat()
    recorded = record_job(
        made.decision,
        found,
        Visit(
            day,
            person,
            instrument,
            running,
            blades_after(texts, found, made.decision.job),
            machined_after([f"{name}={text}" for name, text in (machined or {}).items()], found, made.decision.job),
            pulls_after(texts, made.decision.job),
        ),
        fitted=otherwise,
        update_drawer=update_drawer,
    )
    return Recording(recorded, made.job)


def _readings(made: Plan, after: Mapping[str, str | float | Decimal], *, needed: bool) -> dict[str, Bracket]:
    from shimopt.recording.readings_after import reading_after

    found = _by_gap(made, "after", after, lambda text, gap: reading_after(text, gap, made.job))
    if not found and needed:
        raise InputError.at("", "no reading was given", "give at least one gap's", where="after")
    return found


def _by_gap(made: Plan, where: str, given: Mapping[str, Any], read: Callable[[str, Gap], Value]) -> dict[str, Value]:
    """What was given by the names of gaps, as `read` reads it. Raises InputError with all that cannot be read."""
    found: dict[str, Value] = {}
    problems: list[Problem] = []
    for name, value in given.items():
        at = f'{where}["{name}"]'
        try:
            found[name] = read(str(value), made.job.gap[known(name, made.job.gap, where, "gap")])
        except RefusedError as error:
            problems.append(Problem("", at, str(value), error.rule, error.remedy, at))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return found
