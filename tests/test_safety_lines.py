"""No line that keeps somebody whole may be missing from letter or sheet, whatever is laid out anew.

Whether a machine must not be run is worked out here from readings and windows, not asked of the words.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

import shimopt
from shimopt.errors import InputError
from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.papers.typeset import Fonts, page_of, pdf_of
from shimopt.words.first_words import first_words
from shimopt.words.letter_answer import warning_words
from shimopt.words.sheet_words import AFTERWARDS, BENCH_CAUTIONS, LETTER_CAUTIONS, LICENSED, prepare_words
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.test_papers import DATE, _noon, html_text, pdf_text

ROOT = Path(__file__).parents[1]
DEMOS = sorted((ROOT / "demo_data").glob("*/job.toml"))
JOBS = [*DEMOS, *sorted((ROOT / "tests" / "data").glob("**/job.toml"))]
WHO = ("--date", "2026-05-03", "--person", "M. Hale", "--instrument", "blades")
# what was found after fitting: as it should be, outside, and only in part
RECORDS = [
    ("swing-bridge", ("upper 1=10 to 11", "lower 2=6 to 7")),
    ("swing-bridge", ("lower 2=12.5 to 13.5",)),
    ("quarry-tram", ("front left=0.41 to 0.46 mm",)),
    ("slipway-winch", ("preload=preload 0.02 to 0.03 mm", "backlash=0.30 mm")),
]


def told(decision: Decision) -> Iterator[tuple[str, dict[str, object], Speaker]]:
    """Letter and sheet with who speaks on them."""
    unit = decision.job.unit
    letter, sheet = letter_content(decision, unit, DATE), sheet_content(decision, unit, DATE)
    yield "letter", letter, Speaker.of(decision.job, unit).in_one_unit
    yield "sheet", sheet, Speaker.of(decision.job, unit)


def is_all_there(decision: Decision, *, on_paper: bool) -> None:
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    stop = bool(outside or decision.job.found_outside)
    for kind, content, say in told(decision):
        pages = [html_text(page_of(content))]
        if on_paper:
            pages.append(pdf_text(pdf_of(content, "a4", _noon(), Fonts()).file))
        cautions = LETTER_CAUTIONS if kind == "letter" else (*BENCH_CAUTIONS, *AFTERWARDS, *prepare_words(decision))
        for text in pages:
            for line in (LICENSED, *cautions, *warning_words(decision, say), *first_words(decision, say)):
                assert line in text, (kind, line)
            assert ("Do not run it" in text) == stop, kind
            tight = [
                name
                for name in outside
                if (least := decision.job.gap[name].window.min) is not None
                and decision.outcome.gaps[name].after.best < least
            ]
            if tight:
                assert "Do not turn it under power where it is too tight" in text


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.parent.name)
def test_every_line_of_safety_stands_on_letter_and_sheet(path: Path) -> None:
    try:
        decision = decide(load_job(path))
    except InputError:
        pytest.skip("a job that is refused has no papers")
    is_all_there(decision, on_paper=path in DEMOS)


@pytest.mark.parametrize(("demo", "after"), RECORDS)
def test_they_stand_there_after_a_record_too(run: Run, tmp_path: Path, demo: str, after: tuple[str, ...]) -> None:
    folder = Path(shutil.copytree(ROOT / "demo_data" / demo, tmp_path / demo))
    run("record", folder, *(word for one in after for word in ("--after", one)), *WHO)
    job = shimopt.load_job(folder)
    assert job.records
    is_all_there(decide(job), on_paper=True)
