"""Combinations of places that act together, several such clusters in one drawer: against brute force."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from random import Random
from typing import Any

import numpy as np
import pytest

from shimopt.choose import choose, chooser, level_after_level, plan_in_hand, reached, try_all
from shimopt.choose.thickness_ranges import NOTHING_KNOWN
from shimopt.choose.unbeaten import unbeaten
from shimopt.job import Gap, Job, Place, Window
from shimopt.lengths import Bracket
from shimopt.parts import Offer
from shimopt.proof.exact_bounds import Range
from shimopt.proof.highs import Relaxation, Relaxed
from shimopt.readings import Reading
from shimopt.seats import screen
from tests.brute_force import Answer
from tests.brute_force_places import best_plan_of_places
from tests.jobs import shim


@pytest.mark.parametrize("seed", range(40))
def test_beaten_is_what_another_does_with_no_more_pieces_and_comes_before(seed: int) -> None:
    rng = np.random.default_rng(seed)
    many, lines = int(rng.integers(1, 60)), int(rng.integers(0, 4)) if seed % 2 else 45
    uses = rng.integers(0, 3 if seed % 2 else 2, (many, lines)) * (rng.random((many, lines)) < 0.1 + seed % 2)
    shares = [rng.integers(-2, 3, many), rng.integers(0, 1 << 45, many) // (1 << 44), np.arange(many)]
    told = [tuple(int(share[at]) for share in shares) for at in range(many)]
    for at, kept in enumerate(unbeaten(uses.astype(np.int64), shares).tolist()):
        # the slow obvious answer, by the definition
        beaten = any((uses[other] <= uses[at]).all() and told[other] < told[at] for other in range(many))
        assert kept != beaten


def _pairs(seed: int) -> Job:
    """Two pairs of places; of each the sum sets one gap and half the difference another, or a third one as well."""
    rng = Random(seed)
    sizes = rng.sample([100, 150, 200, 300, 400], 3)
    stock = sorted([shim(size, rng.randint(1, 2), unit="um") for size in sizes], key=lambda line: line.part.order)
    gaps, places = [], []
    for pair in ("a", "b"):
        left, right = f"left {pair}", f"right {pair}"
        places += [Place(left, None, 2), Place(right, None, 2)]
        for name, read, ends, one, two in (
            ("total", rng.randint(30, 90), (100_000, 200_000), "-1", "-1"),
            ("centre", rng.randint(-15, 15), (-60_000, 60_000), "0.5", "-0.5"),
        ):
            bracket = Bracket.between(read * 10_000 - 5_000, read * 10_000 + 5_000)
            effects = ((left, Fraction(one)), (right, Fraction(two)))
            gaps.append(Gap(f"{name} {pair}", Reading(bracket, "feeler"), Window(*ends, "invented"), effects))
    return Job("axles", "mm", tuple(gaps), tuple(places), (), tuple(stock))


@cache
def _best_of_pairs(seed: int) -> Answer:
    return best_plan_of_places(_pairs(seed))


@pytest.mark.parametrize("seed", range(12))
def test_clusters_that_share_a_drawer_get_the_best_of_all_plans(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    job = _pairs(seed)
    answer, choice = _best_of_pairs(seed), choose(job, screen(job))
    assert {level.name: level.value for level in choice.levels} == answer.levels
    assert all(level.proven for level in choice.levels)
    assert choice.stacks == answer.stacks


def _with(kind: str, seed: int) -> Job:
    """The same pairs where some pieces would have to be bought, two packs are to be alike, or places want a piece."""
    job, rng = _pairs(seed), Random(seed)
    if kind == "bought":
        lines = (replace(line, on_hand=rng.randint(0, 2), offers=(Offer(Decimal(2), 1),)) for line in job.stock)
        places = (replace(place, most_pieces=2 if "left" in place.name else 1) for place in job.places)
        return replace(job, stock=tuple(lines), places=tuple(places))
    if kind == "equal":
        stock = tuple(replace(line, on_hand=line.on_hand + 1) for line in job.stock)
        return replace(job, stock=stock, equal=(("left a", "right a"),))
    return replace(job, places=tuple(replace(place, fewest_pieces=rng.randint(0, 1)) for place in job.places))


@pytest.mark.parametrize("kind", ["bought", "equal", "short"])
@pytest.mark.parametrize("seed", range(12))
def test_clusters_of_these_kinds_get_the_best_of_all_plans_too(
    seed: int, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    job, buy = _with(kind, seed), kind == "bought"
    answer, choice = best_plan_of_places(job, buy), choose(job, screen(job, buy=buy), buy=buy)
    assert {level.name: level.value for level in choice.levels} == {
        level.name: answer.levels[level.name] for level in choice.levels
    }
    assert all(level.proven for level in choice.levels)
    assert choice.stacks == answer.stacks


@pytest.mark.parametrize("ranges", [False, True])
# prices that no solver would name, the last so large that 64 bits do not hold their sums
@pytest.mark.parametrize("lies", [0, 1 << 20, 1 << 59])
@pytest.mark.parametrize("seed", range(8))
def test_what_is_never_listed_is_in_no_best_plan(
    seed: int, lies: int, ranges: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    monkeypatch.setattr(plan_in_hand, "_MANY", -1)
    monkeypatch.setattr(plan_in_hand, "_SOME", -1)
    if not ranges:
        monkeypatch.setattr(chooser, "known_of", lambda *_: NOTHING_KNOWN)
    if lies:
        rng = np.random.default_rng(seed)

        def any_prices(self: Relaxation, within: Range) -> Relaxed:
            del within
            many = len(self.sums.limits)
            return Relaxed(-rng.integers(lies >> 1, lies, many), np.zeros(self.sums.variables))

        monkeypatch.setattr(Relaxation, "solved", any_prices)
    listed: list[int] = []
    shown = reached.reached

    def counted(*args: Any) -> Any:
        found = shown(*args)
        listed.append(sum(len(block.columns) for block in found or ()))
        return found

    monkeypatch.setattr(reached, "reached", counted)
    job = _pairs(seed)
    answer, choice = _best_of_pairs(seed), choose(job, screen(job))
    values = {level.name: level.value for level in choice.levels}
    assert all(values[level.name] == answer.levels[level.name] for level in choice.levels if level.proven)
    assert lies or (values == answer.levels and choice.stacks == answer.stacks)
    assert listed or ranges or not answer.levels["outside"]
