"""The chance to be inside for many gaps at once. A float that is shown and decides nothing.

A reading is spread evenly over its bracket (half of it on either side of a best estimate off the middle), a piece over
its tolerance. The sum of even spreads ±a1 ... ±an has the distribution

    F(x) = 1 / (n! 2^n a1...an) × sum over all signs e of (e1...en) max(0, x + e1 a1 + ... + en an)^n

(as in `shimopt.probability.evenly`, which works it out in whole numbers). In floats its terms can cancel where one
spread is far narrower than another: what that may cost is added up, and where it could be seen the whole numbers are
asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import product
from math import factorial

import numpy as np
import numpy.typing as npt

from shimopt.batch.best_stacks import NONE, Asked
from shimopt.batch.decimals import Flags, Whole
from shimopt.batch.stack_table import PER_NM, StackTable
from shimopt.lengths import Bracket
from shimopt.probability import Error, Even, error_of, probability

Floats = npt.NDArray[np.float64]
_SEEN = 1e-10  # an error below this is not seen in nine decimals
_ROUNDING = 4 * np.finfo(np.float64).eps


def chances_of(table: StackTable, asked: Asked, stack: Whole, after: Sequence[Whole], shift: int) -> Floats:
    """The chance of every gap that its clearance with this stack lies in its window, to 1e-9.

    Parameters: stack, rows of the table; after, low, best and high after shimming [half-nanometres]; shift, how much a
    gap may have moved since it was read [nm], already in the brackets of `gap_rows`.
    """
    low, best, high = after
    # a bracket that lies inside, or outside, is sure
    found: Floats = (asked.out(low, high) == 0).astype(np.float64)
    rows = np.flatnonzero((found == 0) & (low <= asked.max) & (high >= asked.min))
    if len(rows):
        found[rows] = _unsure(table, asked.take(rows), stack[rows], best[rows], shift)
    return found


def _unsure(table: StackTable, asked: Asked, stack: Whole, best: Whole, shift: int) -> Floats:
    used, code = np.unique(stack, return_inverse=True)
    errors = [table.errors_of(table.stacks[at]) for at in used.tolist()]
    halves = [[error.half for error in own if isinstance(error, Even)] for own in errors]
    widest = max(map(len, halves))
    of_stack = np.zeros((len(used), widest))
    for at, own_halves in enumerate(halves):
        of_stack[at, : len(own_halves)] = [float(half) for half in own_halves]
    common = np.full((len(stack), 1), float(shift))
    spreads = np.hstack([of_stack[code] * PER_NM, common * PER_NM])
    below, above = asked.best - asked.low - shift * PER_NM, asked.high - asked.best - shift * PER_NM
    middle = below == above
    found, doubt = np.zeros(len(stack)), np.zeros(len(stack))
    # a best estimate off the middle: half of its error on either side of it
    for side, width, share in ((0, below, 1.0), (-1, below, 0.5), (1, above, 0.5)):
        rows = np.flatnonzero(middle if side == 0 else ~middle)
        if not len(rows):
            continue
        own = width[rows] / (1.0 if side == 0 else 2.0)
        centre = best[rows] + side * own
        part, lost = _between(np.hstack([spreads[rows], own[:, None]]), asked.take(rows), centre)
        found[rows] += share * part
        doubt[rows] += share * lost
    only_even = np.array([all(isinstance(error, Even) for error in own) for own in errors])[code]
    for row in np.flatnonzero((doubt > _SEEN) | ~only_even).tolist():
        found[row] = _exact(errors[code[row]], asked.take(np.array([row])), int(best[row]), shift)
    return np.clip(found, 0.0, 1.0)


def _between(spreads: Floats, asked: Asked, centre: Floats) -> tuple[Floats, Floats]:
    """The probability that a sum of even spreads about a centre lies in the window, and what rounding may cost."""
    found, lost = np.ones(len(centre)), np.zeros(len(centre))
    for limit, no_such, sign in ((asked.max, asked.max == NONE, 1), (asked.min, asked.min == -NONE, -1)):
        # the part beyond a limit is the part up to as far on the other side: the spreads are symmetric
        share, cost = _share_below(spreads, np.where(no_such, -np.inf, -sign * (limit - centre)))
        found -= np.where(no_such, 0.0, share)
        lost += np.where(no_such, 0.0, cost)
    return found, lost


def _share_below(spreads: Floats, x: Floats) -> tuple[Floats, Floats]:
    """The probability that a sum of even spreads (zero: none) is below `x`, and what rounding may cost."""
    found, lost = np.zeros(len(x)), np.zeros(len(x))
    count = (spreads > 0).sum(axis=1)
    ordered = -np.sort(-spreads, axis=1)
    for n in np.unique(count).tolist():
        rows = np.flatnonzero(count == n)
        if n == 0:
            found[rows] = x[rows] > 0
            continue
        found[rows], lost[rows] = _sum_of_powers(ordered[rows, :n], x[rows])
    return found, lost


def _sum_of_powers(halves: Floats, x: Floats) -> tuple[Floats, Floats]:
    n = halves.shape[1]
    reach = halves.sum(axis=1)
    # the smaller tail has fewer terms to cancel
    mirrored = x > 0
    at, size = np.where(mirrored, -x, x) / reach, halves / reach[:, None]
    total, spent = np.zeros(len(x)), np.zeros(len(x))
    inside: Flags = at > -1
    for signs in product((1.0, -1.0), repeat=n):
        term = np.maximum(0.0, np.where(inside, at, -1.0) + size @ np.array(signs)) ** n
        total += float(np.prod(signs)) * term
        spent += term
    scale = factorial(n) * 2.0**n * size.prod(axis=1)
    share = np.where(inside, total / scale, 0.0)
    return np.where(mirrored, 1.0 - share, share), np.where(inside, _ROUNDING * n * spent / scale, 0.0)


def _exact(errors: tuple[Error, ...], asked: Asked, best: int, shift: int) -> float:
    """The chance of one gap in whole numbers."""
    moved = shift * PER_NM
    ends = (asked.low[0] + moved, asked.best[0], asked.high[0] - moved)
    read = Bracket(*(Fraction(int(end), PER_NM) for end in ends))
    own = (*error_of(read), *((Even(Fraction(shift)),) if shift else ()), *errors)
    low, high = (
        None if abs(int(limit)) == NONE else Fraction(int(limit) - best, PER_NM)
        for limit in (asked.min[0], asked.max[0])
    )
    return float(probability(own, low, high))
