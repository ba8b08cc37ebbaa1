"""A limit in search steps is one for the whole plan, is kept to, and gives the same plan again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from shimopt.choose.priced.master import Master
from shimopt.job import load_job
from shimopt.planner import chosen_stacks, decide
from shimopt.proof.highs import Proposed, Relaxation
from shimopt.reasons.alternatives import Chosen
from shimopt.watch import Watch
from tests.jobs import shim
from tests.large_jobs import with_drawer
from tests.slow_jobs import write_ring, write_rows_that_come_out_alike
from tests.speed.bench_jobs import gaps_in_pairs


def told(plan: Chosen) -> object:
    return plan.stacks, [(level.name, level.value, level.bound, level.proof) for level in plan.choice.levels]


def proven(plan: Chosen) -> bool:
    return all(level.proven for level in plan.choice.levels)


def test_so_many_steps_give_the_same_plan_again_and_it_says_what_is_not_proven(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    of = load_job(write_rows_that_come_out_alike(tmp_path, pieces=50, gaps=6))
    nodes: list[int] = []
    solved, searched = Relaxation.solved, Relaxation.searched

    def counted(self: Relaxation, *asked: object) -> object:
        nodes.append(1)
        return solved(self, *asked)  # type: ignore[arg-type]

    def counted_too(self: Relaxation, *asked: object, **more: object) -> Proposed:
        found = searched(self, *asked, **more)  # type: ignore[arg-type]
        nodes.append(found.nodes)
        return found

    monkeypatch.setattr(Relaxation, "solved", counted)
    monkeypatch.setattr(Relaxation, "searched", counted_too)
    watch = Watch(steps=10)
    plan = chosen_stacks(of, watch=watch)
    # beside the ten, the relaxation from which each question begins
    assert sum(nodes) <= 10 + 2 * len(plan.choice.levels)
    assert watch.steps_left() == 0
    assert plan.outcome.levels["outside"] == 0
    assert not proven(plan)
    assert told(plan) == told(chosen_stacks(of, watch=Watch(steps=10)))


def test_rounds_of_prices_are_steps_too(monkeypatch: pytest.MonkeyPatch) -> None:
    of = with_drawer(gaps_in_pairs(100, 1), 0.06, 0.18, seed=1)
    rounds: list[int] = []
    mixed = Master.mixed

    def counted(self: Master) -> object:
        rounds.append(1)
        return mixed(self)

    monkeypatch.setattr("shimopt.choose.priced.prices.Master.mixed", counted)
    watch = Watch(steps=10)
    plan = chosen_stacks(of, watch=watch)
    # beside the ten, what a mix that splits clusters asks once more, closer and closer
    assert 10 <= len(rounds) <= 20
    assert (watch.steps_left(), proven(plan)) == (0, False)
    assert told(plan) == told(chosen_stacks(of, watch=Watch(steps=10)))


def test_a_part_of_the_steps_is_spent_of_the_whole() -> None:
    watch = Watch(steps=5)
    with watch.part(3) as part:
        part.spend(2)
    assert watch.steps_left() == 3
    with watch.part(20) as part:
        assert part.steps_left() == 3


def test_steps_that_were_spent_end_the_search() -> None:
    watch = Watch(steps=3)
    watch.spend(2)
    assert (watch.steps_left(), watch.over()) == (1, False)
    watch.spend(2)
    assert (watch.steps_left(), watch.over()) == (0, True)
    assert Watch().steps_left() is None


def test_where_thousands_of_options_come_down_to_little_no_steps_are_lost_on_tries() -> None:
    # one piece of each of many sizes: what a plan as good can hold is soon little, and is looked at whole
    sizes = tuple(shim(f"{0.1 + 0.9 * n / 39:.3f}", 1, unit="mm") for n in range(40))
    plan = decide(replace(gaps_in_pairs(8, 0), stock=sizes), watch=Watch(steps=40))
    assert plan.proven


def test_no_question_takes_more_than_half_of_the_steps_that_are_left() -> None:
    whole = Watch(steps=101)
    with whole.half() as first:
        first.spend(51)
        assert first.over()
    assert not whole.over()
    with whole.half() as second:
        assert second.steps_left() == 25
        whole.stop()
        assert second.over()
    # where nobody counts, nothing is cut off
    with Watch().half() as all_of_it:
        assert all_of_it.steps_left() is None


def test_building_up_gives_up_by_how_much_there_is_to_look_at_and_counts_as_steps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A ring of places, built up place by place: that once went on for minutes of which no step was counted."""
    monkeypatch.setattr("shimopt.choose.beginnings._MOST_LOOKED", 10)
    watch = Watch(steps=600)
    chosen_stacks(load_job(write_ring(tmp_path, 7)), watch=watch)
    assert watch.steps_left() == 0
