"""Sums in which one even spread is far wider than all other errors together: integrated over its width.

With F the share of the others up to t, the sum's share up to x is the integral of F from x - a to x + a, divided by 2a.
The others are symmetric about 0: with Q = 1 - F and H(t) its integral from 0 to t, F's integral from 0 to t is t - H(t)
above 0 and -H(-t) below. Q is integrated over panels that double from the others' own scale on (16 points each); beyond
1,024 of them it falls as t^-v, with v the fewest degrees of freedom of a Student error, and is 0 without one.

Errors of the method: that power law is off by a millionth of what is left there, which is below a thousandth of the
others' scale, itself below a thousandth of the spread's; with those of F, below 1e-7. Summed by its characteristic
function instead, such a sum takes a number of points that grows with the ratio of the two, without end.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from math import log

_FAR_WIDER = 1_000
_POINTS = 16
_DOUBLINGS = 10

# halves, normal part, Student errors, and how far up: as `smooth_share_up_to` takes them
ShareUpTo = Callable[[tuple[float, ...], float, tuple[tuple[float, int], ...], float], float]


def _scale(halves: tuple[float, ...], normal: float, students: tuple[tuple[float, int], ...]) -> float:
    return sum(halves) + normal + sum(scale for scale, _ in students)


def is_dominated(halves: tuple[float, ...], normal: float, students: tuple[tuple[float, int], ...]) -> bool:
    """Whether one even spread is over a thousand times as wide as all else together, some of which is not even."""
    if not halves or not (normal or students):
        return False
    widest = max(halves)
    return widest > _FAR_WIDER * (_scale(halves, normal, students) - widest)


def dominated_share(
    halves: tuple[float, ...], normal: float, students: tuple[tuple[float, int], ...], x: float, share: ShareUpTo
) -> float:
    """The probability that such a sum is at most `x`; `share` gives that of the others. The error is below 1e-7."""
    *others, widest = sorted(halves)
    rest = tuple(others), normal, students

    def up_to(t: float) -> float:
        return t - _above(*rest, t, share) if t > 0 else -_above(*rest, -t, share)

    # from 0 on F's integral is t - H(t); what lies below 0 adds H from there to 0
    return min(1.0, max(0.0, (up_to(x + widest) - up_to(x - widest)) / (2 * widest)))


def _above(
    halves: tuple[float, ...], normal: float, students: tuple[tuple[float, int], ...], t: float, share: ShareUpTo
) -> float:
    """The integral of Q from 0 to t."""
    scale = _scale(halves, normal, students)
    ends = [0.0, *(scale * 2.0**n for n in range(_DOUBLINGS + 1))]
    found = 0.0
    for start, end in pairwise(ends):
        if t <= start:
            return found
        found += _panel(halves, normal, students, start, min(end, t), share)
    if t <= ends[-1] or not students:
        return found
    last, dof = ends[-1], min(dof for _, dof in students)
    left = 1 - share(halves, normal, students, last)
    if dof == 1:
        return found + left * last * log(t / last)
    return found + left * last * (1 - (last / t) ** (dof - 1)) / (dof - 1)


@lru_cache(maxsize=4096)
def _panel(
    halves: tuple[float, ...],
    normal: float,
    students: tuple[tuple[float, int], ...],
    start: float,
    end: float,
    share: ShareUpTo,
) -> float:
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    values = [1 - share(halves, normal, students, start + (end - start) * (node + 1) / 2) for node in nodes.tolist()]
    return float(weights @ np.array(values)) * (end - start) / 2
