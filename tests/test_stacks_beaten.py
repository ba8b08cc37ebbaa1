"""Striking options that another beats never changes the plan."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.candidates import Option
from shimopt.choose import choose, options_offered
from shimopt.job import Job
from shimopt.planner import decide
from shimopt.seats import screen
from tests.jobs import fitted, gap, job, shim, window
from tests.strategies import jobs


def unpruned(options: Sequence[Option], *_: object, **__: object) -> tuple[Option, ...]:
    return tuple(options)


@settings(deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=4, most_lines=4))
def test_a_plan_is_the_same_when_no_option_is_struck(of: Job) -> None:
    struck = choose(of, screen(of))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options_offered, "without_beaten", unpruned)
        whole = choose(of, screen(of))
    assert struck.stacks == whole.stacks
    assert [level.value for level in struck.levels] == [level.value for level in whole.levels]


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(buying=True))
def test_a_plan_that_may_buy_is_the_same_when_no_option_is_struck(of: Job) -> None:
    struck = choose(of, screen(of), buy=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options_offered, "without_beaten", unpruned)
        whole = choose(of, screen(of), buy=True)
    assert struck.stacks == whole.stacks
    assert [level.value for level in struck.levels] == [level.value for level in whole.levels]


def test_a_scarce_piece_named_first_is_not_planned_twice_where_a_plentiful_one_beats_nothing() -> None:
    """By hand: both gaps need 5 to 7; there is one A-6, and B-6 for everyone; the first place gets the first part."""
    two = [gap(name, 15, 15, window(8, 10)) for name in ("left", "right")]
    of = job(two, [shim(6, 1, name="A-6"), shim(6, 9, name="B-6")], most=1)
    decision = decide(of)
    assert fitted(decision.stacks, of) == {"left": ["A-6"], "right": ["B-6"]}
