"""What each command loads: nothing heavy that its job does not need. Counted in modules, not in seconds."""

from __future__ import annotations

import json
import os
import subprocess
import sys
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
        ours = [name.split(".") for name in sys.modules if name.startswith("shimopt.")]
        rooms = {{room for _, room, *_ in ours}} | {{"json" for name in ours if "json" in name}}
        json.dump([[name for name in {HEAVY!r} if name in sys.modules], sorted(rooms)], file)
atexit.register(tell)
from shimopt.__main__ import main
main()
"""


def loaded(told: Path, *arguments: str) -> tuple[set[str], set[str]]:
    """The heavy libraries and the rooms of the package that a command had loaded when it ended."""
    done = subprocess.run(
        [sys.executable, "-c", _SEEN, *arguments],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
        timeout=120,
        env={**os.environ, "TOLD": str(told)},
    )
    assert done.returncode in (0, 1, 2)
    heavy, rooms = json.loads(told.read_text(encoding="utf-8"))
    return set(heavy), set(rooms)


@pytest.mark.parametrize("arguments", [["--help"], ["plan", "--help"], ["plann"], ["--version"]])
def test_what_only_talks_about_itself_loads_nothing(tmp_path: Path, arguments: list[str]) -> None:
    assert loaded(tmp_path / "told", *arguments)[0] == set()


def test_ctrl_c_is_heard_before_anything_else_is_loaded() -> None:
    """What is loaded before that would print where it was interrupted."""
    code = "import sys; before = set(sys.modules); import shimopt.__main__; print(*set(sys.modules) - before)"
    done = subprocess.run([sys.executable, "-I", "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "shimopt.__main__" in done.stdout.split()
    assert {"click", "contextlib", "pathlib", "re", "typing"} & set(done.stdout.split()) == set()


SOLVERS = {"highspy", "ortools", "numpy"}
DRAWER = "demo_data/swing-bridge/drawer.csv"
BATCH = ["batch", "demo_data/pump-line/gaps.csv", "--job", "demo_data/pump-line/line.toml", "-o", "{out}.csv"]


@pytest.mark.parametrize(
    ("arguments", "allowed"),
    [
        (["fit", "demo_data/swing-bridge"], {"pydantic"}),
        (["parts", "--inner", "16mm"], {"pydantic"}),
        (["make", "11 thou", "--from", DRAWER], {"pydantic"}),
        (["plan", "demo_data/swing-bridge"], {"pydantic", *SOLVERS}),
        (["plan", "demo_data/quarry-tram", "--json"], {"pydantic", *SOLVERS}),
        (["why", "demo_data/twelve-valve"], {"pydantic", *SOLVERS}),
        (["why", "demo_data/swing-bridge"], {"pydantic", *SOLVERS}),
        (["draw", "demo_data/slipway-winch", "-o", "{out}.svg"], {"pydantic", "numpy"}),
        (["letter", "demo_data/swing-bridge", "-o", "{out}.html"], {"pydantic", "jinja2", *SOLVERS}),
        (["letter", "demo_data/swing-bridge", "-o", "{out}.pdf"], {"pydantic", "typst", *SOLVERS}),
        (["order", "demo_data/quarry-tram"], {"pydantic", *SOLVERS}),
        (BATCH, {"pydantic", "pyarrow", "numpy"}),
        ([*BATCH, "--json"], {"pydantic", "pyarrow", "numpy"}),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_a_command_loads_nothing_heavy_that_its_job_does_not_need(
    tmp_path: Path, arguments: list[str], allowed: set[str]
) -> None:
    given = [text.replace("{out}", str(tmp_path / "out")) for text in arguments]
    heavy, rooms = loaded(tmp_path / "told", *given)
    assert heavy - allowed == set()
    if arguments in (["plan", "demo_data/swing-bridge"], ["why", "demo_data/swing-bridge"]):
        # a plan on the screen loads no room that it does not need either
        assert {"planner", "words", "render"} <= rooms
        assert rooms & {"ordering", "recording", "receiving", "batch", "door", "json"} == set()


_FRAMES = """
import sys
from shimopt.tables.binary import arrow_alone
arrow_alone()
import pyarrow as pa
made = pa.table({"a": pa.array([1, None]), "b": pa.array(["x", None])})
assert "pandas" not in sys.modules
import pandas as pd
frame = made.to_pandas()
assert frame["b"].tolist()[0] == "x" and pd.isna(frame["a"][1])
assert pa.array(pd.Series([0.1, None, 2]), from_pandas=True).to_pylist() == [0.1, None, 2.0]
"""


def test_frames_can_be_made_where_arrow_went_without_pandas_before() -> None:
    done = subprocess.run([sys.executable, "-c", _FRAMES], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
