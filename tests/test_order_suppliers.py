"""At most so many suppliers: the best of all choices of them, each tried by every purchase."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings

from shimopt.job import Job
from shimopt.ordering.order import make_order
from tests.command import Run
from tests.order_brute_force import best_levels, lacks_nothing, levels_of
from tests.order_strategies import order_jobs


def only(job: Job, supplier: str) -> Job:
    """The job with what one supplier offers."""
    stock = tuple(replace(x, offers=tuple(o for o in x.offers if o.supplier == supplier)) for x in job.stock)
    return replace(job, stock=stock)


@settings(max_examples=40, deadline=None)
@given(order_jobs())
def test_one_supplier_is_the_best_of_the_two(job: Job) -> None:
    order = make_order([job], suppliers=1)
    assert len(order.bills) <= 1
    assert lacks_nothing(order)
    assert levels_of(order) == min(best_levels(only(job, name)) for name in ("north", "south"))


@settings(max_examples=30, deadline=None)
@given(order_jobs())
def test_as_many_as_there_are_changes_nothing(job: Job) -> None:
    assert levels_of(make_order([job], suppliers=2)) == levels_of(make_order([job]))


def test_the_command_takes_a_number_above_nought(run: Run) -> None:
    code, out, _ = run("order", Path("demo_data/fulling-mill"), "--suppliers", "1", "--json")
    assert code == 0
    assert len(json.loads(out)["suppliers"]) == 1
    assert run("order", Path("demo_data/fulling-mill"), "--suppliers", "0")[0] == 2
