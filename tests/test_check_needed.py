"""The thickness that serves a gap, worked by hand."""

from __future__ import annotations

import pytest

from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.job import Window
from tests.jobs import gap, job, window

THOU = 25_400

# reading low and high, window, surely needed, aimed at by the best estimate (the middle) [thou]
CASES = [
    # 18 - 12 = 6 brings the largest it may be to 12; 17 - 4 = 13 brings the least to 4; the middle 17.5: 5.5 to 13.5
    (17, 18, window(4, 12), (6, 13), (5.5, 13.5)),
    # inside as read: nothing is needed, and 8 - 4 = 4 may be added; by the middle 8.5 - 4 = 4.5
    (8, 9, window(4, 12), (0, 4), (0, 4.5)),
    # the bracket is wider than the window: 20 - 10 = 10 at least and 10 - 4 = 6 at most, so nothing is sure
    (10, 20, window(4, 10), None, (5, 11)),
    # below the window: nothing can help
    (1, 3, window(4, 10), None, None),
    # only its low end below: nothing is sure; by the middle of 5, up to 1 may be added
    (3, 7, window(4, 10), None, (0, 1)),
    # one-sided windows have one end
    (14, 15, window(4, None), (0, 10), (0, 10.5)),
    (14, 15, window(None, 10), (5, None), (4.5, None)),
]


def span(ends: tuple[float, float | None] | None) -> Span | None:
    if ends is None:
        return None
    return Span(*(None if end is None else round(end * THOU) for end in ends))  # type: ignore[arg-type] # whole nm


@pytest.mark.parametrize(("low", "high", "allowed", "sure", "by_best"), CASES)
def test_the_stack_needed_is_what_is_over_at_least_and_what_is_under_at_most(
    low: float, high: float, allowed: Window, sure: tuple[float, float | None], by_best: tuple[float, float | None]
) -> None:
    read = gap("shaft", low, high, allowed)
    of = job([read], [])
    assert needed(of, read) == span(sure)
    assert aimed(of, read) == span(by_best)
