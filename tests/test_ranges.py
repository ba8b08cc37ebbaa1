"""The thickness that can matter where places act together: no stack of a plan with every gap inside lies beyond it."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.candidates import Scale
from shimopt.choose import thickness_ranges as ranges_file
from shimopt.choose.thickness_ranges import Box, Known, apart, known_of, stack_box, thickness_ranges
from shimopt.job import Job, load_job
from shimopt.proof.highs import RowPrices
from shimopt.watch import Few, Watch
from tests.place_strategies import jobs_of_places
from tests.slow_jobs import write_ring

MM = 1_000_000


def _off(job: Job, gaps: tuple[str, ...], held: dict[str, Fraction]) -> Fraction:
    """By how much these gaps miss their windows in all, with so much thickness in each place [nm]."""
    total = Fraction(0)
    for gap in (job.gap[name] for name in gaps):
        best = gap.reading.bracket.best
        for place, effect in gap.effects:
            was_in = sum(job.stock[i].part.thickness.best for i in job.place[place].installed)
            best += effect * (held[place] - was_in)
        total += max(0, (gap.window.min if gap.window.min is not None else best) - best)
        total += max(0, best - (gap.window.max if gap.window.max is not None else best))
    return total


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places(), st.data())
def test_no_thickness_in_the_boxes_does_better_than_the_bounds_say(job: Job, data: st.DataObject) -> None:
    for cluster in job.clusters:
        if not cluster.gaps or cluster.fixed:
            continue
        boxes = {name: stack_box(job, name, range(len(job.stock))) for name in cluster.places}
        steps = {name: data.draw(st.integers(0, 20)) for name in cluster.places}
        held = {name: (low + (high - low) * Fraction(steps[name], 20)) * MM for name, (low, high) in boxes.items()}
        miss = _off(job, cluster.gaps, held)
        assert apart(job, cluster.gaps, boxes) <= miss
        known = [thickness_ranges(job, cluster.gaps, boxes, miss)]
        known += [thickness_ranges(job, cluster.gaps, boxes)] if miss == 0 else []
        for ranges in known:
            assert ranges.keys() == boxes.keys()
            assert all(least <= held[name] <= most for name, (least, most) in ranges.items())


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places())
def test_what_is_worked_out_by_hand_is_what_a_solver_finds(job: Job) -> None:
    """The solver's bounds lie outside what is exact, by next to nothing; where it knows of a fight there is none."""
    for cluster in job.clusters:
        if not cluster.gaps or cluster.fixed:
            continue
        boxes = {name: stack_box(job, name, range(len(job.stock))) for name in cluster.places}
        by_hand, ranges = _known(job, cluster.gaps, boxes)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(ranges_file, "_GAPS_BY_HAND", 0)
            asked, bounds = _known(job, cluster.gaps, boxes)
        assert (by_hand > 0) == (asked > 0)
        if not by_hand:
            for (least, most), (low, high) in zip(ranges, bounds, strict=True):
                assert 0 <= least - low < 1
                assert 0 <= high - most < 1


def _known(job: Job, gaps: tuple[str, ...], boxes: dict[str, Box]) -> tuple[Fraction, list[tuple[Fraction, Fraction]]]:
    return apart(job, gaps, boxes), [*thickness_ranges(job, gaps, boxes).values()]


def test_a_ring_of_places_is_asked_about_once_and_as_long_as_there_is_time(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    job = load_job(write_ring(tmp_path, 30))
    made: list[object] = []

    class Counted(RowPrices):
        def __init__(self, *asked: Any) -> None:
            made.append(1)
            super().__init__(*asked)

    monkeypatch.setattr("shimopt.proof.highs.RowPrices", Counted)
    (cluster,) = job.clusters
    boxes = {name: stack_box(job, name, range(len(job.stock))) for name in cluster.places}
    ranges = thickness_ranges(job, cluster.gaps, boxes)
    assert len(made) == 1
    # nothing is said of places that there was no time for; of the others the same
    few = Few(10, Watch())
    told = thickness_ranges(job, cluster.gaps, boxes, over=few.over)
    assert list(told) == list(ranges)[:10]
    assert all(abs(told[name][end] - ranges[name][end]) < 1 for name in told for end in (0, 1))
    assert known_of(job, Scale.of(job), lambda _: range(len(job.stock)), lambda: True) == Known()
