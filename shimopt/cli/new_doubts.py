"""What of the answers to `shimopt new` looks like another unit's: a window, or a size of the drawer, asked about again.

The rules are those by which a job with such figures stops when it is planned (`job/size_slips.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

import click

from shimopt.cli.terminal import asked, say
from shimopt.errors import InputError

if TYPE_CHECKING:
    from shimopt.job import Job

__all__ = ["Blades", "Typed", "Window", "blades_doubted", "settled"]

# a gap by its name, the blade that goes, the one that does not, and whether both were looked at again
Blades = tuple[str, Decimal | None, Decimal, bool]
Window = tuple[Decimal | None, Decimal | None]


@dataclass(frozen=True, slots=True)
class Typed:
    """All answers with a length in them, in `unit`; `measured` are sizes that were looked at again."""

    unit: str
    window: Window
    gaps: Sequence[Blades]
    sizes: dict[Decimal, int]
    measured: frozenset[Decimal] = frozenset()


@dataclass(frozen=True, slots=True)
class _Doubt:
    """What was probably meant, and of which size; None of the window, or of all sizes together."""

    rule: str
    about: str
    size: Decimal | None = None


def blades_doubted(unit: str, window: Window, blades: Blades) -> str | None:
    """What was probably meant where two blades look like another unit's; None where they stand."""
    from shimopt.job.slip_problems import reading_words
    from shimopt.job.slips import slips_of

    try:
        job = _job(Typed(unit, window, [blades], {}))
    except InputError as error:
        return error.problems[0].rule
    return next((reading_words(slip, job.gap[slip.gap], unit)[0] for slip in slips_of(job) if slip.stops), None)


def settled(typed: Typed, window: Callable[[], Window], sizes: Callable[[], dict[Decimal, int]]) -> Typed:
    """The answers once nothing of them is in doubt: typed again by `window` and `sizes`, or said to stand."""
    while (doubt := next(_doubts(typed), None)) is not None:
        say(f"  {doubt.rule}.")
        question = "  Is it as typed, measured with a micrometer?" if doubt.size else "  Is it as typed?"
        if asked(question, type=click.Choice(["yes", "no"]), default="no") == "no":
            typed = replace(typed, window=window()) if doubt.about == "window" else replace(typed, sizes=sizes())
        elif doubt.size:
            typed = replace(typed, measured=typed.measured | {doubt.size})
        else:
            (name, go, no_go, _), *others = typed.gaps
            typed = replace(typed, gaps=[(name, go, no_go, True), *others])
    return typed


def _doubts(typed: Typed) -> Iterator[_Doubt]:
    from shimopt.job.size_slips import size_slips, window_slips
    from shimopt.job.slip_problems import size_words, window_words

    job = _job(typed)
    for slip in window_slips(job):
        yield _Doubt(window_words(slip, job)[0], "window")
    for size in size_slips(job):
        if size.stops:
            one = None if size.all_sizes else Decimal(size.line.part.name)
            yield _Doubt(size_words(size)[0], "sizes", one)


def _job(typed: Typed) -> Job:
    """The job as typed, which could not be loaded where something in it is a slip: its parts are put in afterwards."""
    from shimopt.job import job_from
    from shimopt.lengths import Bracket, to_nm
    from shimopt.parts import Part, StockLine
    from shimopt.parts.stock import Stock

    low, high = ("none" if limit is None else limit for limit in typed.window)
    tables = [
        {"name": name, "checked": True, "feeler": {"no_go": no_go} | ({} if go is None else {"go": go})}
        for name, go, no_go, _ in typed.gaps
    ]
    window = {"min": low, "max": high, "source": "asked"}
    job = job_from({"unit": typed.unit, "window": window, "gap": tables}, Stock(()))
    stock = []
    for size, count in sorted(typed.sizes.items()):
        thick = to_nm(Fraction(size), typed.unit)
        part = Part(f"{size:f}", Bracket.between(thick, thick), measured=size in typed.measured)
        stock.append(StockLine(part, count, typed_in=typed.unit))
    gaps = tuple(replace(gap, checked=looked) for gap, (*_, looked) in zip(job.gaps, typed.gaps, strict=True))
    return replace(job, gaps=gaps, stock=tuple(stock))
