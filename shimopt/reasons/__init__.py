"""Why this and why not that, as data: codes and numbers. The words are made in `render.words`."""

from shimopt.reasons.alternatives import Alternative, Nearest, alternatives, nearest_misses
from shimopt.reasons.as_stated import assumptions
from shimopt.reasons.explain import explain
from shimopt.reasons.gauge import Gauge, gauges
from shimopt.reasons.reason import Reason
from shimopt.reasons.suspicion import suspicions

__all__ = [
    "Alternative",
    "Gauge",
    "Nearest",
    "Reason",
    "alternatives",
    "assumptions",
    "explain",
    "gauges",
    "nearest_misses",
    "suspicions",
]
