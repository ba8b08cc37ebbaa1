"""What is not proven says so in the first line, in every voice, and by how much a better plan could be better."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.choose import LevelResult
from shimopt.job import load_job
from shimopt.job.levels import Level
from shimopt.ordering.order import make_order
from shimopt.planner import Decision, decide
from shimopt.proof.proven import Proof
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import card_content, sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.order_screen import order_lines
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.render.screens.why_screen import why_lines
from shimopt.words.level_words import LEVEL_WORDS

DEMO = Path(__file__).parents[1] / "demo_data"


@pytest.fixture(scope="module")
def bridge() -> Decision:
    return decide(load_job(DEMO / "swing-bridge"))


def unproven_at(decision: Decision, name: str, by: Fraction | None, proof: Proof = Proof.NONE) -> Decision:
    """The decision with one level, and all below it, not proven: a better one would be better by so much at most."""
    at = [level.name for level in decision.levels].index(name)
    levels = [
        level
        if number < at
        else LevelResult(level.name, level.value, None if by is None else level.value - by, proof, 0.0)
        for number, level in enumerate(decision.levels)
    ]
    return replace(decision, levels=tuple(levels))


def first_lines(decision: Decision, unit: str) -> list[str]:
    """The answer as every voice gives it: screen, why, letter, sheet."""
    screens = (screen_lines(decision, unit, 400, UNICODE), why_lines(decision, ["upper 1"], unit, 400))
    papers = (letter_content(decision, unit, "2026-05-03"), sheet_content(decision, unit, "2026-05-03"))
    return [*(lines[0][0] for lines in screens), *(paper["answer"] for paper in papers)]


def test_a_proven_plan_says_nothing_of_it(bridge: Decision) -> None:
    assert bridge.proven
    for said in first_lines(bridge, "mm"):
        assert "Best found" not in said


@pytest.mark.parametrize(
    ("level", "by", "unit", "words"),
    [
        ("outside", Fraction(2), "mm", "at most 2 gaps more inside"),
        ("miss", Fraction(300_000), "mm", "at most 0.30 mm nearer"),
        ("miss", Fraction(25_400), "thou", "at most 1 thou nearer"),
        ("unproven", Fraction(1), "mm", "at most 1 gap more surely inside"),
        ("doubt", Fraction(12_700), "thou", "at most 0.5 thou less out of the windows at worst"),
        ("excess", Fraction(5_000), "mm", "at most 0.005 mm nearer to as even as asked"),
        ("bought", Fraction(1), "mm", "at most 1 piece fewer to buy"),
        ("opened", Fraction(3), "mm", "at most 3 places fewer to change"),
        # there is no half of a piece: one fewer it can be, not one and a half
        ("pieces", Fraction(3, 2), "mm", "at most 1 piece fewer"),
        ("cautions", Fraction(2), "mm", "at most 2 pieces fewer that ask for care"),
        ("spread", Fraction(10_000), "mm", "at most 0.01 mm more even"),
        ("target", Fraction(10_000), "mm", "at most 0.01 mm nearer to the targets"),
        ("cost", Fraction(5, 2), "mm", "at most 2.50 cheaper"),
    ],
)
def test_the_first_level_that_is_not_proven_is_told_with_its_unit(
    bridge: Decision, level: str, by: Fraction, unit: str, words: str
) -> None:
    for said in first_lines(unproven_at(bridge, level, by), unit):
        assert said.endswith(f". Best found; a better one is not ruled out: {words}."), said


@pytest.mark.parametrize("by", [None, Fraction(0), Fraction(1, 2)])
def test_where_nobody_knows_by_how_much_that_it_is_not_proven_is_still_told(
    bridge: Decision, by: Fraction | None
) -> None:
    for said in first_lines(unproven_at(bridge, "pieces", by), "mm"):
        assert said.endswith(". Best found; a better one is not ruled out."), said


def test_what_one_solver_alone_says_is_called_that(bridge: Decision) -> None:
    decision = unproven_at(bridge, "pieces", Fraction(0), Proof.ONE_SOLVER)
    for said in first_lines(decision, "mm"):
        assert said.endswith(". Best found, by one solver; a better one is not ruled out."), said
    screen = " ".join(line for line, _ in screen_lines(decision, "mm", 200, UNICODE))
    assert "pieces fitted 2 (one solver says so)" in " ".join(screen.split())
    assert [level["proof"] for level in plan_object(decision)["levels"]][7:9] == ["one solver", "one solver"]


def test_what_two_solvers_say_is_proven_and_the_screen_tells(bridge: Decision) -> None:
    decision = unproven_at(bridge, "cost", Fraction(0), Proof.TWO_SOLVERS)
    assert decision.proven
    for said in first_lines(decision, "mm"):
        assert "Best found" not in said
    screen = " ".join(line for line, _ in screen_lines(decision, "mm", 200, UNICODE))
    assert "cost 0 (two solvers agree)" in screen


def test_the_json_answers_as_the_screen_does(bridge: Decision) -> None:
    found = plan_object(unproven_at(bridge, "pieces", Fraction(1)))
    assert found["answer"].endswith(". Best found; a better one is not ruled out: at most 1 piece fewer.")


def test_an_order_says_it_on_its_screen_and_its_card_tells_no_money() -> None:
    order = make_order([load_job(DEMO / "fulling-mill")])
    assert order.proven
    assert "Best found" not in order_lines(order, "mm", 400)[0][0]
    levels = [
        replace(level, proven=False, bound=level.value - Fraction(3, 2)) if level.name == "cost" else level
        for level in order.levels
    ]
    order = replace(order, levels=tuple(levels))
    said = order_lines(order, "mm", 400)[0][0]
    assert "Best found; a better order is not ruled out: at most 1.50" in said
    assert said.endswith("cheaper.")
    # who fits by the card buys nothing: its rows serve, whatever a cheaper order would be
    assert "cheaper" not in card_content(order, "mm", "2026-05-03")["answer"]


def test_every_level_has_its_words() -> None:
    assert list(LEVEL_WORDS) == list(Level)
    for level in Level:
        assert bool(LEVEL_WORDS[level].noun) == (level.measure == "count")
