"""Twenty gaps on one scarce drawer: every level proven, by bounds that hold exactly.

Expected values come from a model of its own, solved by scipy: which stacks serve a gap is found here by plain trial.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations_with_replacement

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from shimopt.job import Job
from shimopt.planner import chosen_stacks
from tests.speed.bench_jobs import gaps_in_pairs


def outside_and_miss(of: Job) -> tuple[int, int]:
    """The fewest gaps outside, and the least total by which such are [µm]."""
    sizes = [round(line.part.thickness.best) for line in of.stock]
    stacks = [s for many in (1, 2, 3) for s in combinations_with_replacement(range(len(sizes)), many)]
    stacks = [s for s in stacks if all(n <= of.stock[i].on_hand for i, n in Counter(s).items())]
    columns: list[tuple[int, tuple[int, ...], int]] = []
    for at, gap in enumerate(of.gaps):
        read = gap.reading.bracket.best
        for stack in [(), *stacks]:
            after = read - sum(sizes[i] for i in stack)
            off = max(gap.window.min - after, after - gap.window.max, 0)
            if not stack or not off:
                columns.append((at, stack, int(off / 1000)))
    gap_of = np.array([[at == g for at, _, _ in columns] for g in range(len(of.gaps))], float)
    uses = np.array([[stack.count(i) for _, stack, _ in columns] for i in range(len(sizes))], float)
    off = np.array([off for _, _, off in columns], float)
    rows = [LinearConstraint(gap_of, 1, 1), LinearConstraint(uses, -np.inf, [line.on_hand for line in of.stock])]
    few = milp((off > 0).astype(float), integrality=np.ones(len(off)), bounds=Bounds(0, 1), constraints=rows)
    outside = round(few.fun)
    rows.append(LinearConstraint((off > 0).astype(float), -np.inf, outside))
    least = milp(off, integrality=np.ones(len(off)), bounds=Bounds(0, 1), constraints=rows)
    return outside, round(least.fun)


# two drawers that neither whole counts nor branching over stacks alone came to an end with
@pytest.mark.parametrize("seed", [8, 13])
def test_every_level_of_twenty_gaps_on_a_scarce_drawer_is_proven(seed: int) -> None:
    of = gaps_in_pairs(20, seed)
    found = chosen_stacks(of)
    assert all(level.proven for level in found.choice.levels)
    proof = {level.name: level.proof for level in found.choice.levels}
    assert proof["outside"] == proof["miss"] == "exact"
    levels = found.outcome.levels
    assert (levels["outside"], levels["miss"] / 1000) == outside_and_miss(of)
