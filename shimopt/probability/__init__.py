"""Errors as distributions, their sums, and the probability that a sum lies within limits. Knows no gaps and no jobs."""

from shimopt.probability.errors_of import (
    Error,
    Even,
    Normal,
    Sides,
    Student,
    effective_dof,
    error_of,
    scaled,
    standard_uncertainty,
    triangular,
)
from shimopt.probability.within import acceptance, half_width, probability

__all__ = [
    "Error",
    "Even",
    "Normal",
    "Sides",
    "Student",
    "acceptance",
    "effective_dof",
    "error_of",
    "half_width",
    "probability",
    "scaled",
    "standard_uncertainty",
    "triangular",
]
