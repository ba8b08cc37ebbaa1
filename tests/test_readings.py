"""Feeler gauges and plain values: what was read becomes a bracket. All numbers worked by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.lengths import Bracket
from shimopt.readings import ReadingError, feeler_reading, value_reading
from shimopt.readings.feeler import Spot
from shimopt.readings.value import bracket_reading

THOU = 25_400


def thou(low: str, best: str, high: str) -> Bracket:
    return Bracket(*(Fraction(number) * THOU for number in (low, best, high)))


def blades(**spot: int) -> Spot:
    """A spot with its blades in thou."""
    return Spot(**{key: value * THOU for key, value in spot.items()})


def test_a_blade_that_goes_and_the_next_that_does_not() -> None:
    # common practice, no source: 0.008 in goes and 0.009 in does not, so the gap is read as 8 to 9 thou
    reading = feeler_reading([blades(go=8, no_go=9)])
    assert reading.bracket == thou("8", "8.5", "9")
    assert (reading.kind, reading.basis, reading.tilt, reading.no_preload_assumed) == (
        "feeler",
        "worst case",
        Fraction(0),
        False,
    )


def test_a_tight_pull_is_the_blade_and_half_a_step_to_both_sides() -> None:
    assert feeler_reading([blades(snug=11, step=1)]).bracket == thou("10.5", "11", "11.5")
    # a step of an odd number of nanometres is halved exactly
    assert feeler_reading([Spot(snug=100, step=25)]).bracket == Bracket(
        Fraction("87.5"), Fraction(100), Fraction("112.5")
    )


def test_the_thinnest_blade_that_will_not_go_leaves_nothing_to_that_blade_and_is_an_assumption() -> None:
    reading = feeler_reading([blades(no_go=2)])
    assert (reading.bracket, reading.no_preload_assumed) == (thou("0", "1", "2"), True)


def test_a_blade_of_nothing_that_goes_is_said_and_not_assumed() -> None:
    reading = feeler_reading([blades(go=0, no_go=2)])
    assert (reading.bracket, reading.no_preload_assumed) == (thou("0", "1", "2"), False)


def test_several_spots_are_read_as_the_mean_of_their_lows_and_of_their_highs() -> None:
    # lows 8, 9, 9: mean 26/3; highs 9, 10, 10: mean 29/3; middles 8.5, 9.5, 9.5: mean 55/6
    reading = feeler_reading([blades(go=8, no_go=9), blades(go=9, no_go=10), blades(go=9, no_go=10)])
    assert reading.bracket == thou("26/3", "55/6", "29/3")
    # 9 thou could be the gap at all three spots: they agree
    assert reading.tilt == 0


def test_spots_further_apart_than_their_brackets_are_a_tilt() -> None:
    # the first is at most 7, the second at least 9: 2 thou apart
    assert feeler_reading([blades(go=6, no_go=7), blades(go=9, no_go=10)]).tilt == 2 * THOU
    # 6 to 7 and 6.5 to 7.5 overlap
    assert feeler_reading([blades(go=6, no_go=7), Spot(snug=7 * THOU, step=THOU)]).tilt == 0


def test_one_spot_of_several_where_no_blade_goes_is_an_assumption_too() -> None:
    reading = feeler_reading([blades(go=2, no_go=3), blades(no_go=2)])
    assert (reading.bracket, reading.no_preload_assumed) == (thou("1", "7/4", "5/2"), True)


@pytest.mark.parametrize(
    ("spots", "rule", "remedy"),
    [
        ([], "at least one spot", "go"),
        ([blades(go=25)], "only the least", "until one does not go"),
        ([Spot()], "names its blades", "no_go"),
        ([blades(go=9, no_go=8)], "not thinner", "swap"),
        ([blades(go=9, no_go=9)], "not thinner", "swap"),
        ([blades(no_go=0)], "not thinner", "swap"),
        ([blades(go=-1, no_go=9)], "not thinner than nothing", "from 0 up"),
        ([blades(snug=-1, step=1)], "not thinner than nothing", "from 0 up"),
        ([blades(snug=11)], "needs the step", "step"),
        ([blades(snug=11, step=0)], "above zero", "step"),
        ([blades(snug=11, step=-1)], "above zero", "step"),
        ([blades(snug=11, step=1, no_go=12)], "not both", "keep one"),
        ([blades(go=11, no_go=12, step=1)], "`step` belongs to `snug`", "snug"),
        ([blades(snug=1, step=3)], "thinner than half a step", "no_go"),
        ([blades(go=8, no_go=9), blades(go=8)], "only the least", "until one does not go"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(spots: list[Spot], rule: str, remedy: str) -> None:
    with pytest.raises(ReadingError) as caught:
        feeler_reading(spots)
    assert rule in caught.value.rule
    assert remedy in caught.value.remedy


def test_a_value_without_a_tolerance_is_taken_as_exact() -> None:
    assert value_reading(Bracket.between(9, 9)).taken_as_exact
    assert not value_reading(Bracket.between(8, 9)).taken_as_exact


def test_a_row_with_and_without_a_best_estimate() -> None:
    assert bracket_reading(8, 9, None).bracket == Bracket(Fraction(8), Fraction(17, 2), Fraction(9))
    assert bracket_reading(8, 12, 9).bracket == Bracket(Fraction(8), Fraction(9), Fraction(12))
    for low, high, best in ((9, 8, None), (8, 9, 7), (8, 9, 10)):
        with pytest.raises(ReadingError):
            bracket_reading(low, high, best)


@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(1, 10**5)), min_size=1, max_size=8))
def test_the_mean_of_spots_lies_among_them_whatever_their_order(spots: list[tuple[int, int]]) -> None:
    read = [Spot(go=go, no_go=go + step) for go, step in spots]
    reading = feeler_reading(read)
    assert min(go for go, _ in spots) <= reading.bracket.low <= reading.bracket.best <= reading.bracket.high
    assert reading.bracket.high <= max(go + step for go, step in spots)
    assert reading == feeler_reading(read[::-1])
    # one gap could lie in all of them, or the face is tilted: the slow way, end against end
    apart = max(a - (b + step) for a, _ in spots for b, step in spots)
    assert reading.tilt == max(0, apart)
