"""How a gap was measured: from what the instrument said to a bracket."""

from shimopt.readings.feeler import feeler_reading
from shimopt.readings.reading import Reading, ReadingError
from shimopt.readings.value import value_reading

__all__ = ["Reading", "ReadingError", "feeler_reading", "value_reading"]
