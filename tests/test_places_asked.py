"""Places as a job states them: two packs on one gear, and places that take any piece of one drawer, are asked about."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.words.headline import headline
from shimopt.words.letter_answer import answer_words, warning_words
from shimopt.words.letter_words import all_gap_words
from shimopt.words.next_steps import next_steps
from shimopt.words.speaker import Speaker
from tests.job_files import edited

CROWN = Path(__file__).parent / "data" / "crown-wheel"
LEFT = 'on = "wheel" } }, "right'
RIGHT = 'on = "wheel", into_mesh = true }'
SHARES = ((LEFT, LEFT.replace('"wheel"', '"wheel", share = 0.5')), (RIGHT, RIGHT.replace("true", "true, share = 0.5")))
ASKED = {"gear_share_asked", "gear_way_asked", "seats_asked"}


def planned(folder: Path, *edits: tuple[str, str]) -> Decision:
    shutil.copytree(CROWN, folder, dirs_exist_ok=True)
    (folder / "job.toml").write_text(edited(*edits, of=(CROWN / "job.toml").read_text()))
    return decide(load_job(folder))


def asked(decision: Decision) -> set[str]:
    return {finding.code for finding in decision.findings} & ASKED


def test_two_packs_on_one_wheel_without_a_share_are_asked_about(tmp_path: Path) -> None:
    found = planned(tmp_path)
    assert asked(found) == {"gear_share_asked", "seats_asked"}
    assert all(f.grade == "caution" for f in found.findings if f.code in ASKED)
    assert "is assumed: answer the question below before you fit anything." in headline(found, Speaker.of(found.job))
    assert (
        next_steps(found, Speaker("mm"))[0]
        == "Answer the question about backlash in the job before anything is fitted."
    )


def test_the_letter_says_first_what_is_to_be_settled(tmp_path: Path) -> None:
    found = planned(tmp_path)
    assert warning_words(found, Speaker("mm")) == [
        "To be settled before anything is fitted: whether the packs at left side and right side hold the wheel between "
        "them. If they do, backlash changes by only half as much as is told here."
    ]
    assert answer_words(found, Speaker.of(found.job)) == (
        "By calculation clearance and preload come right, but for what has to be settled first: 0.10 mm of shim moves "
        "from left side to right side."
    )
    said = [sentence for gap in all_gap_words(found, Speaker.of(found.job)).values() for sentence in gap.sentences]
    assert not any("share" in sentence for sentence in said)


@pytest.mark.parametrize("share", ["0.5", "1"])
def test_whoever_states_the_share_is_not_asked(tmp_path: Path, share: str) -> None:
    found = planned(tmp_path, *((old, new.replace("0.5", share)) for old, new in SHARES))
    assert asked(found) == {"seats_asked"}


def test_with_half_a_share_the_backlash_falls_by_what_the_wheel_is_moved(tmp_path: Path) -> None:
    """2 tan 20° sin(pitch) with tan(pitch) = 43/11 is 0.7052; half of it is 0.353, rounded to the even thousandth.

    0.20 mm moved from left to right takes 0.20 × 2 × 0.353 = 0.1412 off 0.34, the smallest: 0.1988. 0.10 mm would
    leave 0.2694.
    """
    found = planned(tmp_path, *SHARES)
    assert found.changes.shift is not None
    assert found.changes.shift.thick == 200_000
    # 0.50 - 0.30 is 0.20, and no piece of 0.20 moves
    exchange = "move 0.20 mm from left side to right side (S 0.50 goes over, S 0.30 comes back)"
    assert exchange.removeprefix("move ") in headline(found, Speaker.of(found.job))
    assert found.outcome.gaps["backlash"].after.best == 198_800


def test_two_packs_that_both_open_the_mesh_are_asked_about(tmp_path: Path) -> None:
    (left, right) = SHARES
    both_out = (RIGHT, right[1].replace("into_mesh = true, ", ""))
    assert asked(planned(tmp_path, left, both_out)) == {"gear_way_asked", "seats_asked"}
    stated = (RIGHT, right[1].replace("true", "false"))
    left_too = (LEFT, left[1].replace("share", "into_mesh = false, share"))
    assert asked(planned(tmp_path, left_too, stated)) == {"seats_asked"}


def test_a_pack_on_each_of_two_gears_is_no_question() -> None:
    found = decide(load_job(CROWN.parent / "gears" / "cone-and-play"))
    assert not asked(found) & {"gear_share_asked", "gear_way_asked"}


def test_places_with_a_seat_of_their_own_are_not_asked_for_one(tmp_path: Path) -> None:
    seat = '[[seat]]\nname = "cap"\nshaft = "72 mm"\n'
    places = '[[place]]\nname = "left side"\n'
    assert "seats_asked" in asked(planned(tmp_path))
    assert "seats_asked" not in asked(planned(tmp_path, (places, f'{seat}{places}seat = "cap"\n')))
