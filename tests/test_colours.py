"""Whether everybody can read pictures: contrast by the formula of WCAG 2.2, and no colour of unknown contrast."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.render.pictures import picture_colours
from shimopt.render.pictures.gap_picture import job_picture
from shimopt.render.pictures.section_picture import sections_svg
from shimopt.seats import on_seat
from tests.seats import GOOD_PART, GOOD_SEAT, mm

DEMO = Path(__file__).parents[1] / "demo_data"
MIXED = {value for name, value in vars(picture_colours).items() if name.isupper()}


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_is_that_of_the_standard() -> None:
    """Black on white is 21 to 1; #767676 is known as the lightest grey that has 4.5 to 1 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("ink", ["INK", "FAINT", "SUITS", "CAUTION", "AGAINST"])
def test_what_is_written_can_be_read_on_paper(ink: str) -> None:
    assert contrast(getattr(picture_colours, ink), picture_colours.PAPER) >= 4.5


@pytest.mark.parametrize(
    ("ink", "ground"), [("INK", "BAND"), ("FAINT", "BAND"), ("INK", "METAL"), ("INK", "BODY"), ("INK", "PLAY")]
)
def test_what_is_written_upon_something_can_be_read(ink: str, ground: str) -> None:
    assert contrast(getattr(picture_colours, ink), getattr(picture_colours, ground)) >= 4.5


@pytest.mark.parametrize("line", ["SUITS", "AGAINST", "CAUTION", "INK"])
@pytest.mark.parametrize("ground", ["PAPER", "METAL", "BODY", "OTHER", "PLAY", "TOO_MUCH"])
def test_a_line_that_tells_something_is_seen(line: str, ground: str) -> None:
    assert contrast(getattr(picture_colours, line), getattr(picture_colours, ground)) >= 3


def test_pictures_use_no_other_colours() -> None:
    pictures = [job_picture(decide(load_job(DEMO / name)), "mm") for name in ("swing-bridge", "slipway-winch")]
    parts = [GOOD_PART, replace(GOOD_PART, inner=mm("15.5")), replace(GOOD_PART, inner=mm("16.5"))]
    pictures.append(sections_svg([(part, GOOD_SEAT, on_seat(part, GOOD_SEAT)) for part in parts], "mm"))
    for picture in pictures:
        used = set(re.findall(r'(?:fill|stroke)="([^"u][^"]*)"', picture)) - {"none"}
        assert used <= MIXED
