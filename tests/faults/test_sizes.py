"""Figures and tables of a size that no shop has: refused with a clear word, or answered in time and in little room."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from math import atan, erf, exp, log, pi, sqrt
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.probability.smooth import smooth_share_up_to
from tests.command import Run
from tests.job_files import edited, the_problem, write_job

GIGABYTE_IN_KB = 1_000_000
JOB = """\
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.1, max = 0.25, source = "s" }
[[gap]]
name = "a"
indicator = { readings = ["0.51 mm", "0.52 mm", "0.53 mm"], resolution = "0.01 mm" }
"""


@pytest.mark.parametrize("key", ["shift", "final_reading"])
@pytest.mark.parametrize("on_the_gap", [False, True])
def test_what_is_off_by_more_than_any_shim_answers_for_was_typed_in_another_unit(
    tmp_path: Path, key: str, on_the_gap: bool
) -> None:
    said = f'{key} = "10000 mm"\n'
    write_job(tmp_path, JOB + said if on_the_gap else said + JOB, "part,thickness_mm\nS,0.2\n")
    problem = the_problem(tmp_path)
    assert (problem.where.split(", ")[-1], problem.value) == (key, "10000 mm")
    assert "no shim answers for more than 25.4 mm (1 in)" in problem.rule
    assert "was another unit meant?" in problem.remedy


def normal_integral(t: float) -> float:
    return t * (1 + erf(t / sqrt(2))) / 2 + exp(-t * t / 2) / sqrt(2 * pi)


def cauchy_integral(t: float) -> float:
    """Student's t with one degree of freedom is Cauchy's: F(t) = 1/2 + atan(t) / pi."""
    return t / 2 + (t * atan(t) - log(1 + t * t) / 2) / pi


def two_degrees_integral(t: float) -> float:
    """With two: F(t) = 1/2 + t / (2 sqrt(2 + t²))."""
    return (t + sqrt(2 + t * t)) / 2


@pytest.mark.parametrize(
    ("normal", "students", "integral"),
    [(1.0, (), normal_integral), (0.0, ((1.0, 1),), cauchy_integral), (0.0, ((1.0, 2),), two_degrees_integral)],
)
def test_one_spread_far_wider_than_the_rest_is_summed_at_once_and_as_exactly(
    normal: float, students: tuple[tuple[float, int], ...], integral: Callable[[float], float]
) -> None:
    """By hand: the sum's share up to x is the integral of F from x - a to x + a, divided by 2 a."""
    begun = time.process_time()
    for half in (1.5e3, 1e5, 3e7):
        for x in (0.0, half / 3, half - 3, half, half + 2, 2 * half, -half, -half + 1):
            expected = (integral(x + half) - integral(x - half)) / (2 * half)
            assert smooth_share_up_to((half,), normal, students, x) == pytest.approx(expected, abs=1e-7)
    assert time.process_time() - begun < 10


def test_lines_of_nothing_are_counted_before_they_are_read(tmp_path: Path) -> None:
    begun = time.process_time()
    write_job(tmp_path, edited(), "\n" * 1_000_001 + "part,thickness_thou\nS,2\n")
    problem = the_problem(tmp_path)
    assert problem.rule == "the drawer has more than 1,000,000 lines, blank ones among them"
    assert problem.value == "1,000,003"
    assert time.process_time() - begun < 5


def test_more_rows_than_any_shop_has_parts_are_refused(tmp_path: Path) -> None:
    write_job(tmp_path, edited(), "part,thickness_thou\n" + "S,2\n" * 250_000)
    assert "larger than 250,000 rows" in the_problem(tmp_path).rule


def test_fifty_thousand_different_parts_are_planned_in_time_and_in_little_memory(tmp_path: Path) -> None:
    """Windows so wide that nearly all of them would do."""
    rows = "".join(f"S{n},{0.01 + n * 0.00002:.5f},2\n" for n in range(50_000))
    wide = edited(
        ("max = 0.25", "max = 0.9"), ("0.51 mm", "1.29 mm"), ("0.52 mm", "1.3 mm"), ("0.53 mm", "1.31 mm"), of=JOB
    )
    write_job(tmp_path, wide, f"part,thickness_mm,on_hand\n{rows}")
    measured = (
        "import resource, subprocess, sys\n"
        "done = subprocess.run([sys.executable, '-m', 'shimopt', 'plan', sys.argv[1], '--json'], check=True)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss, file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", measured, tmp_path], capture_output=True, text=True, check=True)
    seconds, kilobytes = map(float, done.stderr.split())
    # by hand: 1.3 less 0.8 is 0.5, the middle of the window, and 0.01 + 39,500 × 0.00002 = 0.8
    assert json.loads(done.stdout)["places"][0]["stack"][0]["part"] == "S39500"
    assert seconds < 10, seconds
    assert kilobytes < GIGABYTE_IN_KB


@pytest.mark.parametrize("turned", ["0.5", "-0.5"])
def test_two_gaps_of_two_places_are_planned_in_a_moment_whichever_way_an_effect_goes(
    tmp_path: Path, turned: str
) -> None:
    """With one sign changed the gaps, which could both be served, fight: that once took 8 to 16 s to prove."""
    gaps = "".join(
        f'[[gap]]\nname = "{name}"\nvalue = "{reading} mm ± 0.02 mm"\neffects = {{ p = "-0.68", q = "{effect}" }}\n'
        for name, reading, effect in (("a", 0.51, "0.5"), ("b", 0.33, turned))
    )
    window = 'window = { min = 0.1, max = 0.14, source = "s" }\n'
    places = '[[place]]\nname = "p"\n[[place]]\nname = "q"\n'
    rows = "".join(f"S{n},{0.05 + n * 0.03:.2f},0.00{n % 5},{1 + n % 3 * 4}\n" for n in range(24))
    job = 'unit = "mm"\ndrawer = "drawer.csv"\n' + window + places + gaps
    of = load_job(write_job(tmp_path, job, f"part,thickness_mm,tolerance_mm,on_hand\n{rows}"))
    begun = time.process_time()
    assert decide(of).proven
    # a second where nobody computes beside it
    assert time.process_time() - begun < 3


def test_a_far_wider_spread_in_a_job_is_planned_in_a_moment(run: Run, tmp_path: Path) -> None:
    write_job(tmp_path, 'shift = "25 mm"\n' + JOB, "part,thickness_mm\nS,0.2\n")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    assert run("plan", tmp_path, "--quiet")[0] == 1
    assert resource.getrusage(resource.RUSAGE_SELF).ru_utime - before < 10
