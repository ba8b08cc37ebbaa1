"""Hypothesis strategies for shimopt's own objects: small jobs on a coarse grid, so that ties and shortages abound."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from hypothesis import strategies as st

from shimopt.job import Balance, Gap, Job, Micrometer, Place, Seat, Window
from shimopt.job.levels import Level
from shimopt.lengths import Bracket
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading

__all__ = [
    "PRIORITIES",
    "balances",
    "brackets",
    "gaps",
    "gaps_of_all_kinds",
    "jobs",
    "offers",
    "one_of",
    "seats",
    "stock_lines",
    "windows",
]

GRID = 10_000  # 0.01 mm
_MM = 1_000_000
# against shafts of 16 mm and the default play of 0.4 mm: too small, suits, may be too large, too large
_BORES = (
    None,
    Bracket.between(15_900_000, 15_950_000),
    Bracket.between(16_100_000, 16_100_000),
    Bracket.between(16_300_000, 16_500_000),
    Bracket.between(16_500_000, 16_600_000),
)


# a strategy that is made anew for every draw is looked through anew, which takes longer than the draw
@lru_cache(maxsize=None, typed=True)
def one_of(*values: Any) -> st.SearchStrategy[Any]:
    """Any of these."""
    return st.sampled_from(values)


@cache
@st.composite
def brackets(draw: st.DrawFn, low: int, high: int, widest: int = 4) -> Bracket:
    """A bracket on the grid; its best estimate is the middle, or one of its ends now and then."""
    at = draw(st.integers(low, high))
    width = draw(st.integers(0, widest))
    middle = Bracket.between(at * GRID, (at + width) * GRID)
    best = draw(one_of(middle.best, middle.best, middle.low, middle.high))
    return Bracket(middle.low, best, middle.high)


@cache
@st.composite
def windows(draw: st.DrawFn) -> Window:
    """A window with both limits or one, sometimes with a target of its own."""
    low = draw(st.integers(0, 6))
    width = draw(st.integers(0, 6))
    sides = draw(one_of("both", "both", "both", "min", "max"))
    target = draw(one_of(None, None, low, low + width))
    return Window(
        None if sides == "max" else low * GRID,
        None if sides == "min" else (low + width) * GRID,
        "test",
        None if target is None else target * GRID,
    )


@cache
@st.composite
def seats(draw: st.DrawFn, name: str) -> Seat | None:
    """No seat, a bare one, one with a shaft, or one that may not be shimmed."""
    kind = draw(one_of("none", "none", "none", "bare", "bare", "shaft", "shaft", "shaft", "forbidden"))
    if kind == "none":
        return None
    if kind == "forbidden":
        return Seat(name, shims_allowed=False, why="the face is hardened")
    shaft = Bracket.between(16 * _MM, 16 * _MM) if kind == "shaft" else None
    return Seat(name, shaft, draw(one_of(None, 200_000)), draw(one_of(None, 1, 2)))


@cache
@st.composite
def offers(draw: st.DrawFn) -> Offer:
    """Terms for one part, some without a price."""
    price = draw(one_of(None, Decimal("0.50"), Decimal("1.2"), Decimal("2"), Decimal("3.05")))
    return Offer(price, draw(one_of(1, 1, 2, 5)))


_OFFERS = st.lists(offers(), max_size=2)
PRIORITIES = st.lists(one_of(*Level), max_size=3, unique=True)


@cache
@st.composite
def stock_lines(draw: st.DrawFn, name: str, *, buying: bool) -> StockLine:
    """A few like pieces, some with a tolerance, some that do not suit a 16 mm shaft."""
    nominal = draw(st.integers(1, 9)) * GRID
    minus, plus = draw(one_of((0, 0), (0, 0), (GRID // 2, GRID // 2), (GRID, 0), (2 * GRID, 2 * GRID)))
    thickness = Bracket.between(max(nominal - minus, GRID // 2), nominal + plus)
    terms = tuple(draw(_OFFERS)) if buying else ()
    part = Part(name, thickness, inner=draw(one_of(*_BORES)))
    return StockLine(part, draw(one_of(1, 1, 2, 3, 0)), terms)


@cache
@st.composite
def gaps_of_all_kinds(draw: st.DrawFn, name: str) -> Gap:
    """A gap that a place of its own name closes, or under a cover opens; now and then a chance decides."""
    gap = draw(gaps(name))
    chance = draw(one_of(None, None, Fraction(1, 2) + Fraction(1, 1000), Fraction(19, 20), Fraction(7, 8)))
    if not draw(st.booleans()):
        return replace(gap, least_chance=chance)
    # the mirror image: a preload where there was play
    window, read = gap.window, gap.reading.negated()
    low, high = (None if limit is None else -limit for limit in (window.max, window.min))
    target = None if window.stated_target is None else -window.stated_target
    return replace(
        gap,
        reading=replace(read, kind="cover_gap"),
        window=Window(low, high, "test", target),
        effects=((name, Fraction(1)),),
        least_chance=chance,
    )


@cache
@st.composite
def gaps(draw: st.DrawFn, name: str) -> Gap:
    """A gap that a place of its own name closes."""
    window = draw(windows())
    limit = (window.min if window.max is None else window.max) or 0
    # mostly a little too large, so that there is something to shim
    at = limit // GRID
    reading = Reading(draw(st.one_of(brackets(at, at + 8), brackets(at, at + 8), brackets(-1, 20))), "feeler")
    return Gap(name, reading, window, ((name, Fraction(-1)),), draw(seats(f"seat of {name}")))


@st.composite
def balances(draw: st.DrawFn, name: str, of: list[str]) -> Balance:
    """Some of the gaps, with or without `within`, sometimes with an offset."""
    members = draw(st.lists(one_of(*of), min_size=2, max_size=len(of), unique=True))
    within = draw(one_of(None, 0, 1, 2, 4))
    offset = draw(st.sampled_from([{}, {}, {members[0]: 3 * GRID}, {members[-1]: -GRID}]))
    return Balance(name, tuple(members), None if within is None else within * GRID, offset)


@cache
@st.composite
def jobs(
    draw: st.DrawFn,
    *,
    most_gaps: int = 3,
    most_lines: int = 4,
    most_pieces: int = 2,
    buying: bool = False,
    with_priority: bool = True,
    all_kinds: bool = False,
) -> Job:
    """A small job that brute force can settle."""
    names = [f"gap {number}" for number in range(1, draw(st.sampled_from([*range(most_gaps, 0, -1)])) + 1)]
    read = [draw(gaps_of_all_kinds(name) if all_kinds else gaps(name)) for name in names]
    lines = [draw(stock_lines(f"S-{n}", buying=buying)) for n in range(1, draw(st.integers(1, most_lines)) + 1)]
    micrometer = None
    if all_kinds and draw(st.booleans()):
        micrometer = Micrometer("", draw(one_of(None, GRID // 2)))
        lines = [replace(line, part=replace(line.part, measured=draw(st.booleans()))) for line in lines]
    kept = [draw(balances(f"row {n}", names)) for n in range(draw(st.integers(0, 2)))] if len(names) > 1 else []
    most = draw(st.integers(1, most_pieces))
    places = [Place(g.name, g.seat, min(most, (g.seat.most_pieces if g.seat else None) or most)) for g in read]
    priority = draw(PRIORITIES) if with_priority else []
    return Job(
        "test", "mm", tuple(read), tuple(places), tuple(kept), tuple(lines), tuple(priority), micrometer=micrometer
    )
