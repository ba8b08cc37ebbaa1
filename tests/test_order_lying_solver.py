"""A solver's word is never taken: whatever it says, at every place where it is asked, nothing false becomes proven."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.parts import Offer, Part, StockLine
from shimopt.proof.exact_bounds import FINE, Range
from shimopt.proof.highs import Relaxation, Relaxed
from shimopt.readings import Reading
from shimopt.watch import Watch
from tests.order_brute_force import best_levels, lacks_nothing
from tests.order_strategies import STEP, order_jobs

Liar = Callable[[Random, Relaxation, Range, Relaxed | None], Relaxed | None]


def says_nothing(*_: Any) -> None:
    return None


def says_there_is_no_answer(random: Random, asked: Relaxation, *_: Any) -> Relaxed:
    """With a reason that is none."""
    rows = len(asked.sums.limits)
    return Relaxed(np.array([-random.randint(0, 4 * FINE) for _ in range(rows)], np.int64), None)


def names_prices_at_random(random: Random, asked: Relaxation, _: Range, honest: Relaxed | None) -> Relaxed | None:
    prices = np.array([-random.randint(0, 1 << random.randint(0, 50)) for _ in asked.sums.limits], np.int64)
    return honest and Relaxed(prices, honest.values)


def calls_nothing_at_all_the_answer(_: Random, asked: Relaxation, *__: Any) -> Relaxed:
    return Relaxed(np.zeros(len(asked.sums.limits), np.int64), np.zeros(asked.sums.variables))


def calls_everything_the_answer(_: Random, asked: Relaxation, within: Range, honest: Relaxed | None) -> Relaxed:
    prices = honest.prices if honest else np.zeros(len(asked.sums.limits), np.int64)
    return Relaxed(prices, within.high.astype(float))


def calls_anything_the_answer(random: Random, asked: Relaxation, within: Range, honest: Relaxed | None) -> Relaxed:
    prices = honest.prices if honest else np.zeros(len(asked.sums.limits), np.int64)
    return Relaxed(prices, np.array([float(random.randint(0, int(min(h, 9)))) for h in within.high]))


LIARS: list[Liar] = [
    says_nothing,
    says_there_is_no_answer,
    names_prices_at_random,
    calls_nothing_at_all_the_answer,
    calls_everything_the_answer,
    calls_anything_the_answer,
]


def check_what_is_proven(job: Job, spend: Fraction | None, order: Any) -> None:
    best = best_levels(job, spend)
    assert lacks_nothing(order)
    assert order.cost is None or order.cost in [level.value for level in order.levels if level.name == "cost"]
    for level, right in zip(order.levels, best, strict=True):
        assert level.bound is None or level.bound <= level.value
        if level.proven:
            assert level.value == right
        assert level.proof == ("exact" if level.proven else "none")
        # a level is judged given those above it
        if level.value != right:
            break
        assert level.bound is None or level.bound <= right


@pytest.mark.parametrize("always", [True, False], ids=["always", "now and then"])
@pytest.mark.parametrize("liar", LIARS, ids=lambda liar: liar.__name__)
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(job=order_jobs(), seed=st.integers(0, 99))
def test_no_lie_about_a_relaxation_becomes_proven(liar: Liar, always: bool, job: Job, seed: int) -> None:
    random, solved = Random(seed), Relaxation.solved

    def lies(self: Relaxation, within: Range) -> Relaxed | None:
        honest = solved(self, within)
        return liar(random, self, within, honest) if always or random.random() < 0.5 else honest

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Relaxation, "solved", lies)
        order = make_order([job], watch=Watch(steps=60))
    check_what_is_proven(job, None, order)


@pytest.mark.parametrize("kind", ["nothing", "everything", "anything"])
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(job=order_jobs(most_lines=2), seed=st.integers(0, 99), spend=st.sampled_from([None, "1", "4.25"]))
def test_no_lie_about_a_good_order_becomes_proven(kind: str, job: Job, seed: int, spend: str | None) -> None:
    random = Random(seed)

    def lies(_: Relaxation, whole: Any, *__: Any) -> Any:
        if kind == "nothing":
            return None
        return np.array([9.0 if kind == "everything" else random.choice([0.0, 0.5, 1.0, 7.0]) for _ in whole])

    money = None if spend is None else Fraction(spend)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Relaxation, "proposed", lies)
        order = make_order([job], spend=None if spend is None else Decimal(spend), watch=Watch(steps=200))
    check_what_is_proven(job, money, order)


def test_without_a_solver_an_order_is_whole_and_not_called_proven() -> None:
    """By hand: 18 to 20 mm of pieces serve the one gap; a piece of 19 for 3 is dearer than 9 and 10 for 1 each."""
    job = cheaper_in_two()
    honest = make_order([job])
    assert (honest.cost, honest.proven) == (2, True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Relaxation, "solved", says_nothing)
        patch.setattr(Relaxation, "proposed", says_nothing)
        order = make_order([job], watch=Watch(steps=60))
    assert order.whole
    (cost,) = (level for level in order.levels if level.name == "cost")
    assert cost.value >= 2
    assert not cost.proven or cost.value == 2


def cheaper_in_two() -> Job:
    """A gap that two cheap pieces serve, or a dear one."""
    gap = Gap(
        "g",
        Reading(Bracket.between(22 * STEP, 22 * STEP), "feeler"),
        Window(2 * STEP, 4 * STEP, "test"),
        (("g", Fraction(-1)),),
    )
    stock = tuple(
        StockLine(Part(f"S-{size}", Bracket.between(size * STEP, size * STEP)), 0, (Offer(price, 1, "", "north", 1),))
        for size, price in ((9, Decimal(1)), (10, Decimal(1)), (19, Decimal(3)))
    )
    return Job("t", "mm", (gap,), (Place("g", None, 2),), (), stock, suppliers=(Supplier("north", Decimal(0)),))
