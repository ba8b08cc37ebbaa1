"""A solver's word is never taken: each of them lies, wherever it is asked, and nothing false is called proven."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from math import inf, nan
from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings

from shimopt.choose import LevelResult, asked_of_solvers, both_ways, choose, chooser, level_after_level, try_all
from shimopt.choose.chooser import supply_of
from shimopt.choose.priced import priced_choice
from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.planner import chosen_stacks, decide
from shimopt.proof import highs
from shimopt.proof.exact_bounds import Range
from shimopt.proof.highs import Proposed, Relaxation, Relaxed
from shimopt.proof.layers import TooManyLeftError
from shimopt.proof.second_solver import Opinion, Second
from shimopt.seats import screen
from tests.brute_force import best_plan
from tests.brute_force_places import best_plan_of_places
from tests.jobs import gap, job, shim, window
from tests.large_jobs import mixed_job
from tests.place_strategies import jobs_of_places
from tests.strategies import jobs

Lie = Callable[[pytest.MonkeyPatch], None]


@contextmanager
def asked_and_lied_to(lies: tuple[Lie, ...]) -> Iterator[None]:
    """Nothing is tried out by hand, so that solvers are asked; and these lie."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(level_after_level, "_FEW", 0)
        patch.setattr(try_all, "can_be_tried", lambda _: False)
        for lie in lies:
            lie(patch)
        yield


def all_rests_on_solvers(patch: pytest.MonkeyPatch) -> None:
    """No node to search in, and nothing is built up: what is left is what solvers say."""

    def too_many(*_: Any) -> None:
        raise TooManyLeftError

    patch.setattr(asked_of_solvers, "_ROUNDS", dict.fromkeys(asked_of_solvers._ROUNDS, ((0, 1_000, 40.0),)))
    patch.setattr(asked_of_solvers, "first_choice", too_many)
    patch.setattr(level_after_level, "_MOST_BUILT", 0)


def _relaxed(prices: Callable[[Relaxation], Any], values: Callable[[Relaxation, Range], Any]) -> Lie:
    def lie(patch: pytest.MonkeyPatch) -> None:
        patch.setattr(Relaxation, "solved", lambda self, within: Relaxed(prices(self), values(self, within)))

    return lie


class _Told:
    """HiGHS with numbers of its own in every solution."""

    def __init__(self, honest: Any, number: Callable[[], float]) -> None:
        self._honest, self._number = honest, number

    def __getattr__(self, name: str) -> Any:
        return getattr(self._honest, name)

    def getSolution(self) -> Any:  # noqa: N802  # HiGHS calls it so
        found = self._honest.getSolution()
        names = ("row_dual", "col_value")
        return SimpleNamespace(**{name: [self._number() for _ in getattr(found, name)] for name in names})


def _every_number(drawn_from: Sequence[float]) -> Lie:
    """All prices and values that HiGHS tells, wherever it is asked."""

    def lie(patch: pytest.MonkeyPatch) -> None:
        random, honest = Random(3), highs._quiet_highs
        patch.setattr(highs, "_quiet_highs", lambda: _Told(honest(), lambda: random.choice(drawn_from)))

    return lie


def _none(*_: Any) -> None:
    return None


def _zeros(relaxation: Relaxation) -> Any:
    return np.zeros(len(relaxation.sums.limits), np.int64)


def _steep(relaxation: Relaxation) -> Any:
    return np.full(len(relaxation.sums.limits), -(1 << 55), np.int64)


def _last_of_all(relaxation: Relaxation, _: Any) -> Any:
    values = np.zeros(relaxation.sums.variables)
    values[[*(relaxation.sums.starts[1:] - 1), relaxation.sums.columns - 1]] = 1.0
    return values


def _not_a_number(relaxation: Relaxation, _: Any) -> Any:
    return np.full(relaxation.sums.variables, np.nan)


def breaks_down(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Relaxation, "solved", _none)


def searched(answer: Callable[[Relaxation, Any], Proposed]) -> Lie:
    def lie(patch: pytest.MonkeyPatch) -> None:
        patch.setattr(Relaxation, "searched", lambda self, _, start, *__: answer(self, start))

    return lie


def opinion(answer: Callable[..., Second]) -> Lie:
    def lie(patch: pytest.MonkeyPatch) -> None:
        patch.setattr(asked_of_solvers, "second_opinion", answer)

    return lie


calls_the_start_best = searched(lambda _, start: Proposed(start, True))
finds_nothing_and_says_there_is_none = searched(lambda *_: Proposed(None, True))
proposes_what_is_not_there = searched(lambda self, _: Proposed(_last_of_all(self, None), True))
proposes_no_numbers = searched(lambda self, _: Proposed(_not_a_number(self, None), True))
nothing_is_better = opinion(lambda *_: Second(Opinion.NOTHING))
the_last_is_better = opinion(
    lambda sums, *_: Second(Opinion.BETTER, np.concatenate([np.arange(sums.columns) * 0 + 1, np.zeros(0, np.int64)]))
)
silent = opinion(lambda *_: Second(Opinion.SILENT))
# of prices, every one is true; of "there is no answer", only what the prices themselves show
no_prices = _relaxed(_zeros, _none)
steep_prices_and_no_answer = _relaxed(_steep, _none)
prices_and_wild_values = _relaxed(_steep, _last_of_all)
no_numbers = _relaxed(_zeros, _not_a_number)
no_number_at_all = _every_number([nan, inf, -inf])
any_number = _every_number([0.0, 1e-9, -0.3, 1.0, -1.0, 7.0, -7.0, 1e6, -1e6, 1e18, -1e18, 1e300, -1e300])

HIGHS_LIES = [
    (no_number_at_all,),
    (any_number,),
    (breaks_down,),
    (no_prices,),
    (steep_prices_and_no_answer,),
    (prices_and_wild_values,),
    (no_numbers,),
    (calls_the_start_best,),
    (finds_nothing_and_says_there_is_none,),
    (proposes_what_is_not_there,),
    (proposes_no_numbers,),
    (breaks_down, calls_the_start_best),
    (no_prices, finds_nothing_and_says_there_is_none),
]
CP_SAT_LIES = [(nothing_is_better,), (the_last_is_better,), (silent,)]
# each job is made, and all its plans are tried out, once for four lies
FOURS = [[*HIGHS_LIES, *CP_SAT_LIES][n : n + 4] for n in range(0, 16, 4)]
_SETTINGS = settings(deadline=None, max_examples=18, suppress_health_check=[HealthCheck.too_slow])
# where HiGHS searches to its end and calls its answer best, the other's "nothing is better" is the second proof: one
# solver lies at a time


def check(of: Job, levels: Any, lies: tuple[Lie, ...]) -> None:
    with asked_and_lied_to(lies):
        try:
            found = chosen_stacks(of)  # it passes its own check, or this fails
        except InputError:  # equal packs on seats that no part suits
            assume(False)
    hold(found.choice.levels, levels)


def hold(told: Sequence[LevelResult], levels: Any) -> None:
    """What is called proven is so, and bounds are true."""
    for level in told:
        if level.proven:
            assert level.value == levels[level.name], level.name
        if level.bound is not None:
            assert level.bound <= levels[level.name], level.name
        if level.value != levels[level.name]:
            break  # below a level that is worse than it need be, the others are judged by other plans


def test_every_lie_is_told() -> None:
    assert sum(map(len, FOURS)) == len(HIGHS_LIES) + len(CP_SAT_LIES)


@pytest.mark.parametrize("some", FOURS)
@_SETTINGS
@given(of=jobs(most_gaps=3))
def test_a_plan_with_a_lying_solver_is_allowed_and_called_proven_only_if_it_is(
    some: list[tuple[Lie, ...]], of: Job
) -> None:
    levels = best_plan(of).levels
    for lies in some:
        check(of, levels, lies)


@pytest.mark.parametrize("some", FOURS)
@_SETTINGS
@given(of=jobs_of_places(with_priority=True))
def test_the_same_where_places_act_together(some: list[tuple[Lie, ...]], of: Job) -> None:
    levels = best_plan_of_places(of).levels
    for lies in some:
        check(of, levels, lies)


@pytest.mark.parametrize(
    "lie",
    [no_number_at_all, any_number, breaks_down, calls_the_start_best, proposes_no_numbers, nothing_is_better],
)
@_SETTINGS
@given(of=jobs(most_gaps=3, all_kinds=True))
def test_the_same_where_a_job_is_planned_by_prices(lie: Lie, of: Job) -> None:
    with asked_and_lied_to((lie,)):
        choice = priced_choice(of, screen(of), supply_of(of, False))
    assume(choice is not None)
    assert choice is not None
    hold(choice.levels, best_plan(of).levels)


@pytest.mark.parametrize("lie", [calls_the_start_best, finds_nothing_and_says_there_is_none, nothing_is_better])
@_SETTINGS
@given(of=jobs(most_gaps=3, all_kinds=True))
def test_the_same_where_all_rests_on_the_second_opinion(lie: Lie, of: Job) -> None:
    with pytest.MonkeyPatch.context() as patch:
        all_rests_on_solvers(patch)
        check(of, best_plan(of).levels, (lie,))


def torn(many: int) -> Job:
    """By hand: groups of three gaps, each served by any two of three single pieces of its own.

    A relaxation takes half of each piece and serves one and a half gaps of each three; whole pieces serve one, so two
    of every three stay outside.
    """
    gaps = [gap(f"{n}{name}", 20 + 200 * n, 20 + 200 * n, window(4, 10)) for n in range(many) for name in "abc"]
    sizes = [size + 100 * n for n in range(many) for size in (5.5, 6, 6.5)]
    return job(gaps, [shim(size, 1) for size in sizes], most=2)


def says_it_comes_to_less(patch: pytest.MonkeyPatch) -> None:
    honest = Relaxation.searched

    def lie(*asked: Any) -> Proposed:
        found = honest(*asked)
        return found._replace(value=(found.value or 0) - 1)

    patch.setattr(Relaxation, "searched", lie)


def starts_with_nothing(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(chooser, "greedy_start", lambda model, _: [group[0] for group in model.groups])


@pytest.mark.parametrize(
    ("lies", "proof"),
    [
        ((calls_the_start_best, silent), "one solver"),
        # there is an answer, the one in hand: a solver that knows of none says nothing about it
        ((finds_nothing_and_says_there_is_none, silent), "none"),
        # only the second solver has said something about the value in hand
        ((finds_nothing_and_says_there_is_none, nothing_is_better), "none"),
        ((says_it_comes_to_less,), "none"),
        # the first called six gaps outside the least, and the second found four
        ((starts_with_nothing, no_prices, calls_the_start_best), "one solver"),
    ],
)
def test_what_one_solver_alone_calls_best_is_not_proven(
    lies: tuple[Lie, ...], proof: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    of = torn(2)
    assert decide(of).outcome.levels["outside"] == 4
    assert decide(of).proven
    all_rests_on_solvers(monkeypatch)
    # prices would find the best plan before
    monkeypatch.setattr(both_ways, "_can_be_priced", lambda *_: False)
    with asked_and_lied_to(lies):
        decision = decide(of)
    (outside,) = (level for level in decision.levels if level.name == "outside")
    assert outside.proof == proof
    assert not outside.proven
    assert not decision.proven


def test_two_solvers_that_agree_are_said_to(monkeypatch: pytest.MonkeyPatch) -> None:
    all_rests_on_solvers(monkeypatch)
    with asked_and_lied_to(()):
        decision = decide(torn(2))
    (outside,) = (level for level in decision.levels if level.name == "outside")
    assert (outside.value, outside.proof) == (4, "two solvers")
    assert outside.proven


@pytest.mark.parametrize("seed", [1, 6])
def test_two_solvers_agree_too_where_nothing_is_left_but_what_was_struck(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bound strikes the plan in hand from what is looked at for a better one: then HiGHS finds nothing there."""
    of = mixed_job(seed, 30)
    values = [(level.name, level.value) for level in choose(of, screen(of)).levels]
    all_rests_on_solvers(monkeypatch)
    with asked_and_lied_to(()):
        choice = chooser.Chooser(of, screen(of), False).choice()
    assert [(level.name, level.value) for level in choice.levels] == values
    assert {level.proof for level in choice.levels} == {"exact", "two solvers"}
