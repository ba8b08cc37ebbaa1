"""Are the pieces enough for all? Held against trying every combination, and against a relaxation that lies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import product
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.choose import pieces_enough, serving
from shimopt.choose.pieces_enough import Enough, Needs, fewest_only
from shimopt.choose.serving import Serving, too_dear
from shimopt.proof.exact_bounds import Range
from shimopt.proof.highs import Relaxation, Relaxed

LINES = range(4)
needs = st.dictionaries(st.sampled_from(LINES), st.integers(1, 2), max_size=2).map(lambda d: tuple(sorted(d.items())))
gaps = st.lists(st.lists(needs, min_size=1, max_size=4), min_size=1, max_size=5)
drawers = st.fixed_dictionaries({i: st.integers(0, 4) for i in LINES})


def keeps_within(given: Sequence[Needs], there: dict[int, int]) -> bool:
    used: Counter[int] = Counter()
    for one in given:
        used.update(dict(one))
    return all(n <= there[i] for i, n in used.items())


def by_trying_all(sets: list[list[Needs]], there: dict[int, int]) -> bool:
    return any(keeps_within(given, there) for given in product(*sets))


def check(sets: list[list[Needs]], there: dict[int, int]) -> bool | None:
    found = Enough(sets, there).for_all(range(len(sets)))
    if found.enough:
        assert all(given in choices for given, choices in zip(found.given, sets, strict=True))
        assert keeps_within(found.given, there)
    elif found.enough is False:
        assert not by_trying_all([sets[at] for at in found.clash], there)
    return found.enough


@settings(deadline=None, max_examples=300)
@given(gaps, drawers)
def test_every_way_of_asking_agrees_with_trying_all(sets: list[list[Needs]], there: dict[int, int]) -> None:
    truth = by_trying_all(sets, there)
    assert check(sets, there) is truth
    assert check([fewest_only(choices) for choices in sets], there) is truth
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces_enough, "_MOST_LOOKS", 1)  # hardly a trial: prices and branches have to settle it
        patch.setattr(serving, "_MOST_NODES", 10_000)
        assert check(sets, there) is truth


@settings(deadline=None, max_examples=150)
@given(gaps, drawers, st.integers(0, 2**32))
def test_a_relaxation_that_lies_makes_nothing_false(sets: list[list[Needs]], there: dict[int, int], seed: int) -> None:
    """Costs, prices and values at random, or no answer: what is said is true all the same, or not settled."""
    random, truth = Random(seed), by_trying_all(sets, there)

    def lie(self: Relaxation, _: Range) -> Relaxed | None:
        prices = -np.array([random.randint(0, 3 << 20) for _ in self.sums.limits], np.int64)
        values = np.array([random.random() for _ in range(self.sums.variables)])
        return random.choice([None, Relaxed(prices, None), Relaxed(prices, values)])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces_enough, "_MOST_LOOKS", 1)
        patch.setattr(Relaxation, "solved", lie)
        assert check(sets, there) in (truth, None)


def dear(sets: list[list[Needs]], there: dict[int, int], prices: dict[int, int]) -> tuple[int, ...]:
    """Gaps that are too dear at these prices; nothing where a gap has no set or no line is asked for."""
    asked = Serving(sets, there)
    lines = sorted({i for choices in sets for one in choices for i, _ in one})
    of_rows = -np.array([prices[i] for i in lines], np.int64)
    return too_dear(asked.sums, of_rows, np.ones(asked.sums.columns, np.int64), range(len(sets)))


@given(gaps, drawers, st.fixed_dictionaries({i: st.integers(0, 9) for i in LINES}))
def test_gaps_that_are_too_dear_at_any_prices_cannot_all_be_served(
    sets: list[list[Needs]], there: dict[int, int], prices: dict[int, int]
) -> None:
    if clash := dear(sets, there, prices):
        assert not by_trying_all([sets[at] for at in clash], there)


def test_three_gaps_and_two_pieces_by_hand() -> None:
    """Each needs a piece of line 0 or of line 1, of which there is one each: at price 1 three cost 3, two are there."""
    sets: list[list[Needs]] = [[((0, 1),), ((1, 1),)]] * 3
    assert Enough(sets, {0: 1, 1: 1}).for_all(range(3)).enough is False
    assert len(dear(sets, {0: 1, 1: 1}, {0: 1, 1: 1})) == 3
    assert Enough(sets, {0: 1, 1: 1}).for_all(range(2)).enough is True
