"""Jobs with very many stacks are first tried with few pieces; the plan is the same as with all stacks at once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.choose import chooser
from shimopt.job import Job
from shimopt.seats import screen
from tests.jobs import fitted, gap, job, shim, window
from tests.strategies import jobs


def same_either_way(of: Job, buy: bool = False) -> None:
    flat = chooser.Chooser(of, screen(of), buy).choice()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chooser, "_FEW_OPTIONS", 0)
        stepped = chooser.Chooser(of, screen(of), buy).choice()
    assert stepped.stacks == flat.stacks
    assert [(level.value, level.proven) for level in stepped.levels] == [(lv.value, lv.proven) for lv in flat.levels]


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=3, most_pieces=3))
def test_few_pieces_first_ends_in_the_same_plan(of: Job) -> None:
    same_either_way(of)


@settings(deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=3, most_pieces=3, buying=True))
def test_few_pieces_first_ends_in_the_same_plan_when_buying(of: Job) -> None:
    same_either_way(of, buy=True)


def test_asked_for_outside_and_pieces_first_a_place_that_is_never_sure_still_gets_its_stack() -> None:
    """By hand: upper is 28 to 32, so it needs about 25 and nothing is sure; three 8s do. Lower needs 14 to 16."""
    gaps = [gap("upper", 28, 32, window(4, 6)), gap("lower", 20, 20, window(4, 6))]
    of = job(
        gaps, [shim(5, 3, half=25_400), shim(8, 3), shim(14, 1, half=25_400)], most=4, priority=("outside", "pieces")
    )
    same_either_way(of)
    stacks = chooser.Chooser(of, screen(of), False).choice().stacks
    assert fitted(stacks, of) == {"upper": ["S-8", "S-8", "S-8"], "lower": ["S-14"]}


def test_where_even_single_pieces_are_too_many_nothing_is_called_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    of = job([gap("arm", 18, 18, window(4, 10))], [shim(8, 1), shim(9, 1), shim(10, 1)])
    monkeypatch.setattr(chooser, "_FEW_OPTIONS", 0)
    monkeypatch.setattr(chooser, "_MOST_OPTIONS", 1)
    choice = chooser.Chooser(of, screen(of), False).choice()
    assert choice.stacks == {"arm": ()}
    # the first level is not proven, so nothing below it is, even where it stands at nothing
    assert not any(level.proven for level in choice.levels)


def test_a_place_may_hold_more_than_its_fewest_where_others_hold_less() -> None:
    """By hand, four pieces for `wide` (aims at 8) and `even` (at 10) either way: 30 + 10 and 16 + 16 leave 10 and 8,
    2 off each; 16 + 16 + 10 leave 8, and 30 leaves 10, so that nothing is off. `last` takes the 40."""
    aims = {"last": window(5, 15), "wide": replace(window(5, 15), stated_target=8 * 25_400), "even": window(5, 15)}
    read = {"last": 50, "wide": 50, "even": 40}
    of = job(
        [gap(name, read[name], read[name], aim) for name, aim in aims.items()],
        [shim(40, 1), shim(30, 1), shim(16, 2), shim(10, 1)],
        most=4,
    )
    of = replace(of, places=(replace(of.places[0], most_pieces=1), *of.places[1:]))
    same_either_way(of)
    stacks = chooser.Chooser(of, screen(of), False).choice().stacks
    assert fitted(stacks, of) == {"last": ["S-40"], "wide": ["S-10", "S-16", "S-16"], "even": ["S-30"]}
