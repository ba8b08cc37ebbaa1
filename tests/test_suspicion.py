"""Readings that look like a slip get a caution with the likely meaning; honest readings get none."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.job import load_job
from shimopt.reasons import suspicions
from shimopt.reasons.suspicion import _middle_without
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker


def found_in(tmp_path: Path, unit: str, allowed: tuple[str, str], values: list[str]) -> list[Finding]:
    gaps = "".join(f'[[gap]]\nname = "{n}"\n{value}\n' for n, value in enumerate(values, start=1))
    (tmp_path / "job.toml").write_text(
        f'unit = "{unit}"\ndrawer = "d.csv"\n[window]\nmin = {allowed[0]}\nmax = {allowed[1]}\nsource = "test"\n{gaps}',
        encoding="utf-8",
    )
    (tmp_path / "d.csv").write_text(f"part,thickness_{unit}\nA,3\n", encoding="utf-8")
    return suspicions(load_job(tmp_path))


# the slips are those of published errata: a lost zero (factor 10), inches for millimetres (25.4), the wrong unit
@pytest.mark.parametrize(
    ("unit", "allowed", "values", "suspect", "meant"),
    [
        ("in", ("0.004", "0.012"), ["value = 0.010", "value = 0.011", "value = 0.3"], "3", "0.30 mm"),
        ("mm", ("0.10", "0.30"), ["value = 17", "value = 0.35"], "1", "17 thou"),
        ("mm", ("0.10", "0.30"), ["value = 17"], "1", "17 thou"),
        ("mm", ("0.10", "0.30"), ["value = 17", "value = 16", "value = 18"], "1", "17 thou"),
        ("thou", ("4", "12"), ["value = 17", "value = 160", "value = 15"], "2", "16 thou"),
        ("thou", ("4", "12"), ["value = 17", "value = 1.6", "value = 15"], "2", "16 thou"),
        ("thou", ("4", '"none"'), ["value = 17.5", "value = 18.5", "value = 175"], "3", "17.5 thou"),
        ("thou", ("0", "8"), ["value = 1.7", "value = 1.8", "value = 17"], "3", "1.7 thou"),
        ("thou", ("4", "12"), ["value = 0.015", "value = 15", "value = 17"], "1", "0.015 in"),
        (
            "mm",
            ("0.10", "0.30"),
            ["feeler = { go = 3.5, no_go = 4.0 }", "value = 0.35", "value = 0.4"],
            "1",
            "0.375 mm",
        ),
    ],
)
def test_a_slip_is_seen_and_its_likely_meaning_said(
    tmp_path: Path, unit: str, allowed: tuple[str, str], values: list[str], suspect: str, meant: str
) -> None:
    found = next(finding for finding in found_in(tmp_path, unit, allowed, values) if finding.place == suspect)
    assert found.grade == "caution"
    assert f"was {meant}" in finding_words(found, Speaker(unit))


@pytest.mark.parametrize(
    "values",
    [
        ["value = 17", "value = 9", "value = 30"],
        ["value = 2", "value = 9"],
        ["feeler = { no_go = 1.5 }", "value = 11", "value = 10"],
        ["value = 8", 'value = "60 thou"'],
        ["value = -3", "value = 11"],
        ["value = 23", "value = 1"],
        ["feeler = { go = 22, no_go = 24 }", "feeler = { no_go = 2 }"],
    ],
)
def test_honest_readings_are_not_suspected(tmp_path: Path, values: list[str]) -> None:
    found = [f for f in found_in(tmp_path, "thou", ("4", "12"), values) if f.fact.lengths()["reading"] < 50 * 25_400]
    assert found == []


def test_a_reading_with_its_own_unit_is_not_said_to_be_in_another(tmp_path: Path) -> None:
    values = ['value = "0.3 in"', "value = 10", "value = 11"]
    found = found_in(tmp_path, "thou", ("4", "12"), values)
    # thirty times its neighbours, but nobody typed a bare number: a slip of the decimal point is all that can be meant
    assert [(f.place, getattr(f.fact, "how", None)) for f in found] == [("1", "ten times too large")]


@given(st.lists(st.integers(1, 50), min_size=2, max_size=12), st.data())
def test_the_middle_of_the_neighbours_leaves_the_gap_itself_out(values: list[int], data: st.DataObject) -> None:
    own = data.draw(st.integers(0, len(values) - 1))
    others = values[:own] + values[own + 1 :]
    assert _middle_without(sorted(map(Fraction, values)), Fraction(values[own])) == Fraction(median(others))


def test_a_reading_that_is_inside_is_never_suspected(tmp_path: Path) -> None:
    assert found_in(tmp_path, "thou", ("1", "500"), ["value = 400", "value = 3", "value = 4"]) == []
