"""Places that act together are left as they are where no gap comes inside, and none is made too tight for another."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, reject, settings

from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.reasons.shared_reasons import TogetherNearest
from shimopt.render.screens.why_screen import why_lines
from shimopt.words.next_steps import next_steps
from shimopt.words.speaker import Speaker
from tests.brute_force_places import clearance
from tests.job_files import write_job
from tests.place_strategies import jobs_of_places

PLACE = '[[place]]\nname = "{0}"\ninstalled = ["{1}"]\n'
DRAWER = "part,thickness_mm,on_hand\nS-10,0.10,1\nS-30,0.30,1\nS-80,0.80,1\n"


def of(folder: Path, gaps: str) -> Job:
    head = 'title = "T"\nunit = "mm"\ndrawer = "drawer.csv"\n'
    places = PLACE.format("left", "S-10") + PLACE.format("right", "S-30")
    return load_job(write_job(folder, head + places + gaps, DRAWER))


def gap(name: str, value: str, effects: str, window: tuple[str, str]) -> str:
    least, most = window
    return (
        f'[[gap]]\nname = "{name}"\nvalue = "{value} mm ± 0 mm"\neffects = {effects}\n'
        f'window = {{ min = {least}, max = {most}, source = "invented" }}\n'
    )


BOTH = "{ left = -1, right = -1 }"


def test_nearer_but_not_inside_is_left_as_it_is(tmp_path: Path) -> None:
    # 1.00 with 0.40 in is 1.40 bare, and every pack is so many tenths thick: 1.00 in all would leave 0.40, 0.02 too
    # tight, and 0.90 leave 0.50, 0.06 too loose
    found = decide(of(tmp_path, gap("float", "1.00", BOTH, ("0.42", "0.44"))))
    assert not found.changes.going_in()
    assert found.outcome.gaps["float"].off == 560_000
    assert found.proven
    (near,) = (reason for reason in found.reasons if isinstance(reason, TogetherNearest))
    assert (near.after, near.still, near.side_after) == (400_000, 20_000, "under")


def test_a_gap_that_comes_inside_does_not_pay_for_another_that_gets_tight(tmp_path: Path) -> None:
    # bare, play is 1.00 and lash 0.85. Play wants 0.80 at left, which leaves lash 0.05 at most: 0.05 too tight, and it
    # was 0.25 too loose. Lash wants 0.70 in all; all of that at left leaves play 0.30, which is 0.08 too loose: more
    # by the figures, but nothing seizes
    play = gap("play", "0.90", "{ left = -1 }", ("0.18", "0.22"))
    found = decide(of(tmp_path, play + gap("lash", "0.45", BOTH, ("0.10", "0.20"))))
    assert (found.outcome.gaps["lash"].after.best, found.outcome.gaps["play"].after.best) == (150_000, 300_000)
    assert found.outcome.levels["miss"] == 80_000
    assert found.proven
    # where lash may be as tight as that both come inside
    found = decide(of(tmp_path, play + gap("lash", "0.45", BOTH, ("0.05", "0.20"))))
    assert found.outcome.doable


@pytest.mark.parametrize(
    ("other", "served", "off"),
    [
        # S-30 for S-10 is 0.20 thicker: the first gap, 0.50, comes to 0.30 and is inside; the other, right at 0.45,
        # would come to 0.25, where 0.30 is the least
        ("0.45", False, 200_000),
        # one that is too tight by 0.05 would be so by 0.25: S-10 out brings it to 0.35, and the first to 0.60
        ("0.25", False, 300_000),
        # and right at 0.50 it comes to 0.30
        ("0.50", True, 0),
    ],
)
def test_none_is_made_too_tight_for_another(tmp_path: Path, other: str, served: bool, off: int) -> None:
    by_left = "{ left = -1 }"
    job = of(tmp_path, gap("a", "0.50", by_left, ("0.25", "0.30")) + gap("b", other, by_left, ("0.30", "0.60")))
    found = decide(job)
    assert found.proven
    assert bool(found.changes.going_in()) is served
    assert found.outcome.gaps["a"].off == off


def test_no_gap_that_is_right_is_given_for_another(tmp_path: Path) -> None:
    # S-30 for S-10 brings a from 0.50 to 0.30; b, right at 0.45, opens by as much to 0.65, 0.05 too loose: one outside
    # either way, and by less
    gaps = gap("a", "0.50", "{ left = -1 }", ("0.25", "0.30")) + gap("b", "0.45", "{ left = 1 }", ("0.30", "0.60"))
    found = decide(of(tmp_path, gaps))
    assert found.proven
    assert found.changes.nothing
    assert found.outcome.levels["miss"] == 200_000


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places())
def test_nothing_is_made_too_tight_or_tighter_for_another(job: Job) -> None:
    try:
        found = decide(job)
    except InputError:  # equal packs on seats that no part suits both of
        reject()
    for one in job.gaps:
        if one.window.min is not None:
            assert clearance(job, one, found.stacks)[1] >= min(one.window.min, one.reading.bracket.best)


def test_how_much_in_all_is_said_where_shims_open_a_gap_too(tmp_path: Path) -> None:
    # each pack opens it by half: 12.5 with 30 in all comes to 3 with 19 less, and to 5 with 15 less
    packs = "".join(f'[[place]]\nname = "{side}"\ninstalled = ["P-10", "P-05"]\n' for side in ("fore", "aft"))
    job = (
        f'title = "Big end"\nunit = "thou"\ndrawer = "drawer.csv"\nequal = ["fore", "aft"]\n{packs}'
        '[[gap]]\nname = "big end"\nfeeler = { go = 12, no_go = 13 }\neffects = { fore = 0.5, aft = 0.5 }\n'
        'window = { min = 3, max = 5, source = "list" }\n'
    )
    found = decide(load_job(write_job(tmp_path, job, "part,thickness_thou,on_hand\nP-05,5,0\nP-10,10,0\n")))
    assert found.changes.nothing
    said = " ".join(next_steps(found, Speaker.of(found.job)))
    assert "big end needs 11 to 15 thou of shim in all, alike at fore and aft." in said
    # P-05 in each is 20 less: 2.5, half a thou too tight
    (near,) = (reason for reason in found.reasons if isinstance(reason, TogetherNearest))
    assert (near.after, near.still, near.side_after) == (63_500, 12_700, "under")


def test_why_names_the_rule_by_which_a_gap_is_not_given_for_another(tmp_path: Path) -> None:
    # 0.70 more in all brings the float from 1.00 to 0.30, and the end play from 0.25 to below nothing
    gaps = gap("float", "1.00", BOTH, ("0.2", "0.3")) + gap("end play", "0.25", BOTH, ("0.2", "0.3"))
    found = decide(of(tmp_path, gaps))
    assert not found.changes.going_in()
    told = " ".join(" ".join(line for line, _ in why_lines(found, ["float"], "mm", 100)).split())
    assert (
        "Whatever brings float inside leaves end play outside: places that act together are changed only if fewer "
        "gaps are outside then, and none is made too tight, or tighter, for another."
    ) in told
    # nothing is to be explained of the gap that is inside
    assert "Whatever brings" not in " ".join(line for line, _ in why_lines(found, ["end play"], "mm", 100))
