"""What of the answers to `shimopt new` looks like another unit's: a window, or a size of the drawer, asked about again.

The rules are those by which such a job stops when it is planned (`job/window_slips.py`, `job/size_slips.py`).
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from shimopt.starting.new_answers import Answers, GapRead, job_as_read, named_size, stock_of

if TYPE_CHECKING:
    from shimopt.job import Job

_FEWEST_PULLS = 3
# common practice, no source: no end play is so long [nm], and no stack of more pieces is sought where nobody says so
_LONG_GAP, _MOST_PIECES = 5_000_000, 3


@dataclass(frozen=True, slots=True)
class Doubt:
    """What was probably meant, and of which size; None of the window, or of all sizes together."""

    rule: str
    about: str
    size: Decimal | None = None


def reading_doubted(answers: Answers, gap: GapRead) -> str | None:
    """What was probably meant where a reading looks like another unit's; None where it stands.

    Raises InputError where it is no reading.
    """
    from shimopt.job.reading_slips import slips_of
    from shimopt.job.slip_problems import reading_words

    job = _job(replace(answers, gaps=[gap], sizes={}))
    if gap.form == "built_up" and not gap.checked and (far := _far(job, answers)):
        return far
    return next((reading_words(slip, job.gap[slip.gap], answers.unit)[0] for slip in slips_of(job) if slip.stops), None)


def pulls_doubted(table: str) -> list[str]:
    """What of a dial's pulls, as the table of a reading, says little: how few they are, or how coarse its division."""
    read = tomllib.loads(f"it = {table}", parse_float=Decimal)["it"]
    step, pulls = read.get("resolution"), read["readings"]
    coarse = f"One division is {step}, and the pulls are hardly more" if step and 2 * step > max(pulls) else ""
    few = "So few pulls say nothing of how well it repeats" if len(pulls) < _FEWEST_PULLS else ""
    return [doubt for doubt in (coarse, few) if doubt]


def _far(job: Job, answers: Answers) -> str:
    """That dimensions leave a gap beyond all that is allowed and at hand, as a figure with a point too few does."""
    from shimopt.job.slip_evidence import FAR
    from shimopt.lengths import UNITS, spelled
    from shimopt.words.bench_words import far_apart_words
    from shimopt.words.speaker import Speaker

    read, window = job.gaps[0].reading.bracket.best, job.gaps[0].window
    limits, unit = [abs(limit) for limit in (window.min, window.max) if limit is not None], UNITS[answers.unit]
    filled = _MOST_PIECES * max(answers.sizes, default=Decimal(0)) * unit
    if read <= max(FAR * (max(limits) + Fraction(filled)), Fraction(_LONG_GAP)):
        return ""
    say = Speaker(answers.unit)
    return far_apart_words(spelled(read, answers.unit), say.window(window.stated_min, window.max))


def doubts(answers: Answers) -> Iterator[Doubt]:
    """What of the window and of the sizes looks like another unit's."""
    from shimopt.job.size_slips import size_slips
    from shimopt.job.slip_problems import size_words, window_words
    from shimopt.job.window_slips import window_slips

    job = _job(answers)
    for slip in (one for one in window_slips(job) if one.stops):
        yield Doubt(window_words(slip, job)[0], "window")
    by_name = {named_size(size, answers.unit): size for size in answers.counts}
    for size in size_slips(job):
        if size.stops:
            yield Doubt(size_words(size)[0], "sizes", None if size.all_sizes else by_name[size.line.part.name])


def _job(answers: Answers) -> Job:
    """The job as typed, which could not be loaded where something in it is a slip: its parts are put in afterwards."""
    from shimopt.parts.drawer_and_catalogues import Stock

    looked_at = [replace(gap, checked=True, was_in=()) for gap in answers.gaps]
    job = job_as_read(replace(answers, gaps=looked_at), Stock(()))
    gaps = tuple(replace(gap, checked=read.checked) for gap, read in zip(job.gaps, answers.gaps, strict=True))
    return replace(job, gaps=gaps, stock=stock_of(answers).lines)
