"""The two demo jobs of places that act together: planned, explained and printed."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from shimopt.cli.main import cli
from shimopt.job import load_job
from shimopt.planner import decide

DEMOS = Path(__file__).parents[1] / "demo_data"


def printed(name: str) -> str:
    result = CliRunner().invoke(cli, ["plan", str(DEMOS / name)])
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


@pytest.mark.parametrize("name", ["slipway-winch", "twelve-valve"])
def test_a_demo_is_done_and_proven(name: str) -> None:
    found = decide(load_job(DEMOS / name))
    assert found.outcome.doable
    assert found.proven


def test_the_winch_says_what_its_packs_do_to_preload_and_backlash() -> None:
    screen = printed("slipway-winch")
    assert "preload 0.065 to 0.075" in screen
    assert "moved by left cap and right cap" in screen
    # (0.34 + 0.34) × 0.10 = 0.068 mm
    assert (
        "Moving 0.10 mm from left cap to right cap leaves preload as it is and tightens backlash by 0.068 mm." in screen
    )
    # 2 × tan 20° × sin(atan 2) / 2 = 0.325545, known as 0.326; 0.34 / 0.326 = 1.0429
    assert "0.34, as stated, from winch maker's sheet 14; geometry would give 0.326, 4.3 % off" in screen


def test_the_winch_adds_up_by_hand() -> None:
    found = decide(load_job(DEMOS / "slipway-winch"))
    left, right = (found.outcome.thickness[name].best for name in ("left cap", "right cap"))
    # was in: 0.20 + 0.30 left, 0.50 + 0.103 right; read: 0.07 of float, 0.275 of backlash
    assert found.outcome.gaps["preload"].after.best == 70_000 - (left - 500_000) - (right - 603_000)
    assert found.outcome.gaps["backlash"].after.best * 100 == 27_500_000 + 34 * ((left - 500_000) - (right - 603_000))


def test_the_engine_lists_what_was_in_what_was_read_what_goes_in_and_where_it_comes_from() -> None:
    screen = printed("twelve-valve")
    assert "place was in read, mm goes in comes from" in screen
    assert "1 inlet B-2.45 [1i] 0.30 to 0.32 B-2.55 [3i] 3 inlet" in screen
    assert "2 inlet B-2.50 [2i] 0.18 to 0.20 stays" in screen
    assert "left over, to the drawer: B-2.40 [6i] out of 6 inlet" in screen
