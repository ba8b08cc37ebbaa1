"""A drawer as plain data: its sizes, how many are free, what is held and by whom."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from shimopt.errors import shown
from shimopt.job import Job
from shimopt.parts import StockLine
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.words.bench_page_words import free_words
from shimopt.words.speaker import Speaker


def drawer_data(job: Job, *, of_job: bool = True) -> dict[str, Any]:
    """The drawer of a job, from thin to thick, as that job sees it or as no job does. Raises InputError."""
    say = Speaker.of(job)
    drawer = job.drawer_of
    if not of_job and isinstance(drawer, StockDrawer):
        drawer = drawer.of_no_job()
    held = drawer.held() if drawer is not None else ()
    lines = [(index, line) for index, line in enumerate(job.stock) if line.on_hand or line.row is not None]
    lines.sort(key=lambda one: one[1].part.thickness.best)
    return {
        # a browser is told which file it is, not where it lies on this computer
        "name": shown("/".join(Path(drawer.name).parts[-2:])) if drawer is not None else "",
        "title": shown(job.title),
        "unit": job.unit,
        "writable": drawer is not None and drawer.writable,
        "rows": [_row(index, line if of_job else _of_no_job(line), say, shown(job.title)) for index, line in lines],
        "held": [{"part": shown(one.part.name), "pieces": one.pieces, "whose": shown(one.whose)} for one in held],
    }


def _of_no_job(line: StockLine) -> StockLine:
    """A kind of piece without what is held for the job, and with all that is on order."""
    coming = line.coming + sum(pieces for _, pieces in line.coming_for_others)
    return replace(line, on_hand=line.on_hand - line.held, held=0, coming=coming)


def _row(index: int, line: StockLine, say: Speaker, title: str) -> dict[str, Any]:
    thick = line.part.thickness
    return {
        "part": say.named(index),
        "thickness": say.bracket(thick.low, thick.high),
        "measured": line.part.measured,
        "at": shown(line.part.at or ""),
        "free": line.on_hand,
        "told": free_words(line, title),
    }
