"""One gap alone, from its seat's list of stacks: the same stack as a full plan of a job of that gap."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from time import process_time

from hypothesis import HealthCheck, given, settings

from shimopt.choose.single_gap import SeatStacks
from shimopt.job import Job
from shimopt.planner import chosen_stacks, decide, explained
from shimopt.seats import screening as screen
from tests.jobs import gap, job, shim, window
from tests.place_strategies import jobs_of_places
from tests.strategies import jobs


@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=1, most_lines=4))
def test_one_gap_gets_what_a_plan_of_it_alone_chooses(of: Job) -> None:
    (only,), (place,) = of.gaps, of.places
    seat = SeatStacks.of(of, screen(of), only)
    if seat is not None:
        planned = chosen_stacks(of).choice.stacks
        assert seat.best(only.reading.bracket, only.window) == planned.get(place.name, ())


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places())
def test_among_places_only_a_gap_that_its_own_place_closes_is_answered(of: Job) -> None:
    screening = screen(of)
    for one in of.gaps:
        seat = SeatStacks.of(of, screening, one)
        if seat is None:
            continue
        (name,) = (place for place, _ in one.effects)
        alone = replace(of, gaps=(one,), places=(of.place[name],), balances=(), equal=())
        planned = chosen_stacks(alone).choice.stacks
        assert seat.best(one.reading.bracket, one.window) == planned.get(name, ())


def test_one_gap_takes_less_than_a_tenth_of_a_millisecond() -> None:
    """Thirteen sizes, up to three pieces: a thousand readings in less than 0.1 s of the processor."""
    sizes = ("0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.40", "0.50", "0.60", "0.70", "0.80", "0.90", "1.00")
    stock = [shim(size, 9, unit="mm", half=half) for size, half in zip(sizes, [0, 5_000] * 7, strict=False)]
    seat = SeatStacks(
        job([gap("a", "1", "1", window("0.1", "0.2", unit="mm"), unit="mm")], stock, unit="mm").stock,
        range(len(stock)),
        frozenset(),
        3,
    )
    random, taken = Random(1), []
    read = [
        gap("a", f"{low / 100:.2f}", f"{low / 100 + 0.02:.2f}", window("0.10", "0.25", unit="mm"), unit="mm")
        for low in (random.randint(5, 250) for _ in range(1_000))
    ]
    for _ in range(3):
        start = process_time()
        for one in read:
            seat.best(one.reading.bracket, one.window)
        taken.append(process_time() - start)
    assert min(taken) < 0.1


def test_a_plan_is_its_two_halves() -> None:
    of = job([gap("a", 15, 15, window(8, 10)), gap("b", 15, 15, window(8, 10))], [shim(6, 1)], most=1)
    halves, whole = explained(chosen_stacks(of)), decide(of)
    assert replace(halves, seconds=0.0, levels=()) == replace(whole, seconds=0.0, levels=())
    assert [(level.name, level.value, level.proven) for level in halves.levels] == [
        (level.name, level.value, level.proven) for level in whole.levels
    ]
