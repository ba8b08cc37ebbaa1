"""A drawer is changed cell by cell; every other byte stays as it was."""

from __future__ import annotations

import csv
import io
import os
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.errors import InputError
from shimopt.tables.csv_text import places_of, records
from shimopt.tables.edit import read_to_change
from shimopt.tables.locking import locked
from shimopt.tables.read import is_workbook
from tests.processes import started

PLAIN = 'part,thickness_mm,on_hand,note\nS-1,0.10,4,\nS-2,0.20,2,"left, upper"\n'


def drawer(folder: Path, content: str | bytes) -> Path:
    path = folder / "drawer.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def after(path: Path, row: int, column: str, value: str) -> bytes:
    with locked(path):
        read_to_change(path).with_cells({(row, column): value}).save()
    return path.read_bytes()


def test_one_cell_changes_and_every_other_byte_stays(tmp_path: Path) -> None:
    path = drawer(tmp_path, PLAIN)
    assert after(path, 3, "on_hand", "1").decode() == PLAIN.replace("0.20,2", "0.20,1")


def test_a_first_line_that_names_the_delimiter_stays(tmp_path: Path) -> None:
    text = "sep=;\npart;thickness_mm;on_hand\nS-1;0,1;4\n"
    assert after(drawer(tmp_path, text), 3, "on_hand", "3").decode() == text.replace("0,1;4", "0,1;3")


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8", b"\xef\xbb\xbf"),
        ("utf-16-le", b"\xff\xfe"),
        ("utf-16-be", b"\xfe\xff"),
        ("cp1252", b""),
    ],
)
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_encoding_delimiter_and_line_ends_are_kept(
    tmp_path: Path, line_end: str, encoding: str, mark: bytes, delimiter: str
) -> None:
    text = line_end.join(["Part ;On_Hand;note", '"Größe ""A""";"3"; 0,10 ', "", "B;2;", "C;1;x"]).replace(
        ";", delimiter
    )
    path = drawer(tmp_path, mark + text.encode(encoding))
    expected = text.replace('"3"', '"2"').replace(f"C{delimiter}1", f"C{delimiter}5")
    with locked(path):
        read_to_change(path).with_cells({(2, "on_hand"): "2", (5, "on_hand"): "5"}).save()
    assert path.read_bytes() == mark + expected.encode(encoding)


def test_a_cell_that_needs_quotes_gets_them(tmp_path: Path) -> None:
    path = drawer(tmp_path, PLAIN)
    changed = after(path, 2, "note", 'tin "2", left')
    assert list(csv.reader(io.StringIO(changed.decode())))[1][3] == 'tin "2", left'
    assert changed.decode().splitlines()[2] == PLAIN.splitlines()[2]


@pytest.mark.parametrize("note", ["two\nlines", "two\r\nlines", "an old\rline end", "a, b"])
def test_whatever_a_cell_holds_is_still_one_cell(tmp_path: Path, note: str) -> None:
    after(drawer(tmp_path, PLAIN), 2, "note", note)
    assert read_to_change(tmp_path / "drawer.csv").cell(2, "note") == note
    assert read_to_change(tmp_path / "drawer.csv").rows[1:] != []


def test_a_row_after_a_cell_of_several_lines_is_still_found(tmp_path: Path) -> None:
    path = drawer(tmp_path, 'part,note,on_hand\nA,"two\nlines",1\nB,,1\n')
    assert after(path, 4, "on_hand", "0").decode() == 'part,note,on_hand\nA,"two\nlines",1\nB,,0\n'


def test_a_column_is_added_at_the_right_end(tmp_path: Path) -> None:
    path = drawer(tmp_path, "part;thickness_mm\nA;0,1\n\nB;0,2")
    read_to_change(path).with_column("on_hand", "1").save()
    assert path.read_text() == "part;thickness_mm;on_hand\nA;0,1;1\n\nB;0,2;1"


def test_a_new_column_stands_below_its_header_in_rows_of_any_length(tmp_path: Path) -> None:
    path = drawer(tmp_path, "part,note\nA,x,,\nB\nC,\n")
    read_to_change(path).with_column("on_hand", "1").save()
    assert path.read_text() == "part,note,on_hand\nA,x,1,\nB,,1\nC,,1\n"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("text", ["a,b\n1,2", "a;b\r\n1;2\r\n", 'a\tb\r"x\r\ny"\t2\r', "\na,b\n\n1,2\n\n"])
def test_a_drawer_that_is_only_read_is_the_same_file(tmp_path: Path, text: str, mark: bytes) -> None:
    raw = mark + text.encode()
    assert read_to_change(drawer(tmp_path, raw)).raw == raw


def test_a_row_is_added_below_in_the_drawers_own_manner(tmp_path: Path) -> None:
    path = drawer(tmp_path, b"part;thickness_mm;on_hand\r\nA;0,1;1")
    found = read_to_change(path)
    found.with_row({"part": "B; C", "thickness_mm": found.length(305_000, "mm")}).save()
    assert path.read_bytes() == b'part;thickness_mm;on_hand\r\nA;0,1;1\r\n"B; C";0,305;\r\n'


def test_lengths_are_written_exactly(tmp_path: Path) -> None:
    found = read_to_change(drawer(tmp_path, PLAIN))
    # by hand: 1/64 in = 0.015625 in = 396 875 nm; 17 thou = 431 800 nm
    assert found.length(396_875, "in") == "0.015625"
    assert found.length(431_800, "thou") == "17"
    assert found.length(-5_000, "mm") == "-0.005"
    assert found.length(0, "mm") == "0"


def test_what_the_encoding_cannot_hold_is_refused_and_the_file_stays(tmp_path: Path) -> None:
    raw = "part,on_hand,note\nGr\xf6\xdfe,1,\n".encode("cp1252")
    path = drawer(tmp_path, raw)
    with pytest.raises(InputError, match="cp1252"):
        after(path, 2, "note", "шайба")
    assert path.read_bytes() == raw


def test_a_cell_that_is_not_there_is_refused(tmp_path: Path) -> None:
    found = read_to_change(drawer(tmp_path, PLAIN))
    for row, column in ((9, "on_hand"), (2, "price"), (1, "on_hand")):
        with pytest.raises(InputError, match="no such cell"):
            found.with_cells({(row, column): "1"})


def test_a_workbook_is_only_read(tmp_path: Path) -> None:
    path = tmp_path / "drawer.xlsx"
    path.write_bytes(b"PK\x03\x04...")
    assert is_workbook(path)
    with pytest.raises(InputError, match="never written"):
        read_to_change(path)


def test_a_read_only_drawer_stays_as_it_is(tmp_path: Path) -> None:
    path = drawer(tmp_path, PLAIN)
    path.chmod(stat.S_IRUSR)
    with pytest.raises(InputError, match="read-only"):
        after(path, 2, "on_hand", "9")
    assert path.read_text() == PLAIN


def test_a_full_disk_leaves_the_old_drawer_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = drawer(tmp_path, PLAIN)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="No space left"):
        read_to_change(path).with_cells({(2, "on_hand"): "9"}).save()
    assert path.read_text() == PLAIN
    assert [entry.name for entry in tmp_path.iterdir()] == ["drawer.csv"]


def test_whoever_finds_the_drawer_locked_waits_and_is_told(tmp_path: Path) -> None:
    path = drawer(tmp_path, PLAIN)
    with locked(path), pytest.raises(InputError, match="another program"), locked(path, 0.05):
        pass


def test_two_processes_that_take_pieces_at_once_lose_none(tmp_path: Path) -> None:
    path = drawer(tmp_path, "part,on_hand\nA,100\n")
    take = (
        "import sys\nfrom pathlib import Path\nfrom shimopt.tables.edit import read_to_change\n"
        "from shimopt.tables.locking import locked\n"
        "path = Path(sys.argv[1])\n"
        "for _ in range(20):\n"
        "    with locked(path):\n"
        "        found = read_to_change(path)\n"
        "        found.with_cells({(2, 'on_hand'): str(int(found.cell(2, 'on_hand')) - 1)}).save()\n"
    )
    both = [started(path, program=take) for _ in range(2)]
    assert [process.wait(60) for process in both] == [0, 0]
    assert path.read_text() == "part,on_hand\nA,60\n"


@given(
    rows=st.lists(st.lists(st.text('ab",; \r\n', max_size=5), min_size=1, max_size=4), min_size=1, max_size=5),
    line_end=st.sampled_from(["\n", "\r\n"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_cells_and_lines_are_those_that_the_csv_module_reads(
    rows: list[list[str]], line_end: str, quoting: int
) -> None:
    written = io.StringIO(newline="")
    csv.writer(written, lineterminator=line_end, quoting=quoting).writerows(rows)  # type: ignore[arg-type]
    text = written.getvalue()
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    expected, start = [], 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            expected.append((start, cells))
        start = reader.line_num + 1
    found = [record for record in records(text, ",") if record.filled]
    assert [(record.number, record.cells) for record in found] == expected
    # where a cell stands, the csv module reads that cell and nothing else
    for record in found:
        places = places_of(text, record.start, ",")
        alone = [next(csv.reader(io.StringIO(text[a:b], newline=""), strict=True), [""]) for a, b in places]
        assert [cells or [""] for cells in alone] == [[cell] for cell in record.cells]
