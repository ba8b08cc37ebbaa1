"""Equal gaps, asked about all at once: their ties come out as where every plan is tried out."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

import numpy as np
import pytest

from shimopt.arithmetic.outcome import outcome_of
from shimopt.choose import building, level_after_level, try_all
from shimopt.choose.building import first_choice
from shimopt.choose.chooser import Chooser
from shimopt.job import Balance, Job
from shimopt.proof.exact_bounds import Range, Sums
from shimopt.proof.layers import TooManyLeftError
from shimopt.seats import screen
from tests.brute_force import best_plan
from tests.jobs import fitted, gap, job, shim, window


def equal_gaps(seed: int) -> Job:
    """Four or five equal gaps, perhaps another before, between or after them, and a drawer that is short of most."""
    rng = Random(seed)
    gaps = [gap(f"{n} equal", 20, 20, window(4, 10)) for n in range(rng.randint(4, 5))]
    if rng.random() < 0.6:
        gaps.append(gap(rng.choice(["0 a", "2 z", "9"]), 15, 15, window(2, 8)))
    return job(gaps, [shim(size, rng.randint(0, 3)) for size in (5, 6, 7, 8, 10, 12)], most=2)


@pytest.mark.parametrize("seed", range(15))
def test_equal_gaps_are_settled_as_when_every_plan_is_tried_out(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    of, settled = equal_gaps(seed), list[int]()
    alike = level_after_level.Descent._settle_alike
    monkeypatch.setattr(
        level_after_level.Descent,
        "_settle_alike",
        lambda self, at, *rest: (settled.append(len(at)), alike(self, at, *rest))[1],
    )
    # nothing is tried out or built up here, and a number tells the ranks of one place only
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(level_after_level, "_LARGEST_NUMBERS", (1, 1, 1))
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)

    def too_many(*_: object) -> None:
        raise TooManyLeftError

    monkeypatch.setattr(building, "first_answer", too_many)
    choice = Chooser(of, screen(of), False).choice()
    assert all(level.proven for level in choice.levels)
    best = best_plan(of)
    assert {level.name: level.value for level in choice.levels} == best.levels
    assert fitted(choice.stacks, of) == fitted(best.stacks, of)
    if seed == 0:
        assert settled


def test_a_limit_beyond_64_bits_leaves_the_others_exact() -> None:
    """One column that comes to 2^55 + 1 keeps to a limit of just that; as a float the limit would be 2^55.

    Another limit comes to 2^63 and a little [parts of a unit], and a third is below nothing: no whole number of 64 bits
    holds both.
    """
    sums, cost = Sums([range(0, 1), range(1, 2)], 2, []), (1 << 55) + 1
    everything = Range(np.zeros(2, np.int64), np.ones(2, np.int64))
    levels = [(np.array([cost, 0]), cost), (np.zeros(2, np.int64), (1 << 43) + 1), (np.array([-1, 0]), -1)]
    assert first_choice(sums, everything, levels, np.zeros((1, 2), np.int64)) == (0, 1)


def test_ties_that_are_long_in_coming_are_left_as_good_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Questions that surely come to no end: after so many of them the plan stays, and its levels are the best."""
    # which of two parts of one size goes where is all that is open; no two gaps read alike
    gaps = [gap(f"{n}", 18 + n, 18 + n, window(2, 12)) for n in range(6)]
    of, asked = job(gaps, [shim(12, 3, name=name) for name in ("A", "B")], most=1), list[str]()

    def briefly(_: level_after_level.Descent, number: Mapping[int, int], how_long: str) -> tuple[int, bool]:
        asked.append(how_long)
        return len(number), False

    monkeypatch.setattr(level_after_level.Descent, "_bring_down", briefly)
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    choice = Chooser(of, screen(of), False).choice()
    # six places by a bound, six by solvers, one
    assert asked == ["briefly", "a look", "a look"]
    assert all(level.proven for level in choice.levels)
    assert {level.name: level.value for level in choice.levels} == best_plan(of).levels
    assert outcome_of(of, choice.stacks, screen(of).cautions).levels == best_plan(of).levels


def test_where_all_places_are_tied_their_combinations_are_not_listed_for_ties(monkeypatch: pytest.MonkeyPatch) -> None:
    """One balance of all gaps: what cannot be listed level by level is not listed in the end."""
    gaps = [gap(f"{n}", 18 + n, 18 + n, window(2, 12)) for n in range(4)]
    stock = [shim(size, 3, name=f"{name} {size}") for size in (10, 12) for name in "AB"]
    of = job(gaps, stock, most=1, balances=[Balance("all", tuple(one.name for one in gaps))])
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    monkeypatch.setattr(level_after_level.Descent, "_built_up", lambda *given: given[-1])
    monkeypatch.setattr(level_after_level.Descent, "_joined", None)
    choice = Chooser(of, screen(of), False).choice()
    best = best_plan(of)
    assert {level.name: level.value for level in choice.levels} == best.levels
    assert fitted(choice.stacks, of) == fitted(best.stacks, of)
