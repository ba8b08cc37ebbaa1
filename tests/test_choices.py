"""The trade-off: what each piece buys, proven like the plan."""

from __future__ import annotations

import json
from itertools import combinations_with_replacement
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings

import shimopt
from shimopt.choose import choose
from shimopt.choose.choices import BEYOND_THE_PLAN, best_by_pieces
from shimopt.cli import main
from shimopt.job import Balance, Job
from shimopt.lengths import UNITS
from shimopt.planner import decide
from shimopt.render.json.plan_json import plan_object
from shimopt.seats import screen
from tests.brute_force import best_plan
from tests.jobs import fitted, gap, job, shim, window
from tests.strategies import jobs

DEMO = Path(__file__).parents[1] / "demo_data"
_SLOW = settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])


def same_as_brute_force(of: Job, buy: bool = False) -> None:
    screening = screen(of)
    plan = choose(of, screening, buy=buy)
    pieces = sum(len(stack) for stack in plan.stacks.values())
    order = [*(level for level in of.levels if level != "pieces"), "pieces"]
    expected = []
    for most in range(pieces + BEYOND_THE_PLAN + 1):
        answer = best_plan(of, buy, levels_in=order, most=most)
        if answer.stacks not in expected:
            expected.append(answer.stacks)
    found = best_by_pieces(of, screening, plan, buy=buy)
    assert [choice.stacks for choice in found] == expected
    assert all(level.proven for choice in found for level in choice.levels)


@_SLOW
@given(jobs())
def test_every_row_is_the_best_for_at_most_so_many_pieces(of: Job) -> None:
    same_as_brute_force(of)


@_SLOW
@given(jobs(buying=True, most_gaps=2))
def test_every_row_that_may_buy_is_the_best_too(of: Job) -> None:
    same_as_brute_force(of, buy=True)


@_SLOW
@given(jobs())
def test_no_row_is_nowhere_worse_than_another_and_the_plan_is_marked_once(of: Job) -> None:
    decision = decide(of, choices=True)
    assert [row.choice.stacks for row in decision.choices if row.is_plan] == [decision.stacks]
    for row in decision.choices:
        mine = row.outcome.levels
        for other in decision.choices:
            if other is not row and not row.is_plan:
                assert any(other.outcome.levels[name] > value for name, value in mine.items())


@pytest.mark.parametrize("seed", [1, 2])
def test_with_pairs_in_balances_no_row_takes_what_its_pieces_forbid(seed: int) -> None:
    """Four pairs of gaps, pieces enough: a row's best is the best sum over pairs of what each comes to by pieces.

    A pair's combination that is better above must not crowd out one with fewer pieces, which the limit may ask for.
    """
    random = Random(seed)
    sizes = (100, 110, 150, 170, 230, 310)
    names = [f"{side}{pair}" for pair in range(4) for side in "ab"]
    read = {name: random.randint(420, 560) for name in names}
    of = job(
        [gap(name, read[name], read[name], window(50, 350)) for name in names],
        [shim(size, 100) for size in sizes],
        most=3,
        balances=[Balance(f"row {pair}", (f"a{pair}", f"b{pair}")) for pair in range(4)],
    )
    decision = decide(of, choices=True)
    thick = [(n, sum(stack)) for n in range(4) for stack in combinations_with_replacement(sizes, n)]
    best = {0: (0, 0, 0)}
    for pair in range(4):
        left, right = (
            [
                (n, after, max(0, 50 - after, after - 350))
                for n, size in thick
                for after in [read[f"{side}{pair}"] - size]
            ]
            for side in "ab"
        )
        of_pair: dict[int, tuple[int, int, int]] = {}
        for n, one, miss in left:
            for more, other, miss_too in right:
                out = (miss > 0) + (miss_too > 0)
                value = (out, miss + miss_too, 0 if out else abs(one - other))
                of_pair[n + more] = min(value, of_pair.get(n + more, value))
        sums = [
            (n + more, tuple(map(sum, zip(a, b, strict=True)))) for n, a in best.items() for more, b in of_pair.items()
        ]
        best = {n: min(value for many, value in sums if many == n) for n, _ in sums}
    assert len(decision.choices) > 8
    for row in decision.choices:
        levels = row.outcome.levels
        found = levels["outside"], levels["miss"] / UNITS["thou"], levels["spread"] / UNITS["thou"]
        assert found == min(value for n, value in best.items() if n <= row.pieces)


def test_a_third_piece_evens_out_what_the_plan_leaves_uneven() -> None:
    """By hand: 16 - 6 = 10 is inside 4 to 12; `right` reads 11, inside, so the plan has 1 piece and leaves 1 between
    them. With one more, 11 - 1 = 10: nothing is uneven."""
    of = job(
        [gap("left", 16, 16, window(4, 12)), gap("right", 11, 11, window(4, 12))],
        [shim(6, 1), shim(1, 1)],
        most=1,
        balances=[Balance("pair", ("left", "right"))],
    )
    rows = decide(of, choices=True).choices
    assert [(row.pieces, row.is_plan) for row in rows] == [(0, False), (1, True), (2, False)]
    assert [fitted(row.choice.stacks, of) for row in rows] == [
        {},
        {"left": ["S-6"]},
        {"left": ["S-6"], "right": ["S-1"]},
    ]
    assert [row.outcome.balances["pair"].spread_after / 25_400 for row in rows] == [5, 1, 0]


def test_the_bridge_s_choices_on_the_screen_and_in_the_json(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", str(DEMO / "swing-bridge"), "--choices"])
    words = " ".join(capsys.readouterr().out.partition("\nChoices\n")[2].split())
    # by hand: upper 1 reads 17.5 thou, 5.5 over; lower 2 reads 14.5 thou, 2.5 over
    assert words.startswith(
        "Nothing fitted: 3 of 5 gaps surely inside; outside by: upper 1 5.5 thou and lower 2 2.5 thou."
    )
    assert "2 pieces, R-07 on upper 1 and W-08 on lower 2 (this plan): 5 of 5 gaps surely inside" in words
    with pytest.raises(SystemExit):
        main(["plan", str(DEMO / "swing-bridge"), "--choices", "--json"])
    rows = json.loads(capsys.readouterr().out)["choices"]
    assert [(row["pieces"], row["plan"], row["doable"]) for row in rows] == [
        (0, False, False),
        (1, False, False),
        (2, True, True),
    ]
    assert rows[2]["places"][0]["stack"][0]["part"] == "R-07"
    assert rows[0]["balances"][0] == {"name": "upper frame", "spread_after": 0.2032, "met": None}


def test_a_plan_says_nothing_of_choices_unless_asked() -> None:
    assert "choices" not in plan_object(decide(shimopt.load_job(DEMO / "swing-bridge")))
