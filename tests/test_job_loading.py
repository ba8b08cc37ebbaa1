"""A good job, read: everything that job.toml says ends up where it belongs."""

from __future__ import annotations

import random
from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.job import built_in_catalogues, load_job
from shimopt.job.levels import Level
from shimopt.lengths import Bracket
from shimopt.parts import load_stock
from tests.job_files import DRAWER, JOB, edited, problems_of, write_job

THOU = 25_400  # nm: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST SP 811)


def test_a_job_is_named_by_its_folder_or_its_file(tmp_path: Path) -> None:
    write_job(tmp_path)
    by_folder, by_file, by_text = load_job(tmp_path), load_job(tmp_path / "job.toml"), load_job(str(tmp_path))
    assert by_folder == by_file == by_text
    assert by_folder.inputs == (str(tmp_path / "job.toml"), str(tmp_path / "drawer.csv"))


def test_windows_seats_and_readings_in_the_units_of_the_job_and_their_own(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path))
    first, second = job.gaps
    assert (job.title, job.unit) == ("Drive of the swing bridge", "thou")
    assert (first.window.min, first.window.max, first.window.target) == (4 * THOU, 12 * THOU, Fraction(8 * THOU))
    # 0.6248 in ± 0.0002 in is 15.86484 to 15.87500 mm, by hand
    assert first.seat is not None
    assert first.seat.shaft == Bracket.between(15_864_840, 15_875_000)
    assert first.reading.bracket == Bracket.between(17 * THOU, 18 * THOU)
    assert second.reading.bracket == Bracket.between(9 * THOU, 9 * THOU)
    assert second.seat is None
    assert [gap.effects for gap in job.gaps] == [(("upper 1", Fraction(-1)),), (("upper 2", Fraction(-1)),)]


@pytest.mark.parametrize(
    ("unit", "value", "nm"),
    [
        ("mm", "0.35", 350_000),
        ("um", "350", 350_000),
        ("in", "0.017", 17 * THOU),
        ("thou", "17", 17 * THOU),
        ("mm", '"17 thou"', 17 * THOU),
        ("thou", '"350 µm"', 350_000),
        ("mm", '"5/64 in"', 1_984_375),
    ],
)
def test_a_bare_number_is_in_the_unit_and_a_text_carries_its_own(
    tmp_path: Path, unit: str, value: str, nm: int
) -> None:
    # what was 4 to 12 thou is another window in another unit: whoever says checked = true is not asked about that
    more = ("value = 9", f"checked = true\nvalue = {value}"), ("feeler =", "checked = true\nfeeler =")
    job = load_job(write_job(tmp_path, edited(('"thou"', f'"{unit}"'), *more)))
    assert job.gaps[1].reading.bracket == Bracket.between(nm, nm)
    assert (job.gaps[1].typed_in is not None) == (not value.startswith('"'))


def test_a_value_with_a_tolerance(tmp_path: Path) -> None:
    reading = load_job(write_job(tmp_path, edited(("value = 9", 'value = "0.35 mm ± 0.01 mm"')))).gaps[1].reading
    assert (reading.bracket, reading.taken_as_exact) == (Bracket.between(340_000, 360_000), False)


def test_a_value_below_nothing_is_preload(tmp_path: Path) -> None:
    assert load_job(write_job(tmp_path, edited(("value = 9", "value = -2")))).gaps[1].reading.bracket.low == -2 * THOU


def test_a_window_open_at_one_end_has_no_target_of_its_own(tmp_path: Path) -> None:
    window = load_job(write_job(tmp_path, edited(("max = 12", 'max = "none"')))).gaps[0].window
    assert (window.min, window.max, window.target) == (4 * THOU, None, None)


def test_a_stated_target(tmp_path: Path) -> None:
    assert load_job(write_job(tmp_path, edited(("max = 12", "max = 12\ntarget = 5")))).gaps[0].window.target == 5 * THOU


def test_a_gap_with_a_window_of_its_own(tmp_path: Path) -> None:
    text = 'value = 9\nwindow = { min = "0.1 mm", max = "none", source = "letter of 3 May" }'
    window = load_job(write_job(tmp_path, edited(("value = 9", text)))).gaps[1].window
    assert (window.min, window.max, window.source) == (100_000, None, "letter of 3 May")


def test_what_a_seat_says_of_the_most_pieces_comes_before_what_the_job_says(tmp_path: Path) -> None:
    stacks = ("[[seat]]", "[stacks]\nmost_pieces = 2\n\n[[seat]]")
    shaft = 'shaft = "0.6248 in ± 0.0002 in"'
    assert [p.most_pieces for p in load_job(write_job(tmp_path)).places] == [3, 3]
    assert [p.most_pieces for p in load_job(write_job(tmp_path, edited(stacks))).places] == [2, 2]
    for seat, holds in ((1, 1), (5, 5)):
        job = edited(stacks, (shaft, f"most_pieces = {seat}"))
        assert [p.most_pieces for p in load_job(write_job(tmp_path, job)).places] == [holds, 2]


def test_a_seat_that_takes_no_shims(tmp_path: Path) -> None:
    job = edited(('shaft = "0.6248 in ± 0.0002 in"', 'shims_allowed = false\nwhy = "soft face"\nbore_play = "0.2 mm"'))
    seat = load_job(write_job(tmp_path, job)).gaps[0].seat
    assert seat is not None
    assert (seat.shims_allowed, seat.why, seat.bore_play) == (False, "soft face", 200_000)


def test_a_balance_with_what_it_may_differ_and_an_offset(tmp_path: Path) -> None:
    job = (
        JOB + '\n[[balance]]\nname = "upper"\ngaps = ["upper 1", "upper 2"]\nwithin = 2\noffset = { "upper 2" = -1 }\n'
    )
    [balance] = load_job(write_job(tmp_path, job)).balances
    assert (balance.name, balance.gaps, balance.within, dict(balance.offset)) == (
        "upper",
        ("upper 1", "upper 2"),
        2 * THOU,
        {"upper 2": -THOU},
    )


def test_levels_with_priority_come_first_and_the_rest_keep_their_order(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, edited(("drawer =", 'priority = ["spread", "pieces"]\ndrawer ='))))
    assert job.levels[:3] == ("spread", "pieces", "outside")
    assert sorted(job.levels) == sorted(Level)


def test_who_and_what_the_job_is_for(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, edited(("drawer =", 'owner = "the harbour"\nnotes = "cold"\ndrawer ='))))
    assert dict(job.about) == {"owner": "the harbour", "notes": "cold"}


def test_a_job_without_a_title(tmp_path: Path) -> None:
    assert load_job(write_job(tmp_path, edited(('title = "Drive of the swing bridge"\n', "")))).title == "untitled job"


def test_reading_a_job_again_gives_the_same_job_whatever_the_order_of_rows(tmp_path: Path) -> None:
    header, *rows = DRAWER.splitlines()
    first = load_job(write_job(tmp_path, drawer=DRAWER))
    random.Random(1931).shuffle(rows)
    assert load_job(write_job(tmp_path, drawer="\n".join([header, *reversed(rows)]))) == first


def test_a_built_in_catalogue_is_named_without_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rings = tmp_path / "elsewhere.csv"
    rings.write_text("part,thickness_mm\nR-1,1\n")
    monkeypatch.setattr("shimopt.job.from_files.built_in_catalogues", lambda: {"support-rings": rings})
    job = load_job(write_job(tmp_path, edited(("drawer =", 'catalogues = ["support-rings"]\ndrawer ='))))
    assert "R-1" in {line.part.name for line in job.stock}
    [problem] = problems_of(write_job(tmp_path, edited(("drawer =", 'catalogues = ["suport-rings"]\ndrawer ='))))
    assert problem.remedy == "did you mean support-rings?"


def test_every_built_in_catalogue_is_a_parts_table() -> None:
    for path in built_in_catalogues().values():
        assert path.suffix == ".csv"
        assert load_stock(None, [path]).lines


def test_levels_stand_in_the_order_of_the_design_and_know_what_they_measure() -> None:
    # the table of levels, and what each counts, as the decision is described
    assert tuple(Level) == (
        *("outside", "miss", "unproven", "doubt", "excess", "bought"),
        *("opened", "pieces", "cautions", "spread", "target", "cost"),
    )
    assert {level for level in Level if level.is_length} == {"miss", "doubt", "excess", "spread", "target"}
    assert {level for level in Level if level.of == "stack"} == {"opened", "pieces", "cautions"}
    assert {level for level in Level if level.of == "gap"} == {"outside", "miss", "unproven", "doubt", "target"}
    assert {level for level in Level if level.of == "purchase"} == {"bought", "cost"}
