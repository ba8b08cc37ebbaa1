"""Effects that are computed, against values derived elsewhere."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from math import radians

import pytest

from shimopt.assembly.gears import bevel_effect, pitch_angle, trial_effect
from shimopt.lengths import Bracket

# pressure angle, pitch angle [degrees], axial shift, change of circular backlash [mm]: derived from the pitch cones
# (2 × shift × tan(pressure angle) × sin(pitch angle)) and worked out apart from this project
BEVEL = [
    ("20", 63.43494882, 0.1, 0.065109),
    ("20", 26.56505118, 0.1, 0.032554),
    ("20", 45, 0.1, 0.051473),
    ("20", 63.43494882, 0.05, 0.032554),
    ("22.5", 75, 0.05, 0.04001),
    ("14.5", 45, 0.1, 0.036574),
]


@pytest.mark.parametrize(("pressure", "pitch", "shift", "change"), BEVEL)
def test_moving_a_bevel_gear_changes_its_backlash_as_geometry_says(
    pressure: str, pitch: float, shift: float, change: float
) -> None:
    by_hand = (Decimal(str(change)) / Decimal(str(shift))).quantize(Decimal("0.001"), rounding=ROUND_HALF_EVEN)
    assert bevel_effect(Fraction(pressure), radians(pitch)) == Fraction(by_hand)


def test_pitch_angles_of_20_and_40_teeth_are_those_whose_tangents_are_a_half_and_two() -> None:
    # tan 26.56505118 degrees = 1/2 and tan 63.43494882 degrees = 2
    assert pitch_angle((20, 40), "pinion") == pytest.approx(radians(26.56505118))
    assert pitch_angle((20, 40), "wheel") == pytest.approx(radians(63.43494882))


def test_two_readings_with_different_packs_give_the_effect_and_what_they_leave_open() -> None:
    # by hand: the reading falls from 0.25 to 0.11 while the pack grows from 0.30 to 0.50: -0.14 / 0.20 = -0.7;
    # at worst -0.16 / 0.20 = -0.8 and -0.12 / 0.20 = -0.6
    packs = (Bracket.between(300_000, 300_000), Bracket.between(500_000, 500_000))
    readings = (Bracket.between(240_000, 260_000), Bracket.between(100_000, 120_000))
    assert trial_effect(packs, readings) == (Fraction(-4, 5), Fraction(-7, 10), Fraction(-3, 5))
    # the order in which they were tried says nothing
    assert trial_effect(packs[::-1], readings[::-1]) == trial_effect(packs, readings)


@pytest.mark.parametrize(
    # by hand: 0.0625 and 0.0635 lie in the middle between thousandths; the even one is taken
    ("change", "effect"),
    [(625, "0.062"), (635, "0.064"), (-625, "-0.062"), (624, "0.062"), (626, "0.063")],
)
def test_what_lies_between_two_thousandths_goes_to_the_even_one(change: int, effect: str) -> None:
    packs = (Bracket.between(0, 0), Bracket.between(10_000, 10_000))
    readings = (Bracket.between(1_000, 1_000), Bracket.between(1_000 + change, 1_000 + change))
    assert trial_effect(packs, readings)[1] == Fraction(effect)
