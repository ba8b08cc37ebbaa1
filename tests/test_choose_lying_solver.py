"""A solver's word is never taken: what it proposes is checked, and what it calls best must fit what is known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.choose import descent
from shimopt.choose.model import Model
from shimopt.choose.solver import Answer, Proposal, propose
from shimopt.job import Job
from shimopt.planner import decide
from tests.brute_force import best_plan
from tests.jobs import gap, job, shim, window
from tests.strategies import jobs

Liar = Callable[..., Proposal]


def finds_nothing(*_: Any) -> Proposal:
    return Proposal(Answer.NONE, (), None)


def takes_what_is_not_there(_: Model, alive: Sequence[Sequence[int]], *__: Any) -> Proposal:
    """The last option of every place, whatever the drawer holds."""
    return Proposal(Answer.BEST, tuple(group[-1] for group in alive), 0.0)


def fits_nothing_and_calls_it_best(model: Model, *_: Any) -> Proposal:
    return Proposal(Answer.BEST, tuple(group[0] for group in model.groups), 0.0)


def stays_and_calls_it_best(*arguments: Any) -> Proposal:
    """What it was given, called best, with a bound that does not say so."""
    return Proposal(Answer.BEST, tuple(arguments[5]), 0.0)


def claims_a_bound_out_of_reach(*arguments: Any) -> Proposal:
    honest = propose(*arguments)
    return Proposal(Answer.GOOD, honest.chosen, 1e9)


LIARS = [
    finds_nothing,
    takes_what_is_not_there,
    fits_nothing_and_calls_it_best,
    stays_and_calls_it_best,
]


@pytest.mark.parametrize("liar", LIARS, ids=lambda liar: liar.__name__)
@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(of=jobs(most_gaps=3))
def test_a_plan_with_a_lying_solver_is_allowed_and_called_proven_only_if_it_is(liar: Liar, of: Job) -> None:
    answer = best_plan(of)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(descent, "propose", liar)
        decision = decide(of)  # the plan passes its own check, or this fails
    for level in decision.levels:
        if level.proven:
            assert level.value == answer.levels[level.name]
        if level.bound is not None:
            assert level.bound <= level.value
        if level.value != answer.levels[level.name]:
            break  # below a level that is worse than it need be, the others are judged by other plans


@pytest.mark.parametrize("liar", LIARS, ids=lambda liar: liar.__name__)
def test_what_only_a_search_can_prove_is_not_called_proven_without_one(
    liar: Liar, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: three gaps, each served by any two of three single pieces, and the same once more with thick pieces.

    A relaxation takes half of each piece and serves one and a half gaps of each three, so 3 of 6 stay outside; whole
    pieces serve one of each three, so 4 do. Only a search can close that.
    """
    gaps = [gap(name, 20, 20, window(4, 10)) for name in ("a", "b", "c")]
    gaps += [gap(name, 200, 200, window(4, 10)) for name in ("d", "e", "f")]
    of = job(gaps, [shim(size, 1) for size in (5.5, 6, 6.5, 95.5, 96, 96.5)], most=2)
    assert decide(of).outcome.levels["outside"] == 4
    monkeypatch.setattr(descent, "propose", liar)
    decision = decide(of)
    (outside,) = (level for level in decision.levels if level.name == "outside")
    assert not outside.proven
    assert not decision.proven


def test_a_bound_that_is_out_of_reach_proves_nothing_false(monkeypatch: pytest.MonkeyPatch) -> None:
    gaps = [gap(name, 20, 20, window(4, 10)) for name in ("a", "b", "c")]
    of = job(gaps, [shim(5.5, 1), shim(6, 1), shim(6.5, 1)], most=2)
    monkeypatch.setattr(descent, "propose", claims_a_bound_out_of_reach)
    decision = decide(of)
    assert all(level.bound is None or level.bound <= level.value for level in decision.levels)
    assert decision.outcome.levels["outside"] == 2
