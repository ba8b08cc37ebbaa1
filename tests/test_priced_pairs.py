"""Two gaps of a balance priced together, against every pair of their values tried out."""

from __future__ import annotations

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shimopt.choose.priced.members import FAR, Members
from shimopt.choose.priced.priced_balances import Pairs

Cells = dict[int, int]

_CELLS = st.dictionaries(st.integers(0, 30), st.integers(0, 1_000), min_size=1, max_size=6)


def two(one: Cells, other: Cells) -> tuple[Members, np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Members with an option of its own for each value, and what the options cost."""
    values, costs = [*sorted(one), *sorted(other)], [by[at] for by in (one, other) for at in sorted(by)]
    cells = np.arange(len(values))
    first = np.array([0, len(one), len(values)])
    return Members(np.array([0, 1]), first, np.array([-1, -1]), np.array(values), cells, cells, 0), np.array(costs)


@settings(deadline=None)
@given(
    one=_CELLS, other=_CELLS, within=st.sampled_from([-1, 0, 3, 10, 40, 1 << 40]), slope=st.integers(0, 50),
    bend=st.sampled_from([0, 1, 17, 1 << 20]),
)  # fmt: skip
# what may lie as far apart as nothing lies costs nothing, however large both numbers are together
@example(one={0: 0}, other={5: 0}, within=1 << 40, slope=1, bend=1 << 20)
def test_the_cheapest_pair_is_found(one: Cells, other: Cells, within: int, slope: int, bend: int) -> None:
    members, costs = two(one, other)
    found, cells = Pairs(members, np.array([[0, 1]]), np.array([within])).cheapest(members.costs(costs), slope, bend)

    def cost(a: int, b: int) -> int:
        beyond = 0 if within < 0 else max(0, abs(a - b) - within)
        return one[a] + other[b] + slope * abs(a - b) + bend * beyond

    assert found.tolist() == [min(cost(a, b) for a in one for b in other)]
    (at, to) = (int(members.value[cell]) for cell in cells[0])
    assert cost(at, to) == found[0] < FAR
