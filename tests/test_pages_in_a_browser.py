"""Letter, sheet and card as a browser shows them: on a phone, for those who listen or see little, and printed."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pypdf
import pytest

from shimopt.cli import main
from tests.command import Run
from tests.hard_job import write_hard_job

pytestmark = pytest.mark.browser
DEMO = Path(__file__).parents[1] / "demo_data"
PHONE, DESK = 390, 1200  # CSS pixels
DEMOS = ("swing-bridge", "slipway-winch", "quarry-tram", "twelve-valve", "fulling-mill")
DATE = "2026-05-03"


@pytest.fixture(scope="module")
def pages(chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:  # noqa: ARG001 (none without it)
    """The pages of all papers of all jobs."""
    folder, made = tmp_path_factory.mktemp("pages"), []
    for job in (*(DEMO / name for name in DEMOS), write_hard_job(folder, 8)):
        for name, *words in (("letter", "-o"), ("sheet", "--card", "-o"), ("order", "--card")):
            made.append(folder / f"{job.name} {name}.html")
            with pytest.raises(SystemExit):
                main([name, str(job), "--date", DATE, *words, str(made[-1])])
    return made


def wider_than_the_screen(page: Any) -> list[str]:
    """Whatever of a page reaches beyond the right edge, or is cut off there."""
    told: list[str] = page.evaluate(
        """() => [...document.body.querySelectorAll("*")]
            .filter(e => !e.closest("svg") && e.getBoundingClientRect().right > innerWidth + 0.5)
            .map(e => e.outerHTML.slice(0, 120))"""
    )
    return told


def smallest_text(page: Any) -> float:
    """The size of the smallest text that is shown [px]; of a picture's as it is scaled."""
    found: float = page.evaluate(
        """() => Math.min(...[...document.querySelectorAll("body *")]
            .filter(e => e.getClientRects().length && [...e.childNodes].some(n => n.nodeType == 3 && n.data.trim()))
            .map(e => { const px = parseFloat(getComputedStyle(e).fontSize), svg = e.ownerSVGElement;
                        return svg ? px * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : px; }))"""
    )
    return found


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_pages_fit_the_screen_and_nobody_is_kept_out(chromium: Any, pages: list[Path], width: int) -> None:
    """Axe is the accessibility checker of https://github.com/dequelabs/axe-core; it finds nothing."""
    from axe_playwright_python.sync_playwright import Axe

    axe = Axe()
    context = chromium.new_context(viewport={"width": width, "height": 844}, bypass_csp=True)
    page = context.new_page()
    for file in pages:
        page.goto(file.as_uri())
        assert width == DESK or smallest_text(page) >= 11, file.name
        assert wider_than_the_screen(page) == [], file.name
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = axe.run(page).response["violations"]
        assert [(one["id"], one["nodes"][0]["html"]) for one in found] == [], file.name
    context.close()


def test_the_page_prints_on_as_many_sheets_as_the_paper_has(chromium: Any, run: Run, tmp_path: Path) -> None:
    context = chromium.new_context()
    page = context.new_page()
    for name in ("swing-bridge", "slipway-winch", "quarry-tram"):
        for command, more in (("letter", ()), ("sheet", ()), ("sheet", ("--card",))):
            for ending in ("pdf", "html"):
                run(command, DEMO / name, *more, "-o", tmp_path / f"paper.{ending}", "--date", DATE)
            page.goto((tmp_path / "paper.html").as_uri())
            printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
            paper = pypdf.PdfReader(tmp_path / "paper.pdf")
            assert len(printed.pages) == len(paper.pages), (name, command, more)
            # A4, as the paper
            assert [float(side) for side in printed.pages[0].mediabox[2:]] == pytest.approx([595.28, 841.89], abs=1)
    context.close()
