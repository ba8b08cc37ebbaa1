"""Plans of places that act together against brute force, both ways."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.arithmetic import audit, outcome_of
from shimopt.choose import choose, level_after_level, try_all
from shimopt.job import Job
from shimopt.seats import screen
from tests.brute_force_places import best_plan_of_places
from tests.place_strategies import jobs_of_places

_SLOW = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])


def same_as_brute_force(job: Job, buy: bool = False) -> None:
    answer = best_plan_of_places(job, buy)
    screening = screen(job)
    choice = choose(job, screening, buy=buy)
    assert {level.name: level.value for level in choice.levels} == answer.levels
    assert all(level.proven and level.bound == level.value for level in choice.levels)
    assert choice.stacks == answer.stacks
    outcome = outcome_of(job, choice.stacks, screening.cautions)
    assert outcome.levels == answer.levels
    audit(job, choice.stacks, screening.suits, outcome, buy)


@_SLOW
@given(jobs_of_places())
def test_places_that_act_together_get_the_best_that_the_drawer_allows(job: Job) -> None:
    same_as_brute_force(job)


@_SLOW
@given(jobs_of_places(with_priority=True))
def test_places_that_act_together_are_judged_in_the_order_that_the_job_asks_for(job: Job) -> None:
    same_as_brute_force(job)


@_SLOW
@given(jobs_of_places(buying=True, most_places=2))
def test_pieces_that_are_in_are_used_before_any_are_bought(job: Job) -> None:
    same_as_brute_force(job, buy=True)


@_SLOW
@given(jobs_of_places(most_places=2, most_lines=4, most_pieces=3))
def test_longer_stacks_of_two_places_are_the_best_too(job: Job) -> None:
    same_as_brute_force(job)


@_SLOW
@given(jobs_of_places())
def test_where_solvers_are_asked_what_they_prove_is_the_best(job: Job) -> None:
    """Rows count a piece that might be carried over at its nearest; what a plan comes to is worked out all the same."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(level_after_level, "_FEW", 0)
        patch.setattr(try_all, "can_be_tried", lambda _: False)
        choice = choose(job, screen(job))
    answer = best_plan_of_places(job)
    for level in choice.levels:
        if not level.proven:
            break
        assert level.value == level.bound == answer.levels[level.name]
    assert outcome_of(job, choice.stacks, screen(job).cautions).levels == {one.name: one.value for one in choice.levels}
