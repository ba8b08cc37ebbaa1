"""The second opinion: believed only where it finds possible what is in hand, and asked about small numbers only."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from ortools.sat.python import cp_model

from shimopt.proof.exact_bounds import Range, Sums
from shimopt.proof.second_solver import LARGEST, Opinion, second_opinion


def asked(costs: list[int], best: int, chosen: list[int]) -> Opinion:
    """Groups of two columns each, the second of each free."""
    many = len(costs)
    sums = Sums([range(2 * at, 2 * at + 2) for at in range(many)], 2 * many, [])
    objective = np.array([cost for one in costs for cost in (one, 0)], np.int64)
    within = Range(np.zeros(2 * many, np.int64), np.ones(2 * many, np.int64))
    return second_opinion(sums, objective, within, best, np.array(chosen), 1.0, None).opinion


def test_it_says_whether_anything_is_better() -> None:
    assert asked([1], 1, [0]) is Opinion.BETTER
    assert asked([1], 0, [1]) is Opinion.NOTHING


@pytest.mark.parametrize(
    ("lies", "opinion"),
    # that nothing is possible, not even what is in hand, nobody believes; a lie that knows better is one opinion of two
    [(2, Opinion.SILENT), (1, Opinion.NOTHING)],
)
def test_impossible_is_believed_only_where_what_is_in_hand_is_possible(
    lies: int, opinion: Opinion, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest, questions = cp_model.CpSolver.solve, list[Any]()

    def solve(self: Any, program: Any) -> Any:
        questions.append(program)
        found = honest(self, program)
        return cp_model.INFEASIBLE if len(questions) <= lies else found

    monkeypatch.setattr(cp_model.CpSolver, "solve", solve)
    assert asked([1], 1, [0]) is opinion
    assert len(questions) == 2


def test_large_numbers_are_not_asked_about_not_even_sums_of_small_ones() -> None:
    assert asked([LARGEST - 1], LARGEST - 1, [0]) is Opinion.BETTER
    assert asked([LARGEST], LARGEST, [0]) is Opinion.SILENT
    assert asked([LARGEST // 2] * 2, LARGEST, [0, 2]) is Opinion.SILENT
