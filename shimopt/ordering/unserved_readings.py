"""Readings that no stack serves: how likely they are, why, and what would close them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from typing import Literal

from shimopt.candidates import Scale
from shimopt.lengths import Bracket
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine
from shimopt.probability import probability
from shimopt.seats import to_make_thinner

Cause = Literal["metal", "seat", "gauge", "kept back", "sizes"]


@dataclass(frozen=True, slots=True)
class Hole:
    """Final readings from .. to [nm] that the card leaves open, and the chance of one of them.

    `cause` is "metal" (even with nothing fitted the gap may be too small, or under a cover too large), "seat" (the seat
    takes no shims), "gauge" (the final reading is less certain than the window is wide, or no blade goes: no stack can
    be sure), "kept back" (something on offer would serve, but a limit forbids it) or "sizes" (nothing on offer serves).
    `finer` is the half-width of a final reading with which what is on offer would serve all of it, `between` the
    thickness, least and most, of a stack that would [nm], `grind` the stock line of a thicker piece that may be
    made thinner to it; None where there is none. For "metal": `metal` is how much more clearance (under a cover: less)
    would serve all of these readings [nm], `surely` whether at every one of them the gap is out with nothing fitted.
    """

    gap: int
    start: Fraction
    end: Fraction
    chance: Fraction | float
    cause: Cause
    _: KW_ONLY
    finer: Fraction | None = None
    between: tuple[Fraction, Fraction] | None = None
    grind: int | None = None
    metal: Fraction = Fraction(0)
    surely: bool = False


def chance_between(demand: Demand, start: Fraction, end: Fraction) -> Fraction | float:
    """The chance that the final best estimate lies there: today's best estimate with today's errors and the shift."""
    best = demand.gap.reading.bracket.best
    return probability(demand.gap.reading.errors, start - best, end - best)


def holes_of(
    number: int,
    coverage: Coverage,
    open_: Sequence[Segment],
    stock: Sequence[StockLine],
    scale: Scale,
    known_exactly: Callable[[], Coverage | None],
) -> list[Hole]:
    """The holes of one gap's card, each with its cause and remedies.

    `known_exactly` gives what would serve if the final reading were exact, None where that is too much to list.
    """
    demand, found = coverage.demand, []
    exact = known_exactly() if open_ else None
    nothing, seat = _where_nothing_can_help(demand), demand.place.seat
    for segment in open_:
        cut = _cut(scale.length(segment.start), scale.length(segment.end), demand.no_blade_goes)
        for start, end in (part for one in cut for part in _cut(*one, nothing)):
            chance = chance_between(demand, start, end)
            if closed_up(demand, start, end):
                found.append(Hole(number, start, end, chance, "gauge"))
                continue
            finer = None if exact is None else _finer(demand, exact, *_lies_in(demand, start, end), scale)
            surely = _surely_out(demand, start, end)
            no_help = nothing is not None and (end <= nothing if demand.effect < 0 else start >= nothing)
            # where the reading is too coarse for the window, it alone says nothing against the gap
            if _too_coarse(demand) and not surely and not _out_as_read(demand, start, end):
                found.append(Hole(number, start, end, chance, "gauge", finer=finer))
            elif no_help:
                found.append(
                    Hole(
                        number,
                        start,
                        end,
                        chance,
                        "metal",
                        finer=finer,
                        metal=_metal(demand, nothing, *read_in(demand, start, end)),
                        surely=surely,
                    )
                )
            elif not demand.place.most_pieces or (seat is not None and not seat.shims_allowed):
                found.append(Hole(number, start, end, chance, "seat", finer=finer))
            elif _too_coarse(demand):
                found.append(Hole(number, start, end, chance, "gauge", finer=finer))
            else:
                hopeless = any(
                    (s.start < segment.end and segment.start < s.end) or s == segment for s in coverage.hopeless
                )
                between = thickness_between(demand, *read_in(demand, start, end))
                grind = _to_grind(demand, stock, between)
                cause: Cause = "sizes" if hopeless else "kept back"
                finer = finer if hopeless else None
                found.append(Hole(number, start, end, chance, cause, finer=finer, between=between, grind=grind))
    return found


def closed_up(demand: Demand, start: Fraction, end: Fraction) -> bool:
    """Whether no blade goes at any of these readings: the gap may be closed up and more."""
    closed = demand.no_blade_goes
    return closed is not None and (end <= closed if demand.gap.reading.sign > 0 else start >= closed)


def read_in(demand: Demand, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction]:
    """The first and the last best estimate that can be read from .. to: all, or what pairs of blades can show."""
    pairs = [middle for middle in demand.pairs if start <= middle <= end] if demand.by_blades else []
    return (pairs[0], pairs[-1]) if pairs else (start, end)


def _lies_in(demand: Demand, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction]:
    """From where to where a finer gauge may find it: a pair of blades leaves all that is between them."""
    first, last = read_in(demand, start, end)
    return (first - demand.below, last + demand.above) if demand.by_blades else (first, last)


def _too_coarse(demand: Demand) -> bool:
    window = demand.gap.window
    if window.min is None or window.max is None:
        return False
    return demand.below + demand.above > window.max - window.min


def _where_nothing_can_help(demand: Demand) -> Fraction | None:
    """The reading below which (under a cover: above which) the gap may be out of its window with nothing fitted.

    What was in during the reading is out then.
    """
    window, bare = demand.gap.window, demand.moves[0] * demand.was_in.low
    if demand.effect < 0:
        return None if window.min is None else window.min + demand.below - bare
    return None if window.max is None else window.max - demand.above + bare


def _metal(demand: Demand, nothing: Fraction | None, start: Fraction, end: Fraction) -> Fraction:
    """How much must come off for all of these readings to be inside with nothing fitted."""
    if nothing is None:
        return Fraction(0)
    return nothing - start if demand.effect < 0 else end - nothing


def _out_as_read(demand: Demand, start: Fraction, end: Fraction) -> bool:
    """Whether at every one of these readings the gap is surely out of its window with what is in."""
    window = demand.gap.window
    too_small = window.min is not None and end + demand.above < window.min
    return too_small or (window.max is not None and start - demand.below > window.max)


def _surely_out(demand: Demand, start: Fraction, end: Fraction) -> bool:
    """Whether with nothing fitted the gap is out of its window wherever it lies."""
    window, bare = demand.gap.window, demand.moves[1] * demand.was_in.high
    if demand.effect < 0:
        return window.min is not None and end + demand.above + bare < window.min
    return window.max is not None and start - demand.below - bare > window.max


def _cut(start: Fraction, end: Fraction, at: Fraction | None) -> list[tuple[Fraction, Fraction]]:
    return [(start, end)] if at is None or not start < at < end else [(start, at), (at, end)]


def _finer(demand: Demand, exact: Coverage, start: Fraction, end: Fraction, scale: Scale) -> Fraction | None:
    """The largest half-width of the final reading with which stacks on offer reach over the whole hole.

    What a stack serves shrinks at both ends by just the half-width; two of them meet at a whole number of half ticks.
    """
    low, high = 2 * scale.ticks(start), 2 * scale.ticks(end)
    enough, too_much = 0, 2 * scale.ticks(min(demand.below, demand.above))
    if not _reached(exact, low, high, 0):
        return None
    while too_much - enough > 1:
        half = (enough + too_much) // 2
        enough, too_much = (half, too_much) if _reached(exact, low, high, half) else (enough, half)
    return scale.length(enough) / 2 if enough else None


def _reached(exact: Coverage, low: int, high: int, half: int) -> bool:
    """Whether the stacks, each serving `half` less at both ends, serve all of low..high [half ticks]."""
    serving = sorted((2 * c.start + half, 2 * c.end - half) for c in exact.candidates)
    if low == high:
        return any(start <= low <= end for start, end in serving)
    reached = low
    for start, end in serving:
        if start <= reached:
            reached = max(reached, end)
    return reached >= high


def thickness_between(demand: Demand, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction] | None:
    """How thick a stack has to be that serves all readings from .. to; None where no thickness does."""
    # of an effect that is not well known, both ends have to do
    window, (weakest, strongest) = demand.gap.window, demand.moves
    if not weakest:
        return None
    low: Fraction | None
    high: Fraction | None
    if demand.effect < 0:
        low = None if window.max is None else end + demand.above - window.max
        high = None if window.min is None else start - demand.below - window.min
    else:
        low = None if window.min is None else window.min + demand.below - start
        high = None if window.max is None else window.max - demand.above - end
    least = Fraction(0) if low is None else low / (weakest if low > 0 else strongest) + demand.was_in.high
    most = None if high is None else high / (strongest if high > 0 else weakest) + demand.was_in.low
    least = max(Fraction(1), least)
    if most is None:
        return least, least
    return (least, most) if least <= most else None


def _to_grind(demand: Demand, stock: Sequence[StockLine], between: tuple[Fraction, Fraction] | None) -> int | None:
    if between is None or demand.place.fewest_pieces > 1:
        return None
    there = [i for i in demand.usable if stock[i].on_hand or stock[i].offers]
    return to_make_thinner(there, stock, demand.place.seat, Bracket.between(*between))
