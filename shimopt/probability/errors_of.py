"""One error each, as data: its shape and its size in nanometres, exact.

Shapes and their standard uncertainty u, JCGM 100:2008 (the GUM): spread evenly over ±a (rectangular), u = a/sqrt(3)
(4.3.7); triangular, u = a/sqrt(6) (4.3.9); a resolution d is spread evenly over ±d/2, u = d/sqrt(12) (F.2.2.1); the
mean of n repeats, u = s/sqrt(n) with n - 1 degrees of freedom (4.2.3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf, sqrt

from shimopt.lengths import Bracket


@dataclass(frozen=True, slots=True)
class Even:
    """Spread evenly over ± `half` [nm]: a hard bound."""

    half: Fraction


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal with variance `square` [nm²]."""

    square: Fraction


@dataclass(frozen=True, slots=True)
class Student:
    """Student's t with `dof` degrees of freedom, times the root of `square` [nm²]: the mean of dof + 1 repeats."""

    square: Fraction
    dof: int


@dataclass(frozen=True, slots=True)
class Sides:
    """A best estimate off the middle: half the probability spread evenly over `below`, half over `above` [nm]."""

    below: Fraction
    above: Fraction


Error = Even | Normal | Student | Sides


def triangular(half: Fraction) -> tuple[Even, Even]:
    """A triangle over ± `half`: the sum of two even spreads of half that width."""
    return Even(half / 2), Even(half / 2)


def error_of(bracket: Bracket) -> tuple[Error, ...]:
    """What a hard bracket says about its best estimate: nothing where it is exact, else an even spread."""
    below, above = bracket.best - bracket.low, bracket.high - bracket.best
    if below == above:
        return (Even(below),) if below else ()
    return (Sides(below, above),)


def scaled(error: Error, factor: Fraction) -> Error:
    """The error of `factor` times the quantity."""
    size = abs(factor)
    match error:
        case Even(half):
            return Even(half * size)
        case Normal(square):
            return Normal(square * size**2)
        case Student(square, dof):
            return Student(square * size**2, dof)
        case Sides(below, above):
            return Sides(below * size, above * size) if factor >= 0 else Sides(above * size, below * size)


def square_of(error: Error) -> Fraction:
    """The square of an error's standard uncertainty [nm²]."""
    match error:
        case Even(half):
            return half**2 / 3
        case Normal(square) | Student(square, _):
            return square
        case Sides(below, above):
            mean = (above - below) / 4
            return (below**2 + above**2) / 6 - mean**2


def standard_uncertainty(errors: Sequence[Error]) -> float:
    """The combined standard uncertainty of independent errors [nm] (JCGM 100, 5.1.2)."""
    return sqrt(sum(map(square_of, errors), Fraction(0)))


def effective_dof(errors: Sequence[Error]) -> float:
    """Effective degrees of freedom of independent errors (Welch-Satterthwaite, JCGM 100, G.4.1); inf: no repeats."""
    fourth = sum((e.square**2 / e.dof for e in errors if isinstance(e, Student)), Fraction(0))
    return float(sum(map(square_of, errors), Fraction(0)) ** 2 / fourth) if fourth else inf
