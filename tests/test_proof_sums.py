"""Bounds hold whatever the size of the numbers they are made of."""

from __future__ import annotations

from types import SimpleNamespace

import highspy
import numpy as np
import pytest

from shimopt.proof.exact_bounds import NO_END, Range, Sums
from shimopt.proof.highs import Relaxation
from shimopt.proof.rows import Row


def test_prices_finer_than_64_bits_carry_still_make_a_bound() -> None:
    # by hand: without costs and without prices every answer costs at least nothing
    sums = Sums([[0, 1]], 2, [Row({0: 10**17}, 10**17)]).and_held([])
    assert sums.parts > NO_END
    within = Range(np.zeros(2, np.int64), np.ones(2, np.int64))
    nothing = np.zeros(2, np.int64)
    bound = sums.bound(nothing, np.zeros(1, np.int64), within)
    assert bound is not None
    assert (bound.fine, bound.rounded_up(1)) == (0, 0)


def test_prices_without_end_still_make_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    # by hand: one of two columns of cost 1, and a row that says nothing: every answer costs 1
    sums = Sums([[0, 1]], 2, [Row({0: 1}, 1)]).and_held([Row({1: 10**17}, 10**17)])
    within = Range(np.zeros(2, np.int64), np.ones(2, np.int64))
    costs = np.ones(2, np.int64)
    asked = Relaxation(sums, costs, within)
    lying = SimpleNamespace(
        changeColsBounds=lambda *_: None,
        run=lambda: None,
        getModelStatus=lambda: highspy.HighsModelStatus.kOptimal,
        getSolution=lambda: SimpleNamespace(row_dual=[0.0, -1e300, 1e300], col_value=[1.0, 0.0]),
    )
    monkeypatch.setattr(asked, "highs", lying)
    relaxed = asked.solved(within)
    assert relaxed is not None
    bound = sums.bound(costs, relaxed.prices, within)
    assert bound is not None
    assert bound.rounded_up(1) <= 1
