"""The spread of a job's only balance, told range by range, against all plans tried out."""

from __future__ import annotations

from random import Random

import pytest

from shimopt.choose import Choice, level_after_level, spread_ranges, try_all
from shimopt.choose.chooser import Chooser, supply_of
from shimopt.choose.plan_in_hand import InHand
from shimopt.choose.priced import priced_choice, priced_descent
from shimopt.choose.spread_ranges import LeastSpread
from shimopt.job import Balance, Job
from shimopt.proof.proven import Proof
from shimopt.seats import screen
from tests.brute_force import best_plan
from tests.jobs import fitted, gap, job, shim, window


def balanced(seed: int) -> Job:
    """Four gaps, perhaps another that is not in their balance; wide windows, and not enough of every size."""
    rng = Random(seed)
    names = [f"{n}" for n in range(4)]
    gaps = [gap(name, at := rng.randint(16, 26), at + rng.choice([0, 1]), window(2, 14)) for name in names]
    if rng.random() < 0.3:
        gaps.append(gap("other", 20, 20, window(5, 9)))
    offset = {names[0]: 25_400} if rng.random() < 0.3 else {}
    within = rng.choice([None, 0, 25_400, 127_000])
    stock = [shim(size, rng.randint(0, 3), half=rng.choice([0, 0, 1_000])) for size in (6, 7, 9, 10, 13, 15)]
    return job(gaps, stock, most=rng.choice([1, 2]), balances=[Balance("all", tuple(names), within, offset)])


@pytest.mark.parametrize("way", ["whole", "priced"])
# of the second several ranges are left, of the others one
@pytest.mark.parametrize("seed", [9, 4, 14, 25])
def test_range_by_range_the_plan_is_the_best_of_all(seed: int, way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    of, told = balanced(seed), list[LeastSpread | None]()
    honest = InHand._by_ranges

    def spied(self: InHand, value: int, bound: int) -> LeastSpread | None:
        told.append(honest(self, value, bound))
        return told[-1]

    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    monkeypatch.setattr(spread_ranges, "MANY_GAPS", 2)
    monkeypatch.setattr(priced_descent, "MANY_GAPS", 2)
    monkeypatch.setattr(InHand, "_by_ranges", spied)
    screening = screen(of)
    if way == "whole":
        choice: Choice | None = Chooser(of, screening, False).choice()
    else:
        choice = priced_choice(of, screening, supply_of(of, False))
    assert choice is not None
    best = best_plan(of)
    assert {level.name: level.value for level in choice.levels} == best.levels
    assert all(level.proof is Proof.EXACT for level in choice.levels)
    assert fitted(choice.stacks, of) == fitted(best.stacks, of)
    assert [one is not None and one.alone for one in told] == [seed != 4]


def test_what_was_left_aside_comes_back_where_a_level_above_is_asked_anew() -> None:
    """Rows of balances are gone once one range is left, and there again where levels above it are asked anew."""
    of = balanced(0)
    chooser = Chooser(of, screen(of), False)
    descent = chooser._descent(chooser.model()[0])
    whole = descent.model
    for level in chooser.levels:
        descent.level(level)
    descent.model = descent.space = whole.without_balances()
    descent.back_to("spread")
    assert descent.model is descent.space is whole
