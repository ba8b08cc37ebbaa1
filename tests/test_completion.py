"""What the tab key offers, in a shell whose home is fresh; and what is told to one who names no command."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.command import Run
from tests.processes import ran
from tests.readme import HELP, code_of

ROOT = Path(__file__).parents[1]
DEMO = "demo_data/swing-bridge"
_ASK = """
compopt() { opened="$opened $*"; }
COMP_WORDS=("${@}"); COMP_CWORD=$(($# - 1)); _shimopt_completion shimopt
printf '%s\\n' "${COMPREPLY[@]}" "options:$opened"
"""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home in which nothing was, and then the lines of the page for bash."""
    folder = tmp_path_factory.mktemp("home")
    _bash(folder, code_of(HELP["install"], "sh")[1])
    return folder


def _bash(home: Path, script: str, *words: str) -> list[str]:
    done = subprocess.run(
        ["bash", "--norc", "-c", script, "bash", *words],
        cwd=ROOT if words else home,
        env={"HOME": str(home), "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}", "LC_ALL": "C.UTF-8"},
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
    )
    assert done.stderr == ""
    return done.stdout.splitlines()


def offered(home: Path, *words: str) -> list[str]:
    *names, opened = _bash(home, f". ~/.bashrc\n{_ASK}", *words)
    return [*names, *opened.removeprefix("options:").split()]


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (["wh"], ["why"]),
        (["why", DEMO, "lower"], [r"lower\ 1", r"lower\ 2"]),
        (["why", DEMO, '"lower'], ["lower 1", "lower 2"]),
        (["why", "demo_data/quarry-tram", "rear"], [r"rear\ left", r"rear\ right"]),  # from its gaps.csv
        (["fit", f"{DEMO}/job.toml", "--seat", ""], [r"plain\ end", r"collar\ end"]),
        (["record", DEMO, "--after", "lower\\ 1"], [r"lower\ 1=", "-o", "nospace"]),
        (["record", "demo_data/slipway-winch", "--fitted", "l"], [r"left\ cap=", "-o", "nospace"]),
        (["parts", "--catalogue", "inch-a"], ["inch-alignment-shims"]),
        (["parts", "--catalogue", "my"], ["-o", "default"]),
        (["help", "r"], ["readings", "record"]),
        (["why", "no-such-job", ""], []),
    ],
    ids=lambda value: " ".join(value),
)
def test_bash_in_a_fresh_home_is_offered_the_names_of_the_job(home: Path, words: list[str], names: list[str]) -> None:
    assert offered(home, "shimopt", *words) == names


def test_the_page_names_every_shell() -> None:
    page = HELP["install"].read_text(encoding="utf-8")
    assert all(f"{shell}_source" in page for shell in ("bash", "zsh", "fish", "powershell"))


def _powershell(words: list[str], begun: str | None) -> str:
    asked = {"_SHIMOPT_COMPLETE": "powershell_complete", "COMP_WORDS": "\n".join(words)}
    asked |= {} if begun is None else {"COMP_BEGUN": begun}
    return str(ran(cwd=ROOT, env={**os.environ, **asked}).stdout)


@pytest.mark.parametrize(
    ("words", "begun", "said"),
    [
        (["shimopt", "why", DEMO], "", ["plain,'upper 1'", "plain,'upper 2'", "plain,'upper 3'"]),
        # nothing begun: up to PowerShell 7.4 such a variable is not there at all
        (["shimopt", "why", DEMO], None, ["plain,'upper 1'", "plain,'upper 2'"]),
        (["shimopt", "why", DEMO, "upper 3"], "'upper 3", ["plain,'upper 3'"]),
        (["shimopt", "sh"], "sh", ["plain,sheet"]),
    ],
)
def test_powershell_is_given_names_in_its_quotes(words: list[str], begun: str, said: list[str]) -> None:
    assert _powershell(words, begun).splitlines()[: len(said)] == said


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (DEMO, f"shimopt plan {DEMO}?"),
        (f"{DEMO}/job.toml", f"shimopt plan {DEMO}/job.toml?"),
        ("demo_data", "shimopt batch --jobs demo_data?"),
    ],
)
def test_a_job_without_a_command_is_told_the_command(run: Run, typed: str, meant: str) -> None:
    code, out, err = run(typed)
    assert (code, out) == (2, "")
    assert err.endswith(f"Did you mean: {meant}\n")


def test_a_folder_of_tables_is_taken_for_no_job(run: Run, tmp_path: Path) -> None:
    """A new job goes into an empty folder; one that holds other files is probably something else."""
    (tmp_path / "empty").mkdir()
    assert "Did you mean: shimopt new" in run(str(tmp_path / "empty"))[2]
    said = " ".join(run("demo_data/tram-depot")[2].split())
    assert "This folder holds no job.toml; what can be done with its files is listed by: shimopt --help" in said
    assert "shimopt new" not in said


def test_the_help_shows_what_a_newcomer_needs_first(run: Run) -> None:
    _, out, _ = run("--help")
    first, more = out.partition("A first job:")[2].split("More:")
    assert [line.split()[0] for line in first.split("\n") if line.strip()] == ["new", "plan", "sheet", "record"]
    assert "letter" in more
    assert len(out.splitlines()) <= 38
    assert max(len(line) for line in out.splitlines()) <= 80
