"""Places that are written out: what moves a gap, what stays, what cancels, what is short, and how it is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.json.plan_json import plan_object
from shimopt.words.headline import headline
from shimopt.words.speaker import Speaker
from tests.job_files import write_job

HEAD = """\
unit = "mm"
drawer = "drawer.csv"

[window]
min = 0.10
max = 0.20
source = "invented"
"""
DRAWER = "part,thickness_mm,tolerance_mm,on_hand\nS-05,0.05,0.002,3\nS-10,0.10,0.002,3\nS-30,0.30,0.002,2\n"


def planned(folder: Path, job: str, drawer: str = DRAWER) -> Decision:
    return decide(load_job(write_job(folder, HEAD + job, drawer)))


def parts(found: Decision, place: str) -> list[str]:
    return [found.job.stock[i].part.name for i in found.stacks[place]]


def words(found: Decision) -> list[str]:
    return [reason["words"] for reason in plan_object(found)["reasons"]]


VALVE = '[[place]]\nname = "valve"\ninstalled = ["S-30"]\n{}\n[[gap]]\nname = "valve"\nvalue = "{} mm"\n'


def test_a_place_stays_as_it_is_while_its_gap_is_inside(tmp_path: Path) -> None:
    found = planned(tmp_path, VALVE.format("", 0.19))
    assert parts(found, "valve") == ["S-30"]
    assert found.moves == ()
    assert found.outcome.levels["opened"] == 0
    assert words(found) == ["valve: 0.19 mm with S-30 in, inside; it stays."]


def test_a_place_that_need_not_be_kept_may_be_opened_but_is_not_without_a_reason(tmp_path: Path) -> None:
    # `opened` comes before `target`: nothing is gained above it
    assert parts(planned(tmp_path, VALVE.format("keep = false", 0.19)), "valve") == ["S-30"]


def test_a_place_that_need_not_be_kept_is_opened_where_the_target_comes_first(tmp_path: Path) -> None:
    job = VALVE.format("keep = false", 0.19)
    (tmp_path / "kept").mkdir()
    (tmp_path / "opened").mkdir()
    kept = decide(
        load_job(write_job(tmp_path / "kept", 'priority = ["target"]\n' + HEAD + VALVE.format("", 0.19), DRAWER))
    )
    assert parts(kept, "valve") == ["S-30"]
    found = decide(load_job(write_job(tmp_path / "opened", 'priority = ["target"]\n' + HEAD + job, DRAWER)))
    # 0.19 + 0.30 - 0.35 = 0.14 lies nearest to 0.15
    assert parts(found, "valve") == ["S-05", "S-30"]
    assert words(found) == ["valve: inside as read (0.19 mm); S-30 + S-05 in place of S-30 makes it 0.14 mm."]


@pytest.mark.parametrize(("within", "stays"), [(0.03, False), (0.04, True), (0.05, True)])
def test_a_place_is_kept_only_within_so_much_of_its_target(tmp_path: Path, within: float, stays: bool) -> None:
    # 0.19 is 0.04 from the target of 0.15
    job = 'priority = ["target"]\n' + HEAD + VALVE.format(f"keep_within = {within}", 0.19)
    found = decide(load_job(write_job(tmp_path, job, DRAWER)))
    assert (parts(found, "valve") == ["S-30"]) == stays


def test_a_piece_that_goes_back_cancels_and_others_count_their_error_once(tmp_path: Path) -> None:
    # reads 0.25: S-10 joins the S-30, whose error of ± 0.002 does not count, so that 0.15 ± 0.002 is left
    found = planned(tmp_path, VALVE.format("", 0.25))
    assert parts(found, "valve") == ["S-10", "S-30"]
    after = found.outcome.gaps["valve"].after
    assert (after.low, after.best, after.high) == (148_000, 150_000, 152_000)
    rows = plan_object(found)["moves"]
    assert [(row["part"], row["from"], row["to"]) for row in rows] == [
        ("S-30", "valve", "bench"),
        ("S-10", "drawer", "valve"),
        ("S-30", "bench", "valve"),
    ]
    assert rows[2]["out_of"] == "valve"


def test_what_is_needed_counts_what_was_in(tmp_path: Path) -> None:
    # 0.25 with 0.30 ± 0.002 in: the whole stack is 0.35 to 0.45, surely 0.352 to 0.448
    gap = plan_object(planned(tmp_path, VALVE.format("", 0.25)))["gaps"][0]
    assert gap["needed"] == {"least": 0.352, "most": 0.448}
    assert gap["aim"] == {"least": 0.35, "most": 0.45}


def test_all_of_a_stack_may_come_out(tmp_path: Path) -> None:
    found = planned(tmp_path, VALVE.format("", -0.16), "part,thickness_mm,on_hand\nS-30,0.30,0\n")
    # -0.16 + 0.30 = 0.14
    assert parts(found, "valve") == []
    assert [(row["from"], row["to"]) for row in plan_object(found)["moves"]] == [
        ("valve", "bench"),
        ("bench", "drawer"),
    ]
    assert found.outcome.doable


def test_a_gap_that_no_place_moves_is_said_and_the_rest_is_planned(tmp_path: Path) -> None:
    job = '[[place]]\nname = "cap"\n[[gap]]\nname = "cap"\nvalue = 0.24\n'
    job += '[[gap]]\nname = "float"\nvalue = 0.27\n[[gap]]\nname = "slack"\nvalue = 0.15\n'
    found = planned(tmp_path, job)
    assert parts(found, "cap") == ["S-10"]
    assert not found.outcome.doable
    assert {
        "float: no place moves it; reads 0.27 mm, 0.07 mm outside.",
        "slack: no place moves it; inside as read (0.15 mm).",
    } <= set(words(found))
    assert plan_object(found)["gaps"][1]["needed"] is None


PAIR = """\
[[place]]
name = "left"
pieces = { min = %d, max = 4 }
[[place]]
name = "right"
pieces = { min = %d, max = 4 }
[[gap]]
name = "preload"
value = 0.27
effects = { left = -1, right = -1 }
window = { min = -0.06, max = -0.02, source = "invented" }
[[gap]]
name = "backlash"
value = 0.20
effects = { left = 0.34, right = -0.34 }
"""


def test_a_shift_is_told_by_what_it_does_to_each_gap(tmp_path: Path) -> None:
    found = planned(tmp_path, PAIR % (0, 0))
    assert found.outcome.doable
    # 0.10 × (0.34 + 0.34) = 0.068 mm
    assert "Moving 0.10 mm from left to right leaves preload as it is and tightens backlash by 0.068 mm." in words(
        found
    )


def test_windows_that_fight_are_named_with_how_far_they_are_apart(tmp_path: Path) -> None:
    # the sum asks for 0.29 to 0.33 in all, the second gap, moved by the same sum, for 0.10 at most: 0.29 - 0.10 = 0.19
    job = (
        (PAIR % (0, 0)) + '[[gap]]\nname = "stop"\nvalue = 0.10\neffects = { left = -1, right = -1 }\n'
        'window = { min = 0, max = "none", source = "invented" }\n'
    )
    found = planned(tmp_path, job)
    assert not found.outcome.doable
    assert (
        "The windows of preload and stop cannot all be met, whatever thickness goes where: together they are "
        "0.19 mm apart."
    ) in words(found)
    assert found.outcome.levels["outside"] == 1
    assert found.proven
    # whatever is bought, one of them is outside: the drawer is not to blame
    assert headline(found, Speaker.of(found.job)).startswith("The windows of preload and stop cannot both hold: ")


def test_windows_that_a_thicker_drawer_meets_are_not_said_to_fight(tmp_path: Path) -> None:
    job = "".join(f'[[place]]\nname = "{side}"\n' for side in ("left", "right"))
    job += '[[gap]]\nname = "float"\nvalue = 1.90\nchecked = true\neffects = { left = -1, right = -1 }\n'
    job += '[[gap]]\nname = "offset"\nvalue = 0.15\neffects = { left = 0.5, right = -0.5 }\n'
    found = planned(tmp_path, job, "part,thickness_mm,on_hand\nS-30,0.30,9\n")
    # 1.90 - 0.20 = 1.70 of shim at least, 1.80 at most: three of 0.30 on either side
    assert found.outcome.doable
    short = planned(tmp_path, job, "part,thickness_mm,on_hand\nS-10,0.10,9\n")
    # at most 3 x 0.10 on either side
    assert headline(short, Speaker.of(short.job)).startswith("The drawer cannot do it: ")
    assert not any("whatever thickness" in one for one in words(short))
    assert "Some thickness would bring float inside, but no stacks in the drawer do." in words(short)


def test_windows_that_no_stacks_at_hand_meet_are_not_said_to_fight(tmp_path: Path) -> None:
    found = planned(tmp_path, PAIR % (0, 0), "part,thickness_mm,on_hand\nS-20,0.20,3\n")
    assert not found.outcome.doable
    # pieces of 0.20 make 0.20 or 0.40 in all, and 0.29 to 0.33 is asked
    assert "Some thickness would bring preload inside, but no stacks in the drawer do." in words(found)
    assert not any("cannot all be met" in sentence for sentence in words(found))


def test_a_least_number_that_the_drawer_cannot_give_means_no_stacks_and_names_the_place(tmp_path: Path) -> None:
    found = planned(tmp_path, PAIR % (1, 3), "part,thickness_mm,on_hand\nS-10,0.10,3\n")
    assert parts(found, "left") == parts(found, "right") == []
    assert not found.outcome.doable
    # one and three are four, and each by itself could have its own
    reasons = [reason["words"] for reason in plan_object(found)["reasons"] if reason["code"] == "too_few_for_all"]
    assert reasons == ["left and right take at least 4 pieces together, and only 3 in the drawer suit."]


def test_a_least_number_that_the_drawer_can_give_is_given(tmp_path: Path) -> None:
    found = planned(tmp_path, PAIR % (1, 2))
    assert len(parts(found, "left")) >= 1
    assert len(parts(found, "right")) >= 2
    assert found.outcome.doable


def test_equal_packs_are_equal_piece_for_piece(tmp_path: Path) -> None:
    job = 'equal = ["left", "right"]\n' + HEAD + (PAIR % (0, 0))
    found = decide(load_job(write_job(tmp_path, job, DRAWER)))
    # 0.29 to 0.33 in all, the same on both sides: 0.15 each
    assert parts(found, "left") == parts(found, "right") == ["S-05", "S-10"]


MEASURED = "part,thickness_mm,measured_mm,measuring_error_mm,on_hand\n"
ONE_SUM = '[[gap]]\nname = "float"\nvalue = 0.70\neffects = { left = -1, right = -1 }\n'


def test_equal_packs_hold_no_piece_that_is_not_as_marked_beside_one_that_is(tmp_path: Path) -> None:
    job = 'equal = ["left", "right"]\n' + HEAD + '[[place]]\nname = "left"\n[[place]]\nname = "right"\n' + ONE_SUM
    # 0.70 - 0.20 - 0.33 = 0.17 would be right, with one side 0.13 higher; 0.33 is 27 % over its marking
    apart = MEASURED + "B-26,0.26,0.20,0.002,1\nB-26,0.26,0.33,0.002,1\n"
    assert not decide(load_job(write_job(tmp_path, job, apart))).stacks.get("left", ())
    words_of = words(decide(load_job(write_job(tmp_path, job, apart))))
    assert any("no stacks in the drawer that match at left and right do" in said for said in words_of)
    # both 7 % over, and measured alike
    like = decide(load_job(write_job(tmp_path, job, MEASURED + "B-26,0.26,0.278,0.002,2\n")))
    assert parts(like, "left") == parts(like, "right") == ["B-26"]


def test_equal_packs_that_measure_apart_say_by_how_much(tmp_path: Path) -> None:
    job = 'equal = ["left", "right"]\n' + HEAD + '[[place]]\nname = "left"\n[[place]]\nname = "right"\n' + ONE_SUM
    found = decide(load_job(write_job(tmp_path, job, MEASURED + "B-26,0.26,0.252,0.002,1\nB-26,0.26,0.272,0.002,1\n")))
    said = [finding["words"] for finding in plan_object(found)["findings"] if finding["code"] == "packs_measure_apart"]
    # 0.272 - 0.252
    assert len(said) == 1
    assert "gets 0.02 mm more than" in said[0]
    # their errors together may be the difference
    near = decide(load_job(write_job(tmp_path, job, MEASURED + "B-26,0.26,0.259,0.002,1\nB-26,0.26,0.262,0.002,1\n")))
    assert all(finding["code"] != "packs_measure_apart" for finding in plan_object(near)["findings"])


def test_effects_are_exact_numbers_and_computed_ones_are_shown_with_their_source(tmp_path: Path) -> None:
    job = (
        '[[place]]\nname = "pinion"\n[[gap]]\nname = "backlash"\nvalue = 0.12\n[gap.effects]\n'
        'pinion = { figure = "1/3", source = "sheet 9", bevel = { teeth = [20, 40], pressure_angle = 20, '
        'on = "pinion" } }\n'
    )
    found = planned(tmp_path, job)
    assert found.job.gaps[0].effects[0][1] * 3 == 1
    notes = [finding["words"] for finding in plan_object(found)["findings"] if finding["code"].startswith("effect_")]
    # 2 tan 20° sin 26.565° = 0.325545, known as 0.326; (1/3) / 0.326 = 1.0225
    assert notes == ["effect of pinion on backlash: 1/3, as stated, from sheet 9; geometry would give 0.326, 2.2 % off"]


def test_an_effect_from_two_readings_says_what_they_leave_open(tmp_path: Path) -> None:
    job = (
        '[[place]]\nname = "cap"\n[[gap]]\nname = "backlash"\nvalue = 0.12\n[gap.effects]\n'
        'cap = { trial = [{ stack = 0.30, reading = "0.25 mm ± 0.01 mm" }, '
        '{ stack = 0.50, reading = "0.11 mm ± 0.01 mm" }] }\n'
    )
    notes = [f["words"] for f in plan_object(planned(tmp_path, job))["findings"] if f["code"] == "effect_from_trial"]
    assert notes == [
        "effect of cap on backlash: -0.7, from two readings with different packs, which allow -0.8 to -0.6; the "
        "brackets and chances above carry that"
    ]
