"""All answers of a whole-number model, built up group after group; of those alike so far only the first is kept.

What two beginnings have taken of every limit is all that tells them apart for the groups still to come: of beginnings
alike in that one is enough, the one that comes first. Beginnings that break a limit whatever comes go at once, and so
do those that exact bounds rule out. All sums are sums of whole numbers: what comes out is the first of all answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.proof.exact_bounds import NO_END, Wholes

# sums of whole numbers of 64 bits stay right below this
_LARGEST = NO_END >> 1
# so many times as many may there be before like ones are merged
_AT_ONCE = 20


class TooManyLeftError(Exception):
    """More beginnings stay than can be carried along."""


class Amounts(NamedTuple):
    """What every column takes of some limits, a row for each limit."""

    taken: Wholes
    limits: Wholes

    def small(self, groups: int) -> npt.NDArray[np.bool_]:
        """Which rows cannot leave 64 bits, whatever columns of so many groups are added up."""
        largest = np.abs(self.taken.astype(float)).max(axis=1, initial=0.0) * groups
        return np.asarray((largest < _LARGEST) & (np.abs(self.limits.astype(float)) < _LARGEST))

    def only(self, rows: npt.NDArray[np.bool_]) -> Amounts:
        """Some of the limits."""
        return Amounts(self.taken[rows].astype(np.int64), self.limits[rows].astype(np.int64))


def first_answer(
    groups: Sequence[Sequence[int]], kept: Amounts, bounds: Amounts, early: Wholes, most: int
) -> list[int] | None:
    """One column per group, within all limits, that comes first; None where nothing keeps to them.

    Parameters: kept, the limits that an answer keeps to; bounds, limits that no answer sought breaks; early, rows of
    numbers that say of each column how late it comes: answers are compared by the sums of the first row, then of the
    second, and so on. Raises TooManyLeftError where more than `most` beginnings stay.
    """
    many = len(groups)
    if not kept.small(many).all() or not Amounts(early, early[:, 0]).small(many).all():
        raise TooManyLeftError
    bounds = bounds.only(bounds.small(many))
    taken = np.concatenate([kept.taken, bounds.taken])
    limits = np.concatenate([kept.limits, bounds.limits])
    # few options first: fewer beginnings to carry along
    order = sorted(range(len(groups)), key=lambda at: len(groups[at]))
    columns = [np.array(groups[at], np.int64) for at in order]
    least = np.array([taken[:, here].min(axis=1) for here in columns])
    to_come = least.sum(axis=0) - np.cumsum(least, axis=0)
    sums, words = np.zeros((1, len(limits)), np.int64), np.zeros((1, len(early)), np.int64)
    steps: list[tuple[Wholes, Wholes]] = []
    for here, rest in zip(columns, to_come, strict=True):
        there = np.ones((len(sums), len(here)), bool)
        for row in range(len(limits)):
            room = limits[row] - rest[row] - sums[:, row]
            there &= taken[row, here] <= room[:, None]
        old, new = np.nonzero(there)
        if len(old) > _AT_ONCE * most:
            raise TooManyLeftError
        sums, words = sums[old] + taken[:, here[new]].T, words[old] + early[:, here[new]].T
        first = first_of_alike(sums[:, : len(kept.limits)], words)
        if len(first) > most:
            raise TooManyLeftError
        sums, words = sums[first], words[first]
        steps.append((old[first], here[new[first]]))
    if not len(sums):
        return None
    return _traced(steps, order, int(np.lexsort(words.T[::-1])[0]))


def first_of_alike(sums: Wholes, words: Wholes) -> Wholes:
    """Of rows with the same sums the one with the least words."""
    # a number made of the sums brings like rows together; whether they are alike is looked at
    odd = np.random.default_rng(1).integers(1, NO_END, sums.shape[1]) | 1
    with np.errstate(over="ignore"):
        key = (sums * odd).sum(axis=1)
    order = np.lexsort([*words.T[::-1], key])
    new = np.ones(len(order), bool)
    new[1:] = (sums[order[1:]] != sums[order[:-1]]).any(axis=1)
    return np.asarray(order[new])


def _traced(steps: Sequence[tuple[Wholes, Wholes]], order: Sequence[int], at: int) -> list[int]:
    """The columns of an answer, group by group."""
    found = [0] * len(order)
    for (old, column), group in zip(reversed(steps), reversed(order), strict=True):
        found[group] = int(column[at])
        at = int(old[at])
    return found
