"""Whether a parcel is enough, against every way to set its pieces aside at every reading on a fine grid."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading
from shimopt.receiving import Parcel, received
from tests.order_brute_force import best_levels
from tests.order_strategies import STEP, order_jobs


def parcel_of(folder: Path, job: Job, counts: list[int], rows: list[str]) -> Parcel:
    """What came, counted as marked by stock line, and rows that were measured."""
    path = folder / "came.csv"
    marked = [f"{line.part.name},m{n},{count},," for n, (line, count) in enumerate(zip(job.stock, counts, strict=True))]
    head = "part,piece,on_hand,measured_um,measuring_error_um"
    path.write_text("\n".join([head, *marked, *rows]) + "\n", encoding="utf-8")
    return received([job], path)


def described(job: Job) -> Job:
    """The job with every part on offer: what comes must be known by its name."""
    lines = (line if line.offers else replace(line, offers=(Offer(None, 1, "", "north", 7),)) for line in job.stock)
    marked = (replace(line, part=replace(line.part, marked=round(line.part.thickness.best))) for line in lines)
    return replace(job, stock=tuple(marked))


def with_more(job: Job, counts: list[int]) -> Job:
    """The job with these pieces in its drawer, and nothing on offer."""
    lines = zip(job.stock, counts, strict=True)
    return replace(job, stock=tuple(replace(line, on_hand=line.on_hand + n, offers=()) for line, n in lines))


SLOW = [HealthCheck.too_slow, HealthCheck.function_scoped_fixture]


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(job=order_jobs(most_gaps=2, most_lines=3, bundles=True).map(described), data=st.data())
def test_it_is_enough_where_no_more_is_open_than_the_order_left_open(
    tmp_path: Path, job: Job, data: st.DataObject
) -> None:
    order = make_order([job])
    # what fills a smallest order comes in the same parcel
    ordered = [sum(line.pieces for line in order.asked if line.part == n) for n in range(len(job.stock))]
    came = [data.draw(st.integers(0, min(3, count + 1))) for count in ordered]
    parcel = parcel_of(tmp_path, job, came, [])
    assert [sum(one.pieces for one in parcel.held if one.line is not None and one.kind == "as ordered")] == [
        sum(min(a, b) for a, b in zip(came, ordered, strict=True))
    ]
    now = best_levels(with_more(job, came))[:2]
    promised = best_levels(with_more(job, ordered))[:2]
    lost = sum((one.end - one.start for one in parcel.lost), Fraction(0))
    # what is lost is longer by no less than what more is open; nothing is lost where all that was served still is
    assert (parcel.now.levels[0].value, parcel.now.levels[1].value) == now
    assert lost >= now[1] - promised[1]
    if promised[0] == 0:
        assert parcel.enough == (now[0] == 0)
        assert lost == now[1]


@pytest.mark.parametrize(("off", "enough"), [(0, True), (1, True), (2, False)])
def test_a_piece_thinner_by_a_step_and_by_two(tmp_path: Path, off: int, enough: bool) -> None:
    """By hand: readings of 20 to 22 steps ± 1, a window of 4 to 10: 14 steps leave 5 to 9, 12 leave 7 to 11."""
    gap = Gap(
        "g",
        Reading(Bracket.between(20 * STEP, 22 * STEP), "feeler"),
        Window(4 * STEP, 10 * STEP, "t"),
        (("g", Fraction(-1)),),
    )
    part = Part("S", Bracket.between(14 * STEP, 14 * STEP), marked=14 * STEP)
    stock = (StockLine(part, 0, (Offer(Decimal(1), 1, "", "north", 2),)),)
    job = Job("t", "mm", (gap,), (Place("g", None, 1),), (), stock, suppliers=(Supplier("north", Decimal(1)),))
    parcel = parcel_of(tmp_path, job, [0], [f"S,a,1,{(14 - off) * STEP / 1000},"])
    assert parcel.enough is enough
    assert (parcel.again is None) is enough
