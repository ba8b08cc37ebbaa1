"""Branch and bound cut off in its midst: what it calls a bound is one."""

from __future__ import annotations

from itertools import product
from random import Random

import numpy as np
import pytest

from shimopt.proof.branch_and_bound import Closing, closed
from shimopt.proof.exact_bounds import Floats, Range, Sums
from shimopt.proof.rows import Row


class _SoMany:
    """So many nodes."""

    def __init__(self, nodes: int) -> None:
        self.left = nodes

    def over(self) -> bool:
        self.left -= 1
        return self.left < 0


@pytest.mark.parametrize("seed", range(100))
def test_cut_off_after_any_node_its_bound_is_not_above_the_best(seed: int) -> None:
    """Every answer is tried out: one column of each group, within one to three limits."""
    random = Random(seed)
    many, size = random.randint(3, 6), random.randint(2, 4)
    groups = [range(at * size, (at + 1) * size) for at in range(many)]
    columns = many * size
    rows = [
        Row({c: random.randint(1, 9) for c in range(columns)}, random.randint(2 * many, 5 * many))
        for _ in range(random.randint(1, 3))
    ]
    costs = [random.randint(0, 30) for _ in range(columns)]

    def worth(picked: tuple[int, ...]) -> int | None:
        keeps = all(sum(row.terms[c] for c in picked) <= row.limit for row in rows)
        return sum(costs[c] for c in picked) if keeps else None

    best = min((value for picked in product(*groups) if (value := worth(picked)) is not None), default=None)
    if best is None:
        return

    def read(values: Floats) -> int | None:
        return worth(tuple(group.start + int(np.argmax(values[group.start : group.stop])) for group in groups))

    sums = Sums(groups, columns, rows)
    sums.parts = sums.parts_needed()
    within, order = Range(np.zeros(columns, np.int64), np.ones(columns, np.int64)), np.ones(columns, np.int64)
    for nodes in (0, 1, 2, 3, 5, 8, 13):
        task = Closing(sums, np.array(costs, np.int64), 1, within, order, read)
        assert closed(task, best + random.randint(1, 20), _SoMany(nodes)) <= best
    assert closed(task, best + 1, _SoMany(10_000)) in (best, best + 1)
