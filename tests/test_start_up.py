"""What each command loads: nothing heavy that its job does not need. Counted in modules, not in seconds."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# libraries that take a twentieth of a second or more to load, or that only few jobs need
HEAVY = (
    "dask",
    "highspy",
    "jinja2",
    "numpy",
    "openpyxl",
    "ortools",
    "pandas",
    "pint",
    "pyarrow",
    "pydantic",
    "rich.console",
    "tomlkit",
    "typst",
)
_SEEN = f"""
import atexit, json, os, sys
def tell():
    with open(os.environ["TOLD"], "w", encoding="utf-8") as file:
        json.dump([name for name in {HEAVY!r} if name in sys.modules], file)
atexit.register(tell)
from shimopt.__main__ import main
main()
"""


def loaded(told: Path, *arguments: str) -> set[str]:
    """The heavy libraries that a command had loaded when it ended."""
    subprocess.run(
        [sys.executable, "-c", _SEEN, *arguments],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
        timeout=120,
        env={**os.environ, "TOLD": str(told)},
    )
    return set(json.loads(told.read_text(encoding="utf-8")))


@pytest.mark.parametrize("arguments", [["--help"], ["plan", "--help"], ["plann"], ["--version"]])
def test_what_only_talks_about_itself_loads_nothing(tmp_path: Path, arguments: list[str]) -> None:
    assert loaded(tmp_path / "told", *arguments) == set()


def test_ctrl_c_while_it_is_still_loading_prints_nothing() -> None:
    for wait in (0.03, 0.06, 0.1, 0.15):
        process = subprocess.Popen(
            [sys.executable, "-X", "importtime", "-m", "shimopt", "plan", "demo_data/swing-bridge"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        assert process.stderr is not None
        # Python's own start is not ours; ours begins before click is loaded
        for line in process.stderr:
            if "click._compat" in line:
                break
        time.sleep(wait)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
        assert process.returncode == 130
        assert out == ""
        assert "Traceback" not in err
