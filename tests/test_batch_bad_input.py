"""What can be wrong with a batch: a bad row is told in its own row, a bad table or call before anything is written."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet
import pytest

import shimopt.batch.unfinished as unfinished
from tests.batch_files import PARTS, WINDOW, Batches

HEAD = "gap,low_mm,high_mm\n"
GOOD = "good,0.40,0.42\n"


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Batches:
    return Batches(tmp_path, capsys)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("bad,0.4x,0.42", "low_mm: this is not a number (here: 0.4x)"),
        ("bad,0.40,0.42 mm", "high_mm: this is not a number (here: 0.42 mm)"),
        ("bad,inf,0.42", "low_mm: this is not a number (here: inf)"),
        ("bad,nan,0.42", "low_mm: this is not a number (here: nan)"),
        ("bad,1e400,0.42", "low_mm: this number is out of all range"),
        ("bad,0.40,11000", "high_mm: a length in a machine is at most 10 m"),
        ('bad,"0,40",0.42', "low_mm: a comma in a number is ambiguous"),
        ("bad,,0.42", "low_mm is blank. A gap is read from low to high"),
        ("bad,0.40,", "high_mm is blank. A gap is read from low to high"),
        ("bad,0.43,0.42", "low is above high. Swap them."),
        (",0.40,0.42", "a gap has a name"),
        ("bad,0.40", "the row has 2 cells and the header 3. Fill it up"),
        ("bad,0.40,0.42,0.5", "the row has 4 cells and the header 3. Take out the extra cells"),
        ("bad,0,40,0,42", "the row has 5 cells and the header 3. 0,40 looks like a decimal comma"),
        ('"bad,0.40,0.42', "the line is no row of a table"),
        ("bad\0,0.40,0.42", "the row holds a zero byte"),
    ],
)
def test_a_bad_row_is_refused_in_its_own_row_and_stops_no_other(batches: Batches, row: str, words: str) -> None:
    ended = batches.of(f"{HEAD}{GOOD}{row}\n{GOOD}")
    assert [found["verdict"] for found in ended.rows] == ["inside", "refused", "inside"]
    assert words in ended.rows[1]["reason"]
    assert not any(ended.rows[1][key] for key in ("stack", "after_low_mm", "after_best_mm", "after_high_mm", "chance"))
    assert ended.code == 1
    assert "3 gaps: 2 inside, 0 inside by best estimate, 0 outside, 1 refused." in ended.out
    assert ended.err == ""


WIDE = "gap,low_mm,high_mm,best_mm,min_mm,max_mm,target_mm,balance\n"


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("0.43,,,,", "best lies outside low and high"),
        (",0.30,,,", "min is above max. Swap them."),
        (",none,none,,", "a window with neither min nor max allows everything"),
        (",,,0.26,", "the target lies outside min and max"),
        (",0.1o,,,", "min_mm: this is not a number (here: 0.1o)"),
        (",,,none,", "target_mm: this is not a number (here: none)"),
        (",,,,left pair", "a balance ties gaps together, and here each stands alone"),
    ],
)
def test_a_bad_window_or_estimate_is_refused_in_its_own_row(batches: Batches, cells: str, words: str) -> None:
    ended = batches.of(f"{WIDE}good,0.40,0.42,,,,,\nbad,0.40,0.42,{cells}\n")
    assert [found["verdict"] for found in ended.rows] == ["inside", "refused"]
    assert words in ended.rows[1]["reason"]


def test_a_row_without_a_window_is_refused_where_nobody_states_one(batches: Batches) -> None:
    ended = batches.of(
        "gap,low_mm,high_mm,min_mm,max_mm\na,0.40,0.42,0.1,0.25\nb,0.40,0.42,0.1,\n", "--most-pieces", "2"
    )
    assert [found["verdict"] for found in ended.rows] == ["inside", "refused"]
    assert ended.rows[1]["reason"].startswith("the window has no max. Fill in its column")


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", "the gaps table is empty"),
        ("\n ,,\n", "the gaps table is empty"),
        (HEAD, "a header and no rows"),
        (f"name,low_mm,high_mm\n{GOOD}", "column gap: this column is missing"),
        (f"gap,low_mm,hihg_mm\n{GOOD}", "did you mean high_mm?"),
        (f"gap,low,high_mm\n{GOOD}", "a length column ends in its unit"),
        ("gap,low_mm,high_mm,low_in\na,1,1,1\n", "`low` stands in two units"),
        ("gap,low_mm,high_mm,low_mm\na,1,1,1\n", "the column stands twice"),
        ("gap,low_mm,high_mm,seat\na,1,1,cap\n", "the seats that this column names are not known"),
        (b"\xff\xfeg\0a\0p\0", "not text in UTF-8"),
        (b"PK\x03\x04\0\0", "not text in UTF-8"),
    ],
)
def test_a_table_that_is_none_is_refused_before_anything_is_written(
    batches: Batches, table: str | bytes, words: str
) -> None:
    ended = batches.of(table)
    assert (ended.code, ended.out) == (2, "")
    assert words.casefold() in ended.err.casefold()
    assert sorted(file.name for file in batches.folder.iterdir()) == ["gaps.csv", "parts.csv"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--min", "0.1 mm"], "the window has no max"),
        (["--min", "0.3 mm", "--max", "0.25 mm"], "min is above max"),
        (["--min", "none", "--max", "none"], "allows everything"),
        ([*WINDOW, "--target", "0.3 mm"], "the target lies outside"),
        (["--min", "0.1", "--max", "0.25"], "a bare number is in the job's unit, and no job is named"),
        ([*WINDOW, "--seat", "cap"], "there is no such seat"),
        ([*WINDOW, "--buy"], "--buy belongs to --jobs"),
        ([*WINDOW, "--scheduler", "local host"], "is no address of a scheduler"),
        (["--most-pieces", "2"], "the window has no min"),
    ],
)
def test_a_wrong_call_is_refused(batches: Batches, options: list[str], words: str) -> None:
    ended = batches.of(HEAD + GOOD, *options)
    assert (ended.code, ended.rows) == (2, [])
    assert words in ended.err


@pytest.mark.parametrize("target", ["out.xlsx", "no-such-folder/out.csv", "gaps.csv", "parts.csv", "."])
def test_an_output_that_cannot_be_is_refused_and_no_input_is_touched(batches: Batches, target: str) -> None:
    (batches.folder / "gaps.csv").write_text(HEAD + GOOD)
    ended = batches.call(
        batches.folder / "gaps.csv", "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.folder / target
    )
    assert ended.code == 2
    assert (batches.folder / "gaps.csv").read_text() == HEAD + GOOD
    assert (batches.folder / "parts.csv").read_text() == PARTS


@pytest.mark.parametrize(
    "arguments",
    [
        ["no-such.csv", "--parts", "parts.csv"],
        ["gaps.csv", "--parts", "no-such.csv"],
        ["gaps.csv"],
        ["gaps.txt", "--parts", "parts.csv"],
        ["empty", "--parts", "parts.csv"],
        ["/dev/null", "--parts", "parts.csv"],
        ["gaps.csv", "--job", "empty"],
        ["gaps.csv", "--parts", "parts.csv", "--jobs", "empty"],
        [],
    ],
)
def test_files_that_are_not_there_are_named(
    batches: Batches, arguments: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(batches.folder)
    (batches.folder / "gaps.csv").write_text(HEAD + GOOD)
    (batches.folder / "gaps.txt").write_text(HEAD + GOOD)
    (batches.folder / "empty").mkdir()
    ended = batches.call(*arguments, *WINDOW, "-o", "out.csv")
    assert ended.code == 2
    assert ended.err.startswith(("shimopt: ", "shimopt batch: "))
    assert not (batches.folder / "out.csv").exists()


def test_problems_are_data_where_json_is_asked_for(batches: Batches) -> None:
    ended = batches.of("", *WINDOW, "--json")
    assert ended.code == 2
    assert json.loads(ended.out)["errors"][0]["rule"] == "the gaps table is empty"


def test_a_disk_that_is_full_is_told_with_what_is_kept(batches: Batches, monkeypatch: pytest.MonkeyPatch) -> None:
    # the fingerprint and two pieces still find room
    calls = iter([None, None, None])

    def full_after_two(_: int) -> None:
        if next(calls, 0) == 0:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(unfinished.os, "fsync", full_after_two)
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", 64)
    table = HEAD + GOOD * 40
    ended = batches.of(table)
    assert (ended.code, ended.rows) == (2, [])
    assert "No space left on device" in ended.err
    assert "2 finished pieces are kept in out.csv.unfinished" in ended.err
    monkeypatch.undo()
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", 64)
    ended = batches.of(table)
    # the file was written anew meanwhile, so nothing of before is used
    assert len(ended.rows) == 40
    assert not (batches.folder / "out.csv.unfinished").exists()


def test_a_folder_that_is_not_ours_is_never_taken_away(batches: Batches) -> None:
    (batches.folder / "out.csv.unfinished").mkdir()
    (batches.folder / "out.csv.unfinished" / "letters.txt").write_text("mine")
    ended = batches.of(HEAD + GOOD)
    assert ended.code == 2
    assert "not an unfinished output of shimopt" in ended.err
    assert (batches.folder / "out.csv.unfinished" / "letters.txt").read_text() == "mine"


def test_too_many_stacks_are_refused_with_their_number(batches: Batches) -> None:
    many = "".join(f"S-{n},{n / 100 + 0.01:.2f}\n" for n in range(200))
    (batches.folder / "parts.csv").write_text("part,thickness_mm\n" + many)
    ended = batches.of(HEAD + GOOD)
    assert ended.code == 2
    assert "1,373,701 stacks" in ended.err  # (203 choose 3), by hand: 203 × 202 × 201 / 6


def test_latin_letters_of_an_old_windows_table_are_read(batches: Batches) -> None:
    ended = batches.of(b"gap,low_mm,high_mm\n" + "Glättwerk,0.40,0.42\n".encode("cp1252") + GOOD.encode())
    assert [found["gap"] for found in ended.rows] == ["Glättwerk", "good"]
    assert {found["verdict"] for found in ended.rows} == {"inside"}


def test_a_broken_parquet_file_is_refused(batches: Batches) -> None:
    table = batches.folder / "gaps.parquet"
    table.write_bytes(b"PAR1 and then nothing")
    ended = batches.call(table, "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.out)
    assert ended.code == 2
    assert "not a parquet file" in ended.err


def test_parquet_cells_that_are_no_lengths_are_refused_in_their_rows(batches: Batches) -> None:
    table = pa.table(
        {
            "gap": ["a", "b", None, "d"],
            "low_mm": [0.40, float("nan"), 0.4, float("inf")],
            "high_mm": [0.42, 0.42, 0.42, 0.42],
        }
    )
    pyarrow.parquet.write_table(table, batches.folder / "gaps.parquet")
    ended = batches.call(
        batches.folder / "gaps.parquet", "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.out
    )
    assert [row["verdict"] for row in ended.rows] == ["inside", "refused", "refused", "refused"]


def test_a_wrong_call_puts_no_json_into_the_csv_on_standard_output(batches: Batches) -> None:
    ended = batches.call("no-such-gaps.csv", *WINDOW, "-o", "-")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err


@pytest.mark.parametrize("rest", ["\n", "\r", "\r\n", ""])
@pytest.mark.parametrize("size", [20, 64, 10**6])
def test_line_ends_of_every_kind_part_rows_also_mixed_and_beside_broken_ones(
    batches: Batches, monkeypatch: pytest.MonkeyPatch, rest: str, size: int
) -> None:
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", size)
    rows = 'a,0.40,0.42\rb,0.1,0.12\r\rshort,0.4\r"c\rc",0.20,0.21\r\nd,0.40,0.42'
    ended = batches.of(f"\r\rgap,low_mm,high_mm\r{rows}{rest}")
    # the broken row has no name, and spoils no other
    assert [(row["gap"], row["verdict"]) for row in ended.rows] == [
        ("a", "inside"),
        ("b", "inside"),
        ("", "refused"),
        ("c\rc", "inside"),
        ("d", "inside"),
    ]
    assert "the row has 2 cells and the header 3" in ended.rows[2]["reason"]


def test_many_blank_lines_of_carriage_returns_are_passed_over_in_a_moment(batches: Batches) -> None:
    begun = time.process_time()
    ended = batches.of("\r" * 3_000_000 + f"{HEAD}\ra,0.40,0.42\r")
    assert len(ended.rows) == 1
    assert time.process_time() - begun < 5
