"""What something new takes is what DEVELOPERS.md says: one of each, added to a copy of the package and tried out there.

Only the files that the guide names for it may be touched, so the guide cannot fall behind the house.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import shimopt
from shimopt.render.json.plan_json import plan_object
from tests.test_layers import LAYERS

PACKAGE = Path(shimopt.__file__).parent
GUIDE = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
# one gap that needs 0.4 to 0.6 mm: two pieces of one size, or one each of two sizes, come out at the same 0.5 mm
JOB = """\
title = "Mill head"
unit = "mm"
drawer = "drawer.csv"
[[gap]]
name = "head"
{reading} = "1.00 mm ± 0.01 mm"
window = {{ min = 0.4, max = 0.6, source = "works drawing 4" }}
"""
DRAWER = "part,thickness_mm,on_hand\nA-20,0.2,1\nB-30,0.3,1\nC-25,0.25,2\n"


class Tree:
    """A copy of the package beside a small job, and which of its files were touched."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.touched = folder, set[str]()
        shutil.copytree(PACKAGE, folder / "shimopt")
        (folder / "job.toml").write_text(JOB.format(reading="value"), encoding="utf-8")
        (folder / "drawer.csv").write_text(DRAWER, encoding="utf-8")

    def add(self, file: str, after: str, lines: str) -> None:
        """Add lines after the one line that begins so, however far it is indented."""
        path = self.folder / "shimopt" / file
        old = path.read_text(encoding="utf-8").splitlines(keepends=True)
        (at,) = [number for number, line in enumerate(old) if line.lstrip().startswith(after)]
        indent = " " * (len(old[at]) - len(old[at].lstrip()))
        old.insert(at + 1, "".join(f"{indent}{line}\n" for line in lines.splitlines()))
        path.write_text("".join(old), encoding="utf-8")
        self.touched.add(file)

    def create(self, file: str, text: str) -> None:
        path = self.folder / "shimopt" / file
        assert not path.exists()
        path.write_text(text, encoding="utf-8")
        self.touched.add(file)

    def run(self, *arguments: str, code: int = 0) -> str:
        """What the copy prints when it is called with these arguments, or with `-c` and a program."""
        found = subprocess.run(
            [sys.executable, *(arguments if arguments[0] == "-c" else ("-m", "shimopt", *arguments))],
            cwd=self.folder,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=120,
            check=False,
            env={"PYTHONIOENCODING": "utf-8", "PATH": "/usr/bin:/bin"},
        )
        assert found.returncode == code, found.stderr
        return found.stdout


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree(tmp_path)


def places(what: str) -> set[str]:
    """The files and folders that the guide names for something new."""
    (told,) = re.findall(rf"^- \*\*{what}\*\*:(.*?)(?=^- |^$)", GUIDE, re.MULTILINE | re.DOTALL)
    return {name for name in re.findall(r"`([^`]+)`", told) if "/" in name}


def only_named(tree: Tree, what: str) -> None:
    named = places(what)
    for file in tree.touched:
        new = not (PACKAGE / file).exists()
        assert (f"{file.rpartition('/')[0]}/" if new else file) in named, file
    # and none is named in vain
    for name in named:
        assert name in tree.touched or any(file.startswith(name) for file in tree.touched if name.endswith("/")), name


def stack(plan: dict[str, Any]) -> dict[str, int]:
    return {entry["part"]: entry["pieces"] for entry in plan["places"][0]["stack"]}


def test_a_level(tree: Tree) -> None:
    """Last of all, places with pieces of two kinds are counted: two of one size are then better than one each."""
    before = plan_object(shimopt.plan(shimopt.load_job(tree.folder / "job.toml")).decision)
    assert stack(before) == {"A-20": 1, "B-30": 1}
    tree.add("job/levels.py", "COST =", 'MIXED = "mixed", "count", "stack"')
    tree.add(
        "arithmetic/outcome.py", '"cautions":', '"mixed": Fraction(sum(len(set(s)) > 1 for s in stacks.values())),'
    )
    tree.add("candidates/options.py", '"cautions":', '"mixed": int(len(set(stack)) > 1),')
    tree.add(
        "words/level_words.py", '"cost":', '"mixed": LevelWords("mixed places", "{} fewer with two kinds", "place"),'
    )
    plan = json.loads(tree.run("plan", "job.toml", "--json"))
    assert stack(plan) == {"C-25": 2}
    level = plan["levels"][-1]
    assert (level["name"], level["value"], level["proven"]) == ("mixed", 0, True)
    assert "mixed" in tree.run("plan", "job.toml", "--full")
    only_named(tree, "A level")


WEDGE = '''"""A taper gauge, pushed in until it stops: it shows the gap, and may be off by so much."""

from fractions import Fraction

from shimopt.fields import JobTable, Length, PlusMinus
from shimopt.probability import Even
from shimopt.readings.reading import Form, Term, estimated


class WedgeTable(JobTable):
    shows: Length
    error: PlusMinus


def _read(table, _shape, basis):
    off = Fraction(table.error)
    return estimated("wedge", (Term("wedge", Fraction(table.shows), off, (Even(off),)),), basis)


WEDGE = Form(key="wedge", field=WedgeTable, read=_read)
'''


def test_a_form_of_reading(tree: Tree) -> None:
    tree.create("readings/wedge.py", WEDGE)
    tree.add("readings/__init__.py", "from shimopt.readings.value", "from shimopt.readings.wedge import WEDGE")
    tree.add("readings/__init__.py", "FORMS =", "FORMS = (*FORMS, WEDGE)")
    tree.add("words/reading_words.py", '"feeler":', '"wedge": "by taper gauge",')
    tree.add("words/reading_words.py", "match term.code:", '    case "wedge":\n        return f"shown: {amount} {off}"')
    job = tree.folder / "job.toml"
    written = JOB.replace('{reading} = "1.00 mm ± 0.01 mm"', 'wedge = {{ shows = 1.0, {error} = "0.01 mm" }}')
    job.write_text(written.format(error="error"), encoding="utf-8")
    (gap,) = json.loads(tree.run("plan", "job.toml", "--json"))["gaps"]
    # one error of 0.01 mm spread evenly: 95 % of it lies within 0.95 of its half width
    assert gap["reading"] == {"low": 0.9905, "best": 1.0, "high": 1.0095, "basis": "95 %"}
    assert (gap["reading_detail"]["kind"], gap["reading_detail"]["worst_case"]["low"]) == ("wedge", 0.99)
    # 0.2 and 0.3 are fitted, as above
    assert gap["after"] == {"low": 0.4905, "best": 0.5, "high": 0.5095}
    for screen in (tree.run("plan", "job.toml", "--full"), tree.run("why", "job.toml", "--full")):
        assert "by taper gauge" in screen
        assert "shown: 1.00 mm ±0.01 mm" in screen
    job.write_text(written.format(error="eror"), encoding="utf-8")
    errors = json.loads(tree.run("plan", "job.toml", "--json", code=2))["errors"]
    assert [error["field"] for error in errors] == ["gap[0].wedge.error", "gap[0].wedge.eror"]
    assert errors[1]["remedy"] == "did you mean error?"
    only_named(tree, "A form of reading")


def test_a_column_of_parts_tables(tree: Tree) -> None:
    tree.add("parts/part.py", "provenance: str", 'melt: str = ""')
    tree.add("parts/part_rows.py", '"provenance",', '"melt",')
    tree.add("parts/part_rows.py", "provenance=provenance or", 'melt=columns.text(row, "melt"),')
    tree.add("render/json/parts_json.py", '"note": part.note', '"melt": part.melt or None,')
    table = "part,thickness_mm,melt\nF-1,0.1,4711\nF-2,0.2,\n"
    (tree.folder / "foils.csv").write_text(table, encoding="utf-8")
    told = json.loads(tree.run("parts", "--catalogue", "foils.csv", "--json"))["parts"]
    assert [(part["part"], part["melt"]) for part in told] == [("F-1", "4711"), ("F-2", None)]
    only_named(tree, "A column of parts tables")


LABEL = '''"""The content of a label for a bag of shims."""


def label_content(text: str) -> dict[str, str]:
    return {"kind": "label", "title": text, "date": "2026-05-03", "made": "shimopt"}
'''
ON_PAPER = """#import "common.typ": *
#set document(title: content.title, date: day)
#set page(paper: sys.inputs.paper)
= #name(content.title)
"""
IN_A_BROWSER = """{% extends "page.html.j2" %}
{% block body %}<h1>{{ title }}</h1>{% endblock %}
"""
TRIED = """
from datetime import datetime, UTC
from shimopt.render.papers.label import label_content
from shimopt.render.papers.typeset import page_of, pdf_of
content = label_content("<b>Bag 7</b> #emph[x]")
print(page_of(content))
open("label.pdf", "wb").write(pdf_of(content, "a4", datetime(2026, 5, 3, tzinfo=UTC)).file)
"""


def test_a_paper(tree: Tree) -> None:
    import pypdf

    tree.create("render/papers/label.py", LABEL)
    tree.create("render/papers/label.html.j2", IN_A_BROWSER)
    tree.create("render/papers/label.typ", ON_PAPER)
    assert "<h1>&lt;b&gt;Bag 7&lt;/b&gt; #emph[x]</h1>" in tree.run("-c", TRIED)
    assert "<b>Bag 7</b> #emph[x]" in pypdf.PdfReader(tree.folder / "label.pdf").pages[0].extract_text()
    only_named(tree, "A paper")


def test_the_guide_names_every_room_in_its_order_and_no_file_that_is_not_there() -> None:
    assert tuple(re.findall(r"^\| `(\w+)` \|", GUIDE, re.MULTILINE)) == LAYERS
    for name in re.findall(r"`([\w/]+\.(?:py|typ|j2))`", GUIDE):
        assert (PACKAGE / name).exists() or (PACKAGE.parent / name).exists(), name
    assert len(GUIDE.splitlines()) < 150
