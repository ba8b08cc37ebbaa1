"""gaps.csv: what its rows become, and every way in which they can be wrong."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.job import Job, load_job
from shimopt.lengths import Bracket
from tests.job_files import check, edited, problems_of, the_problem, write_job

WITH_GAPS = edited(("drawer =", 'gaps = "gaps.csv"\nbalance_within = 2\ndrawer ='))
NO_WINDOW = '[window]\nmin = 4\nmax = 12\nsource = "works drawings 1931, sheet 7"\n'
THOU = 25_400  # nm, exact


def read(folder: Path, table: str, job: str = WITH_GAPS) -> Job:
    return load_job(write_job(folder, job, gaps_csv=table))


def test_a_row_is_read_from_low_to_high_with_the_middle_as_best(tmp_path: Path) -> None:
    gap = read(tmp_path, "gap,low_thou,high_thou\nlower 1,8,9\n").gap["lower 1"]
    assert gap.reading.bracket == Bracket(Fraction(8 * THOU), Fraction(17 * THOU, 2), Fraction(9 * THOU))
    assert (gap.window.min, gap.window.max, gap.window.source) == (4 * THOU, 12 * THOU, "works drawings 1931, sheet 7")


def test_a_best_estimate_need_not_be_the_middle(tmp_path: Path) -> None:
    gap = read(tmp_path, "gap,low_thou,best_thou,high_thou\nlower 1,8,8.2,9\n").gap["lower 1"]
    assert gap.reading.bracket.best == Fraction(82 * THOU, 10)


def test_a_row_in_another_unit_than_the_job(tmp_path: Path) -> None:
    gap = read(tmp_path, "gap,low_mm,high_in\nlower 1,0.2,0.02\n").gap["lower 1"]
    # 0.02 in = 0.508 mm
    assert (gap.reading.bracket.low, gap.reading.bracket.high) == (Fraction(200_000), Fraction(508_000))


def test_a_row_with_a_window_of_its_own(tmp_path: Path) -> None:
    table = "gap,low_thou,high_thou,min_thou,max_thou,target_thou\na,8,9,5,none,6\nb,8,9,,10,\nc,8,9,,,\n"
    gap = read(tmp_path, table).gap
    assert (gap["a"].window.min, gap["a"].window.max, gap["a"].window.target) == (5 * THOU, None, Fraction(6 * THOU))
    # what b leaves blank comes from the job
    assert (gap["b"].window.min, gap["b"].window.max, gap["b"].window.target) == (
        4 * THOU,
        10 * THOU,
        Fraction(7 * THOU),
    )
    assert (gap["c"].window.min, gap["c"].window.max, gap["c"].window.target) == (
        4 * THOU,
        12 * THOU,
        Fraction(8 * THOU),
    )


def test_a_row_states_its_window_where_the_job_has_none(tmp_path: Path) -> None:
    job = edited(
        (NO_WINDOW, ""),
        ("value = 9", 'value = 9\nwindow = { min = 4, max = 12, source = "s" }'),
        ("no_go = 18 }", 'no_go = 18 }\nwindow = { min = 4, max = 12, source = "s" }'),
        of=WITH_GAPS,
    )
    gap = read(tmp_path, "gap,low_thou,high_thou,min_thou,max_thou\na,8,9,none,10\n", job).gap["a"]
    assert (gap.window.stated_min, gap.window.max, gap.window.source) == (None, 10 * THOU, "gaps.csv, row 2")


def test_rows_of_one_balance_come_within_what_the_job_says(tmp_path: Path) -> None:
    job = read(tmp_path, "gap,low_thou,high_thou,balance,seat\na,8,9,lower,plain end\nb,8,9,lower,\nc,8,9,,\n")
    [balance] = job.balances
    assert (balance.name, balance.gaps, balance.within) == ("lower", ("a", "b"), 2 * THOU)
    assert job.gap["a"].seat is not None
    assert (job.gap["a"].seat.name, job.gap["b"].seat) == ("plain end", None)


def test_a_balance_of_the_job_may_name_rows(tmp_path: Path) -> None:
    job = WITH_GAPS + '\n[[balance]]\nname = "all"\ngaps = ["upper 1", "a"]\n'
    assert read(tmp_path, "gap,low_thou,high_thou\na,8,9\n", job).balances[0].gaps == ("upper 1", "a")


def test_a_semicolon_table_with_decimal_commas(tmp_path: Path) -> None:
    gap = read(tmp_path, "gap;low_mm;high_mm\na;0,20;0,25\n").gap["a"]
    assert (gap.reading.bracket.low, gap.reading.bracket.high) == (Fraction(200_000), Fraction(250_000))


def test_columns_that_nobody_reads_are_told(tmp_path: Path) -> None:
    assert read(tmp_path, "gap,low_mm,high_mm,weather\na,0.2,0.3,wet\n").not_read == (("gaps.csv", "weather"),)


# the table; where the reader points, what it found there, words of its rule and remedy
CASES: dict[str, tuple[str, str, str, str, str]] = {
    "low above high": ("gap,low_mm,high_mm\na,2,1\n", "row 2, column low_mm", "2", "low is above high", "swap"),
    "best below low": (
        "gap,low_mm,high_mm,best_mm\na,1,2,0.9\n",
        "row 2, column best_mm",
        "0.9",
        "outside low and high",
        "between",
    ),
    "best above high": (
        "gap,low_mm,high_mm,best_mm\na,1,2,2.1\n",
        "row 2, column best_mm",
        "2.1",
        "outside low and high",
        "between",
    ),
    "no name": ("gap,low_mm,high_mm\n,1,2\n", "row 2, column gap", "", "has a name", "fill in"),
    "no high": ("gap,low_mm,high_mm\na,1,\n", "row 2, column high_mm", "", "from low to high", "fill in high"),
    "no low": ("gap,low_mm,high_mm\na,,1\n", "row 2, column low_mm", "", "from low to high", "fill in low"),
    "words": ("gap,low_mm,high_mm\na,tight,1\n", "row 2, column low_mm", "tight", "not a number", "0.35"),
    "nan": ("gap,low_mm,high_mm\na,nan,1\n", "row 2, column low_mm", "nan", "not a number", "0.35"),
    "1e400": ("gap,low_mm,high_mm\na,1,1e400\n", "row 2, column high_mm", "1e400", "out of all range", "digits"),
    "min over max": (
        "gap,low_mm,high_mm,min_mm,max_mm\na,1,2,3,2\n",
        "row 2, column min_mm",
        "3",
        "min is above max",
        "swap",
    ),
    "a max below the job's min": (
        "gap,low_mm,high_mm,min_mm,max_mm\na,1,2,,0.01\n",
        "row 2, column max_mm",
        "0.01",
        "min is above max",
        "swap",
    ),
    "neither min nor max": (
        "gap,low_mm,high_mm,min_mm,max_mm\na,1,2,none,none\n",
        "row 2, column min_mm",
        "none",
        "neither min nor max",
        "state at least one",
    ),
    "a target outside": (
        "gap,low_mm,high_mm,min_mm,max_mm,target_mm\na,1,2,1,2,3\n",
        "row 2, column target_mm",
        "3",
        "outside min and max",
        "inside the window",
    ),
    "a min in words": (
        "gap,low_mm,high_mm,min_mm\na,1,2,little\n",
        "row 2, column min_mm",
        "little",
        "not a number",
        "0.35",
    ),
    "a seat that nobody described": (
        "gap,low_mm,high_mm,seat\na,1,2,plain ends\n",
        "row 2, column seat",
        "plain ends",
        "no such seat",
        "did you mean plain end?",
    ),
    "a gap that job.toml has": (
        "gap,low_mm,high_mm\nupper 2,1,2\n",
        "row 2, column gap",
        "upper 2",
        'the other at [[gap]] 2 "upper 2", name of',
        "a name of its own",
    ),
    "a gap on two rows": (
        "gap,low_mm,high_mm\na,1,2\na,1,2\n",
        "row 3, column gap",
        "a",
        "the other at row 2",
        "a name of its own",
    ),
    "a balance of one row": (
        "gap,low_mm,high_mm,balance\na,1,2,low\nb,1,2,\n",
        "row 2, column balance",
        "low",
        "at least two gaps",
        "blank",
    ),
    "no column high": ("gap,low_mm\na,1\n", "column high_mm", "", "is missing", "add the column high_mm (or _um"),
    "no column gap": ("low_mm,high_mm\n1,2\n", "column gap", "", "is missing", "add the column gap"),
    "a column misspelled": ("gap,low_mm,hihg_mm\na,1,2\n", "column hihg_mm", "", "not known", "did you mean high_mm?"),
    "a column without its unit": ("gap,low,high_mm\na,1,2\n", "column low", "", "ends in its unit", "low_mm"),
    "only a header": ("gap,low_mm,high_mm\n", "", "", "a header and no rows", "write rows"),
    "nothing": ("", "", "", "gaps table is empty", "write a header"),
    "a row too short": ("gap,low_mm,high_mm\na,1\n", "row 2", "", "2 cells and the header 3", "comma"),
}


@pytest.mark.parametrize(("table", "where", "value", "rule", "remedy"), CASES.values(), ids=CASES.keys())
def test_the_reader_says_what_is_wrong_in_a_gaps_table(
    tmp_path: Path, table: str, where: str, value: str, rule: str, remedy: str
) -> None:
    problem = the_problem(write_job(tmp_path, WITH_GAPS, gaps_csv=table))
    check(problem, file="gaps.csv", where=where, value=value, rule=[rule], remedy=[remedy])


def test_a_balance_of_the_job_and_of_the_table(tmp_path: Path) -> None:
    job = WITH_GAPS + '\n[[balance]]\nname = "all"\ngaps = ["upper 1", "a"]\n'
    write_job(tmp_path, job, gaps_csv="gap,low_mm,high_mm,balance\na,1,2,all\nb,1,2,all\n")
    check(
        the_problem(tmp_path),
        file="gaps.csv",
        where="row 2, column balance",
        value="all",
        rule=["the job has a [[balance]] of this name"],
        remedy=["one of the two places"],
    )


def test_a_row_with_half_a_window_where_the_job_has_none(tmp_path: Path) -> None:
    write_job(
        tmp_path, edited((NO_WINDOW, ""), of=WITH_GAPS), gaps_csv="gap,low_thou,high_thou,min_thou\na,1,2,1\nb,1,2,\n"
    )
    no_max, no_window = problems_of(tmp_path)
    check(no_max, file="gaps.csv", where="row 2, column max_thou", value="", rule=["no max"], remedy=['"none"'])
    assert no_window.value == '1 "upper 1", 2 "upper 2", row 3 "b"'


def test_a_balance_is_not_blamed_for_rows_that_cannot_be_read(tmp_path: Path) -> None:
    job = WITH_GAPS + '\n[[balance]]\nname = "all"\ngaps = ["upper 1", "a"]\n'
    [ragged] = problems_of(write_job(tmp_path, job, gaps_csv="gap,low_mm,high_mm\na,1\nb,1,2\n"))
    assert ragged.where == "row 2"
