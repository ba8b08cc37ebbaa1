"""Whole covers: against every set of pieces tried out, and the order found with them against the one found without."""

from __future__ import annotations

from collections import Counter
from itertools import combinations_with_replacement

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.job import Job
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.covers import Covers, Prices
from shimopt.ordering.order import make_order
from shimopt.ordering.pricing import Pricing
from shimopt.ordering.search import Search
from tests.order_brute_force import levels_of
from tests.order_strategies import order_jobs

_MOST_PIECES = 5


def coverages_of(job: Job) -> tuple[Coverage, ...]:
    """What the search for this job's order is given."""
    seen: list[Search] = []
    with pytest.MonkeyPatch.context() as patch:
        run = Search.run
        patch.setattr(Search, "run", lambda search: (seen.append(search), run(search))[1])
        make_order([job])
    return tuple(seen[0].books.coverages)


def serves_everywhere(coverage: Coverage, pieces: Counter[int]) -> bool:
    """Whether each stretch that anything serves is served by a stack of these pieces."""
    made = [c for c in coverage.candidates if Counter(c.scarce) <= pieces]
    return all(
        any(c.start <= s.start and s.end <= c.end for c in made)
        for s in coverage.segments
        if not any(h.start <= s.start and s.end <= h.end for h in coverage.hopeless)
    )


@settings(max_examples=60, deadline=None)
@given(order_jobs(most_lines=4, most_pieces=3, unpriced=False, held=False), st.data())
def test_all_covers_within_a_price_are_listed_and_nothing_else(job: Job, data: st.DataObject) -> None:
    prices = st.integers(0, 5)
    for coverage in coverages_of(job):
        lines = sorted({line for c in coverage.candidates for line in c.scarce})
        further = {line: data.draw(prices) for line in lines}
        first = {line: further[line] + data.draw(prices) for line in lines}
        most = data.draw(st.integers(0, 20))
        found = Covers(coverage, lambda _line: 99).within(Prices(first, further), most, 100_000)
        assert found is not None
        listed = {cover: cost for cost, cover in found if len(cover) <= _MOST_PIECES}
        tried: dict[tuple[int, ...], int] = {}
        for size in range(_MOST_PIECES + 1):
            for cover in combinations_with_replacement(lines, size):
                counts = Counter(cover)
                if any(Counter(less) <= counts for less in tried) or not serves_everywhere(coverage, counts):
                    continue
                tried[cover] = sum(first[x] + (n - 1) * further[x] for x, n in counts.items())
        assert listed == {cover: cost for cover, cost in tried.items() if cost <= most}


@settings(max_examples=60, deadline=None)
@given(order_jobs(most_gaps=4, most_lines=7, most_pieces=3, unpriced=False))
def test_an_order_by_covers_is_as_good_as_one_by_stretches(job: Job) -> None:
    by_covers = make_order([job])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Pricing, "begin", lambda *_: False)
        by_stretches = make_order([job])
    assert by_covers.proven
    assert by_stretches.proven
    assert levels_of(by_covers) == levels_of(by_stretches)
