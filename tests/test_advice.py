"""What a plan advises, read as a mechanic would: jobs on which it once said something false or unsafe."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shimopt.cli import main

HERE = Path(__file__).parent / "data" / "advice"
Say = Callable[..., str]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Say:
    """What a command prints of one of the jobs, with its lines joined."""

    def call(command: str, job: str, *more: str) -> str:
        with pytest.raises(SystemExit):
            main([command, str(HERE / job), *more])
        return " ".join(capsys.readouterr().out.split())

    return call


def test_the_hard_washer_is_listed_last_against_the_gear_that_turns(said: Say) -> None:
    screen = said("plan", "thin-against-gear")
    assert "fit shim 0,05 + TW B, in this order from the fixed face" in screen
    assert "is soft, and the face turns: only with a hard piece between" in screen
    assert "hard or thick against what turns, thin or soft at the fixed face (common practice)" in screen
