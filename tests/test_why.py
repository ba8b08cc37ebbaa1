"""`shimopt why`: the account of a gap, against brute force and by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.cli import main
from shimopt.job import Job
from shimopt.planner import decide
from tests.brute_force import all_stacks
from tests.jobs import gap, job, shim, window
from tests.strategies import jobs

DEMO = Path(__file__).parents[1] / "demo_data"
_SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
Ask = Callable[..., str]


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Ask:
    def call(*arguments: str | Path) -> str:
        with pytest.raises(SystemExit):
            main(["why", *map(str, arguments)])
        return capsys.readouterr().out

    return call


@_SLOW
@given(jobs(most_gaps=3, most_lines=4, most_pieces=3))
def test_no_rival_that_can_be_had_is_better_than_the_plan(of: Job) -> None:
    decision = decide(of)
    for name in of.gap:
        account = decision.account(name)
        assert account.planned is not None
        for rival in account.rivals:
            serves = not rival.stack or rival.verdict != "outside"
            if serves and rival.level is not None:
                assert rival.value > rival.planned


@_SLOW
@given(jobs(most_gaps=2, most_lines=4, most_pieces=3))
def test_the_neighbours_of_a_stack_are_the_nearest_that_the_drawer_can_make(of: Job) -> None:
    decision = decide(of)
    for place in of.places:
        account = decision.account(place.name)
        sizes = {sum(of.stock[i].part.thickness.best for i in stack) for stack in all_stacks(of, place, buy=False)}
        here = sum(of.stock[i].part.thickness.best for i in account.stack)
        thinner = None if account.thinner is None else account.thinner.thickness.best
        thicker = None if account.thicker is None else account.thicker.thickness.best
        assert thinner == max((size for size in sizes if size < here), default=None)
        assert thicker == min((size for size in sizes if size > here), default=None)


def test_the_account_of_a_gap_that_was_shimmed() -> None:
    """By hand: 17 to 18 in a window of 4 to 12 takes 6 to 13; with 7 in it, readings of 11 to 19 are served."""
    of = job([gap("a", 17, 18, window(4, 12))], [shim(3, 1), shim(7, 1), shim(20, 1)])
    account = decide(of).account("a")
    assert account.needed is not None
    assert account.serves is not None
    assert (account.needed.least, account.needed.most) == (6 * 25_400, 13 * 25_400)
    assert (account.serves.least, account.serves.most) == (11 * 25_400, 19 * 25_400)
    assert [int(rival.thickness.best / 25_400) for rival in account.rivals] == [0, 3, 7, 10, 20]
    # 7 leaves 10.5, 2.5 from the middle; 10 leaves 7.5, nearer, but takes a second piece
    assert account.thicker is not None
    assert (account.thicker.level, account.thicker.value, account.thicker.planned) == ("pieces", 2, 1)


def test_the_words_work_the_numbers_through(ask: Ask) -> None:
    words = " ".join(ask(DEMO / "swing-bridge", "upper 1").split())
    assert "At its largest: 18 thou - 12 thou = 6 thou, so much at least." in words
    assert "At its smallest: 17 thou - 4 thou = 13 thou, so much at most." in words
    assert "Says: works drawings 1931, sheet 7." in words
    assert "W-08 (8 thou) would serve by its thickness but hangs off centre" in words
    assert "2 x R-03 (6 thou) would leave 11.5 thou, inside too, but needs one piece more." in words
    assert "lower 2" not in words


def test_gaps_that_compete_for_one_piece_are_named(ask: Ask) -> None:
    words = " ".join(ask(DEMO / "quarry-tram", "rear right").split())
    assert "PS50-0.3 would do it, but the drawer ran out (front right got it instead)" in words
    assert "front left, front right and rear right cannot all be served at once" in words
    assert "So would a reading wholly within 0.20 to 0.50 mm" in words


def test_every_gap_is_answered_within_80_columns_in_every_unit(ask: Ask) -> None:
    for unit in ("mm", "in", "thou"):
        lines = ask(DEMO / "quarry-tram", "--unit", unit).splitlines()
        assert {"front left", "front right", "rear left", "rear right"} <= set(lines)
        assert max(map(len, lines)) <= 80


def test_why_as_data(ask: Ask) -> None:
    found = json.loads(ask(DEMO / "swing-bridge", "lower 1", "--json"))
    assert (found["format"], found["lengths_in"], found["doable"]) == (1, "mm", True)
    account = found["gaps"][0]
    assert (account["name"], account["stack"], account["reasons"][0]["code"]) == (
        "lower 1",
        [],
        "already_inside_and_no_thinner",
    )
    # by hand: (6 + 6 + 7) / 3 - 4 thou = 2.333 thou = 0.059267 mm
    assert account["could_be"][1]["after"]["low"] == 0.059266667


def test_a_gap_that_is_not_there_is_refused_with_the_name_meant(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["why", str(DEMO / "swing-bridge"), "uper 1"])
    assert ended.value.code == 2
    assert "Did you mean upper 1?" in capsys.readouterr().err
