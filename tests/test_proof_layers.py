"""What is built up group after group against every combination, one by one."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.proof.layers import Amounts, TooManyLeftError, first_answer

_SMALL = st.integers(-3, 6)


@st.composite
def questions(draw: st.DrawFn) -> tuple[list[list[int]], Amounts, np.ndarray]:
    """Groups of columns, limits on what they take, and two rows of numbers to compare by."""
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    ends = np.cumsum([0, *sizes]).tolist()
    groups = [list(range(a, b)) for a, b in pairwise(ends)]
    many, rows = ends[-1], draw(st.integers(1, 3))
    numbers = st.lists(_SMALL, min_size=many, max_size=many)
    taken = np.array([draw(numbers) for _ in range(rows)], np.int64)
    limits = np.array(draw(st.lists(st.integers(-2, 12), min_size=rows, max_size=rows)), np.int64)
    return groups, Amounts(taken, limits), np.array([draw(numbers), draw(numbers)], np.int64)


@settings(deadline=None, max_examples=150)
@given(questions())
def test_the_first_of_all_answers_is_found(question: tuple[list[list[int]], Amounts, np.ndarray]) -> None:
    groups, kept, early = question
    answers = [c for c in map(list, product(*groups)) if (kept.taken[:, c].sum(axis=1) <= kept.limits).all()]
    found = first_answer(groups, kept, Amounts(np.zeros((0, early.shape[1]), np.int64), kept.limits[:0]), early, 10_000)
    if not answers:
        assert found is None
        return
    assert found in answers
    assert early[:, found].sum(axis=1).tolist() == min(early[:, c].sum(axis=1).tolist() for c in answers)


def test_numbers_that_sums_would_carry_out_of_64_bits_are_not_looked_at() -> None:
    groups, none = [[0, 1], [2, 3]], np.zeros((1, 4), np.int64)
    large = np.full((1, 4), 1 << 61)
    no_bounds = Amounts(none[:0], none[0, :0])
    with pytest.raises(TooManyLeftError):
        first_answer(groups, Amounts(large, np.array([1 << 62])), no_bounds, none, 100)
    with pytest.raises(TooManyLeftError):
        first_answer(groups, Amounts(none, np.array([0])), no_bounds, large, 100)
    # a bound that large is left out: it only saves work
    assert first_answer(groups, Amounts(none, np.array([0])), Amounts(large, np.array([0])), none, 100) is not None


def test_more_beginnings_than_allowed_are_told() -> None:
    taken = np.array([[1, 2, 4, 8, 16, 32]], np.int64)
    no_bounds = Amounts(taken[:0], taken[0, :0])
    with pytest.raises(TooManyLeftError):
        first_answer([[0, 1], [2, 3], [4, 5]], Amounts(taken, np.array([99])), no_bounds, taken, 3)
