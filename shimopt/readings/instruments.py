"""How far instruments may be off where nobody states it: what standards allow them, else common practice.

Of common practice, which has no source, each figure is named in the answer. Repeatability to assume until the shop
knows its own: dial indicator on a rigid base ±0.005 to 0.01 mm; four or five dimensions added ±0.02 to 0.04 mm. The
larger figures are taken.
"""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import RefusedError

INDICATOR_REPEATABILITY = Fraction(10_000)
INDICATOR_ERROR = Fraction(10_000)
# the usual graduation, 0.01 mm
INDICATOR_RESOLUTION = Fraction(10_000)
# four dimensions to ±0.04 mm in all
DIMENSION_ERROR = Fraction(10_000)
# a gasket's crush, where nobody measured how far it varies: ± so many of the per cents by which it is crushed
CRUSH_SPREAD = 5
# fewer pulls say nothing about how well they repeat
FEWEST_PULLS = 3

DIAL_SOURCE = "JIS B 7503:2011"
MICROMETER_SOURCE = "DIN 863-1"

# JIS B 7503:2011, dial of 50 mm and more across: graduation [nm] -> (measuring range up to [nm], error over it [nm])
_DIALS: dict[int, tuple[tuple[int, int], ...]] = {
    10_000: (
        (1_000_000, 8_000),
        (3_000_000, 10_000),
        (5_000_000, 12_000),
        (10_000_000, 15_000),
        (20_000_000, 25_000),
        (30_000_000, 30_000),
        (50_000_000, 40_000),
        (100_000_000, 50_000),
    ),
    5_000: ((5_000_000, 12_000),),
    1_000: ((1_000_000, 5_000), (2_000_000, 7_000), (5_000_000, 10_000)),
}
_LONGEST_MICROMETER = 500


def dial_error(graduation: int, travel: int) -> Fraction:
    """The permissible error of a dial indicator over its whole measuring range [nm]. Raises RefusedError.

    Parameters: graduation and measuring range of the dial [nm]. Source: JIS B 7503:2011, dials 50 mm and more across.
    """
    rows = _DIALS.get(graduation, ())
    found = next((error for most, error in rows if 0 < travel <= most), None)
    if found is None:
        raise RefusedError(
            f"{DIAL_SOURCE} has no dial of this graduation and travel", "state the dial's error = ... instead of travel"
        )
    return Fraction(found)


def micrometer_error(lower_end: Fraction) -> int:
    """The permissible error of a micrometer [nm] whose range begins at `lower_end` [mm]. Raises RefusedError.

    (4 + A/50) µm, in whole micrometres rounded down as the standard's table has it. Source: DIN 863-1, to 500 mm.
    """
    if not 0 <= lower_end < _LONGEST_MICROMETER:
        raise RefusedError(f"{MICROMETER_SOURCE} has micrometers up to 500 mm", "state its error = ... instead")
    return int(4 + lower_end / 50) * 1000
