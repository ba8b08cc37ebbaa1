"""Effects that are computed: of a bevel gear's shim on backlash, and from two trial readings with different packs.

Geometry and trial readings know an effect to a per cent or so: it is rounded to three decimals, half to even. The
rounded effect is the effect; what is shown is what is used.
"""

from __future__ import annotations

from fractions import Fraction
from math import atan2, radians, sin, tan

from shimopt.lengths import Bracket

_DECIMALS = 3


def pitch_angle(teeth: tuple[int, int], on: str) -> float:
    """The pitch angle of one gear of a bevel pair with shafts at right angles [radians].

    Parameters: teeth, of pinion and wheel; on, "pinion" or "wheel". tan(angle) = its own teeth / the other's (from the
    geometry of the two pitch cones, which roll on each other and meet in one point).
    """
    pinion, wheel = teeth
    return atan2(wheel, pinion) if on == "wheel" else atan2(pinion, wheel)


def bevel_effect(pressure_angle: Fraction | float, pitch: float, share: Fraction = Fraction(1)) -> Fraction:
    """How much circular backlash grows per unit by which a bevel gear moves out of mesh along its axis.

    Parameters: pressure_angle [degrees]; pitch, the moved gear's pitch angle [radians]; share, how much of a shim's
    thickness moves the gear. The axial shift s moves the
    flanks apart by s × sin(pitch) across the pitch line, which opens 2 × tan(pressure angle) as much along it:

        effect = 2 × tan(pressure angle) × sin(pitch angle)

    Source: derived from the pitch cones of straight bevel gears; holds for small shifts.

    >>> from math import radians
    >>> bevel_effect(20, radians(45))
    Fraction(103, 200)
    """
    return round(share * Fraction(2 * tan(radians(float(pressure_angle))) * sin(pitch)), _DECIMALS)


def trial_effect(
    stacks: tuple[Bracket, Bracket], readings: tuple[Bracket, Bracket]
) -> tuple[Fraction, Fraction, Fraction]:
    """The effect that two readings with different packs show: lowest, best, highest.

    Parameters: the packs' thicknesses and the gap read with each [nm]; the packs' brackets must not overlap.
    effect = change of reading / change of thickness; its ends are the worst cases of all four brackets.
    """
    (one, two), (before, after) = stacks, readings
    if one.best > two.best:
        one, two, before, after = two, one, after, before
    changes = [after.low - before.high, after.high - before.low]
    thicker = [two.low - one.high, two.high - one.low]
    ends = [Fraction(change) / thick for change in changes for thick in thicker]
    best = (after.best - before.best) / (two.best - one.best)
    return round(min(ends), _DECIMALS), round(best, _DECIMALS), round(max(ends), _DECIMALS)
