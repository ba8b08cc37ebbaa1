"""Preload as it is said: typed without a sign in a window and after fitting, and never shown as a bare minus."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.job.model import Window
from shimopt.recording import readings_after
from tests.job_files import edited, problems_of, write_job

THOU = 25_400
WINDOW = "min = 4\nmax = 12"


@pytest.mark.parametrize(
    ("stated", "signed"),
    [
        ("preload = [2, 3]", Window(-3 * THOU, -2 * THOU, "works drawings 1931, sheet 7")),
        # 0.002 in is 50,800 nm, 3 thou 76,200, 2.4 thou 60,960
        ('preload = ["0.002 in", 3]\ntarget = 2.4', Window(-76_200, -50_800, "works drawings 1931, sheet 7", -60_960)),
        ("preload = [0, 1]", Window(-THOU, 0, "works drawings 1931, sheet 7")),
    ],
)
def test_a_window_said_as_a_preload_lies_below_zero(tmp_path: Path, stated: str, signed: Window) -> None:
    job = load_job(write_job(tmp_path, edited((WINDOW, stated))))
    assert job.gaps[0].window == signed


@pytest.mark.parametrize(
    ("stated", "where", "rule", "remedy"),
    [
        ("preload = [3, 2]", "[window], preload", "the first end of a preload is the smaller one", "swap them"),
        ("preload = [-3, -2]", "[window], preload", "a preload is said without a sign", "take the minus out"),
        ("preload = 2", "[window], preload", "a preload goes from so much to so much", "preload = [2, 3]"),
        ("preload = [2, 3]\nmin = 4", "[window]", "a preload or by min and max, not both", "keep one"),
        ("preload = [2, 3]\ntarget = -2", "[window]", "a preload is said without a sign", "take the minus out"),
        ("preload = [2, 3]\ntarget = 5", "[window]", "the target lies outside min and max", "aim inside"),
    ],
)
def test_what_cannot_be_a_preload_is_refused(tmp_path: Path, stated: str, where: str, rule: str, remedy: str) -> None:
    (problem,) = problems_of(write_job(tmp_path, edited((WINDOW, stated))))
    assert problem.where == where
    assert rule in problem.rule
    assert remedy in problem.remedy


@pytest.mark.parametrize(
    ("typed", "low", "best", "high"),
    [
        ("preload 2 to 3 thou", -3, Fraction(-5, 2), -2),
        ("preload 2 to 3", -3, Fraction(-5, 2), -2),
        # read by a blade 17 to 18 at first, so known to half a thou
        ("preload 2 thou", Fraction(-5, 2), -2, Fraction(-3, 2)),
        ("preload 2 thou ± 1 thou", -3, -2, -1),
        ("preload 1 to play 2 thou", -1, Fraction(1, 2), 2),
        ("play 9 to 10 thou", 9, Fraction(19, 2), 10),
    ],
)
def test_a_preload_after_fitting_is_typed_as_it_is_said(
    tmp_path: Path, typed: str, low: Fraction, best: Fraction, high: Fraction
) -> None:
    job = load_job(write_job(tmp_path))
    found = readings_after([f"upper 1={typed}"], job)["upper 1"]
    assert (found.low, found.best, found.high) == (low * THOU, best * THOU, high * THOU)
