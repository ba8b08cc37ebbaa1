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
    result = CliRunner().invoke(cli, ["plan", str(DEMOS / name), "--full"])
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


@pytest.mark.parametrize("name", ["slipway-winch", "twelve-valve"])
def test_a_demo_is_done_and_proven(name: str) -> None:
    found = decide(load_job(DEMOS / name))
    assert found.outcome.doable
    assert found.proven


def test_the_winch_says_what_its_packs_do_to_preload_and_backlash() -> None:
    screen = printed("slipway-winch")
    assert "preload play 0.065 to 0.075" in screen
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


def test_the_engine_tells_what_comes_out_what_goes_in_and_where_from() -> None:
    # the shims are worked by hand in test_moves
    screen = printed("twelve-valve")
    assert screen.startswith(
        "Open 5 of 12: four shims change places, B-2.35 comes from the drawer; leave 7 alone. Then all 12 gaps are "
        "inside. "
    )
    assert "take B-2.45 [1i] out, fit B-2.55 [3i]" in screen
    assert "leave B-2.50 [2i] in" in screen
    assert "1 inlet: B-2.45 [1i] out, into 3 inlet; B-2.55 [3i] in, out of 3 inlet." in screen
    assert "6 inlet: B-2.40 [6i] out, to the drawer; B-2.35 in, from the drawer (shim box)." in screen
    assert "3 exhaust, 4 inlet, 5 inlet, 5 exhaust and 6 exhaust stay as they are." in screen


def test_the_winch_tells_what_comes_out_of_its_caps_within_80_columns() -> None:
    out = CliRunner().invoke(cli, ["plan", str(DEMOS / "slipway-winch"), "--full"]).output
    assert max(map(len, out.splitlines())) <= 80
    screen = " ".join(out.split())
    # 0.50 less 0.20 and 0.05 more, 0.603 less 0.103, 0.30 and 0.05 more
    assert screen.startswith(
        "Open 2 of 2 (left cap, right cap): 2 x BC-0.05 and BC-0.30 come from the drawer. Then preload is inside. But"
    )
    assert "left cap: BC-0.20 out, to the drawer (tin 5); BC-0.05 in, from the drawer (tin 4); BC-0.30 stays" in screen
    assert (
        "right cap: BC-0.10 (measured 0.103 mm) out, to the drawer; BC-0.30 in, from the drawer (tin 5); BC-0.05 in,"
        in screen
    )
