"""What is said to close a hole closes it; and the fewest stacks for a bracket against the greedy cover."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Seat, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.unserved_readings import Hole
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading

UM = 1_000


def job_of(
    reading: tuple[int, int],
    window: tuple[int, int],
    doubt: int,
    sizes: dict[int, str | None],
    *,
    effect: int = -1,
    most: int = 1,
    installed: int | None = None,
    shims_allowed: bool = True,
) -> Job:
    """A gap read from .. to [µm], the final reading ± `doubt`, and sizes of which any number can be bought."""
    stock = [
        StockLine(
            Part(f"S-{size}", Bracket.between(size * UM, size * UM)),
            0,
            (Offer(Decimal(price), 1, "EUR", "shop", 5),) if price is not None else (),
        )
        for size, price in sorted(sizes.items())
    ]
    held = () if installed is None else ([line.part.name for line in stock].index(f"S-{installed}"),)
    seat = None if shims_allowed else Seat("hard", shims_allowed=False, why="hardened face")
    gap = Gap(
        "gap",
        Reading(Bracket.between(reading[0] * UM, reading[1] * UM), "value"),
        Window(window[0] * UM, window[1] * UM, "test"),
        (("gap", Fraction(effect)),),
        seat,
        final_reading=doubt * UM,
    )
    places = (Place("gap", seat, most, installed=held),)
    return Job("test", "um", (gap,), places, (), tuple(stock), suppliers=(Supplier("shop", Decimal(0)),))


def still_open(order: Order, hole: Hole) -> bool:
    """Whether an order leaves some of a former hole open."""
    return any(
        (one.start < hole.end and hole.start < one.end) or (one.start, one.end) == (hole.start, hole.end)
        for one in order.holes
        if one.gap == hole.gap
    )


@st.composite
def holed_jobs(draw: st.DrawFn) -> Job:
    """Jobs whose sizes are too far apart for the window; shims close the gap, or open it under a cover."""
    effect = draw(st.sampled_from([-1, 1]))
    low = draw(st.integers(0, 20)) * 10
    window = (low, low + draw(st.integers(2, 8)) * 10)
    start = draw(st.integers(window[0], window[0] + 400))
    reading = (start, start + draw(st.integers(0, 80)))
    if effect > 0:
        reading = (-reading[1], -reading[0])
    first, step = 10 * draw(st.integers(1, 30)), 10 * draw(st.integers(1, 6))
    sizes = {first + step * n: "1" for n in range(draw(st.integers(1, 8)))}
    installed = draw(st.sampled_from([None, None, min(sizes)]))
    return job_of(
        reading,
        window,
        draw(st.integers(0, 30)),
        sizes,
        effect=effect,
        most=draw(st.integers(1, 2)),
        installed=installed,
    )


@settings(max_examples=60, deadline=None)
@given(holed_jobs())
def test_the_remedies_told_close_the_hole(job: Job) -> None:
    order = make_order([job])
    assume(order.holes)
    # one gap, read within a hard bracket: one order is enough just where the card is not open
    sure = next(option for option in order.options if option.name == "sure")
    left_open = sum((hole.chance for hole in order.holes), Fraction(0))
    # a gap that nothing serves leaves the chance, and is named
    assert sure.chance == (1 if sure.without else 1 - left_open)
    assert sure.without in ((), (0,))
    assert left_open == 1 or not sure.without
    for hole in order.holes:
        event(hole.cause)
        if hole.finer is not None:
            event("finer")
            better = replace(job, gaps=(replace(job.gaps[0], final_reading=int(hole.finer)),))
            assert not still_open(make_order([better]), hole)
            # and a little coarser does not
            if hole.finer + 1 < job.gaps[0].final_reading:  # type: ignore[operator]
                coarser = replace(job, gaps=(replace(job.gaps[0], final_reading=int(hole.finer) + 1),))
                assert still_open(make_order([coarser]), hole)
        if hole.between is not None:
            event("a piece between")
            for thickness in hole.between:
                piece = StockLine(Part("made", Bracket(thickness, thickness, thickness)), 1)
                stock = (*job.stock, piece)
                assert not still_open(make_order([replace(job, stock=stock)]), hole)
        if hole.grind is not None:
            assert hole.between is not None
            assert job.stock[hole.grind].part.thickness.low >= hole.between[1]
        if hole.cause == "metal":
            bare_after_metal_just_fits(job, hole)


def bare_after_metal_just_fits(job: Job, hole: Hole) -> None:
    """With what was in taken out and so much metal off, the worst reading of the hole stands at the window's limit."""
    gap, place = job.gaps[0], job.places[0]
    out = sum(job.stock[line].part.thickness.best for line in place.installed)
    doubt = gap.final_reading or 0
    assert gap.window.min is not None
    assert gap.window.max is not None
    if gap.effects[0][1] < 0:
        assert hole.start + out - doubt + hole.metal == gap.window.min
        assert hole.surely == (hole.end + out + doubt < gap.window.min)
    else:
        assert hole.end - out + doubt - hole.metal == gap.window.max
        assert hole.surely == (hole.start - out - doubt > gap.window.max)


def test_a_hole_that_no_gauge_closes_names_none() -> None:
    """Window 40, sizes 100 and 200: a final reading of ± 10 or ± 0 leaves more than half of 200 to 340 open."""
    order = make_order([job_of((200, 340), (100, 140), 10, {100: "1", 200: "1"})])
    assert [hole.cause for hole in order.holes] == ["sizes"] * 3
    middle = order.holes[1]
    # 100 serves 210 to 230, 200 serves 310 to 330; exact readings 200 to 240 and 300 to 340
    assert (middle.start, middle.end, middle.finer) == (230 * UM, 310 * UM, None)


def test_a_finer_gauge_by_hand() -> None:
    """Window 40, sizes 100 and 130: 100 serves 200 + u to 240 - u, 130 serves 230 + u to 270 - u.

    Read 210 to 260 with u = 10: 230 to 240 is open. They meet at u = 5; the ends, 210 and 260, hold to u = 10.
    """
    order = make_order([job_of((210, 260), (100, 140), 10, {100: "1", 130: "1"})])
    assert [(hole.start, hole.end, hole.finer) for hole in order.holes] == [(230 * UM, 240 * UM, 5 * UM)]


def test_a_gauge_too_coarse_for_the_window_is_the_cause_named() -> None:
    """Window 40 and a final reading of ± 21: even the right piece leaves 2 too many. At ± 20 a 100 serves 220."""
    order = make_order([job_of((220, 220), (100, 140), 21, {100: "1"})])
    assert [(hole.cause, hole.finer) for hole in order.holes] == [("gauge", 20 * UM)]
    assert make_order([job_of((220, 220), (100, 140), 20, {100: "1"})]).whole


def test_a_seat_without_shims_and_a_gap_too_small_are_not_told_to_buy() -> None:
    order = make_order([job_of((200, 240), (100, 140), 10, {100: "1"}, shims_allowed=False)])
    assert [(hole.cause, hole.between, hole.grind) for hole in order.holes] == [("seat", None, None)]
    # 80 less 10 leaves 70 of the 100 that must be, with nothing fitted; with the 20 that is in taken out 20 more
    order = make_order([job_of((80, 80), (100, 140), 10, {20: "1"})])
    assert [hole.cause for hole in order.holes] == ["metal"]
    order = make_order([job_of((80, 80), (100, 140), 10, {20: "1"}, installed=20)])
    assert [hole.cause for hole in order.holes] == ["metal"]
    assert make_order([job_of((95, 95), (100, 140), 10, {20: "1"}, installed=20)]).whole


@settings(max_examples=60, deadline=None)
@given(
    st.sets(st.integers(1, 40).map(lambda n: 10 * n), min_size=1, max_size=8),
    st.integers(2, 12).map(lambda n: 10 * n),
    st.integers(0, 30).map(lambda n: 10 * n),
)
def test_one_piece_a_stack_at_one_price_costs_the_fewest_intervals_that_cover_the_bracket(
    sizes: set[int], width: int, length: int
) -> None:
    """Covering a stretch with the fewest intervals: always take the one that reaches furthest (textbook, from memory).

    A piece of t serves readings t + 100 to t + 100 + width. The bracket begins where something serves.
    """
    start = 100 + min(sizes)
    reached, taken = start, 0
    while reached < start + length or not taken:
        ends = [t + 100 + width for t in sizes if t + 100 <= reached <= t + 100 + width]
        if not ends or (max(ends) <= reached and taken):
            break
        reached, taken = max(ends), taken + 1
    order = make_order([job_of((start, start + length), (100, 100 + width), 0, dict.fromkeys(sizes, "1"))])
    # with nothing fitted the window itself is served
    if start > 100 + width and reached >= start + length:
        assert (order.whole, order.cost) == (True, taken)
    if start > 100 + width and reached < start + length:
        assert not order.whole


@pytest.mark.parametrize("wanted", [0, 1])
def test_the_fuller_drawer_by_hand(wanted: int) -> None:
    """A 100 on hand serves 200 to 240 for nothing; without it, it costs 1."""
    job = job_of((200, 240), (100, 140), 0, {100: "1"})
    line = replace(job.stock[0], on_hand=1 - wanted)
    assert make_order([replace(job, stock=(line,))]).cost == wanted
