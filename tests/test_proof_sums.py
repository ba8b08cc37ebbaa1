"""Bounds hold whatever the size of the numbers they are made of."""

from __future__ import annotations

import numpy as np

from shimopt.proof.rows import Row
from shimopt.proof.sums import NO_END, Range, Sums


def test_prices_finer_than_64_bits_carry_still_make_a_bound() -> None:
    # by hand: without costs and without prices every answer costs at least nothing
    sums = Sums([[0, 1]], 2, [Row({0: 10**17}, 10**17)]).and_held([], fine=True)
    assert sums.parts > NO_END
    within = Range(np.zeros(2, np.int64), np.ones(2, np.int64))
    nothing = np.zeros(2, np.int64)
    bound = sums.bound(nothing, np.zeros(1, np.int64), within)
    assert bound is not None
    assert (bound.fine, bound.rounded_up(1)) == (0, 0)
