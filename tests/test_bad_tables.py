"""Every way in which a drawer or a catalogue can be wrong: what the reader says, and at which row and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job_files import check, edited, problems_of, the_problem, write_job

WITH_CATALOGUE = edited(("drawer =", 'catalogues = ["catalogue.csv"]\ndrawer ='))
NOT_MET = "whole number from 0"

# the drawer; where the reader points, what it found there, words of its rule and remedy
CELLS: dict[str, tuple[str, str, str, str, str]] = {
    "a negative thickness": (
        "part,thickness_mm\nA,1\nB,-0.1\n",
        "row 3, column thickness_mm",
        "-0.1",
        "above zero",
        "measure",
    ),
    "a thickness of zero": ("part,thickness_mm\nA,0\n", "row 2, column thickness_mm", "0", "above zero", "measure"),
    "no thickness": ("part,thickness_mm\nA,\n", "row 2, column thickness_mm", "", "no thickness", "fill in"),
    "a thickness of nan": ("part,thickness_mm\nA,nan\n", "row 2, column thickness_mm", "nan", "not a number", "0.35"),
    "an endless thickness": ("part,thickness_mm\nA,inf\n", "row 2, column thickness_mm", "inf", "not a number", "0.35"),
    "a thickness of 1e400": (
        "part,thickness_mm\nA,1e400\n",
        "row 2, column thickness_mm",
        "1e400",
        "out of all range",
        "digits",
    ),
    "a thickness next to nothing": (
        "part,thickness_mm\nA,1e-999999999\n",
        "row 2, column thickness_mm",
        "1e-999999999",
        "not a number",
        "0.35",
    ),
    "a thickness of 40 km": (
        "part,thickness_mm\nA,4e7\n",
        "row 2, column thickness_mm",
        "4e7",
        "at most 10 m",
        "the unit",
    ),
    "a comma that may mean thousands": (
        'part,thickness_mm\nA,"1,234"\n',
        "row 2, column thickness_mm",
        "1,234",
        "ambiguous",
        "with a point",
    ),
    "thousands and a decimal comma": (
        "part;thickness_mm\nA;1.234,5\n",
        "row 2, column thickness_mm",
        "1.234,5",
        "ambiguous",
        "with a point",
    ),
    "a unit in the cell": (
        "part,thickness_mm\nA,0.3 mm\n",
        "row 2, column thickness_mm",
        "0.3 mm",
        "not a number",
        "number alone",
    ),
    "words in the cell": ("part,thickness_mm\nA,thin\n", "row 2, column thickness_mm", "thin", "not a number", "0.35"),
    "a half-way division by nothing": (
        "part,thickness_in\nA,5/0\n",
        "row 2, column thickness_in",
        "5/0",
        "not a number",
        "5/64",
    ),
    "a tolerance as wide as the piece": (
        "part,thickness_mm,tolerance_mm\nA,0.1,0.1\n",
        "row 2, column thickness_mm",
        "0.1",
        "stays above zero",
        "tolerance",
    ),
    "a negative tolerance": (
        "part,thickness_mm,tolerance_mm\nA,0.1,-0.01\n",
        "row 2, column tolerance_mm",
        "-0.01",
        "not negative",
        "+0/-0.05",
    ),
    "a tolerance in words": (
        "part,thickness_mm,tolerance_mm\nA,0.1,fine\n",
        "row 2, column tolerance_mm",
        "fine",
        "not a number",
        "+0/-0.05",
    ),
    "a negative measuring error": (
        "part,measured_mm,measuring_error_mm\nA,0.1,-1\n",
        "row 2, column measuring_error_mm",
        "-1",
        "not negative",
        "sign",
    ),
    "an error of nothing measured": (
        "part,thickness_mm,measured_mm,measuring_error_mm\nA,0.1,,0.01\n",
        "row 2, column measuring_error_mm",
        "0.01",
        "without a measured thickness",
        "goes into tolerance",
    ),
    "a negative measured thickness": (
        "part,measured_mm\nA,-0.1\n",
        "row 2, column measured_mm",
        "-0.1",
        "above zero",
        "measure",
    ),
    "a bore of nothing": (
        "part,thickness_mm,inner_mm\nA,1,0\n",
        "row 2, column inner_mm",
        "0",
        "above zero",
        "measure",
    ),
    "a bore in words": (
        "part,thickness_mm,inner_mm\nA,1,wide\n",
        "row 2, column inner_mm",
        "wide",
        "not a number",
        "0.35",
    ),
    "a ring inside out": (
        "part,thickness_mm,inner_mm,outer_mm\nA,1,20,16\n",
        "row 2, column inner_mm",
        "20",
        "not smaller than the outside",
        "swap",
    ),
    "a negative count": ("part,thickness_mm,on_hand\nA,1,-2\n", "row 2, column on_hand", "-2", NOT_MET, "how many"),
    "half a piece": ("part,thickness_mm,on_hand\nA,1,1.5\n", "row 2, column on_hand", "1.5", NOT_MET, "how many"),
    "a count in words": ("part,thickness_mm,on_hand\nA,1,few\n", "row 2, column on_hand", "few", NOT_MET, "how many"),
    "no count": ("part,thickness_mm,on_hand\nA,1,\n", "row 2, column on_hand", "", NOT_MET, "how many"),
    "a count of nan": ("part,thickness_mm,on_hand\nA,1,nan\n", "row 2, column on_hand", "nan", NOT_MET, "how many"),
    "more pieces than there are": (
        "part,thickness_mm,on_hand\nA,1,1e7\n",
        "row 2, column on_hand",
        "1e7",
        "to 1,000,000",
        "how many",
    ),
    "a part twice": (
        "part,thickness_mm,on_hand\nA,1,2\nA,1,3\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "put the counts together",
    ),
    "a part twice with two thicknesses": (
        "part,thickness_mm,on_hand\nA,1,2\nA,2,3\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "tell the pieces apart",
    ),
    "two lots of a part": (
        "part,thickness_mm,on_hand,lot\nA,1,2,L0\nA,1,3,L9\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "of another lot, write that into `piece` too: L9",
    ),
    "a tag twice": (
        "part,piece,thickness_mm\nA,1,1\nA,1,1\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "`piece`",
    ),
    "a measured thickness twice": (
        "part,measured_mm\nA,0.5\nA,0.50\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "measured thickness",
    ),
    "a nameless thickness twice": (
        "part,thickness_mm\n,0.5\n,0.5\n",
        "row 3, column part",
        "0.50 mm",
        "on row 2 already",
        "put the counts together",
    ),
    "a row too short": (
        "part,thickness_mm,on_hand\nA,1\n",
        "row 2",
        "",
        "2 cells and the header 3",
        "still needs its comma",
    ),
    "a row too long": ("part,thickness_mm\nA,1\nB,1,x\n", "row 3", "", "3 cells and the header 2", "needs quotes"),
    "a decimal comma among commas": (
        "part,thickness_mm,on_hand\nA,1,1\nB,0,3,2\n",
        "row 3",
        "",
        "4 cells and the header 3",
        "0,3 looks like a decimal comma, and commas part the cells of this file: write 0.3",
    ),
    "only blanks": (" \n\n", "", "", "is empty", "write a header"),
    "no thickness column": (
        "part,on_hand\nA,1\n",
        "column thickness_mm",
        "",
        "is missing",
        "add the column thickness_mm (or _um, _in, _thou)",
    ),
    "no column that says anything": (
        "colour,size\nblue,1\n",
        "column thickness_mm",
        "",
        "is missing",
        "add the column thickness_mm",
    ),
    "a column without its unit": ("part,thickness\nA,1\n", "column thickness", "", "ends in its unit", "thickness_mm"),
    "a column in a unit nobody knows": (
        "part,thickness_cm\nA,1\n",
        "column thickness_cm",
        "",
        "ends in its unit",
        "thickness_mm",
    ),
    "a column misspelled": (
        "part,thicknes_mm\nA,1\n",
        "column thicknes_mm",
        "",
        "not known",
        "did you mean thickness_mm?",
    ),
    "a count misspelled": (
        "part,thickness_mm,onhand\nA,1,3\n",
        "column onhand",
        "",
        "not known",
        "did you mean on_hand?",
    ),
    "a column with a blank in its name": (
        "part,thickness mm\nA,1\n",
        "column thickness mm",
        "",
        "not known",
        "did you mean thickness_mm?",
    ),
    "a column twice": ("part,thickness_mm,part\nA,1,B\n", "column part", "", "stands twice", "keep one"),
    "a thickness in two units": (
        "part,thickness_mm,thickness_in\nA,1,1\n",
        "column thickness_in",
        "",
        "in two units",
        "keep one",
    ),
    "a quote that never closes": ('part,thickness_mm\n"A,1\nB,2\n', "line 2", "", "not a table", "quotes"),
    "a cell as long as a book": ("part,thickness_mm\n" + "x" * 200_000 + ",1\n", "line 2", "", "not a table", "quotes"),
}


@pytest.mark.parametrize(("drawer", "where", "value", "rule", "remedy"), CELLS.values(), ids=CELLS.keys())
def test_the_reader_says_what_is_wrong_in_a_drawer(
    tmp_path: Path, drawer: str, where: str, value: str, rule: str, remedy: str
) -> None:
    problem = the_problem(write_job(tmp_path, drawer=drawer))
    check(problem, file="drawer.csv", where=where, value=value, rule=[rule], remedy=[remedy])


CATALOGUE: dict[str, tuple[str, str, str, str, str]] = {
    "a part without a name": ("part,thickness_mm\n,1\n", "row 2, column part", "", "names its parts", "fill in"),
    "no names at all": ("thickness_mm\n1\n", "column part", "", "is missing", "add the column part"),
    "no thicknesses at all": ("part,price\nA,1\n", "column thickness_mm", "", "is missing", "thickness_mm (or _um"),
    "a negative price": ("part,thickness_mm,price\nA,1,-2\n", "row 2, column price", "-2", "from 0 up", "6.50"),
    "a price beyond all": ("part,thickness_mm,price\nA,1,1e10\n", "row 2, column price", "1e10", "from 0 up", "6.50"),
    "a price in words": ("part,thickness_mm,price\nA,1,dear\n", "row 2, column price", "dear", "not a number", "0.35"),
    "a pack of none": ("part,thickness_mm,pack\nA,1,0\n", "row 2, column pack", "0", "whole number from 1", "how many"),
    "a wait below zero": (
        "part,thickness_mm,lead_days\nA,1,-1\n",
        "row 2, column lead_days",
        "-1",
        NOT_MET,
        "how many",
    ),
    "a part twice at one supplier": (
        "part,thickness_mm\nA,1\nA,1\n",
        "row 3, column part",
        "A",
        "on row 2 already",
        "name the `supplier`",
    ),
}


@pytest.mark.parametrize(("catalogue", "where", "value", "rule", "remedy"), CATALOGUE.values(), ids=CATALOGUE.keys())
def test_the_reader_says_what_is_wrong_in_a_catalogue(
    tmp_path: Path, catalogue: str, where: str, value: str, rule: str, remedy: str
) -> None:
    problem = the_problem(write_job(tmp_path, WITH_CATALOGUE, catalogue_csv=catalogue))
    check(problem, file="catalogue.csv", where=where, value=value, rule=[rule], remedy=[remedy])


def test_a_part_that_no_catalogue_has_is_told_with_the_name_meant(tmp_path: Path) -> None:
    write_job(
        tmp_path, WITH_CATALOGUE, "part,on_hand\nS-05,1\nS-O5,1\n", catalogue_csv="part,thickness_mm\nS-05,1\nT,2\n"
    )
    check(
        the_problem(tmp_path),
        file="drawer.csv",
        where="row 3, column part",
        value="S-O5",
        rule=["no thickness, and no catalogue of the job has this part"],
        remedy=["did you mean S-05?"],
    )


def test_a_drawer_is_not_blamed_for_parts_of_a_catalogue_that_cannot_be_read(tmp_path: Path) -> None:
    write_job(tmp_path, WITH_CATALOGUE, "part,on_hand\nA,1\nB,1\nA,-2\n", catalogue_csv="part,thickness_mm\nA,1\nB,x\n")
    assert [(Path(p.file).name, p.where) for p in problems_of(tmp_path)] == [
        ("catalogue.csv", "row 3, column thickness_mm"),
        ("drawer.csv", "row 4, column on_hand"),
    ]


def test_a_drawer_is_not_blamed_for_parts_of_a_catalogue_that_is_not_there(tmp_path: Path) -> None:
    write_job(tmp_path, WITH_CATALOGUE, "part,on_hand\nA,1\n")
    assert [problem.rule for problem in problems_of(tmp_path)] == ["there is no such catalogue"]


def test_of_a_table_that_is_wrong_all_over_a_hundred_rows_are_told(tmp_path: Path) -> None:
    *told, last = problems_of(write_job(tmp_path, drawer="part,thickness_mm\n" + "A,x\n" * 5000))
    assert (len(told), told[-1].where) == (100, "row 101, column thickness_mm")
    assert "more may be wrong" in last.rule
