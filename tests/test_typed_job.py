"""A new job from the fields of a form: the same files as the questions on a terminal make, or all that is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.starting.new_files import write_new
from shimopt.starting.typed_job import files_typed, wrong_in

TYPED = {
    "title": "Winch",
    "unit": "thou",
    "min": "4",
    "max": "12",
    "source": "sheet 7",
    "gap.1.name": "left",
    "gap.1.kind": "feeler",
    "gap.1.go": "17",
    "gap.1.no_go": "18",
    "gap.2.name": "right",
    "gap.2.kind": "dial",
    "gap.2.readings": "10 10.5 10",
    "sizes": "7 x 2, 5",
}


def test_a_form_becomes_a_job_that_plans(tmp_path: Path) -> None:
    """17 to 18 thou less 7 is 10 to 11, in 4 to 12: by hand."""
    write_new(tmp_path / "winch", files_typed(TYPED))
    decision = decide(load_job(tmp_path / "winch"))
    after = decision.outcome.gaps["left"].after
    assert [int(end) for end in (after.low, after.high)] == [10 * 25_400, 11 * 25_400]
    assert decision.outcome.gaps["right"].verdict == "inside"
    raw = tomllib.loads((tmp_path / "winch" / "job.toml").read_text(encoding="utf-8"))
    assert raw["gap"][1]["indicator"] == {"readings": [10, 10.5, 10]}


@pytest.mark.parametrize(
    "dimensions",
    [
        "+ bore depth 1660 ± 1 - left-hand width 1649 ± 1",
        "+bore depth 1660 +/- 1\n-left-hand width 1649 ± 1\n",
        "+ bore depth 1660 ± 1; − left-hand width 1649 ± 1",
    ],
)
def test_dimensions_make_up_a_gap(dimensions: str, tmp_path: Path) -> None:
    """1660 - 1649 is 11 thou, each within 1: by hand."""
    write_new(tmp_path / "winch", files_typed(TYPED | {"gap.1.kind": "dimensions", "gap.1.dimensions": dimensions}))
    raw = tomllib.loads((tmp_path / "winch" / "job.toml").read_text(encoding="utf-8"))
    assert raw["gap"][0]["built_up"] == [
        {"name": "bore depth", "add": "1660 thou ± 1 thou"},
        {"name": "left-hand width", "take": "1649 thou ± 1 thou"},
    ]
    assert load_job(tmp_path / "winch").gap["left"].reading.bracket.best == 11 * 25_400


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"title": " "}, "What is it called?: please write a few words"),
        ({"unit": "ell"}, "Unit of your blades and shims: this is one of"),
        ({"min": "none", "max": "none"}, "One of the two must be a number"),
        ({"min": "13"}, "The least is above the largest"),
        ({"source": "?"}, "who says so"),
        ({"gap.1.no_go": "17"}, "left: The blade that goes must be thinner"),
        ({"gap.1.go": "a few"}, "left: Please write a number"),
        ({"gap.2.readings": ""}, "right: its reading is missing"),
        ({"gap.1.kind": "dimensions"}, "left: Please write the dimensions, such as + bore depth"),
        ({"gap.1.kind": "dimensions", "gap.1.dimensions": "1660 - 1649"}, "left: Please write a sign, a name"),
        ({"gap.2.name": "left"}, "Gap 2: this name is taken"),
        ({"gap.1.was_in": "7 & 5"}, "left: "),
        ({"sizes": "a lot"}, "Please write sizes like"),
        ({"shaft": "thick"}, "Shaft that the shims sit on: "),
    ],
)
def test_what_is_wrong_is_told_with_its_field(changed: dict[str, str], told: str) -> None:
    with pytest.raises(InputError) as wrong:
        files_typed(TYPED | changed)
    assert told.casefold() in str(wrong.value).casefold()


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(InputError) as wrong:
        files_typed(TYPED | {"title": "", "min": "13", "gap.1.go": "x", "sizes": "y"})
    assert len(wrong.value.problems) == 4


def test_what_looks_like_another_unit_is_asked_about_and_stands_once_somebody_is_sure() -> None:
    """Blades of 0.43 and 0.46 in a job in thou are 0.43 and 0.46 mm, as they read (17 and 18 thou)."""
    slip = TYPED | {"gap.1.go": "0.43", "gap.1.no_go": "0.46"}
    with pytest.raises(InputError) as asked:
        files_typed(slip)
    assert "It is as typed" in str(asked.value)
    assert "checked = true" in files_typed(slip | {"sure": "1"})["job.toml"]


def test_a_figure_of_the_dimensions_with_its_point_forgotten_is_asked_about_at_its_gap() -> None:
    """1649 for 16.49 leaves 11 thou; 165900 leaves 164 in, and 4149 less than nothing: by hand."""
    built_up = TYPED | {"gap.1.kind": "dimensions", "gap.1.no_go": "", "gap.1.go": ""}
    far = built_up | {"gap.1.dimensions": "+ bore depth 165900 - width 1649"}
    with pytest.raises(InputError) as refused:
        files_typed(far)
    (asked,) = refused.value.problems
    assert asked.rule.startswith("the dimensions come to 164251 thou, far above the window (4 to 12 thou)")
    assert "checked = true" in files_typed(far | {"sure": "1"})["job.toml"]
    # what cannot be is told at its gap and its field, in no words of a file
    (wrong,) = wrong_in(built_up | {"gap.1.dimensions": "+ bore depth 1660 - width 5809"})
    assert (wrong.where, wrong.field, wrong.file) == ("left", "gap.1.dimensions", "")
    assert "4149 thou less than nothing" in wrong.rule


def test_few_pulls_of_a_dial_and_a_coarse_one_are_asked_about_as_on_the_terminal() -> None:
    """One division of 10 thou beside pulls of at most 10.5: by hand."""
    few = TYPED | {"gap.2.readings": "10 10.5", "gap.2.division": "10"}
    with pytest.raises(InputError) as refused:
        files_typed(few)
    assert [one.rule for one in refused.value.problems] == [
        "One division is 10, and the pulls are hardly more",
        "So few pulls say nothing of how well it repeats",
    ]
    assert "resolution = 10 }" in files_typed(few | {"sure": "1"})["job.toml"]
    assert "resolution = 0.5 }" in files_typed(TYPED | {"gap.2.division": "0.5"})["job.toml"]


def test_markup_and_toml_in_every_field_is_only_ever_text(tmp_path: Path) -> None:
    typed = 'x"]\n[[gap]]\n<script>'
    files = files_typed(TYPED | {"title": typed, "source": typed, "gap.1.name": typed})
    write_new(tmp_path / "job", files)
    assert len(load_job(tmp_path / "job").gaps) == 2
