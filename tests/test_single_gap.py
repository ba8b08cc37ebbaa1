"""One gap alone, from its seat's list of stacks: the same stack as a full plan of a job of that gap."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random
from time import process_time
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import shimopt
from shimopt import planner
from shimopt.choose.single_gap import NotAnswered, SeatStacks
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket, length_of
from shimopt.planner import chosen_stacks, decide, explained
from shimopt.seats import screen
from shimopt.words.one_gap_words import why_not_alone
from tests.jobs import gap, job, shim, window
from tests.place_strategies import jobs_of_places
from tests.strategies import jobs


@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=1, most_lines=4, with_priority=False))
def test_one_gap_gets_what_a_plan_of_it_alone_chooses(of: Job) -> None:
    (only,), (place,) = of.gaps, of.places
    seat = SeatStacks.of(of, screen(of), only)
    # what is drawn here has a place of its own, an effect of -1 and nothing beside it
    assert (seat is None) == only.may_be_tight
    if seat is not None:
        planned = chosen_stacks(of).choice.stacks
        assert seat.best(only.reading.bracket, only.window) == planned.get(place.name, ())


def test_among_places_only_a_gap_that_its_own_place_closes_is_answered() -> None:
    answered: list[bool] = []

    # always the same jobs, so that both kinds are among them every time
    @settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
    @given(jobs_of_places(first_alone=True, with_priority=True))
    def check(of: Job) -> None:
        screening = screen(of)
        for one in of.gaps:
            seat = SeatStacks.of(of, screening, one)
            answered.append(seat is not None)
            assert (seat is not None) == _nothing_else_asks(of, one)
            if seat is not None:
                (name,) = (place for place, _ in one.effects)
                alone = replace(of, gaps=(one,), places=(of.place[name],), balances=(), equal=())
                planned = chosen_stacks(alone).choice.stacks
                assert seat.best(one.reading.bracket, one.window) == planned.get(name, ())

    check()
    # it is tried on both kinds
    assert 30 <= sum(answered) <= len(answered) - 30


def _nothing_else_asks(of: Job, one: Gap) -> bool:
    """One empty place that may stay empty and simply closes this gap; no other gap, row or pack has to do with it."""
    movers = [(place, gap.name) for gap in of.gaps for place, _ in gap.effects]
    names = {one.name} | {place for place, _ in one.effects}
    places = [of.place[place] for place, _ in one.effects]
    ties = [*of.equal, *((*row.gaps, *row.places) for row in of.balances)]
    return (
        [effect for _, effect in one.effects] == [Fraction(-1)]
        and all((places[0].name, gap.name) not in movers for gap in of.gaps if gap.name != one.name)
        and not any(names & {*tie} for tie in ties)
        and (places[0].installed, places[0].came_out, places[0].fewest_pieces) == ((), (), 0)
        and not (one.reading.no_preload_assumed and one.window.max is not None and one.window.max <= 0)
        and not of.priority
    )


@settings(deadline=None, max_examples=50)
@given(low=st.integers(100, 300), spread=st.integers(1, 40), parts=st.integers(1, 7))
def test_a_gap_read_by_the_mean_of_any_number_of_pulls_is_answered_too(low: int, spread: int, parts: int) -> None:
    """The mean of three pulls is no whole number of nanometres, nor of half ones."""
    read = gap("east", 0, 0, replace(window(100, 200, unit="um"), stated_target=143_000), unit="um")
    best = Fraction(low * 1000) + Fraction(spread * 1000, parts)
    bracket = Bracket(best - Fraction(spread * 500, parts), best, best + 10_000)
    one = replace(read, reading=replace(read.reading, bracket=bracket))
    of = job([one], [shim(50, 2, unit="um"), shim(70, 2, unit="um"), shim(110, 2, unit="um")], unit="um")
    seat = SeatStacks.of(of, screen(of), one)
    assert seat is not None
    assert seat.best(bracket, one.window) == chosen_stacks(of).choice.stacks.get("east", ())


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


def test_the_door_answers_one_gap_within_a_tenth_of_a_millisecond_as_its_plan_does() -> None:
    """The fulling mill's end, 13 sizes: every reading as a plan of a job of that gap alone, read so."""
    of = shimopt.load_job("demo_data/fulling-mill")
    end = shimopt.one_gap(of, "north end")
    assert end.why_not is None
    own = dict(end.gap.effects).keys()
    read = [(f"{low / 100:.2f} mm", f"{low / 100 + 0.05:.2f} mm") for low in range(20, 120, 7)]
    for low, high in read:
        bracket = Bracket.between(length_of(low, None), length_of(high, None))
        alone = replace(end.gap, reading=replace(end.gap.reading, bracket=bracket))
        job_of_it = replace(of, gaps=(alone,), places=tuple(p for p in of.places if p.name in own), balances=())
        assert end.best(low, high) == shimopt.plan(job_of_it).stacks.get(*own, ())
    start = process_time()
    for _ in range(50):
        for low, high in read:
            end.best(low, high)
    assert process_time() - start < 50 * len(read) * 0.0001


def test_the_door_says_why_a_gap_is_not_answered() -> None:
    told = {
        "several places": shimopt.one_gap("demo_data/slipway-winch", "preload"),
        "effect is not -1": shimopt.one_gap("demo_data/fulling-mill", "step cover"),
        "balance": shimopt.one_gap("demo_data/swing-bridge", "upper 1"),
        "pieces in its place": shimopt.one_gap("demo_data/twelve-valve", "1 inlet"),
    }
    for words, one in told.items():
        assert words in str(one.why_not)
        assert one.best() is None
        assert one.best("0.3 mm") is None


def test_a_seat_that_takes_more_stacks_than_can_be_listed_is_named() -> None:
    stock = [shim(size, 9) for size in range(1, 80)]
    one = shimopt.one_gap(job([gap("a", 300, 300, window(8, 10))], stock, most=6), "a")
    assert one.best() is None
    assert "more stacks than can be listed" in str(one.why_not)


@pytest.mark.parametrize(
    ("low", "high", "rule"), [("0.3", None, "unit"), (0.4, 0.3, "above high"), ("x mm", None, "not a length")]
)
def test_what_is_no_reading_is_refused(low: str | float, high: float | None, rule: str) -> None:
    end = shimopt.one_gap("demo_data/fulling-mill", "north end")
    with pytest.raises(shimopt.InputError, match=rule):
        end.best(low, high)


def test_every_why_has_its_words() -> None:
    for why in get_args(NotAnswered):
        assert why_not_alone(why).endswith("; plan the whole job")


def test_stacks_with_their_proof_come_without_an_explanation(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first half asks nothing about reasons; the second chooses nothing anew where no remedy is tried."""
    of = job([gap("a", 15, 15, window(8, 10))], [shim(6, 1)], most=1)
    with monkeypatch.context() as without:
        for name in ("explain", "nearest_misses", "gauges", "remedies_of", "suspicions"):
            without.setattr(planner, name, None)
        chosen = chosen_stacks(of)
    assert [(level.name, level.proven) for level in chosen.choice.levels if level.value] == [("pieces", True), *[]]
    monkeypatch.setattr(planner, "choose", None)
    assert explained(chosen).reasons


def test_a_plan_is_its_two_halves() -> None:
    of = job([gap("a", 15, 15, window(8, 10)), gap("b", 15, 15, window(8, 10))], [shim(6, 1)], most=1)
    halves, whole = explained(chosen_stacks(of)), decide(of)
    assert replace(halves, seconds=0.0, levels=()) == replace(whole, seconds=0.0, levels=())
    assert [(level.name, level.value, level.proven) for level in halves.levels] == [
        (level.name, level.value, level.proven) for level in whole.levels
    ]
