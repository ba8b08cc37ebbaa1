"""Sums that hold a normal or a Student error: by their characteristic functions, summed over Gauss-Legendre panels.

The probability of a sum up to x is 1/2 + 1/pi × integral over s from 0 of phi(s) sin(s x) / s, with phi the product of
the errors' characteristic functions (all symmetric about 0): sin(a s)/(a s) for an even spread over ±a,
exp(-u² s²/2) for a normal one. Student's t is a mixture of normal errors: given w, chi-squared with v degrees of
freedom, its variance is v/w; the mixture is summed on an even grid of log(w/v), where it converges faster than any
power of the step.

Errors of the method: panels no longer than half a period of the fastest oscillation or one unit of s (16 points, below
1e-12); panels halved 30 times towards 0, where Student's function is not smooth; the rest of the integral beyond the
last panel below 1e-9; far tails below 1e-8 are called 0 or 1. Together below 1e-7.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil, erfc, exp, inf, lgamma, log, log2, pi, prod, sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

from shimopt.probability.dominated import dominated_share, is_dominated

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

_POINTS = 16
_REST = 1e-9
_TAIL = 1e-8
_NORMAL_REACH = 6.8  # exp(-6.8²/2) is below 1e-10
_HALVINGS = 30


def smooth_share_up_to(
    halves: tuple[float, ...], normal: float, students: tuple[tuple[float, int], ...], x: float
) -> float:
    """The probability that the sum is at most `x`.

    Parameters: halves, half-widths of even spreads; normal, standard deviation of the normal part, 0 for none;
    students, scale and degrees of freedom of each. Lengths in any one unit. The error is below 1e-7.
    """
    if not halves and not students:
        return erfc(-x / (normal * sqrt(2))) / 2
    if is_dominated(halves, normal, students):
        return dominated_share(halves, normal, students, x, smooth_share_up_to)
    beyond = abs(x) - sum(halves)
    if beyond > 0 and beyond > _tail_reach(normal, students):
        return 1.0 if x > 0 else 0.0
    # everything in units of the widest smooth error: its grid serves all sums, and no other damps much sooner
    widest = max(students, default=(0.0, 0))
    unit, dof = widest if widest[0] > normal else (normal or max(halves), 0)
    rest = _Rest(
        halves,
        normal / unit if dof else 0.0,
        tuple(sorted(students)[: -1 if dof else None]),
        bool(students or normal),
    )
    fastest = (abs(x) + sum(halves)) / unit
    level = max(0, ceil(log2(fastest / (2 * pi)))) if fastest else 0
    points, factors = _weighted(rest, unit, dof, level)
    import numpy as np

    return 0.5 + float(factors @ np.sin(points * (x / unit)))


def _tail_reach(normal: float, students: tuple[tuple[float, int], ...]) -> float:
    """A distance beyond which the smooth errors together lie with less than the tail's probability."""
    return 6.0 * normal + sum(scale * _student_tail(dof) for scale, dof in students)


@lru_cache(maxsize=256)
def _student_tail(dof: int) -> float:
    """Where Student's t leaves less than the tail above it: its density is below c y^-(dof + 1)."""
    log_c = lgamma((dof + 1) / 2) - lgamma(dof / 2) - log(dof * pi) / 2 + (dof + 1) / 2 * log(dof)
    return max(6.0, exp((log_c - log(dof) - log(_TAIL)) / dof))


class _Rest(NamedTuple):
    """The errors beside the one smooth error that all is counted in, and whether there is such a one."""

    halves: tuple[float, ...]
    normal: float
    students: tuple[tuple[float, int], ...]
    smooth: bool


@lru_cache(maxsize=256)
def _weighted(rest: _Rest, unit: float, dof: int, level: int) -> tuple[Floats, Floats]:
    """Points s, and weight × phi(s) / (pi s) at each."""
    import numpy as np

    reach = _rest_reach([half / unit for half in rest.halves])
    if rest.smooth:
        reach = min(reach, _reach(dof))
    # by powers of two, so that few grids serve all sums
    points, factors = _grid(dof if rest.smooth else -1, level, ceil(log2(reach)), bool(dof or rest.students))
    for half in rest.halves:
        # numpy's sinc is sin(pi x) / (pi x)
        factors = factors * np.sinc(points * (half / unit / pi))
    if rest.normal:
        factors = factors * np.exp(-((points * rest.normal) ** 2) / 2)
    for scale, own_dof in rest.students:
        factors = factors * _student_function(own_dof, points * (scale / unit))
    return points, factors


def _rest_reach(halves: list[float]) -> float:
    """Where the integral may end because the even spreads have damped it: the rest is below 1 / (pi n prod(a s))."""
    n = len(halves)
    return (1 / (pi * n * _REST * prod(halves))) ** (1 / n) if n >= 2 else inf


@lru_cache(maxsize=256)
def _reach(dof: int) -> float:
    """Where a unit error's own function has fallen below 1e-10."""
    if dof == 0:
        return _NORMAL_REACH
    import numpy as np

    reach = 4.0
    while _student_function(dof, np.array([reach]))[0] > 1e-10:
        reach *= 1.25
    return reach


@lru_cache(maxsize=128)
def _grid(dof: int, level: int, reach_level: int, halved: bool) -> tuple[Floats, Floats]:
    """Points, and weights × the unit error's function / (pi s): dof 0 is normal, -1 no smooth error at all."""
    import numpy as np

    width = min(2.0**-level, 2.0**reach_level)
    end = 2.0**reach_level if dof < 0 else min(2.0**reach_level, _reach(dof))
    edges = np.arange(0, ceil(end / width) + 1) * width
    starts, widths = edges[:-1], np.full(len(edges) - 1, width)
    if halved:
        towards = width * 2.0 ** -np.arange(1, _HALVINGS + 1)
        starts = np.concatenate([[0.0], towards, starts[1:]])
        widths = np.concatenate([[towards[-1]], towards, widths[1:]])
    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    points = (starts[:, None] + widths[:, None] * (nodes + 1) / 2).ravel()
    factors = (widths[:, None] * weights / 2).ravel() / (pi * points)
    if dof == 0:
        factors = factors * np.exp(-(points**2) / 2)
    elif dof > 0:
        factors = factors * _student_function(dof, points)
    return points, factors


@lru_cache(maxsize=256)
def _mixture(dof: int) -> tuple[Floats, Floats]:
    """Variances v/w of the normal errors that make up Student's t, and their weights."""
    import numpy as np

    step = min(0.4, 0.5 * sqrt(2 / dof))

    def log_weight(y: Any) -> Any:
        return dof / 2 * (y - np.exp(y) + 1)

    lowest, highest = 0.0, 0.0
    while log_weight(lowest) > -28:
        lowest -= step
    while log_weight(highest) > -28:
        highest += step
    y = np.arange(round(lowest / step), round(highest / step) + 1) * step
    weights = np.exp(log_weight(y))
    return np.exp(-y), weights / weights.sum()


def _student_function(dof: int, s: Floats) -> Floats:
    """The characteristic function of Student's t."""
    import numpy as np

    variances, weights = _mixture(dof)
    found = np.zeros_like(s)
    half_square = s**2 / 2
    for variance, weight in zip(variances, weights, strict=True):
        found += weight * np.exp(-half_square * variance)
    return found
