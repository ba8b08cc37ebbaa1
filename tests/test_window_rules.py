"""What a window forbids and how far a clearance stands out of it: one rule, of one gap and of many at once."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.candidates import Judge, Scale
from shimopt.job import Gap, Window
from shimopt.job.gap import NO_LIMIT, odds_of
from shimopt.lengths import Bracket, beyond
from shimopt.readings import Reading
from shimopt.readings.value import out_of_order

LENGTHS = st.integers(-30, 30)
LIMITS = st.none() | LENGTHS


def slowly_beyond(low: int, high: int, least: int | None, most: int | None) -> int:
    """Every whole step below the least that the range has, and every one above the most."""
    below = sum(low <= step < least for step in range(-99, 99)) if least is not None else 0
    return below + (sum(most < step <= high for step in range(-99, 99)) if most is not None else 0)


@given(st.lists(st.tuples(LENGTHS, LENGTHS).map(sorted), min_size=1), LIMITS, LIMITS)
def test_a_range_stands_out_by_every_step_beyond_its_limits(
    ranges: list[list[int]], least: int | None, most: int | None
) -> None:
    expected = [slowly_beyond(low, high, least, most) for low, high in ranges]
    assert [beyond(low, high, least, most) for low, high in ranges] == expected
    assert [beyond(Fraction(low), Fraction(high), least, most) for low, high in ranges] == expected
    for kind in (np.int64, object):
        low, high = np.array(ranges, dtype=kind).T
        assert beyond(low, high, least, most).tolist() == expected


def test_whole_numbers_beyond_64_bits_stand_out_exactly() -> None:
    large = np.array([10**30, 0], dtype=object)
    assert beyond(large, large, None, 10**30 - 7).tolist() == [7, 0]


# by hand: (min, max, target as stated) and what cannot be in it
WINDOWS = [
    ((None, None, None), "limits"),
    ((None, None, 3), "limits"),
    ((4, 3, None), "order"),
    ((4, 3, 3), "order"),
    ((3, 3, None), None),
    ((3, 5, 2), "target"),
    ((3, 5, 6), "target"),
    ((None, 5, 6), "target"),
    ((3, None, 2), "target"),
    ((3, 5, 3), None),
    ((None, 0, -1), None),
    ((1, None, None), None),
]


@pytest.mark.parametrize(("stated", "odds"), WINDOWS)
def test_what_cannot_be_in_a_window(stated: tuple[int | None, int | None, int | None], odds: str | None) -> None:
    low, high, target = stated
    assert Window(low, high, "drawing", target).at_odds == odds


def test_what_cannot_be_in_many_windows_at_once() -> None:
    stated = [window for window, _ in WINDOWS]
    low = np.array([-NO_LIMIT if low is None else low for low, _, _ in stated])
    high = np.array([NO_LIMIT if high is None else high for _, high, _ in stated])
    found = odds_of(low, high, np.array([target or 0 for _, _, target in stated]))
    found["target"] &= np.array([target is not None for _, _, target in stated])
    first = [next((odds for odds in found if found[odds][at]), None) for at in range(len(stated))]
    assert first == [odds for _, odds in WINDOWS]


@given(
    st.lists(st.tuples(LENGTHS, LENGTHS, LENGTHS).map(sorted), min_size=1),
    st.tuples(LIMITS, LIMITS).filter(lambda w: w != (None, None) and not (None not in w and w[0] > w[1])),
)
def test_many_clearances_are_judged_as_each_by_the_words_of_the_levels(
    after: list[list[int]], limits: tuple[int | None, int | None]
) -> None:
    low, high = limits
    gap = Gap("end play", Reading(Bracket.between(0, 0), "value"), Window(low, high, "drawing"), ())
    judge = Judge(Scale(Fraction(1, 2)), gap)  # lengths in half steps, for the middle
    many = judge.shares(tuple(2 * np.array(after).T))
    for at, (least, best, most) in enumerate(after):
        off = slowly_beyond(best, best, low, high)
        out = 0 if off else slowly_beyond(least, most, low, high)
        target = 0 if low is None or high is None else abs(2 * best - (low + high))
        expected = {"outside": off > 0, "miss": 2 * off, "unproven": out > 0, "doubt": 2 * out, "target": target}
        assert judge.shares((2 * least, 2 * best, 2 * most)) == expected
        assert {level: share[at] for level, share in many.items()} == expected


# by hand: (low, high, best) and what is wrong with the bracket
@pytest.mark.parametrize(
    ("stated", "first"), [((3, 5, 4), None), ((5, 3, 4), "low"), ((3, 5, 2), "best"), ((3, 5, 6), "best")]
)
def test_what_cannot_be_in_a_bracket(stated: tuple[int, int, int], first: str | None) -> None:
    found = out_of_order(*stated)
    assert next((key for key, wrong in found.items() if wrong), None) == first
    many = out_of_order(*(np.array([end, end]) for end in stated))
    assert {key: flags.tolist() for key, flags in many.items()} == {key: [bool(f)] * 2 for key, f in found.items()}
