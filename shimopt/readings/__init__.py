"""How a gap was measured: from what the instrument said to a bracket, its basis and the distribution of its error.

A form of reading is a file: its table as a job writes it, its arithmetic, and its entry in FORMS below.
"""

from shimopt.readings.built_up import BUILT_UP, Dimension, built_up_reading
from shimopt.readings.cover_gap import COVER_GAP, cover_reading
from shimopt.readings.feeler import FEELER, Spot, feeler_reading
from shimopt.readings.indicator import INDICATOR, Dial, IndicatorTable, indicator_reading, refuse_lone_pull
from shimopt.readings.reading import Basis, Form, Reading, Shape, Term, Told
from shimopt.readings.value import VALUE, value_reading

# in the order in which they are named to the user
FORMS = (VALUE, FEELER, INDICATOR, BUILT_UP, COVER_GAP)

__all__ = [
    "FORMS",
    "Basis",
    "Dial",
    "Dimension",
    "Form",
    "IndicatorTable",
    "Reading",
    "Shape",
    "Spot",
    "Term",
    "Told",
    "built_up_reading",
    "cover_reading",
    "feeler_reading",
    "indicator_reading",
    "refuse_lone_pull",
    "value_reading",
]
