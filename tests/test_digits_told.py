"""Three-decimal effects leave ends such as 0.3997: papers and screen show the readings' digits, one more at most."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

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
