"""Console blocks of README and help pages: a command after `$ `, then its output. `python -m tests.readme` renews them.

It renews the README's picture too.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
HELP = {page.stem: page for page in sorted((ROOT / "shimopt" / "help").glob("*.md"))}
PAGES = [README, *HELP.values()]
PICTURE = ROOT / "demo_data" / "swing-bridge" / "gaps.svg"
DRAWN_BY = "shimopt draw demo_data/swing-bridge -o"
_BLOCK = re.compile(r"```console\n\$ (?P<command>[^\n]*)\n(?P<output>.*?)```\n", re.DOTALL)


def text_of(page: Path) -> str:
    """What stands in a page."""
    return page.read_text(encoding="utf-8")


def code_of(page: Path, kind: str) -> list[str]:
    """The blocks of one kind in a page."""
    return re.findall(rf"```{kind}\n(.*?)```", text_of(page), re.DOTALL)


def blocks() -> list[tuple[str, str]]:
    """Command and output of every console block that runs shimopt."""
    found = [(b["command"], b["output"]) for page in PAGES for b in _BLOCK.finditer(text_of(page))]
    return [(command, output) for command, output in found if command.startswith("shimopt ")]


def real_output(command: str) -> str:
    """What a command really prints."""
    done = subprocess.run(
        [sys.executable, "-m", *command.split()],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=120,
        env={"PYTHONIOENCODING": "utf-8", "PATH": "/usr/bin:/bin"},
    )
    return done.stdout + done.stderr


def without_times(text: str) -> str:
    """Output with every time replaced: it is the only thing that differs from run to run."""
    return re.sub(r"\d+\.\d+ s\b", "0.00 s", text)


def _written_anew(found: re.Match[str]) -> str:
    command = found["command"]
    if not command.startswith("shimopt "):
        return found[0]
    return f"```console\n$ {command}\n{without_times(real_output(command)).replace('0.00 s', '0.02 s')}```\n"


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(_BLOCK.sub(_written_anew, text_of(page)), encoding="utf-8")
    real_output(f"{DRAWN_BY} {PICTURE}")
