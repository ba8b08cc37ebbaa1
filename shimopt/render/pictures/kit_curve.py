"""How many jobs are served by what budget, as a picture."""

from __future__ import annotations

from itertools import pairwise

from shimopt.render.pictures.picture_colours import BAND, FAINT, INK, PAPER, SUITS
from shimopt.render.pictures.svg import Svg
from shimopt.words.kit_words import KitAnswer
from shimopt.words.speaker import plural

_WIDTH, _HEIGHT, _LEFT, _BOTTOM, _TOP, _RIGHT = 520.0, 300.0, 60.0, 250.0, 52.0, 500.0


def kit_curve(answer: KitAnswer) -> str:
    """The picture as SVG."""
    found = answer.found
    by_pieces = found.budget.pieces is not None
    points = [(float((b.pieces if by_pieces else b.money) or 0), served) for b, served in found.curve]
    most = max(x for x, _ in points) or 1.0
    of = plural(found.jobs, "job")
    svg = Svg(_WIDTH, _HEIGHT, f"Of {of} between two deliveries, how many are served without an order")
    svg.rect(0, 0, _WIDTH, _HEIGHT, "", fill=PAPER)
    svg.write(_LEFT, 22, f"Served of {of} without an order", 13, fill=INK)

    def at(x: float, served: float) -> tuple[float, float]:
        return _LEFT + (_RIGHT - _LEFT) * x / most, _BOTTOM - (_BOTTOM - _TOP) * served / found.jobs

    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = at(0, share * found.jobs)[1]
        svg.line(_LEFT, y, _RIGHT, y, "", stroke=BAND)
        svg.write(_LEFT - 36, y + 4, f"{share * found.jobs:g}", 11, fill=FAINT)
    placed = [at(x, served) for x, served in points]
    for (x1, y1), (x2, y2) in pairwise(placed):
        svg.line(x1, y1, x2, y2, "", stroke=SUITS)
    for (x, served), (px, py) in zip(points, placed, strict=True):
        svg.circle(px, py, 3.5, "", fill=SUITS)
        svg.write(px - 10, _BOTTOM + 18, f"{x:g}", 11, fill=FAINT)
        svg.write(px - 10, py - 8, f"{served:.1f}", 11, fill=INK)
    under = "pieces in the drawer" if by_pieces else f"{answer.currency or 'money'} spent now"
    svg.write(_LEFT, _BOTTOM + 38, under, 12, fill=INK)
    return svg.text()
