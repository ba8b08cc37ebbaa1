"""The way of large jobs against slow obvious answers: the same values at every level, and bounds that are true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings

from shimopt.candidates import Scale
from shimopt.choose import Choice, choose, chooser, priced
from shimopt.choose.chooser import Chooser, supply_of
from shimopt.choose.level_after_level import Descent
from shimopt.choose.plan_in_hand import InHand
from shimopt.choose.priced import priced_choice, priced_descent, priced_way
from shimopt.choose.priced.fleet import LEVELS, fleet_of
from shimopt.choose.priced.priced_descent import PricedDescent, PricedStep
from shimopt.job import Balance, Gap, Job, Place
from shimopt.proof.proven import Proof
from shimopt.seats import screen
from shimopt.watch import Watch
from tests.brute_force import best_plan
from tests.counts_model import values_by_counts
from tests.jobs import gap, job, shim, window
from tests.large_jobs import mixed_job, plentiful, scarce_chains, woven
from tests.strategies import jobs
from tests.test_choose_counts import medium_job

_SLOW = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
_LENGTHS = ("miss", "doubt", "excess", "spread", "target")


def by_prices(of: Job) -> Choice:
    choice = priced_choice(of, screen(of), supply_of(of, False))
    assert choice is not None
    return choice


def agree(priced: Choice, whole: Choice) -> None:
    """Level by level: bounds are never above what can be reached, values as good as within the tolerance."""
    for one, other in zip(priced.levels, whole.levels, strict=True):
        assert one.name == other.name
        assert other.proven
        assert one.bound is not None
        assert one.bound <= other.value <= one.value
        if one.value != other.value:
            # below this level the two plans answer different questions
            near = other.value / 1000 if one.name in _LENGTHS else 1
            assert one.value - other.value <= near, one.name
            return


@_SLOW
@given(jobs(all_kinds=True))
def test_a_small_job_planned_by_prices_is_as_good_as_all_plans_tried_out(of: Job) -> None:
    choice = priced_choice(of, screen(of), supply_of(of, False))
    # places that act together are planned whole
    assume(choice is not None)
    assert choice is not None
    best = best_plan(of)
    assert {level.name: level.value for level in choice.levels} == best.levels
    for level in choice.levels:
        assert level.bound is not None
        assert level.bound <= level.value


@pytest.mark.parametrize("share", [0.4, 0.8, 1.2, 2.0], ids=["bare", "scarce", "tight", "ample"])
@pytest.mark.parametrize("seed", range(3))  # below all values are held, not only bounds
def test_clusters_of_one_to_four_gaps_come_out_as_when_solved_whole(seed: int, share: float) -> None:
    of = mixed_job(seed, share=share)
    agree(by_prices(of), choose(of, screen(of)))


@pytest.mark.parametrize("share", [0.4, 0.8, 1.2, 2.0], ids=["bare", "scarce", "tight", "ample"])
@pytest.mark.parametrize("seed", range(20, 26))
def test_a_plan_by_prices_with_its_ties_settled_is_the_plan_of_the_whole_way(seed: int, share: float) -> None:
    of = mixed_job(seed, share=share)
    choice, whole = by_prices(of), Chooser(of, screen(of), False).choice()
    assert choice.settled
    assert choice.stacks == whole.stacks
    assert [(one.name, one.value) for one in choice.levels] == [(one.name, one.value) for one in whole.levels]
    assert all(level.proven for level in (*choice.levels, *whole.levels))


@pytest.mark.parametrize("share", [0.5, 1.0])
@pytest.mark.parametrize("packs", [False, True], ids=["balances", "packs"])
@pytest.mark.parametrize("seed", range(30, 34))
def test_equal_packs_and_gaps_in_several_balances_have_the_plan_of_the_whole_way(
    seed: int, packs: bool, share: float
) -> None:
    of = mixed_job(seed, 8, share=share)
    balances = tuple(one for one in of.balances if len(one.gaps) < 3 and not packs)
    of = woven(replace(of, balances=balances), seed, packs=packs)
    if packs:
        of = replace(of, balances=of.balances[:2])
    choice, whole = by_prices(of), Chooser(of, screen(of), False).choice()
    assert choice.stacks == whole.stacks
    assert [(one.name, one.value) for one in choice.levels] == [(one.name, one.value) for one in whole.levels]
    assert all(level.proven for level in (*choice.levels, *whole.levels))


@pytest.mark.parametrize("seed", range(40, 43))
def test_a_cluster_with_equal_packs_that_is_all_of_the_job_takes_no_more_than_there_is(seed: int) -> None:
    """Its combinations hold no more of any line than there is: what is handed over has to keep to that by itself."""
    of = mixed_job(seed, 5, 0.6)
    names = tuple(one.name for one in of.gaps)
    of = replace(of, balances=(Balance("all", names, 30_000),), equal=((names[0], names[3]),))
    assert by_prices(of).stacks == Chooser(of, screen(of), False).choice().stacks


@pytest.mark.parametrize("steps", [0, 10, 1_000])
@pytest.mark.parametrize("seed", range(4))
def test_however_long_the_whole_way_is_tried_first_the_plan_is_the_same(
    seed: int, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On both sides of the switch: proven in the trial, or by prices after it."""
    of = mixed_job(seed, 20, share=0.8)
    whole = Chooser(of, screen(of), False).choice()
    monkeypatch.setattr(chooser, "_STEPS_TRIED", steps)
    choice = choose(of, screen(of))
    assert choice.stacks == whole.stacks
    assert all(level.proven for level in (*choice.levels, *whole.levels))


@pytest.mark.parametrize("seed", range(3))
def test_what_prices_leave_open_the_whole_way_begins_with_their_plan_and_bounds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Prices are stopped at the second level; with a bound that is the best there the whole way asks nothing of it."""
    of = mixed_job(seed, 24, share=0.8)
    best = Chooser(of, screen(of), False).choice()
    left = [replace(one, proof=one.proof if at == 0 else Proof.NONE) for at, one in enumerate(best.levels)]
    monkeypatch.setattr(priced, "priced_choice", lambda *_, **__: replace(best, levels=tuple(left)))
    monkeypatch.setattr(chooser, "_STEPS_TRIED", 0)
    asked: list[dict[int, int]] = []
    honest = InHand._asked

    def spied(self: InHand, objective: dict[int, int], *given: Any, **how: Any) -> Any:
        asked.append(objective)
        return honest(self, objective, *given, **how)

    monkeypatch.setattr(InHand, "_asked", spied)
    choice = choose(of, screen(of))
    assert choice.stacks == best.stacks
    assert [level.proof for level in choice.levels] == [Proof.EXACT] * len(best.levels)
    levels = Chooser(of, screen(of), False).model()[0].levels.values()
    assert not any(objective in levels for objective in asked)


def test_what_two_solvers_have_shown_stays_their_word_where_the_whole_way_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """All but the last level come with the word of two solvers; of the gaps that go unserved no place's least tells."""
    of = mixed_job(0, 24, share=0.8)
    best = Chooser(of, screen(of), False).choice()
    assert best.levels[0].value > 0
    left = [replace(one, proof=Proof.TWO_SOLVERS) for one in best.levels[:-1]]
    last = replace(best.levels[-1], proof=Proof.NONE)
    monkeypatch.setattr(priced, "priced_choice", lambda *_, **__: replace(best, levels=(*left, last)))
    monkeypatch.setattr(chooser, "_STEPS_TRIED", 0)
    choice = choose(of, screen(of))
    assert choice.values == best.values
    assert choice.levels[0].proof is Proof.TWO_SOLVERS


def test_below_the_word_of_two_solvers_nothing_is_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    """As by prices, so by the whole way: what is exact only where two solvers are right is told as theirs."""
    of, honest = mixed_job(0, 6), Descent._least

    def least(self: Descent, name: str, hoped: int | None = None) -> tuple[int, int, Proof]:
        value, bound, proof = honest(self, name, hoped)
        return value, bound, Proof.TWO_SOLVERS if name == "unproven" else proof

    monkeypatch.setattr(Descent, "_least", least)
    told = {level.name: level.proof for level in Chooser(of, screen(of), False).choice().levels}
    above = {"outside", "miss"}
    assert told == {name: Proof.EXACT if name in above else Proof.TWO_SOLVERS for name in of.levels}


def test_where_balances_leave_very_many_combinations_all_levels_are_brought_down_by_prices(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two chains of six gaps, handed over as soon as little is left, and only once all levels are brought down."""
    of, shown = scarce_chains(12, 6, seed=4), list[Mapping[str, PricedStep]]()
    handed_over = priced_way.handed_over
    monkeypatch.setattr(priced_way, "handed_over", lambda at, *told: (shown.append(told[0]), handed_over(at, *told))[1])
    soon = by_prices(of)
    for few in ("_FEW_PLACES", "_MOST_COMBINATIONS"):
        monkeypatch.setattr(priced_descent, few, 0)
    late = by_prices(of)
    assert late.values == soon.values
    assert [len(steps) for steps in shown] == [1, len(LEVELS)]
    assert all(step.proof is Proof.EXACT for step in shown[1].values())


@pytest.mark.parametrize("seed", range(3))
def test_what_a_later_level_brings_down_the_whole_way_asks_anew_from_there(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search for the first level is stopped at once; that for the next comes upon the best plan of all."""
    of = mixed_job(seed, 8, share=0.8)
    best, calls = Chooser(of, screen(of), False).choice(), list[str]()
    honest = Descent._least

    def least(self: Descent, name: str, hoped: int | None = None) -> tuple[int, int, Proof]:
        calls.append(name)
        if len(calls) == 1:
            return self.model.value_of(name, self.chosen), 0, Proof.NONE
        if len(calls) == 2:
            columns = self.model.columns_of(best.stacks)
            assert columns is not None
            self.picked = columns
        return honest(self, name, hoped)

    monkeypatch.setattr(Descent, "_least", least)
    monkeypatch.setattr(chooser, "greedy_start", lambda *_: None)
    found = Chooser(of, screen(of), False).choice()
    assert calls[:3] == ["outside", "miss", "outside"]
    assert found.stacks == best.stacks
    assert [(one.value, one.proof) for one in found.levels] == [(one.value, one.proof) for one in best.levels]


def test_what_a_later_level_brings_down_is_held_there_and_what_followed_is_asked_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The search for the first level stops at once; that for the next comes upon the best plan of all."""
    of = mixed_job(0, 24, share=0.8)
    scale, supply = Scale.of(of), supply_of(of, False)
    best, honest, calls = by_prices(of), PricedDescent._least, list[int]()
    # nothing is left to the whole way
    for few in ("little_is_left", "_better_whole"):
        monkeypatch.setattr(PricedDescent, few, lambda *_: False)
    fleet = fleet_of(of, scale, screen(of), supply)
    assert fleet is not None
    trial = PricedDescent(fleet)
    for name in LEVELS:
        trial.level(name)

    def least(self: PricedDescent, level: int) -> tuple[int, int, Proof]:
        calls.append(level)
        if len(calls) == 1:
            self.reaches.append((self.fleet.supply * 0, np.eye(len(LEVELS), dtype=np.int64)[level], 1 << 40))
            return self._value(level, self.plan), 0, Proof.NONE
        if len(calls) == 2:
            self.plan = trial.plan
        return honest(self, level)

    monkeypatch.setattr(PricedDescent, "_least", least)
    choice = by_prices(of)
    assert calls[:3] == [0, 1, 0]
    assert [(one.name, one.value, one.proof) for one in choice.levels] == [
        (one.name, one.value, one.proof) for one in best.levels
    ]


def test_a_plan_by_prices_is_kept_where_the_time_went_into_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole way begins when the time is over, and leaves everything as it is."""
    of = mixed_job(0, 24, share=0.8)
    watch, found = Watch(), by_prices(of)

    def late(*_: Any, **__: Any) -> Choice:
        watch.stop()
        return replace(found, settled=False, levels=tuple(replace(one, proof=Proof.NONE) for one in found.levels))

    monkeypatch.setattr(priced, "priced_choice", late)
    choice = choose(of, screen(of), watch=watch)
    assert choice.values == found.values
    assert choice.stacks == found.stacks


@pytest.mark.parametrize("seed", range(12))  # of three times the stock, as "ample" above
def test_a_drawer_with_enough_of_everything_is_proven_at_every_level(seed: int) -> None:
    of = plentiful(mixed_job(seed))
    priced, whole = by_prices(of), choose(of, screen(of))
    assert [level.value for level in priced.levels] == [level.value for level in whole.levels]
    assert all(level.proven for level in priced.levels)


@pytest.mark.parametrize("seed", range(25))
def test_bounds_are_below_what_one_flat_model_finds(seed: int) -> None:
    """The flat model is of whole counts of pieces, without stacks, solved by HiGHS level by level."""
    of = medium_job(seed)
    flat, priced = values_by_counts(of, screen(of)), by_prices(of)
    for level in priced.levels:
        if level.name in flat:
            assert level.bound is not None
            assert level.bound <= flat[level.name]
            if level.value != flat[level.name]:
                return


@pytest.mark.parametrize("seed", range(120, 132))  # where excess is taken to step as sizes do, 127 is false
def test_what_may_differ_by_less_than_all_sizes_step_is_counted_to_the_tick(seed: int) -> None:
    """Sizes and readings in steps of 3, pairs that may differ by 1: what is beyond that steps by 1 and 2 too."""
    rng, gaps = Random(seed), list[Gap]()
    for name in (f"{pair}{side}" for pair in range(8) for side in "ab"):
        low, wide = rng.randint(0, 4), rng.choice([5, 7, 9])
        read = (low + rng.choice([2, 3, 5, 8, 11])) // 3 * 3
        gaps.append(gap(name, read, read, window(low, low + wide)))
    sizes, share = rng.sample([3, 6, 9, 12], rng.choice([1, 2, 2, 3])), rng.choice([0.2, 0.5, 0.8, 1.2])
    stock = [shim(size, min(14, int(32 * share * rng.random() / len(sizes)))) for size in sizes]
    pairs = [Balance(f"pair {pair}", (f"{pair}a", f"{pair}b"), 25_400) for pair in range(8)]
    of = job(gaps, stock, most=rng.choice([1, 2]), balances=pairs)
    choice, whole = by_prices(of), Chooser(of, screen(of), False).choice()
    assert [(one.name, one.value) for one in choice.levels] == [(one.name, one.value) for one in whole.levels]
    assert all(level.proven for level in whole.levels)


@pytest.mark.parametrize("first", [("pieces",), ("spread", "unproven"), ("excess", "outside"), ("target",)])
def test_another_order_of_levels_is_kept(first: tuple[str, ...]) -> None:
    for seed in range(2):
        of = replace(mixed_job(seed, share=1.0), priority=first)
        agree(by_prices(of), choose(of, screen(of)))


@pytest.mark.parametrize("seed", range(4))
def test_places_that_hold_pieces_already_are_planned_by_prices_too(seed: int) -> None:
    of = mixed_job(seed, share=0.8)
    places = tuple(
        Place(p.name, p.seat, p.most_pieces, 0, (at % len(of.stock),) if at % 3 == 0 else ())
        for at, p in enumerate(of.places)
    )
    of = replace(of, places=places)
    agree(by_prices(of), choose(of, screen(of)))


def test_places_that_act_together_are_left_to_the_other_way() -> None:
    of = mixed_job(0)
    gaps = (replace(of.gaps[0], effects=(*of.gaps[0].effects, *of.gaps[1].effects)), *of.gaps[1:])
    of = replace(of, gaps=gaps)
    assert priced_choice(of, screen(of), supply_of(of, False)) is None


def test_lengths_too_fine_for_prices_are_left_to_the_other_way() -> None:
    """By hand: 2 m off at an effect of six decimals is 2e15 ticks of 1e-6 nm, near what stands for "there is none"."""
    far = replace(
        gap("far", 2_000, 2_000, window(0, 1, unit="mm"), unit="mm"), effects=(("far", Fraction(-999_999, 10**6)),)
    )
    of = job([far, gap("near", 1, 1, window(0, "0.5", unit="mm"), unit="mm")], [shim("0.700001", 1, unit="mm")])
    assert priced_choice(of, screen(of), supply_of(of, False)) is None
    assert choose(of, screen(of)).stacks == {"far": (), "near": (0,)}
