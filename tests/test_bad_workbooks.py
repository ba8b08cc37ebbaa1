"""Workbooks: what a spreadsheet makes of a drawer, and the traps in it."""

from __future__ import annotations

import datetime
import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from shimopt.job import Job, load_job
from tests.job_files import check, edited, problems_of, the_problem, write_job

JOB = edited(('"drawer.csv"', '"drawer.xlsx"'))
HEADER = ["part", "thickness_mm", "on_hand"]


def workbook(*rows: list[Any], sheets: dict[str, list[list[Any]]] | None = None) -> bytes:
    """A workbook with these rows on its first sheet, and more sheets by name."""
    book = Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    for name, more in (sheets or {}).items():
        sheet = book.create_sheet(name)
        for row in more:
            sheet.append(row)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def job_with(folder: Path, drawer: bytes) -> Path:
    return write_job(folder, JOB, None, drawer_xlsx=drawer)


def parts(job: Job) -> dict[str, tuple[int, int]]:
    """Thickness in nanometres and count, by the name of the part."""
    return {line.part.name: (int(line.part.thickness.best), line.on_hand) for line in job.stock}


def with_cell(book: bytes, old: str, new: str) -> bytes:
    """The workbook with one piece of its first sheet's XML replaced by hand."""
    source, target = zipfile.ZipFile(io.BytesIO(book)), io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in source.namelist():
            data = source.read(name)
            if name == "xl/worksheets/sheet1.xml":
                assert data.count(old.encode()) == 1
                data = data.replace(old.encode(), new.encode())
            archive.writestr(name, data)
    return target.getvalue()


def test_numbers_and_texts_are_read_as_they_stand(tmp_path: Path) -> None:
    drawer = workbook(HEADER, ["A", 0.1, 4], ["0050", "0.25", "2"], [7, 1, 3.0], [], ["B", 0.1 + 0.2, 1])
    assert parts(load_job(job_with(tmp_path, drawer))) == {
        "A": (100_000, 4),
        "0050": (250_000, 2),
        "7": (1_000_000, 3),
        "B": (300_000, 1),
    }


def test_a_gaps_table_may_be_a_workbook(tmp_path: Path) -> None:
    write_job(
        tmp_path,
        edited(("drawer =", 'gaps = "gaps.xlsx"\ndrawer =')),
        gaps_xlsx=workbook(["gap", "low_mm", "high_mm"], ["a", 0.2, 0.25]),
    )
    assert load_job(tmp_path).gap["a"].reading.bracket.high == 250_000


def test_a_workbook_is_known_by_its_contents_too(tmp_path: Path) -> None:
    write_job(tmp_path, drawer=workbook(HEADER, ["A", 0.1, 4]))
    assert parts(load_job(tmp_path)) == {"A": (100_000, 4)}


def test_sheets_without_data_do_not_matter(tmp_path: Path) -> None:
    drawer = workbook(HEADER, ["A", 0.1, 4], sheets={"empty": [], "blank": [[" ", None]]})
    assert parts(load_job(job_with(tmp_path, drawer))) == {"A": (100_000, 4)}


def test_a_formula_with_a_stored_result_is_its_result(tmp_path: Path) -> None:
    book = workbook(HEADER, ["A", 0.125, 4])
    drawer = with_cell(book, "<v>0.125</v>", "<f>0.25/2</f><v>0.125</v>")
    assert parts(load_job(job_with(tmp_path, drawer))) == {"A": (125_000, 4)}


# the row under the header; where the reader points, what it found there, words of its rule and remedy
CASES: dict[str, tuple[list[Any], str, str, str, str]] = {
    "a formula without a result": (["A", "=1/8", 1], "thickness_mm", "=1/8", "no stored result", "write the number"),
    "a date for a thickness": (
        ["A", datetime.date(2026, 3, 5), 1],
        "thickness_mm",
        "2026-03-05 00:00:00",
        "a date stands",
        "format the cell as text",
    ),
    "a part number that became a date": (
        [datetime.date(2026, 3, 5), 1, 1],
        "part",
        "2026-03-05 00:00:00",
        "a date stands",
        "type it again",
    ),
    "a time": (["A", datetime.time(8, 30), 1], "thickness_mm", "08:30:00", "a date stands", "as text"),
    "a truth": (["A", 1, True], "on_hand", "TRUE", "a truth value", "write the number"),
    "a failed formula": (["A", "#N/A", 1], "thickness_mm", "#N/A", "the formula in this cell failed", "mend"),
    "a reference gone": (["A", 1, "#REF!"], "on_hand", "#REF!", "the formula in this cell failed", "mend"),
    "a negative count": (["A", 1, -1], "on_hand", "-1", "whole number from 0", "how many"),
    "a blank count": (["A", 1, None], "on_hand", "", "whole number from 0", "how many"),
}


@pytest.mark.parametrize(("row", "column", "value", "rule", "remedy"), CASES.values(), ids=CASES.keys())
def test_the_reader_says_what_is_wrong_in_a_cell(
    tmp_path: Path, row: list[Any], column: str, value: str, rule: str, remedy: str
) -> None:
    problem = the_problem(job_with(tmp_path, workbook(HEADER, ["S", 0.5, 1], row)))
    check(problem, file="drawer.xlsx", where=f"row 3, column {column}", value=value, rule=[rule], remedy=[remedy])


def test_a_list_formula_without_a_result_is_not_taken_for_a_blank(tmp_path: Path) -> None:
    book = workbook([*HEADER, "measured_mm"], ["A", 0.5, 1, 0.125])
    drawer = with_cell(book, "<v>0.125</v>", '<f t="array" ref="D2">A1:A2*2</f>')
    check(
        the_problem(job_with(tmp_path, drawer)),
        file="drawer.xlsx",
        where="row 2, column measured_mm",
        value="a formula",
        rule=["no stored result"],
        remedy=["write the number"],
    )


def test_a_date_in_a_column_that_nobody_reads_does_not_matter(tmp_path: Path) -> None:
    drawer = workbook([*HEADER, "received"], ["A", 0.1, 4, datetime.date(2026, 3, 5)])
    job = load_job(job_with(tmp_path, drawer))
    assert (parts(job), job.not_read) == ({"A": (100_000, 4)}, (("drawer.xlsx", "received"),))


def test_all_spoilt_cells_are_told_with_the_rest(tmp_path: Path) -> None:
    drawer = workbook(HEADER, ["A", "=1/8", 1], ["B", 0.5, True], ["C", -1, 1])
    assert [problem.where for problem in problems_of(job_with(tmp_path, drawer))] == [
        "row 2, column thickness_mm",
        "row 3, column on_hand",
        "row 4, column thickness_mm",
    ]


def test_several_sheets_with_data(tmp_path: Path) -> None:
    drawer = workbook(HEADER, ["A", 0.1, 4], sheets={"old": [HEADER, ["B", 0.1, 4]]})
    check(
        the_problem(job_with(tmp_path, drawer)),
        file="drawer.xlsx",
        where="",
        value="Sheet, old",
        rule=["several sheets hold data"],
        remedy=["keep one sheet"],
    )


def test_a_workbook_without_data(tmp_path: Path) -> None:
    check(
        the_problem(job_with(tmp_path, workbook())),
        file="drawer.xlsx",
        where="",
        value="",
        rule=["drawer is empty"],
        remedy=["write a header"],
    )


def test_a_small_file_that_unpacks_huge_is_refused_unopened(tmp_path: Path) -> None:
    buffer = io.BytesIO(workbook(HEADER, ["A", 0.1, 4]))
    with zipfile.ZipFile(buffer, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/picture.bin", b"\0" * 100_000_000)
    assert len(buffer.getvalue()) < 150_000
    problem = the_problem(job_with(tmp_path, buffer.getvalue()))
    assert "unpacks to more than it can be" in problem.rule
    assert problem.value.endswith("bytes unpacked")


def test_a_sheet_that_says_it_is_huge_is_read_as_what_it_holds(tmp_path: Path) -> None:
    book = workbook(HEADER, ["A", 0.1, 4], ["B", 0.2, 1])
    drawer = with_cell(book, '<dimension ref="A1:C3"', '<dimension ref="A1:XFD1048576"')
    assert parts(load_job(job_with(tmp_path, drawer))) == {"A": (100_000, 4), "B": (200_000, 1)}


def test_a_row_beyond_every_spreadsheet_is_refused_in_good_time(tmp_path: Path) -> None:
    drawer = with_cell(workbook(HEADER, ["A", 0.1, 4]), '<row r="2"', '<row r="999999999999"')
    problem = the_problem(job_with(tmp_path, drawer))
    assert "at most 100,000 rows" in problem.rule


@pytest.mark.parametrize(
    "drawer",
    [
        b"PK\x03\x04 and then nothing",
        b"part,thickness_mm\nA,1\n",
        b"",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512,
        workbook(HEADER, ["A", 0.1, 4])[:-40],
    ],
    ids=["a broken zip", "a CSV by the wrong name", "nothing", "an old or locked workbook", "a workbook cut off"],
)
def test_what_is_no_workbook(tmp_path: Path, drawer: bytes) -> None:
    check(
        the_problem(job_with(tmp_path, drawer)),
        file="drawer.xlsx",
        where="",
        value="",
        rule=["not a readable XLSX workbook"],
        remedy=["CSV"],
    )


def test_a_zip_of_something_else(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("letter.txt", "no workbook")
    assert "not a readable XLSX workbook" in the_problem(job_with(tmp_path, buffer.getvalue())).rule


def test_a_text_with_a_decimal_comma_is_a_number(tmp_path: Path) -> None:
    book = workbook(
        ["part", "thickness_mm", "tolerance_mm", "on_hand"], ["A,5", "0,2", "+0/-0,05", 3], ["B", 0.3, 0.02, 2]
    )
    assert parts(load_job(job_with(tmp_path, book))) == {"A,5": (175_000, 3), "B": (300_000, 2)}


def test_a_text_that_may_mean_a_thousand_is_refused(tmp_path: Path) -> None:
    problem = the_problem(job_with(tmp_path, workbook(HEADER, ["A", "1,234", 3])))
    check(problem, file="drawer.xlsx", where="row 2, column thickness_mm", value="1,234", rule=["ambiguous"], remedy=[])
