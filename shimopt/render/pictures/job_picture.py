"""The pictures of a job's gaps, each under its name, in as many columns as a sheet of A4 laid across is wide."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.planner import Decision
from shimopt.render.pictures.bars import job_bars, key_of
from shimopt.render.pictures.colours import FAINT, INK, PAPER
from shimopt.render.pictures.gap_picture import WIDTH, draw_gap, gap_height
from shimopt.render.pictures.scales import common_ranges
from shimopt.render.pictures.svg import Svg
from shimopt.render.screens.layout import folded
from shimopt.words.speaker import Speaker

__all__ = ["job_picture"]

_PAGE = 1123  # 297 mm at 96 dots an inch
_EDGE, _BETWEEN = 10, 20
_NAME = 17  # height of a line of a gap's name


def job_picture(decision: Decision, unit: str) -> str:
    """All gaps of a job as an SVG file."""
    job, bars = decision.job, job_bars(decision, unit)
    ranges = common_ranges(job, bars)
    columns = min(len(job.gaps), (_PAGE - 2 * _EDGE + _BETWEEN) // (WIDTH + _BETWEEN))
    rows = [job.gaps[at : at + columns] for at in range(0, len(job.gaps), columns)]
    names = {gap.name: folded(gap.name, WIDTH // 9) for gap in job.gaps}
    named = [_NAME * max(len(names[gap.name]) for gap in row) + 6 for row in rows]
    tall = [max(gap_height(bars[gap.name], ranges[gap.name]) for gap in row) for row in rows]

    width = 2 * _EDGE + columns * WIDTH + (columns - 1) * _BETWEEN
    titles, notes = folded(job.title, width // 11), folded(key_of(job, bars), int(width / 6.7))
    height = 22 * len(titles) + 20 + sum(named) + sum(tall) + 12 * len(rows) + 14 * len(notes) + _EDGE
    svg = Svg(width, height, job.title)
    svg.rect(0, 0, width, height, "paper", fill=PAPER)
    top = _lines(svg, titles, (_EDGE, 8), 22, 17, font_weight="bold", fill=INK) + 12
    for row, above, below in zip(rows, named, tall, strict=True):
        for column, gap in enumerate(row):
            left = _EDGE + column * (WIDTH + _BETWEEN)
            _lines(svg, names[gap.name], (left + 6, top), _NAME, 14, font_weight="bold", fill=INK)
            draw_gap(svg, (left, top + above), gap.window, bars[gap.name], ranges[gap.name], Speaker(unit))
        top += above + below + 12
    _lines(svg, notes, (_EDGE + 6, top), 14, 11, fill=FAINT)
    return svg.text()


def _lines(
    svg: Svg, lines: Sequence[str], corner: tuple[float, float], step: float, size: float, **style: str
) -> float:
    """Lines of text below each other; gives where they end."""
    left, top = corner
    for number, line in enumerate(lines, start=1):
        svg.write(left, top + step * number - 3, line, size, **style)
    return top + step * len(lines)
