"""Numbers that leave 64 bits are refused by the name of their gap; those that just do not are planned right."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

import shimopt
from shimopt.choose import level_after_level, try_all
from shimopt.job import Job
from shimopt.planner import chosen_stacks, decide
from tests.brute_force_places import best_plan_of_places


def geared(folder: Path, places: int, longest: float, seed: int) -> Job:
    """Places that all move every gap, effects of eight decimals, lengths up to about `longest` [mm]."""
    draw = Random(seed)

    def gap(number: int) -> dict[str, object]:
        low = draw.uniform(0.1, 1) * longest
        return {
            "name": f"g{number}",
            "value": f"{draw.uniform(0.5, 2) * longest:.6f} mm ± 0.000001 mm",
            "checked": True,
            "window": {"min": f"{low:.6f} mm", "max": f"{low * 1.05:.6f} mm", "source": "x"},
            "effects": {f"p{k}": f"{draw.choice((-1, 1)) * draw.uniform(0.1, 1):.8f}" for k in range(places)},
        }

    drawer = folder / "drawer.csv"
    rows = (f"S{n},{draw.uniform(0.05, 0.9) * longest:.6f},{draw.randint(1, 2)}\n" for n in range(3))
    drawer.write_text("part,thickness_mm,on_hand\n" + "".join(rows), encoding="utf-8")
    return shimopt.job_from(
        {
            "unit": "mm",
            "stacks": {"most_pieces": 2},
            "place": [{"name": f"p{n}"} for n in range(places)],
            "gap": [gap(n) for n in range(places)],
        },
        drawer,
    )


def test_lengths_that_steps_so_fine_cannot_carry_are_refused_by_the_name_of_their_gap(tmp_path: Path) -> None:
    """By hand: 9 m are 9e9 nm, in steps of 1/1e8 nm (or half of it) 9e17 and more: three such leave 1.15e18."""
    with pytest.raises(shimopt.InputError) as refused:
        decide(geared(tmp_path, 3, 4_500.0, 1))
    (problem,) = refused.value.problems
    assert problem.where.startswith("gap g")
    assert "whole numbers" in problem.rule
    assert "fewer decimals" in problem.remedy


@pytest.mark.parametrize("asked", [False, True], ids=["tried out", "asked of solvers"])
@pytest.mark.parametrize("seed", range(12))
def test_lengths_that_they_just_carry_are_planned_right(
    tmp_path: Path, seed: int, asked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if asked:
        monkeypatch.setattr(level_after_level, "_FEW", 0)
        monkeypatch.setattr(try_all, "can_be_tried", lambda _: False)
    of = geared(tmp_path, 2, 600.0, seed)
    plan, answer = chosen_stacks(of).choice, best_plan_of_places(of)
    for level in plan.levels:
        if not level.proven:
            break
        assert level.value == answer.levels[level.name]
    assert {level.name: level.value for level in plan.levels} == answer.levels
