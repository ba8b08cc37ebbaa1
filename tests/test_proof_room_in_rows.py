"""What rows rule out by themselves, against every answer there is."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from shimopt.proof.exact_bounds import Range, Sums, Wholes
from shimopt.proof.room_in_rows import RoomInRows
from shimopt.proof.rows import Row

_FACTORS = st.integers(-3, 6)


@st.composite
def _models(draw: st.DrawFn) -> tuple[Sums, Wholes, Range]:
    sizes = draw(st.lists(st.integers(1, 3), min_size=1, max_size=4))
    starts = np.cumsum([0, *sizes]).tolist()
    groups = [range(a, b) for a, b in pairwise(starts)]
    columns, helpers = starts[-1], draw(st.integers(0, 2))
    numbers = st.integers(0, columns + helpers - 1)
    terms = st.dictionaries(numbers, _FACTORS.filter(bool), max_size=columns + helpers)
    rows = [Row(draw(terms), draw(st.integers(-4, 8))) for _ in range(draw(st.integers(0, 3)))]
    high = np.array([draw(st.sampled_from([1, 1, 1, 0])) for _ in range(columns)] + [2] * helpers, np.int64)
    low = np.array([0] * columns + [-1] * helpers, np.int64)
    sums = Sums(groups, columns + helpers, rows)
    return sums, sums.terms(draw(terms)), Range(low, high)


def _answers(sums: Sums, objective: Wholes, within: Range, most: int) -> list[tuple[int, ...]]:
    """All there are, one column of every group tried after another."""
    ends = [*sums.starts.tolist(), sums.columns]
    of_groups = [[c for c in range(a, b) if within.high[c]] for a, b in pairwise(ends)]
    of_helpers = [range(within.low[h], within.high[h] + 1) for h in range(sums.columns, sums.variables)]
    found = []
    for chosen in product(*of_groups, *of_helpers):
        values = np.zeros(sums.variables, np.int64)
        values[list(chosen[: len(of_groups)])] = 1
        values[sums.columns :] = chosen[len(of_groups) :]
        of_rows = np.zeros(len(sums.limits), np.int64)
        np.add.at(of_rows, sums.row_of, sums.factors * values[sums.at])
        if (of_rows <= sums.limits).all() and int(objective @ values) <= most:
            found.append(chosen[: len(of_groups)])
    return found


@given(_models(), st.integers(-6, 12))
def test_no_column_of_an_answer_is_struck(model: tuple[Sums, Wholes, Range], most: int) -> None:
    sums, objective, within = model
    answers = _answers(sums, objective, within, most)
    left = RoomInRows(sums, objective).left(within, most)
    if left is None:
        assert not answers
        return
    assert (left.high <= within.high).all()
    for chosen in answers:
        assert left.high[list(chosen)].all()


def test_what_every_other_place_takes_leaves_no_room() -> None:
    # by hand: the second group takes 2 of 3 at least, so that of the first only what takes 1 is left; then the row of
    # the first rules out what would make good for it in the second
    sums = Sums(
        [[0, 1], [2, 3, 4]], 5, [Row({0: 1, 1: 2, 2: 2, 3: 3, 4: 2}, 3), Row({0: 2, 4: 2, 1: -5}, 3), Row({3: 9}, 9)]
    )
    within = Range(np.zeros(5, np.int64), np.ones(5, np.int64))
    left = RoomInRows(sums, np.zeros(5, np.int64)).left(within, 0)
    assert left is not None
    assert left.high.tolist() == [1, 0, 1, 0, 0]
    # of the two that are left, the objective allows none
    assert RoomInRows(sums, np.array([1, 0, 1, 0, 0])).left(within, 1) is None


def test_sums_that_leave_64_bits_rule_nothing_out() -> None:
    # by hand: no column keeps to the first row, but its sum is not to be relied on
    sums = Sums([[0, 1]], 2, [Row({0: 1 << 61, 1: 1 << 61}, -(1 << 61)), Row({0: 2, 1: 1}, 1)])
    within = Range(np.zeros(2, np.int64), np.ones(2, np.int64))
    left = RoomInRows(sums, np.zeros(2, np.int64)).left(within, 0)
    assert left is not None
    assert left.high.tolist() == [0, 1]
