"""How a gap was measured: from what the instrument said to a bracket, its basis and the distribution of its error."""

from shimopt.readings.built_up import Dimension, built_up_reading
from shimopt.readings.cover_gap import cover_reading
from shimopt.readings.feeler import Spot, feeler_reading
from shimopt.readings.indicator import Dial, indicator_reading
from shimopt.readings.reading import Basis, Reading, ReadingError, Term
from shimopt.readings.value import value_reading

__all__ = [
    "Basis",
    "Dial",
    "Dimension",
    "Reading",
    "ReadingError",
    "Spot",
    "Term",
    "built_up_reading",
    "cover_reading",
    "feeler_reading",
    "indicator_reading",
    "value_reading",
]
