"""A new reading form takes what DEVELOPERS.md says and no more: a file, its entry in FORMS, and its words."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import shimopt

WEDGE = '''
"""A taper gauge, pushed in until it stops: it shows the gap, and may be off by so much."""

from shimopt.fields import JobTable, Length, PlusMinus
from shimopt.lengths import Bracket
from shimopt.readings.reading import Form, Reading


class WedgeTable(JobTable):
    """`wedge = { ... }`."""

    shows: Length
    error: PlusMinus


def _read(table, _shape, _basis):
    return Reading(Bracket.between(table.shows - table.error, table.shows + table.error), "wedge")


WEDGE = Form(key="wedge", field=WedgeTable, read=_read)
'''
JOB = """\
unit = "mm"
drawer = "drawer.csv"
window = {{ min = 0.1, max = 0.3, source = "sheet 7" }}
gap = [{{ name = "drum", wedge = {wedge} }}]
"""


def house_with_a_wedge(folder: Path) -> None:
    """A copy of the package in which only the places named in DEVELOPERS.md are touched."""
    package = folder / "shimopt"
    shutil.copytree(Path(shimopt.__file__).parent, package, ignore=shutil.ignore_patterns("__pycache__"))
    (package / "readings" / "wedge.py").write_text(WEDGE, encoding="utf-8")
    registry = package / "readings" / "__init__.py"
    text = registry.read_text(encoding="utf-8")
    text = text.replace("BUILT_UP, COVER_GAP)", "BUILT_UP, COVER_GAP, WEDGE)")
    registry.write_text(f"from shimopt.readings.wedge import WEDGE\n{text}", encoding="utf-8")
    for words in (package / "words").glob("*.py"):
        text = words.read_text(encoding="utf-8")
        words.write_text(
            text.replace('"cover_gap": "', '"wedge": "by taper gauge",\n    "cover_gap": "'), encoding="utf-8"
        )


def run(folder: Path, *call: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "shimopt", *call, "job.toml"],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={"PYTHONPATH": str(folder), "PYTHONIOENCODING": "utf-8", "PATH": "/usr/bin:/bin"},
    )


def test_a_taper_gauge_is_added_by_its_file_its_entry_and_its_words(tmp_path: Path) -> None:
    house_with_a_wedge(tmp_path)
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS,0.2,3\n")
    (tmp_path / "job.toml").write_text(JOB.format(wedge='{ shows = 0.4, error = "0.02 mm" }'))
    plan = json.loads(run(tmp_path, "plan", "--json").stdout)
    # by hand: 0.38 to 0.42 less 0.2
    assert [plan["gaps"][0]["after"][end] for end in ("low", "best", "high")] == [0.18, 0.2, 0.22]
    assert plan["doable"]
    assert "by taper gauge" in run(tmp_path, "why").stdout
    (tmp_path / "job.toml").write_text(JOB.format(wedge='{ shows = 0.4, eror = "0.02 mm" }'))
    errors = json.loads(run(tmp_path, "plan", "--json").stdout)["errors"]
    assert [error["field"] for error in errors] == ["gap[0].wedge.error", "gap[0].wedge.eror"]
    assert errors[1]["remedy"] == "did you mean error?"
