"""Why this and why not that, as data: codes and numbers. The words are made in `words`.

What asks a solver is not here: `reasons.explain` and `reasons.alternatives` are loaded by who plans.
"""

from shimopt.reasons.as_stated import assumptions, suspicions
from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.gauge_enough import Gauge, gauges

__all__ = [
    "Gauge",
    "Reason",
    "assumptions",
    "gauges",
    "suspicions",
]
