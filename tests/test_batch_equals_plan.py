"""A batch against `plan`, row by row: each gap as a job of its own, with enough pieces of every size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.batch.answers import Answers
from shimopt.batch.terms import Terms
from shimopt.job import Gap, Job, Micrometer, Place, Seat, Window
from shimopt.lengths import Bracket, mm_number
from shimopt.parts import StockLine
from shimopt.planner import Decision, decide
from shimopt.probability import Even
from shimopt.readings import Reading
from tests.jobs import shim
from tests.strategies import GRID, brackets, seats, stock_lines, windows

COLUMNS = ("low", "best", "high", "min", "max", "target")


def mm(nm: Fraction | int | None) -> str:
    """A length of whole nanometres as a cell; None as "none"."""
    return "none" if nm is None else f"{Decimal(int(nm)).scaleb(-6):f}"


def batched(terms: Terms, gaps: Sequence[Gap]) -> list[dict[str, object]]:
    """The rows of a batch."""

    def best(gap: Gap) -> str:
        read = gap.reading.bracket
        return "" if read.best == (read.low + read.high) / 2 else mm(read.best)

    cells: dict[str, list[str]] = {
        "gap": [gap.name for gap in gaps],
        "low": [mm(gap.reading.bracket.low) for gap in gaps],
        "best": [best(gap) for gap in gaps],
        "high": [mm(gap.reading.bracket.high) for gap in gaps],
        "min": [mm(gap.window.min) for gap in gaps],
        "max": [mm(gap.window.max) for gap in gaps],
        "target": ["" if gap.window.stated_target is None else mm(gap.window.stated_target) for gap in gaps],
        "seat": [gap.seat.name if gap.seat else "" for gap in gaps],
        # any length may be drawn, and none is a slip
        "checked": ["yes"] * len(gaps),
    }
    columns = {key: pa.array(values, pa.string()) for key, values in cells.items()}
    answered = Answers(terms).of(columns, dict.fromkeys(COLUMNS, "mm"))
    rows: list[dict[str, object]] = answered.table().to_pylist()
    assert answered.counts.pieces == sum(len(str(row["stack"]).split("+")) for row in rows if row["stack"])
    return rows


def planned(terms: Terms, gap: Gap) -> tuple[list[str], Decision]:
    """The parts that `plan` fits, thick to thin, and its plan."""
    seat = gap.seat
    most = (seat.most_pieces if seat else None) or terms.most_pieces
    stock = tuple(replace(line, on_hand=most) for line in terms.stock)
    # a job's own windows are ended so where it is built
    alone = replace(
        gap,
        effects=((gap.name, Fraction(-1)),),
        reading=gap.reading.moved_by(terms.shift),
        window=gap.window.ended_at_nothing,
    )
    place = Place(gap.name, seat, most, seat.fewest_pieces if seat else 0)
    job = Job("test", "mm", (alone,), (place,), (), stock, micrometer=terms.micrometer)
    plan = decide(job)
    assert plan.proven
    stack = sorted(plan.stacks[gap.name], key=lambda i: (-stock[i].part.thickness.best, i))
    return [stock[i].part.name for i in stack], plan


def assert_same(terms: Terms, gaps: Sequence[Gap]) -> None:
    for row, gap in zip(batched(terms, gaps), gaps, strict=True):
        parts, plan = planned(terms, gap)
        outcome = plan.outcome.gaps[gap.name]
        assert row["stack"] == "+".join(parts)
        assert [row[f"after_{end}_mm"] for end in ("low", "best", "high")] == [
            mm_number(getattr(outcome.after, end)) for end in ("low", "best", "high")
        ]
        assert row["verdict"] == outcome.verdict
        assert row["chance"] == pytest.approx(float(outcome.chance), abs=2e-9)


@st.composite
def fine(draw: st.DrawFn, read: Bracket) -> Bracket:
    """A bracket moved off the grid by some nanometres; its best estimate stays a whole number, or in the middle."""
    low, high = (int(end) + draw(st.sampled_from([0, 0, 1, -3, 517])) for end in (read.low, read.high))
    low, high = min(low, high), max(low, high)
    if read.best == (read.low + read.high) / 2:
        return Bracket.between(low, high)
    best = draw(st.integers(low, high))
    return Bracket(Fraction(low), Fraction(best), Fraction(high))


@st.composite
def batches(draw: st.DrawFn) -> tuple[Terms, list[Gap]]:
    """Terms, and some gaps with windows and seats of their own."""
    lines = [draw(stock_lines(f"S-{n}", buying=False)) for n in range(1, draw(st.integers(1, 5)) + 1)]
    micrometer = None
    if draw(st.booleans()):
        micrometer = Micrometer("", draw(st.sampled_from([None, GRID // 2])))
        lines = [replace(line, part=replace(line.part, measured=draw(st.booleans()))) for line in lines]
    gaps: list[Gap] = []
    for name in [f"gap {n}" for n in range(1, draw(st.integers(1, 4)) + 1)]:
        window = draw(windows())
        at = ((window.min if window.max is None else window.max) or 0) // GRID
        read = draw(fine(draw(st.one_of(brackets(at, at + 12), brackets(-1, 20)))))
        seat = draw(seats(f"seat of {name}"))
        if seat is not None and draw(st.integers(0, 3)) == 0:
            seat = replace(seat, fewest_pieces=draw(st.integers(1, 2)))
        gaps.append(Gap(name, Reading(read, "table"), window, (), seat))
    known: dict[str, Seat] = {gap.seat.name: gap.seat for gap in gaps if gap.seat is not None}
    shift = draw(st.sampled_from([0, 0, 0, GRID // 2]))
    return Terms(
        tuple(sorted(lines, key=lambda line: line.part.order)),
        None,
        draw(st.integers(1, 3)),
        seats=known,
        shift=shift,
        micrometer=micrometer,
    ), gaps


@settings(deadline=None, max_examples=75)
@given(batches())
def test_a_batch_answers_every_gap_as_a_plan_of_that_gap_alone(batch: tuple[Terms, list[Gap]]) -> None:
    assert_same(*batch)


def _stock(*lines: StockLine) -> tuple[StockLine, ...]:
    return tuple(sorted(lines, key=lambda line: line.part.order))


# thickness [mm], tolerance [nm]: on a grid, and singly measured
SETS = {
    "one tolerance": _stock(*(shim(f"{n / 20:.2f}", 1, unit="mm", half=2000) for n in range(1, 9))),
    "tolerances that grow": _stock(*(shim(f"{n / 20:.2f}", 1, unit="mm", half=1500 * n) for n in range(1, 7))),
    "odd sizes": _stock(
        *(
            shim(size, 1, unit="mm", half=half)
            for size, half in [("0.107", 1000), ("0.213", 3000), ("0.2135", 500), ("0.301", 0), ("0.303", 9000)]
        )
    ),
}


@settings(deadline=None, max_examples=30)
@given(
    st.sampled_from(sorted(SETS)),
    st.integers(0, 1_200_000),
    st.integers(0, 160_000),
    st.integers(50_000, 200_000),
    st.integers(0, 200_000),
    st.sampled_from([None, "min", "max", "target"]),
)
def test_realistic_sets_are_decided_as_plan_does(
    parts: str, low: int, width: int, least: int, room: int, special: str | None
) -> None:
    window = Window(
        None if special == "min" else least,
        None if special == "max" else least + room,
        "test",
        least + room // 3 if special == "target" else None,
    )
    gap = Gap("gap", Reading(Bracket.between(low, low + width), "table"), window, ())
    assert_same(Terms(SETS[parts]), [gap])


def test_a_wide_and_a_very_narrow_spread_have_the_chance_of_whole_numbers() -> None:
    # one reading of ± 0.05 mm and three pieces known to a nanometre: in floats the terms of the sum cancel
    stock = _stock(*(shim(f"{n / 10:.1f}", 1, unit="mm", half=1) for n in range(1, 4)))
    gap = Gap("gap", Reading(Bracket.between(1_000_000, 1_100_000), "table"), Window(95_000, 195_000, "test"), ())
    [row] = batched(Terms(stock), [gap])
    _, plan = planned(Terms(stock), gap)
    assert row["stack"] == "S-0.3+S-0.3+S-0.3"
    assert row["chance"] == pytest.approx(float(plan.outcome.gaps["gap"].chance), abs=2e-9)


@pytest.mark.parametrize(("thin", "thick", "fitted"), [("A", "B", "A"), ("B", "A", "A")])
def test_as_far_below_the_target_as_above_it_the_first_name_wins(thin: str, thick: str, fitted: str) -> None:
    # 0.50 mm less 0.28 or 0.32 mm: 0.22 and 0.18 mm, both 0.02 mm from the target
    stock = _stock(shim("0.28", 1, name=thin, unit="mm"), shim("0.32", 1, name=thick, unit="mm"))
    gap = Gap("gap", Reading(Bracket.between(500_000, 500_000), "table"), Window(150_000, 250_000, "test"), ())
    assert batched(Terms(stock), [gap])[0]["stack"] == fitted
    assert_same(Terms(stock), [gap])


def test_a_stack_that_leaves_as_much_doubt_is_not_fitted() -> None:
    # read 0.24 to 0.26 mm: 0.01 mm out of the window at the top; with 0.10 mm, 0.14 mm: 0.01 mm out at the bottom
    stock = _stock(shim("0.10", 1, unit="mm"))
    gap = Gap("gap", Reading(Bracket.between(240_000, 260_000), "table"), Window(150_000, 250_000, "test"), ())
    [row] = batched(Terms(stock), [gap])
    assert (row["stack"], row["verdict"]) == ("", "unproven")
    assert_same(Terms(stock), [gap])


def test_the_chance_of_a_triangle_is_as_worked_out_by_hand() -> None:
    """A reading of ± 0.05 mm and a shim of ± 0.05 mm: their sum is a triangle over ± 0.1 mm.

    Best estimate 0.20 mm in a window from 0.15 to 0.25 mm: within half its reach a triangle has 1 - (1/2)² = 3/4.
    """
    stock = _stock(shim("0.30", 1, unit="mm", half=50_000))
    gap = Gap("gap", Reading(Bracket.between(450_000, 550_000), "table"), Window(150_000, 250_000, "test"), ())
    [row] = batched(Terms(stock), [gap])
    assert Even(Fraction(50_000)) in gap.reading.errors
    assert (row["stack"], row["verdict"], row["chance"]) == ("S-0.30", "unproven", 0.75)
