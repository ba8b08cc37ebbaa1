"""A choice built up cluster after cluster, where nothing but the drawer and the levels held tie one to another.

Bounds of all these levels rule out what no choice as good can hold: so few beginnings stay that all are looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shimopt.proof.branch_and_bound import bound_of
from shimopt.proof.exact_bounds import Range, Sums, Wholes
from shimopt.proof.highs import Relaxation
from shimopt.proof.layers import Amounts, TooManyLeftError, first_answer
from shimopt.proof.room_in_rows import RoomInRows

_MOST = 20_000


def first_choice(
    sums: Sums, within: Range, levels: Sequence[tuple[Wholes, int]], early: Wholes
) -> tuple[int, ...] | None:
    """The choice within a range that keeps to all rows and comes first; None where none does.

    Parameters: levels, terms that may not come to more than so much; early, as of `first_answer`. Raises
    TooManyLeftError where that is too much to look at.
    """
    if sums.variables > sums.columns:
        # helpers take any value in between: such choices are not told apart by their columns alone
        raise TooManyLeftError
    above, rooms = [np.zeros(sums.columns, np.int64)], [0]
    for terms, most in levels:
        left = RoomInRows(sums, terms).left(within, most)
        if left is None:
            return None
        within = left
        bound, _ = bound_of(sums, terms, within, Relaxation(sums, terms, within))
        if bound is None:
            return None
        within = Range(within.low, np.where(bound.too_dear(most + 1), 0, within.high))
        above += [terms, np.where(within.high > 0, bound.above, 0)]
        rooms += [most, most * bound.parts - bound.fine]
    columns = np.flatnonzero(within.high > 0)
    parts = np.split(columns, np.searchsorted(sums.group_of[columns], np.arange(1, len(sums.starts))))
    groups = [part.tolist() for part in parts]
    if not all(groups):
        return None
    kept = Amounts(sums.of_columns(), sums.limits)
    # whole numbers of any size: one that leaves 64 bits would turn all of them into floats
    found = first_answer(groups, kept, Amounts(np.array(above), np.array(rooms, dtype=object)), early, _MOST)
    return None if found is None else tuple(found)
