"""The plan at once: it keeps to all rules, claims no more than is so, and is there when the time is over too soon."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.arithmetic import audit, outcome_of
from shimopt.choose import choose
from shimopt.choose.chooser import Chooser, supply_of
from shimopt.choose.priced.listed import Listed, listed_cluster
from shimopt.choose.quick_plan import plan_at_once
from shimopt.job import Job, load_job
from shimopt.planner import best_so_far, decide
from shimopt.render.screens.layout import ASCII
from shimopt.render.screens.short_screen import short_lines
from shimopt.seats import screen
from shimopt.watch import Watch
from shimopt.words.letter_answer import answer_words
from shimopt.words.next_steps import next_steps
from shimopt.words.speaker import Speaker
from tests.brute_force import Answer, best_plan
from tests.brute_force_places import best_plan_of_places
from tests.jobs import fitted, gap, job, shim, window
from tests.place_strategies import jobs_of_places
from tests.slow_jobs import write_ring, write_singly_measured
from tests.strategies import jobs

_SLOW = settings(deadline=None, max_examples=120, suppress_health_check=[HealthCheck.too_slow])


def keeps_to_the_rules(of: Job, answer: Answer, *, buy: bool) -> None:
    """The plan is one that may be fitted, and what it calls proven is what brute force finds."""
    screening = screen(of, buy=buy)
    choice = plan_at_once(of, screening, supply_of(of, buy), Watch())
    if choice is None:
        return
    audit(of, choice.stacks, screening.suits, outcome_of(of, choice.stacks, screening.cautions), buy)
    for level in choice.levels:
        assert level.bound is None or level.bound <= answer.levels[level.name]
        if not level.proven:
            break
        assert level.value == answer.levels[level.name]


@_SLOW
@given(jobs(buying=True))
def test_gaps_with_places_of_their_own_get_what_they_may_get(of: Job) -> None:
    keeps_to_the_rules(of, best_plan(of, buy=True), buy=True)


@_SLOW
@given(jobs_of_places())
def test_places_that_act_together_get_what_they_may_get(of: Job) -> None:
    keeps_to_the_rules(of, best_plan_of_places(of), buy=False)


def test_a_gap_that_no_stack_reaches_is_known_to_stay_outside() -> None:
    """By hand: two pieces of 6 take 20 to 8, just inside; 50 less 12 is 38, and 3 is too tight: both stay outside."""
    gaps = [gap("right", 20, 20, window(8, 10)), gap("far", 50, 50, window(8, 10)), gap("tight", 3, 3, window(8, 10))]
    of = job(gaps, [shim(6, 2)], most=2)
    screening = screen(of)
    choice = plan_at_once(of, screening, supply_of(of, False), Watch())
    assert choice is not None
    assert fitted(choice.stacks, of) == {"right": ["S-6", "S-6"]}
    outside, miss = choice.levels[:2]
    assert (outside.value, outside.bound, outside.proven) == (2, 2, True)
    # 40 and 5 thou
    assert (miss.value, miss.bound, miss.proven) == (45 * 25_400, 45 * 25_400, True)


def test_equal_packs_get_the_same_pieces_where_there_are_enough() -> None:
    """By hand: 20 and 21 less 12 are 8 and 9, inside; of two 6 there is only one for each, and a 12 is not like it."""
    gaps = [gap("left", 20, 20, window(8, 10)), gap("right", 21, 21, window(8, 10))]
    for pieces, fit in (([shim(6, 4)], ["S-6", "S-6"]), ([shim(6, 2), shim(12, 1)], []), ([shim(12, 2)], ["S-12"])):
        of = replace(job(gaps, pieces, most=2), equal=(("left", "right"),))
        screening = screen(of)
        choice = plan_at_once(of, screening, supply_of(of, False), Watch())
        assert choice is not None
        assert fitted(choice.stacks, of) == ({"left": fit, "right": fit} if fit else {})


def test_what_comes_before_the_first_plan_by_prices_is_left_when_the_time_is_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Four packs of two: the time is over in the midst of the first, and what was found at once is the plan."""
    names = [f"g{n}" for n in range(8)]
    of = job([gap(name, 20, 20, window(8, 10)) for name in names], [shim(6, 12)], most=2)
    of = replace(of, equal=tuple((names[n], names[n + 1]) for n in range(0, 8, 2)))
    watch, listed = Watch(1_000.0), []

    def too_long(*asked: Any) -> Listed | None:
        watch.stop()
        listed.append(asked)
        return listed_cluster(*asked)

    monkeypatch.setattr("shimopt.choose.both_ways.OPTIONS_TRIED", 0)
    monkeypatch.setattr("shimopt.choose.priced.fleet.listed_cluster", too_long)
    monkeypatch.setattr(Chooser, "choice", lambda _: pytest.fail("all of it is looked at whole"))
    choice = choose(of, screen(of), watch=watch)
    assert len(listed) == 1
    assert fitted(choice.stacks, of) == {name: ["S-6", "S-6"] for name in names[:6]}


def cut_off(of: Job, patch: pytest.MonkeyPatch) -> dict[str, object]:
    """The levels of the best plan so far where nothing at all was found but the plan at once."""

    def too_late(_: Chooser) -> None:
        raise TimeoutError

    for way in ("tried", "choice"):
        patch.setattr(Chooser, way, too_late)
    watch = Watch(1_000.0)
    with pytest.raises(TimeoutError):
        decide(of, watch=watch)
    return {level.name: level.value for level in best_so_far(of, watch).levels}


def test_a_plan_that_was_cut_off_does_not_say_that_nothing_helps() -> None:
    """By hand: 20 less 12 is 8, inside, so two of 6 serve it, if only somebody looked; no shim makes 3 looser."""
    of = job([gap("near", 20, 20, window(8, 10)), gap("tight", 3, 3, window(8, 10))], [shim(6, 2)], most=2)
    begun, done = best_so_far(of, Watch()), decide(of)
    # what the reasons know of a gap holds however far the search went
    told = replace(begun, reasons=tuple(reason for reason in done.reasons if reason.about == "tight"))
    say = Speaker.of(of)
    for cut_off, known in ((begun, ""), (told, "tight")):
        wide = " ".join(text.strip() for text, _ in short_lines(cut_off, "thou", 120, ASCII))
        assert ("No shim helps here" in wide) is bool(known)
        assert wide.count("Nothing was found before the search stopped.") == (1 if known else 2)
        assert next_steps(cut_off, say)[0].startswith("Plan again with more time, or more steps:")
        for words in (wide, answer_words(cut_off, say), *next_steps(cut_off, say)):
            assert "in the drawer helps" not in words
            assert "cannot be put right with the parts" not in words
        assert "by what was found before the search stopped" in answer_words(cut_off, say)
    assert not any("search stopped" in text for text, _ in short_lines(done, "thou", 120, ASCII))


def test_of_two_plans_as_good_the_one_with_bounds_is_kept() -> None:
    of = job([gap("far", 50, 50, window(8, 10))], [shim(6, 2)], most=2)
    known = plan_at_once(of, screen(of), supply_of(of, False), Watch())
    assert known is not None
    unknown = replace(known, levels=tuple(replace(level, bound=None) for level in known.levels))
    watch = Watch()
    watch.told(known, known.judged)
    watch.told(unknown, unknown.judged)
    assert watch.best is known


def test_a_dozen_gaps_are_inside_before_any_model_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert cut_off(load_job(write_singly_measured(tmp_path)), monkeypatch)["outside"] == 0


def test_of_a_ring_of_three_hundred_places_nearly_all_gaps_are_inside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert cut_off(load_job(write_ring(tmp_path)), monkeypatch)["outside"] in range(31)
