"""Sorted sums against the slow obvious way: every multiset of pieces, one by one."""

from __future__ import annotations

from collections import Counter
from itertools import combinations_with_replacement

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.candidates import TooManyError, nearest_stack, stacks_between

_SIZES = st.lists(st.integers(1, 12), max_size=5)
_END = st.one_of(st.none(), st.integers(-5, 45))


def every_stack(sizes: list[int], counts: list[int], most: int) -> list[tuple[int, ...]]:
    return [
        stack
        for pieces in range(1, most + 1)
        for stack in combinations_with_replacement(range(len(sizes)), pieces)
        if all(n <= counts[kind] for kind, n in Counter(stack).items())
    ]


def off(total: int, low: int | None, high: int | None) -> int:
    return max(0, 0 if low is None else low - total, 0 if high is None else total - high)


@given(_SIZES, st.data(), st.integers(0, 4), _END, _END)
def test_stacks_in_a_range_are_all_of_them_and_each_once(
    sizes: list[int], data: st.DataObject, most: int, low: int | None, high: int | None
) -> None:
    counts = data.draw(st.lists(st.integers(0, 3), min_size=len(sizes), max_size=len(sizes)))
    expected = [s for s in every_stack(sizes, counts, most) if off(sum(sizes[k] for k in s), low, high) == 0]
    assert sorted(stacks_between(sizes, counts, most, low, high)) == sorted(expected)


@given(_SIZES, st.data(), st.integers(0, 4), _END, st.one_of(st.none(), st.integers(0, 8)))
def test_the_nearest_stack_is_the_nearest_of_all_then_the_one_with_fewest_pieces(
    sizes: list[int], data: st.DataObject, most: int, low: int | None, width: int | None
) -> None:
    counts = data.draw(st.lists(st.integers(0, 3), min_size=len(sizes), max_size=len(sizes)))
    high = data.draw(_END) if low is None else None if width is None else low + width
    expected = min(
        [(), *every_stack(sizes, counts, most)], key=lambda s: (off(sum(sizes[k] for k in s), low, high), len(s), s)
    )
    assert nearest_stack(sizes, counts, most, low, high) == expected


def test_more_stacks_than_asked_for_are_refused_not_cut_short() -> None:
    """By hand: of 1, 2 and 3 once each, three stacks of at most two make 3 to 4: 3, 1 + 2 and 1 + 3."""
    assert len(stacks_between([1, 2, 3], [1, 1, 1], 2, 3, 4)) == 3
    assert len(stacks_between([1, 2, 3], [1, 1, 1], 2, 3, 4, 3)) == 3
    with pytest.raises(TooManyError):
        stacks_between([1, 2, 3], [1, 1, 1], 2, 3, 4, 2)
