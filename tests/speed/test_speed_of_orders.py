"""How long an order takes, all levels and the worth table, against one flat model in HiGHS in the same run.

Nothing is asserted about time. Target on two cores: 12 gaps, 40 sizes, 4 suppliers with packs and postage in 5 s. The
flat model has all stretches of all gaps and any suppliers, everything whole, and minimises the cost alone.

    python -m pytest tests/speed/test_speed_of_orders.py --benchmark-enable -s
"""

from __future__ import annotations

from time import perf_counter
from typing import Any, cast

import highspy
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.job import Job
from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.order import make_order
from shimopt.ordering.order_model import Stretch, over_stretches
from shimopt.ordering.order_result import Order
from shimopt.ordering.suppliers_settled import Settled
from shimopt.proof.highs import Relaxation
from tests.speed.bench_orders import gaps_to_order_for

_FLAT_SECONDS = 60.0


def timed(benchmark: BenchmarkFixture, job: Job) -> Order:
    return cast(Order, cast(Any, benchmark).pedantic(make_order, args=([job],), rounds=1, warmup_rounds=0))


@pytest.mark.parametrize("drawer", [False, True], ids=["empty drawer", "some drawer"])
@pytest.mark.parametrize("seed", range(1, 9))
def test_an_order_for_a_dozen_gaps_is_proven(
    seed: int, drawer: bool, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    start = perf_counter()
    order = timed(benchmark, gaps_to_order_for(seed, drawer=drawer))
    seconds = perf_counter() - start
    assert order.proven
    with capsys.disabled():
        levels = sum(level.seconds for level in order.levels)
        print(f"\nseed {seed}: {levels:.1f} s for all levels, {seconds:.1f} s in all, cost {order.cost}")


def test_one_flat_model_takes_many_times_as_long(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    hunts: list[Hunt] = []
    levels = Hunt.levels

    def kept(self: Hunt) -> Any:
        hunts.append(self)
        return levels(self)

    monkeypatch.setattr(Hunt, "levels", kept)
    start = perf_counter()
    order = timed(benchmark, gaps_to_order_for(1, drawer=False))
    ours = perf_counter() - start
    seconds, cost, bound = _flat(hunts[0])
    assert order.cost is not None
    unit = hunts[0].books.market.price_unit
    assert bound <= order.cost * unit + 0.01
    assert cost >= order.cost * unit - 0.01
    benchmark.extra_info["ratio"] = ours / seconds
    with capsys.disabled():
        print(
            f"\nflat: cost {cost}, bound {bound}, ours {ours:.1f} s against {seconds:.1f} s: ratio {ours / seconds:.2f}"
        )


def _flat(hunt: Hunt) -> tuple[float, float, float]:
    """Seconds, cost and bound of one flat model of the cost in HiGHS with its own settings."""
    books = hunt.books
    stretches = [
        Stretch(gap, segment, c.kits_at(segment)) for gap, c in enumerate(books.coverages) for segment in c.segments
    ]
    program = over_stretches(books.coverages, stretches, books.stock, books.market)
    within = Settled(books.market, books.stock, None).range(program)
    lp = Relaxation(program.sums, program.sums.terms(program.levels["cost"]), within).lp
    whole = [True] * len(program.columns) + [helper.whole for helper in program.helpers]
    kinds = highspy.HighsVarType
    lp.integrality_ = [
        kinds.kInteger if must else kinds.kContinuous for must, most in zip(whole, within.high, strict=True) if most > 0
    ]
    start = perf_counter()
    highs = highspy._core._Highs()
    for name, value in {
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 0.5,
        "time_limit": _FLAT_SECONDS,
        "output_flag": False,
    }.items():
        highs.setOptionValue(name, value)
    highs.passModel(lp)
    highs.run()
    info = highs.getInfo()
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    cost = info.objective_function_value if found else float("inf")
    return perf_counter() - start, cost, info.mip_dual_bound
