"""Three-decimal effects leave ends such as 0.3997: papers and screen show the readings' digits, one more at most."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.words.digits import few_digits
from shimopt.words.reading_words import both_units
from shimopt.words.reason_words import reason_words
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.job_files import write_job

# 0.60 less 0.356 x 0.501 = 0.421644 to 0.60 less 0.356 x 0.499 = 0.422356 mm
JOB = """
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "left"
[[gap]]
name = "backlash"
feeler = { go = 0.60, no_go = 0.62 }
window = { min = 0.40, max = 0.46, source = "G.2" }
effects = { left = -0.356 }
"""


def test_the_letter_the_sheet_and_the_plan_show_the_same_three_digits(run_unfolded: Run, tmp_path: Path) -> None:
    """0.421644 to 0.442356 rounded outward: 0.421 to 0.443 mm."""
    path = write_job(tmp_path, JOB, "part,thickness_mm,tolerance_mm,on_hand\nS-50,0.50,0.001,1\n")
    texts = [run_unfolded("plan", path)[1]]
    for kind in ("letter", "sheet"):
        page = tmp_path / f"{kind}.html"
        run_unfolded(kind, path, "-o", page)
        body = page.read_text(encoding="utf-8").partition("<body")[2]
        texts.append(" ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split()))
    for text in texts:
        assert "0.421 to 0.443" in text
        assert "0.4216" not in text
        assert "0.60 to 0.62" in text


def test_why_the_card_and_the_record_show_no_more(run_unfolded: Run, tmp_path: Path) -> None:
    """The same gap; at 0.58 read it comes to 0.401644 at least."""
    path = write_job(tmp_path, JOB, "part,thickness_mm,tolerance_mm,on_hand\nS-50,0.50,0.001,1\n")
    assert re.search(r"S-50 +0\.499 to 0\.501 +0\.421 to 0\.443 +inside", run_unfolded("why", path, "backlash")[1])
    # pair by pair of blades
    assert "then 0.401 to 0.423 / 0.421 to 0.443" in run_unfolded("order", path)[1]
    who = ("--person", "M. Hale", "--instrument", "feeler gauge")
    out = run_unfolded("record", path, "--after", "backlash=0.42 to 0.44 mm", *who)[1]
    assert "predicted 0.421 to 0.443 mm, read 0.42 to 0.44 mm" in out


def test_two_lengths_that_differ_are_not_rounded_to_one() -> None:
    """By hand: 0.01556 and 0.01551 are both 0.016 at three digits; half goes to even."""
    say = Speaker("mm")
    assert few_digits(say, 62_100, 15_500) == ["0.062 mm", "0.016 mm"]
    assert few_digits(say, 15_560, 15_440) == ["0.016 mm", "0.015 mm"]
    assert few_digits(say, 15_560, 15_510) == ["0.0156 mm", "0.0155 mm"]
    # something is never shown as nothing
    assert few_digits(say, 400) == ["0.0004 mm"]


@pytest.mark.parametrize(
    ("unit", "low", "high", "said"),
    [
        ("mm", 510_000, 531_000, "0.510 to 0.531 mm"),
        ("thou", 48_260, 50_800, "1.9 to 2.0 thou"),
        ("thou", 50_800, 152_400, "2 to 6 thou"),
        ("mm", -30_000, 12_500, "preload 0.0300 to play 0.0125 mm"),
        ("mm", -25_000, -20_000, "preload 0.020 to 0.025 mm"),
        # less than can be shown is no number with digits
        ("mm", 10, 500_000, "under 0.0001 mm to 0.50 mm"),
    ],
)
def test_both_ends_have_the_same_digits(unit: str, low: int, high: int, said: str) -> None:
    assert Speaker(unit).clearance(low, high) == said


def test_the_other_system_has_the_same_digits_at_both_ends_too() -> None:
    """17.5 and 17.72 thou are 0.4445 and 0.4501 mm."""
    assert both_units(444_500, 450_088, Speaker("thou")) == "17.50 to 17.72 thou (0.444 to 0.450 mm)"


def test_why_says_how_far_off_it_is_with_the_digits_of_the_letter(tmp_path: Path) -> None:
    """0 to 1.5 of 6 to 12 thou is 5.25 too tight: 5.2 everywhere, a gauge tells no more."""
    job = (
        'unit = "thou"\ndrawer = "drawer.csv"\n[[place]]\nname = "g"\ninstalled = ["K-12"]\n'
        '[[gap]]\nname = "g"\nvalue = "0.75 thou ± 0.7 thou"\nwindow = { min = 6, max = 12, source = "s" }\n'
    )
    found = decide(load_job(write_job(tmp_path, job, "part,thickness_thou,on_hand\nK-12,12,0\nK-05,5,1\n")))
    say = Speaker.of(found.job)
    told = " ".join(reason_words(one, say) for one in found.reasons)
    assert "5.2 thou too tight" in told
    assert "5.25" not in told
