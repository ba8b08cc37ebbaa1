"""A command that is forked does what a command does that is started: streams, exit code, environment, end.

Each of these commands is started here at least once; the others are where it is looked at what they load.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.harness import files_of
from tests.processes import ROOT, Running, ran, started

DEMO = ROOT / "demo_data" / "swing-bridge"
DAY = ("--date", "2026-05-03")
STOCKED = {"SHIMOPT_STOCK": "", "SHIMOPT_PERSON": "A. Roe", "NO_COLOR": "1", "COLUMNS": "70"}
FORKED = pytest.mark.skipif(sys.platform != "linux", reason="here processes are started, not forked")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("new winch --yes", 0),
        ("sheet job -o sheet.html", 0),
        ("record job --fitted left=S-7 --after left=6 --person A --instrument dial", 2),
        ("hold job", 2),
        ("stock list", 2),
        ("assortment job --parts job/drawer.csv --pieces 4", 0),
        ("history .", 0),
        ("help words", 0),
    ],
)
def test_a_fork_prints_writes_and_ends_as_a_process_that_is_started(tmp_path: Path, words: str, code: int) -> None:
    arguments, env, found = words.split(), {**os.environ, **STOCKED}, []
    arguments += DAY if arguments[0] in ("sheet", "record") else ()
    for name in ("forked", "started"):
        shutil.copytree(DEMO, tmp_path / name / "job")
        if name == "forked":
            done = ran(*arguments, cwd=tmp_path / name, env=env)
        else:
            command = [sys.executable, "-m", "shimopt", *arguments]
            done = subprocess.run(
                command, cwd=tmp_path / name, env=env, capture_output=True, encoding="utf-8", check=False
            )
        found.append((done.returncode, done.stdout, done.stderr, files_of(tmp_path / name)))
    assert found[0] == found[1]
    assert found[0][0] == code, found[0]


_SAYS = """
import atexit, os, sys
atexit.register(lambda: print("at the end", flush=True))
os.umask(0o077)
print(sys.argv, os.getcwd(), os.environ.get("OF_ITS_OWN"), sys.path[0] == os.getcwd(), sys.stdin.read())
print("é", file=sys.stderr)
sys.exit("no")
"""


@FORKED
def test_a_program_has_folder_environment_and_streams_of_its_own_and_comes_to_its_end(tmp_path: Path) -> None:
    pipe = subprocess.PIPE
    env = {**os.environ, "OF_ITS_OWN": "yes"}
    process = started("a b", program=_SAYS, cwd=tmp_path, env=env, stdin=pipe, stdout=pipe, stderr=pipe)
    assert isinstance(process, Running)
    process.stdin.write("typed")
    process.stdin.close()
    out, err = process.communicate(timeout=60)
    assert out == f"['-c', 'a b'] {tmp_path} yes True typed\nat the end\n"
    assert (err, process.returncode) == ("é\nno\n", 1)
    assert "OF_ITS_OWN" not in os.environ


@FORKED
def test_a_fork_is_waited_for_and_killed_as_a_child_is() -> None:
    process = started(program="import time; time.sleep(60)")
    assert process.poll() is None
    with pytest.raises(subprocess.TimeoutExpired):
        process.wait(0.01)
    process.kill()
    assert (process.wait(60), process.poll()) == (-9, -9)


@pytest.mark.parametrize("name", ["LC_ALL", "PYTHONHASHSEED", "PYTHONWARNINGS"])
def test_what_python_reads_once_at_its_start_is_given_to_one_that_starts(name: str) -> None:
    value = {"LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "7"}.get(name, "ignore")
    process = started(program="pass", env={**os.environ, name: value})
    assert isinstance(process, Running) is (sys.platform == "linux" and os.environ.get(name) == value)
    assert process.wait(60) == 0
