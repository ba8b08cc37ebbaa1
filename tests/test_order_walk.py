"""Two thousand final builds an order: readings and pieces anywhere in their brackets, all gaps served from one box.

Nothing of the ordering is asked but its cards and what it buys: where the gap truly lies and how thick a piece truly is
are drawn, and plain sums say where it ends.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from shimopt.job import Job
from shimopt.ordering.demand import Demand
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.readings import Reading
from tests.speed.bench_orders import gaps_to_order_for
from tests.test_order_as_planned import HUNDREDTH, with_smallest_orders

BUILDS = 2_000


def by_blades(job: Job, random: Random) -> Job:
    """The same gaps read by blades 0.05 mm apart, which may move until the final assembly."""
    gaps = []
    for gap in job.gaps:
        go, no_go = int(gap.reading.bracket.low), int(gap.reading.bracket.low) + 5 * HUNDREDTH
        read = Reading(replace(gap.reading.bracket, high=Fraction(no_go), best=Fraction(go + no_go, 2)), "feeler")
        half = Fraction(no_go - go, 2)
        moved = read.moved_by(random.choice((0, 2, 5)) * HUNDREDTH)
        gaps.append(replace(gap, reading=moved, again=(half, half), blades=(go, no_go)))
    return replace(job, gaps=tuple(gaps))


def drawn(random: Random, low: Fraction | int, high: Fraction | int) -> Fraction:
    """A length somewhere from .. to, its ends among them."""
    return low + (high - low) * Fraction(random.choice((0, 1000, random.randrange(1001))), 1000)


def row_for(order: Order, number: int, demand: Demand, random: Random) -> tuple[tuple[int, ...], Fraction] | None:
    """A final reading that its best estimates allow: the card's stack for it, and where the gap then truly lies."""
    card = order.cards[number]
    if demand.pairs:
        middle = random.choice(demand.pairs)
        (row,) = (row for row in card.rows if (row.go + row.no_go) / 2 == middle)
        return None if row.stack is None else (row.stack, drawn(random, row.go, row.no_go))
    at = drawn(random, demand.low, demand.high)
    stacks = [band.stack for band in card.bands if band.start <= at <= band.end]
    if not stacks:
        assert any(hole.gap == number and hole.start <= at <= hole.end for hole in order.holes)
        return None
    return random.choice(stacks), drawn(random, at - demand.below, at + demand.above)


def walk(order: Order, random: Random) -> int:
    """Build so many times; how many gaps were fitted."""
    job, fitted = order.jobs[0], 0
    box = Counter({i: line.on_hand for i, line in enumerate(order.stock)})
    for line in order.asked:
        box[line.part] += line.pieces
    for _ in range(BUILDS):
        left = Counter(box)
        for number, demand in enumerate(order.demands):
            found = row_for(order, number, demand, random)
            if found is None:
                continue
            (stack, true), window = found, demand.gap.window
            left.subtract(stack)
            thick = [drawn(random, job.stock[i].part.thickness.low, job.stock[i].part.thickness.high) for i in stack]
            after = true + demand.effect * sum(thick, Fraction(0))
            assert window.min is None or after >= window.min
            assert window.max is None or after <= window.max
            fitted += 1
        assert min(left.values()) >= 0
    return fitted


@pytest.mark.parametrize("seed", range(6))
def test_with_smallest_orders_and_next_to_nothing_in_the_drawer(seed: int) -> None:
    random = Random(seed)
    assert walk(make_order([with_smallest_orders(random)]), random) > BUILDS // 2


@pytest.mark.parametrize("seed", range(6))
def test_where_blades_read_the_gaps(seed: int) -> None:
    random = Random(100 + seed)
    assert walk(make_order([by_blades(with_smallest_orders(random), random)]), random) > BUILDS // 2


@pytest.mark.parametrize("drawer", [False, True])
def test_six_gaps_thirty_sizes_and_four_suppliers(drawer: bool) -> None:
    random = Random(7)
    order = make_order([gaps_to_order_for(3, drawer=drawer, gaps=6, sizes=30)])
    assert walk(order, random) == 6 * BUILDS
    # a piece less, or a wrong row, is noticed
    if order.lines:
        (line, *_), card = order.lines, order.cards[0]
        used = max(n for c in order.cards for stack in c.stacks for i, n in Counter(stack).items() if i == line.part)
        fewer = replace(line, pieces=min(used - 1, line.pieces - 1), packs=1)
        with pytest.raises(AssertionError):
            walk(replace(order, lines=(fewer, *order.lines[1:]), top_up=()), Random(8))
        wrong = replace(card, bands=tuple(replace(band, stack=()) for band in card.bands))
        with pytest.raises(AssertionError):
            walk(replace(order, cards=(wrong, *order.cards[1:])), Random(8))
