"""A slip is quoted as it was typed, in the unit that stood there; what was meant is rounded as one reads it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import Run
from tests.job_files import write_job

DRAWER = "part,thickness_mm,on_hand\nS-20,0.20,2\n"


@pytest.mark.parametrize(
    ("unit", "form", "said"),
    [
        # a text with its own unit in a job in mm: 0.017 thou is 432 nm
        ("mm", 'value = "0.017 thou"', "0.017 thou? 17 thou was probably meant"),
        # with ± it is written as text, so its unit too may be another than was meant: 0.017 in are 17 thou
        ("mm", 'value = "0.017 thou ± 0.001 thou"', "0.017 thou? 17 thou, or 0.017 in, was probably meant"),
        # the pulls as read, not their mean of 0.01233
        ("thou", "indicator = { readings = [0.012, 0.013, 0.012] }", "0.012 to 0.013 thou? 12 to 13 thou, or 0.012"),
        ("mm", 'indicator = { readings = ["0.012 thou", "0.013 thou"] }', "0.012 to 0.013 thou? 12 to 13 thou was"),
        # 0.43 mm are 16.92913 thou
        ("thou", "value = 0.43", "0.43 thou? 16.93 thou, or 0.43 mm, was probably meant"),
        ("thou", "value = 0.25", "0.25 thou? 9.843 thou, or 0.25 mm, was probably meant"),
    ],
)
def test_a_slip_is_quoted_as_typed(run_unfolded: Run, tmp_path: Path, unit: str, form: str, said: str) -> None:
    job = f'unit = "{unit}"\ndrawer = "drawer.csv"\nwindow = {{ min = "4 thou", max = "12 thou", source = "s" }}\n'
    code, _, err = run_unfolded("plan", write_job(tmp_path, f'{job}[[gap]]\nname = "w"\n{form}\n', DRAWER))
    assert code == 2
    assert said in err
