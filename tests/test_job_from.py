"""A job from plain values is the job that the same values make as a file, and says at which field it is wrong."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.errors import InputError, Problem
from shimopt.job import Job, job_from, load_job, load_stock
from tests.job_files import JOB, write_job

DEMOS = sorted(path for path in Path("demo_data").rglob("*.toml") if path.name == "job.toml")
PARTS = pd.DataFrame({"part": ["S-05", "S-10"], "thickness_thou": [5, 10], "on_hand": [4, 2]})


def mapping(**more: Any) -> dict[str, Any]:
    """The good job of the other tests, as TOML's own parser gives it: with floats."""
    return tomllib.loads(JOB) | more


def without_files(job: Job) -> Job:
    return replace(job, inputs=(), sources=None)


def problems_of(given: Any, stock: Any = PARTS) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        job_from(given, stock)
    return caught.value.problems


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.parent.name)
def test_every_demo_is_the_same_job_from_its_values_as_from_its_file(path: Path) -> None:
    given = tomllib.loads(path.read_text(encoding="utf-8"))
    assert without_files(job_from(given, folder=path.parent)) == without_files(load_job(path))


def test_a_drawer_may_be_a_frame_a_path_or_stock_that_was_read_before(tmp_path: Path) -> None:
    expected = without_files(load_job(write_job(tmp_path)))
    for stock in (tmp_path / "drawer.csv", str(tmp_path / "drawer.csv"), load_stock(tmp_path / "drawer.csv"), PARTS):
        made = job_from(mapping(), stock)
        assert [replace(line, row=None) for line in made.stock] == [replace(line, row=None) for line in expected.stock]
        assert replace(made, stock=(), inputs=()) == replace(expected, stock=())


# what is nearer to 0 than any length, 1e-40 mm, is refused as a slip in the exponent
@given(st.floats(-200, 200, allow_nan=False).filter(lambda value: value == 0 or abs(value) > 1e-38))
def test_a_float_counts_as_its_shortest_decimal_text(value: float) -> None:
    """The nearest whole nanometre (half to even) of the text that Python prints for the float, worked out apart."""
    gap = {"name": "a", "value": value, "checked": True}
    nm = Decimal(repr(value)) * 1_000_000
    whole = nm.to_integral_value(rounding="ROUND_HALF_EVEN")
    assert job_from(mapping(unit="mm", gap=[gap]), PARTS).gaps[0].reading.bracket.best == Fraction(whole)


@pytest.mark.parametrize("number", [np.float32(0.1), np.float64(0.1), 0.1, Decimal("0.1")])
def test_numbers_of_every_kind_are_what_they_are_printed_as(number: Any) -> None:
    gap = {"name": "a", "indicator": {"readings": np.array([number, number]), "resolution": number}, "checked": True}
    assert job_from(mapping(unit="mm", gap=[gap]), PARTS).gaps[0].reading.bracket.best == 100_000
    whole = {"name": "a", "value": np.int64(3), "seat": None}
    assert job_from(mapping(gap=[whole]), PARTS).gaps[0].reading.bracket.best == 3 * 25_400


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_what_is_no_number_is_refused_where_it_stands(number: Any) -> None:
    gaps = [{"name": "a", "value": 9}, {"name": "b", "feeler": {"go": 1, "no_go": number}}]
    [problem] = problems_of(mapping(gap=gaps))
    assert (problem.field, problem.file) == ("gap[1].feeler.no_go", "")
    assert "finite" in problem.rule


# what is wrong with the good job, and the field that is named: from 0, as a program counts
FIELDS: dict[str, tuple[dict[str, Any], str]] = {
    "a blade of two": (
        {"gap": [{"name": "a", "feeler": [{"go": 1, "no_go": 2}, {"go": "x", "no_go": 2}]}]},
        "gap[0].feeler[1].go",
    ),
    "the one blade": ({"gap": [{"name": "a", "feeler": {"go": "x", "no_go": 2}}]}, "gap[0].feeler.go"),
    "a key that nobody knows": ({"gap": [{"name": "a", "value": 9, "vlaue": 8}]}, "gap[0].vlaue"),
    "a seat that is not there": ({"gap": [{"name": "a", "value": 9, "seat": "none"}]}, "gap[0].seat"),
    "a name there twice": ({"gap": [{"name": "a", "value": 9}, {"name": "a", "value": 9}]}, "gap[1].name"),
    "a level that is none": ({"priority": ["spread", "spred"]}, "priority[1]"),
    "a window that is none": ({"window": {"min": 4, "max": 3, "source": "x"}}, "window"),
    "a source that is missing": ({"window": {"min": 4, "max": 5}}, "window.source"),
    "an effect of a name with a blank": (
        {"place": [{"name": "left cap"}], "gap": [{"name": "a", "value": 9, "effects": {"left cap": "x"}}]},
        'gap[0].effects["left cap"]',
    ),
    "a piece that was in": (
        {"place": [{"name": "upper 1"}, {"name": "upper 2", "installed": ["S-05", "S-06"]}]},
        "place[1].installed[1]",
    ),
    "a thing that no job holds": ({"notes": object()}, "notes"),
}


@pytest.mark.parametrize(("change", "field"), FIELDS.values(), ids=FIELDS.keys())
def test_a_problem_names_its_field(change: dict[str, Any], field: str) -> None:
    assert [problem.field for problem in problems_of(mapping(**change))] == [field]


def test_a_mapping_that_holds_itself_is_refused() -> None:
    endless: dict[str, Any] = {}
    endless["window"] = endless
    assert any("nested deeper" in problem.rule for problem in problems_of(endless))


def test_keys_are_texts_and_a_job_has_a_unit() -> None:
    assert [problem.rule for problem in problems_of(mapping() | {3: 4})] == ["the name of a key is a text"]
    assert "unit" in {problem.field for problem in problems_of({})}


def test_what_is_wrong_in_a_frame_is_told_by_row_and_column_with_the_rest() -> None:
    parts = pd.DataFrame({"part": ["A", "B"], "thickness_mm": [1.0, None], "on_hand": [2, 1]})
    gaps = pd.DataFrame({"gap": ["a"], "low_mm": [0.2], "high_mm": [math.inf]})
    with pytest.raises(InputError) as caught:
        job_from({"unit": "ell", "window": {"min": 0, "max": 1, "source": "x"}}, parts, gaps=gaps)
    found = {(problem.file, problem.where, problem.field) for problem in caught.value.problems}
    assert found == {
        ("", "unit", "unit"),
        ("drawer (frame)", "row 1, column thickness_mm", "drawer[1].thickness_mm"),
        ("gaps table (frame)", "row 0, column high_mm", "gaps[0].high_mm"),
    }


def test_gaps_from_a_frame_are_those_of_the_same_table_as_a_file(tmp_path: Path) -> None:
    table = pd.DataFrame({"gap": ["a", "b"], "low_mm": [0.2, 0.25], "high_mm": [0.3, 0.3], "best_mm": [None, 0.27]})
    table.to_csv(tmp_path / "gaps.csv", index=False)
    given = {"unit": "mm", "window": {"min": 0.1, "max": 0.4, "source": "x"}}
    in_memory, from_file = job_from(given, PARTS, gaps=table), job_from(given, PARTS, gaps=tmp_path / "gaps.csv")
    assert in_memory.gaps == from_file.gaps
    assert in_memory.gaps[1].reading.bracket.best == 270_000


def test_catalogues_by_name_path_and_frame(tmp_path: Path) -> None:
    (tmp_path / "own.csv").write_text("part,thickness_mm,price\nX-1,0.1,2\n")
    offers = pd.DataFrame({"part": ["Y-1"], "thickness_mm": [0.2], "price": [1.5]})
    names = {line.part.name for line in load_stock(PARTS, ["din988", tmp_path / "own.csv", offers]).lines}
    assert {"S-05", "X-1", "Y-1"} < names
    with pytest.raises(InputError, match="there is no such catalogue"):
        load_stock(PARTS, ["din989"])


def test_a_drawer_as_a_frame_keeps_names_as_they_are() -> None:
    frame = pd.DataFrame({"part": ["0050", None], "thickness_mm": [0.5, 0.3], "on_hand": [2.0, None]})
    frame["on_hand"] = frame["on_hand"].fillna(0)
    assert [line.part.name for line in load_stock(frame).lines] == ["0.30 mm", "0050"]
    assert [line.on_hand for line in load_stock(frame).lines] == [0, 2]


@pytest.mark.parametrize("wrong", [[], "job.toml", 3])
def test_what_is_no_mapping_is_refused_as_such(wrong: Any) -> None:
    with pytest.raises(InputError, match="a job is a mapping with the keys of"):
        job_from(wrong, load_stock())
