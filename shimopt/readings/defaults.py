"""What is assumed of an error that nobody stated. Common practice, no source: each is named in the answer.

Repeatability to assume until the shop knows its own: dial indicator on a rigid base ±0.005 to 0.01 mm; four or five
dimensions added ±0.02 to 0.04 mm. The larger figures are taken.
"""

from __future__ import annotations

from fractions import Fraction

__all__ = ["DIMENSION_ERROR", "FEWEST_PULLS", "INDICATOR_ERROR", "INDICATOR_REPEATABILITY", "INDICATOR_RESOLUTION"]

INDICATOR_REPEATABILITY = Fraction(10_000)
INDICATOR_ERROR = Fraction(10_000)
# the usual graduation, 0.01 mm
INDICATOR_RESOLUTION = Fraction(10_000)
# four dimensions to ±0.04 mm in all
DIMENSION_ERROR = Fraction(10_000)
# fewer pulls say nothing about how well they repeat
FEWEST_PULLS = 3
