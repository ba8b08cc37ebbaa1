"""Every cluster's cheapest choice at given prices against all choices of the cluster tried out one by one."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.candidates import Scale
from shimopt.choose.chooser import supply_of
from shimopt.choose.priced.fleet import LEVELS, Fleet, fleet_of, most_taken
from shimopt.choose.priced.options_near_bound import priced_options
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.tables import Ints
from shimopt.job import Balance, Gap, Job
from shimopt.seats import screen
from tests.jobs import gap, job, shim, window
from tests.large_jobs import mixed_job, woven
from tests.speed.bench_jobs import singly_measured

_SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
_MOST_CHOICES = 30_000


def fleet(of: Job) -> Fleet:
    found = fleet_of(of, Scale.of(of), screen(of), supply_of(of, False))
    assert found is not None
    return found


def costs_of_choices(of: Fleet, cluster: int, prices: Ints, weights: Ints) -> dict[tuple[int, ...], int]:
    """What every choice of a cluster costs, added up gap by gap in plain Python; nothing where there are too many."""
    at = range(int(of.start[cluster]), int(of.start[cluster + 1]))
    tables = of.tables
    spans = [range(int(tables.first[of.kind[i]]), int(tables.first[of.kind[i] + 1])) for i in at]
    if np.prod([len(span) for span in spans], dtype=float) > _MOST_CHOICES:
        return {}
    weight = dict(zip(LEVELS, weights.tolist(), strict=True))
    gap_weights, stack_weights = (
        weights[: tables.of_gap.shape[1]].tolist(),
        weights[tables.of_gap.shape[1] :].tolist(),
    )
    alone = {}
    gap_at = {of.job.moved_by[of.job.places[int(of.places[i])].name][0].name: at for at, i in enumerate(at)}
    for span in spans:
        for option in span:
            row = int(tables.row[option])
            uses = [tables.stacks[row].count(line) for line in of.lines.tolist()]
            alone[option] = (
                sum(a * b for a, b in zip(uses, prices.tolist(), strict=True))
                + sum(a * b for a, b in zip(tables.of_gap[option].tolist(), gap_weights, strict=True))
                + sum(a * b for a, b in zip(tables.of_stack[row].tolist(), stack_weights, strict=True))
            )
    found = {}
    balances = [] if int(of.start[cluster]) in of.listed else of.balances[cluster]
    for choice in product(*spans):
        cost = sum(alone[option] for option in choice)
        for balance in balances:
            mine = {name: choice[gap_at[name]] for name in balance.gaps}
            if any(tables.of_gap[option, 0] for option in mine.values()):
                continue
            offset = {name: of.scale.ticks(balance.offset.get(name, 0)) for name in mine}
            values = [int(tables.best[option]) - offset[name] for name, option in mine.items()]
            spread = max(values) - min(values)
            cost += weight["spread"] * spread
            if balance.within is not None:
                cost += weight["excess"] * max(0, spread - of.scale.ticks(balance.within))
        found[choice] = cost
    return found


@st.composite
def priced_jobs(draw: st.DrawFn) -> tuple[Fleet, Ints, Ints]:
    of = mixed_job(draw(st.integers(0, 40)), draw(st.integers(2, 10)), share=draw(st.sampled_from([0.3, 0.8, 1.5])))
    if draw(st.booleans()):
        # no two gaps can come to the same value: every one was read to the micrometre
        gaps = tuple(_shifted(one, 1_000 * draw(st.integers(0, 9))) for one in of.gaps)
        of = replace(of, gaps=gaps)
    made = fleet(of)
    if draw(st.booleans()):
        of = woven(of, draw(st.integers(0, 40)), packs=draw(st.booleans()))
        # clusters of which there is too much to list are planned whole
        made = fleet_of(of, Scale.of(of), screen(of), supply_of(of, False)) or made
    amounts = st.sampled_from([0, 0, 1, 3, 1 << 10, 1 << 20, 7 << 20])
    prices = np.array([draw(amounts) for _ in made.lines], dtype=np.int64)
    weights = np.array([draw(amounts) for _ in LEVELS], dtype=np.int64)
    return made, prices, weights


def _shifted(one: Gap, by: int) -> Gap:
    """The gap, read so many nanometres larger."""
    read = one.reading.bracket
    moved = replace(read, low=read.low + by, best=read.best + by, high=read.high + by)
    return replace(one, reading=replace(one.reading, bracket=moved))


@_SLOW
@given(priced_jobs())
def test_the_cheapest_choice_of_every_cluster_is_the_cheapest_of_all_tried_out(
    priced: tuple[Fleet, Ints, Ints],
) -> None:
    of, prices, weights = priced
    found = Pricer(of).priced(prices, weights)
    for cluster in range(len(of.tied)):
        costs = costs_of_choices(of, cluster, prices, weights)
        if costs:
            chosen = tuple(found.chosen[of.start[cluster] : of.start[cluster + 1]].tolist())
            assert found.cost[cluster] == min(costs.values()) == costs[chosen]


@_SLOW
@given(priced_jobs(), st.sampled_from([0, 1, 1 << 20, 50 << 20]))
def test_an_option_is_struck_only_where_every_choice_that_holds_it_costs_too_much(
    priced: tuple[Fleet, Ints, Ints], room: int
) -> None:
    of, prices, weights = priced
    clusters = np.arange(len(of.tied))
    found = priced_options(Pricer(of), prices, weights, clusters)
    reach = found.taken(found.above <= room)
    for cluster in clusters.tolist():
        costs = costs_of_choices(of, cluster, prices, weights)
        if not costs:
            continue
        least = min(costs.values())
        for i, place in enumerate(range(int(of.start[cluster]), int(of.start[cluster + 1]))):
            near = {choice[i] for choice, cost in costs.items() if cost <= least + room}
            assert near <= set(reach[place].tolist())


def test_tables_are_as_wide_as_the_gaps_of_their_own_clusters_need() -> None:
    """Six gaps of next to no values in two balances beside three of 40: six of 40 would take 30 GB."""
    narrow = [gap(f"n{k}", 30, 30, window(9, 10)) for k in range(6)]
    wide = [gap(f"w{k}", 50, 50, window(1, 49)) for k in range(3)]
    names = [[one.name for one in of] for of in (narrow, narrow[:2], wide[:2], wide[1:])]
    balances = [Balance(f"{at}", tuple(of), 25_400) for at, of in enumerate(names)]
    of = fleet(job([*narrow, *wide], [shim(size, 1) for size in range(1, 41)], most=1, balances=balances))
    pricer = Pricer(of)
    assert sorted((one.members.most, one.woven.shape.width) for one in pricer.woven) == [(2, 6), (40, 2)]
    weights = np.ones(len(LEVELS), dtype=np.int64)
    assert pricer.priced(np.zeros(len(of.lines), dtype=np.int64), weights).cost.min() > 0


@pytest.mark.parametrize("pieces", [0, 1])
def test_gaps_that_nothing_can_bring_inside_are_left_as_they_are(pieces: int) -> None:
    of = mixed_job(3, 8)
    far = tuple(_shifted(one, 50_000_000) for one in of.gaps)
    of = replace(of, gaps=far, stock=tuple(replace(line, on_hand=pieces) for line in of.stock))
    made = fleet(of)
    weights = np.ones(len(LEVELS), dtype=np.int64)
    found = Pricer(made).priced(np.zeros(len(made.lines), dtype=np.int64), weights)
    assert (found.chosen == made.tables.first[made.kind]).all()


@_SLOW
@given(st.integers(0, 10_000), st.sampled_from([0.5, 1.5]))
def test_what_stacks_take_of_the_drawer_is_counted_as_one_counts_them(seed: int, share: float) -> None:
    of = fleet(mixed_job(seed, 12, share))
    tables, lines = of.tables, of.lines.tolist()
    spans = [range(a, b) for a, b in pairwise(tables.first.tolist())]
    stacks = [[tables.stacks[row] for row in tables.row[list(span)].tolist()] for span in spans]
    counted = [[max(stack.count(i) for stack in here) for i in range(len(of.job.stock))] for here in stacks]
    assert most_taken(tables).tolist() == counted
    # the last option of every place
    plan = tables.first[of.kind + 1] - 1
    uses = of.contributions(plan)[0]
    for cluster, (a, b) in enumerate(pairwise(of.start.tolist())):
        pieces = [i for option in plan[a:b].tolist() for i in tables.stacks[int(tables.row[option])]]
        assert uses[cluster].tolist() == [pieces.count(i) for i in lines]


def test_a_drawer_of_single_pieces_is_held_by_the_pieces_of_its_stacks() -> None:
    """A row of the whole drawer for each of 166,000 stacks took 400 MB."""
    of = fleet(singly_measured(2, 30, 0, paired=False))
    assert of.tables.pieces.shape == (len(of.tables.stacks), 3)
    assert of.scarce_pieces.shape == of.tables.pieces.shape


def test_many_gaps_of_one_balance_with_many_values_take_little_memory() -> None:
    """Member by member: what each of 30 gaps costs in every range of 151 values at once would be 5 MB a table."""
    of = singly_measured(30, 60, 0, paired=False)
    of = replace(of, balances=(Balance("all", tuple(one.name for one in of.gaps)),))
    of = replace(of, places=tuple(replace(place, most_pieces=2) for place in of.places))
    found, weights = Pricer(fleet(of)), np.zeros(len(LEVELS), dtype=np.int64)
    weights[LEVELS.index("spread")] = 1
    prices, clusters = np.zeros(len(found.fleet.lines), dtype=np.int64), np.arange(len(found.fleet.tied))
    tracemalloc.start()
    priced_options(found, prices, weights, clusters)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 10_000_000
