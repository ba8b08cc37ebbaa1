"""Small jobs built in a line or two, for tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.job import Balance, Gap, Job, Place, Seat, Window
from shimopt.job.levels import Level
from shimopt.lengths import UNITS, Bracket
from shimopt.parts import Part, StockLine
from shimopt.readings import Reading


def shim(
    size: float | str,
    on_hand: int,
    *,
    name: str | None = None,
    unit: str = "thou",
    half: int = 0,
    inner: int | None = None,
) -> StockLine:
    """A stock line of a shim `size` units thick, ± `half` nm, with a bore of `inner` nm."""
    nm = round(Fraction(str(size)) * UNITS[unit])
    bore = None if inner is None else Bracket.between(inner, inner)
    return StockLine(Part(name or f"S-{size}", Bracket.between(nm - half, nm + half), inner=bore), on_hand)


def gap(
    name: str, low: float | str, high: float | str, window: Window, *, seat: Seat | None = None, unit: str = "thou"
) -> Gap:
    """A gap read from low to high, moved by a place of its own name."""
    ends = [round(Fraction(str(end)) * UNITS[unit]) for end in (low, high)]
    return Gap(name, Reading(Bracket.between(*ends), "feeler"), window, ((name, Fraction(-1)),), seat)


def window(low: float | str | None, high: float | str | None, *, unit: str = "thou") -> Window:
    """A window from low to high; None for no such end."""
    nm = [None if end is None else round(Fraction(str(end)) * UNITS[unit]) for end in (low, high)]
    return Window(nm[0], nm[1], "test")


def job(
    gaps: Sequence[Gap],
    stock: Sequence[StockLine],
    *,
    most: int = 3,
    balances: Sequence[Balance] = (),
    priority: Sequence[str] = (),
    unit: str = "thou",
) -> Job:
    """A job of these gaps, each with a place of its own."""
    places = tuple(Place(g.name, g.seat, (g.seat.most_pieces or most) if g.seat else most) for g in gaps)
    ordered = tuple(sorted(stock, key=lambda line: line.part.order))
    return Job("test", unit, tuple(gaps), places, tuple(balances), ordered, tuple(map(Level, priority)))


def fitted(stacks: Mapping[str, tuple[int, ...]], of: Job) -> dict[str, list[str]]:
    """The names of the parts in every stack that is not empty."""
    return {place: [of.stock[i].part.name for i in stack] for place, stack in stacks.items() if stack}
