"""Plans against brute force on small jobs, both ways."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from shimopt.job import Job
from shimopt.planner import decide
from tests.brute_force import best_plan, exact_chance, serving_stacks
from tests.strategies import jobs

_SLOW = settings(deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])


def same_as_brute_force(job: Job, buy: bool = False) -> None:
    decision, answer = decide(job, buy=buy), best_plan(job, buy)
    assert {level.name: level.value for level in decision.levels} == answer.levels
    assert all(level.proven and level.bound == level.value for level in decision.levels)
    assert dict(decision.stacks) == answer.stacks
    assert decision.outcome.levels == answer.levels


@_SLOW
@given(jobs(with_priority=False))
def test_a_plan_is_the_best_of_all_that_the_drawer_allows(job: Job) -> None:
    same_as_brute_force(job)


@_SLOW
@given(jobs())
def test_a_plan_is_the_best_in_the_order_of_levels_that_the_job_asks_for(job: Job) -> None:
    same_as_brute_force(job)


@_SLOW
@given(jobs(buying=True))
def test_a_plan_that_may_buy_is_the_best_and_the_cheapest(job: Job) -> None:
    same_as_brute_force(job, buy=True)


@_SLOW
@given(jobs(most_gaps=2, most_lines=4, most_pieces=4))
def test_a_plan_with_longer_stacks_is_the_best_too(job: Job) -> None:
    same_as_brute_force(job)


@settings(_SLOW, max_examples=30)
@given(jobs(most_gaps=2))
def test_nothing_is_fitted_where_nothing_serves(job: Job) -> None:
    stacks = decide(job).stacks
    for place in job.places:
        if len(serving_stacks(job, place, buy=False)) == 1:
            assert stacks[place.name] == ()


@_SLOW
@given(jobs(all_kinds=True))
def test_gaps_under_covers_and_gaps_that_a_chance_decides_are_planned_best_too(job: Job) -> None:
    same_as_brute_force(job)


@settings(_SLOW, max_examples=30)
@given(jobs(all_kinds=True, most_gaps=2, buying=True))
def test_the_chance_told_is_that_of_slow_exact_convolution(job: Job) -> None:
    decision = decide(job, buy=True)
    for gap in job.gaps:
        stack = decision.stacks[gap.effects[0][0]]
        assert decision.outcome.gaps[gap.name].chance == exact_chance(job, gap, stack)
