"""Hypothesis strategies for small jobs whose places act together, hold pieces already, or must be equal.

Of some places pieces came out for the reading.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Window
from shimopt.readings import Reading
from tests.strategies import GRID, PRIORITIES, balances, brackets, one_of, seats, stock_lines, windows

__all__ = ["jobs_of_places"]

_EFFECTS = [Fraction(text) for text in ("-1", "-1", "1", "0.5", "-0.5", "1/3", "-0.68")]


@cache
@st.composite
def _places(draw: st.DrawFn, name: str, lines: int, most_pieces: int) -> Place:
    most = draw(st.integers(1, most_pieces))
    seat = draw(st.one_of(st.none(), st.none(), seats(f"seat of {name}")))
    if seat is not None and seat.most_pieces is not None:
        most = min(most, seat.most_pieces)
    installed = draw(one_of(0, 0, 1, 1, 2))
    pieces = sorted(draw(st.lists(st.integers(0, lines - 1), min_size=installed, max_size=installed)))
    came_out = sorted(draw(st.lists(st.integers(0, lines - 1), max_size=draw(one_of(0, 0, 0, 1, 2)))))
    return Place(
        name,
        seat,
        most,
        draw(one_of(0, 0, 0, 0, 1, 2)),
        tuple(pieces),
        draw(one_of(True, True, False)),
        draw(one_of(None, None, 0, GRID)),
        came_out=tuple(came_out),
    )


@st.composite
def _gaps(draw: st.DrawFn, name: str, places: list[str]) -> Gap:
    window = draw(windows())
    if draw(st.booleans()):
        # preload: the window lies below nothing
        low, high = (None if end is None else end - 6 * GRID for end in (window.min, window.max))
        stated = None if window.stated_target is None else window.stated_target - 6 * GRID
        window = Window(low, high, "test", stated)
    at = ((window.min if window.max is None else window.max) or 0) // GRID
    reading = Reading(draw(st.one_of(brackets(at - 3, at + 8), brackets(at - 2, at + 2))), "feeler")
    movers = draw(st.lists(one_of(*places), min_size=0, max_size=len(places), unique=True))
    # mostly one total, as under two covers, else each place with an effect of its own
    same = draw(st.booleans())
    effects = tuple((place, Fraction(-1) if same else draw(one_of(*_EFFECTS))) for place in movers)
    return Gap(name, reading, window, effects)


@st.composite
def jobs_of_places(
    draw: st.DrawFn,
    *,
    most_places: int = 3,
    most_gaps: int = 3,
    most_lines: int = 3,
    most_pieces: int = 2,
    buying: bool = False,
    with_priority: bool = False,
    first_alone: bool = False,
) -> Job:
    """A small job that brute force can settle.

    With `first_alone` the first gap is one that its own empty place closes, which mostly nothing else asks about.
    """
    lines = [draw(stock_lines(f"S-{n}", buying=buying)) for n in range(1, draw(st.integers(1, most_lines)) + 1)]
    names = [f"place {n}" for n in range(1, draw(st.integers(1, most_places)) + 1)]
    places = [draw(_places(name, len(lines), most_pieces)) for name in names]
    # what came out for the reading lies at hand
    on_bench = Counter(i for place in places for i in place.came_out)
    lines = [replace(line, on_hand=line.on_hand + on_bench[i]) for i, line in enumerate(lines)]
    gaps = [draw(_gaps(f"gap {n}", names)) for n in range(1, draw(st.integers(1, most_gaps)) + 1)]
    free = names
    if first_alone:
        places[0] = replace(places[0], fewest_pieces=0, installed=(), came_out=())
        gaps[0] = replace(gaps[0], effects=((names[0], Fraction(-1)),))
        if draw(st.integers(0, 3)):
            others = (replace(gap, effects=tuple(e for e in gap.effects if e[0] != names[0])) for gap in gaps[1:])
            gaps, free = [gaps[0], *others], names[1:]
    rows = [draw(balances("row", [gap.name for gap in gaps]))] if len(gaps) > 1 and draw(st.booleans()) else []
    if first_alone and free is not names:
        rows = []
    if len(free) > 1 and draw(st.booleans()):
        packs = draw(balances("packs", free))
        rows.append(replace(packs, gaps=(), places=packs.gaps))
    equal = [tuple(free[: draw(st.integers(2, len(free)))])] if len(free) > 1 and draw(st.integers(0, 3)) == 0 else []
    priority = draw(PRIORITIES) if with_priority else []
    return Job("test", "mm", tuple(gaps), tuple(places), tuple(rows), tuple(lines), tuple(priority), equal=tuple(equal))
