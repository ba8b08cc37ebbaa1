"""Places on one total: a balance of packs with an offset; a split that nothing states stays nearest to what was in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from shimopt.choose import choose, level_after_level, try_all
from shimopt.job import Job, load_job
from shimopt.planner import Decision, decide
from shimopt.reasons.shared_reasons import SplitByName, SplitNotStated
from shimopt.render.json.plan_json import plan_object
from shimopt.seats import screen
from shimopt.words.even_words import balance_words
from shimopt.words.reason_words import reason_words
from shimopt.words.speaker import Speaker
from tests.brute_force_places import best_plan_of_places
from tests.job_files import problems_of, write_job
from tests.place_strategies import jobs_of_places

DRAWER = "part,thickness_thou,on_hand\nS-02,2,4\nS-04,4,4\nS-05,5,4\nS-10,10,4\n"
TWO_COVERS = """\
unit = "thou"
drawer = "drawer.csv"

[[place]]
name = "drive side"
pieces = {{ max = 4 }}
installed = {}

[[place]]
name = "pump side"
pieces = {{ max = 4 }}
installed = {}

[[gap]]
name = "end float"
value = "{} thou ± 0.5 thou"
window = {{ min = 3, max = 5, source = "invented" }}
effects = {{ "drive side" = {}, "pump side" = {} }}
"""


def covers(folder: Path, drive: str, pump: str, read: int, *, more: str = "", effects: str = "11") -> Decision:
    one, two = ("-1" if sign == "1" else sign for sign in effects)
    return decide(load_job(write_job(folder, TWO_COVERS.format(drive, pump, read, one, two) + more, DRAWER)))


def thick(found: Decision) -> dict[str, Fraction]:
    return {name: bracket.best / 25_400 for name, bracket in found.outcome.thickness.items()}


@pytest.mark.parametrize(
    ("drive", "pump", "split"),
    [
        # 4 more in all: no single piece makes 14 of 10, so both are opened; 12 + 12, 16 + 8 and 8 + 16 are as good
        (10, 10, (12, 12)),
        # 28 in all: 16 + 12 and 12 + 16 are as good
        (14, 10, (16, 12)),
        (10, 14, (12, 16)),
    ],
)
def test_a_split_that_nothing_states_stays_nearest_to_what_was_in(
    tmp_path: Path, drive: int, pump: int, split: tuple[int, int]
) -> None:
    """The float reads 8 and should be 4. By the names of parts alone the drive side would get the thinner piece."""
    sizes = "S-08,8,1\nS-10,10,0\nS-12,12,2\nS-14,14,0\nS-16,16,1\n"
    job = TWO_COVERS.format(f'["S-{drive}"]', f'["S-{pump}"]', 8, "-1", "-1")
    found = decide(load_job(write_job(tmp_path, job, "part,thickness_thou,on_hand\n" + sizes)))
    assert tuple(thick(found).values()) == split
    (reason,) = [r for r in found.reasons if isinstance(r, SplitNotStated)]
    assert reason_words(reason, Speaker("thou")) == (
        "end float: nothing states how drive side and pump side share the thickness; as few places are changed as can "
        "be, with as few pieces; of what is as good by all that, it is the nearest to what was in. A "
        "[[balance]] of these places would state it, or `equal`."
    )


def test_levels_come_before_the_split(tmp_path: Path) -> None:
    """10 more in all: to open one side only is better than to keep the split."""
    found = covers(tmp_path, '["S-05", "S-05"]', '["S-02"]', 14)
    assert thick(found) == {"drive side": 20, "pump side": 2}


def test_where_nothing_was_in_it_is_said_that_nothing_states_the_split(tmp_path: Path) -> None:
    found = covers(tmp_path, "[]", "[]", 14)
    (reason,) = [r for r in found.reasons if isinstance(r, SplitByName)]
    assert reason_words(reason, Speaker("thou")) == (
        "end float: nothing states how drive side and pump side share the thickness; a [[balance]] of these places "
        "would state it, or `equal`."
    )


@pytest.mark.parametrize(
    "stated",
    [
        '[[balance]]\nname = "covers"\nplaces = ["drive side", "pump side"]\n',
        '[[gap]]\nname = "middle"\nvalue = 4\nwindow = { min = 3, max = 5, source = "x" }\n'
        'effects = { "drive side" = 1, "pump side" = -1 }\n',
    ],
)
def test_a_split_that_something_states_is_not_asked_about(tmp_path: Path, stated: str) -> None:
    assert not [r for r in covers(tmp_path, "[]", "[]", 14, more=stated).reasons if isinstance(r, SplitNotStated)]


def test_opposite_effects_are_a_position_and_no_total(tmp_path: Path) -> None:
    job = TWO_COVERS.format("[]", "[]", 14, "-1", "1")
    found = decide(load_job(write_job(tmp_path, job, DRAWER)))
    assert not [r for r in found.reasons if isinstance(r, SplitNotStated)]


# -- a balance of places ---------------------------------------------------------------------------------------------

UPPER_MORE = """
[[balance]]
name = "covers"
places = ["drive side", "pump side"]
within = 0
offset = { "drive side" = 5 }
"""


def test_a_pack_comes_out_so_much_thicker_than_the_other_as_its_offset_says(tmp_path: Path) -> None:
    """29 read, 4 wanted: 25 in all, 15 at the drive and 10 at the pump are 5 apart. By pieces alone 10 + 10 + 5 on one
    side would do as well.
    """
    found = covers(tmp_path, "[]", "[]", 29, more=UPPER_MORE)
    assert thick(found) == {"drive side": 15, "pump side": 10}
    balance = found.outcome.balances["covers"]
    # before nothing was in, and nothing is 5 away from 5 more
    assert (balance.spread_before, balance.spread_after, balance.met) == (5 * 25_400, 0, True)
    assert {level.name: level.value for level in found.levels}["excess"] == 0
    assert all(level.proven for level in found.levels)
    (told,) = plan_object(found)["balances"]
    assert (told["gaps"], told["places"], told["offset"]) == ([], ["drive side", "pump side"], {"drive side": 0.127})
    assert balance_words(found, Speaker("thou")) == [
        "covers (drive side and pump side): their packs come out as they should, drive side 5 thou (0.127 mm) thicker; "
        "at most 0 thou (0.00 mm) is asked."
    ]


def test_packs_that_cannot_come_within_are_told_and_the_answer_is_not_doable(tmp_path: Path) -> None:
    """9 ± 0.5 is surely inside 3 to 5 with 4.5 to 5.5 in all: 5 on one side, and the packs are 5 uneven."""
    found = covers(tmp_path, "[]", "[]", 9, more=UPPER_MORE.replace("offset", "# offset"))
    balance = found.outcome.balances["covers"]
    assert (balance.spread_after, balance.met, found.outcome.doable) == (5 * 25_400, False, False)
    (reason,) = [r for r in found.reasons if r.about == "covers"]
    assert "5 thou uneven, 5 thou more than the 0 thou asked" in reason_words(reason, Speaker("thou"))


def test_packs_are_set_aside_while_a_gap_that_they_move_is_outside(tmp_path: Path) -> None:
    found = covers(tmp_path, "[]", "[]", 99, more=UPPER_MORE)
    assert found.outcome.balances["covers"].met is None
    assert {level.name: level.value for level in found.levels}["excess"] == 0


@pytest.mark.parametrize(
    ("line", "where", "rule", "remedy"),
    [
        ('places = ["drive side", "pump sid"]', "places", "there is no such place", "did you mean pump side?"),
        ('places = ["drive side"]', "places", "at least two gaps or places", "add one"),
        (
            'places = ["drive side", "pump side"]\ngaps = ["end float", "end float 2"]',
            "",
            "gaps or places, not both",
            "",
        ),
        ("within = 1", "", "says what it compares", "add gaps = [...] or places = [...]"),
        (
            'places = ["drive side", "pump side"]\noffset = { "pump" = 1 }',
            "offset",
            "this place is not in the balance",
            "pump side",
        ),
    ],
)
def test_what_cannot_be_a_balance_of_places_is_refused(
    tmp_path: Path, line: str, where: str, rule: str, remedy: str
) -> None:
    job = TWO_COVERS.format("[]", "[]", 14, "-1", "-1") + f'[[balance]]\nname = "covers"\n{line}\n'
    problem = problems_of(write_job(tmp_path, job, DRAWER))[0]
    assert problem.where == '[[balance]] 1 "covers"' + (f", {where}" if where else "")
    assert rule in problem.rule
    assert remedy in problem.remedy


# -- against every combination ---------------------------------------------------------------------------------------


@contextmanager
def nothing_tried() -> Iterator[None]:
    """Every level and every tie goes to the solvers."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(level_after_level, "_FEW", 0)
        patch.setattr(try_all, "can_be_tried", lambda _: False)
        yield


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places())
def test_balances_of_places_and_splits_are_the_best_of_all_where_solvers_are_asked(of: Job) -> None:
    best = best_plan_of_places(of)
    with nothing_tried():
        found = choose(of, screen(of))
    assert {level.name: level.value for level in found.levels} == best.levels
    assert all(level.proven for level in found.levels)
    assert found.stacks == best.stacks
