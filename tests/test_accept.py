"""`shimopt fit --accept`: pieces go into the drawer file, and nothing else of it changes."""

from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pytest

from shimopt.errors import InputError
from shimopt.parts import load_stock
from shimopt.tables.locking import locked
from tests.command import Run
from tests.job_files import edited, write_job

ARRIVED = "part,piece,measured_mm,measuring_error_mm,inner_mm\nR-1,a,0.501 0.503,0.002,15.92\nR-2,b,0.305,0.002,15.93\n"
BARE = "part,piece,measured_mm,measuring_error_mm\nR-1,a,0.501 0.503,0.002\nR-2,b,0.305,0.002\n"
HEAD = b"part,thickness_mm,inner_mm,on_hand,piece,measured_mm,measuring_error_mm\n"
ROW = b"R-1,0.5,15.92,3,,,\n"


def accepted(folder: Path, run: Run, drawer: bytes, arrived: str = ARRIVED) -> bytes:
    """The drawer's bytes after the pieces were accepted."""
    write_job(folder, drawer=drawer, arrived_csv=arrived)
    code, _, err = run("fit", str(folder), "--measured", str(folder / "arrived.csv"), "--accept")
    assert (code, err) == (0, "")
    return (folder / "drawer.csv").read_bytes()


def test_pieces_are_added_as_rows_and_every_other_byte_stays(tmp_path: Path, run: Run) -> None:
    after = accepted(tmp_path, run, HEAD + ROW)
    # the middle of 0.501 and 0.503, and half of what lies between them and the error: ±(0.001 + 0.002)
    assert after == HEAD + ROW + b"R-1,0.5,15.92,1,a,0.502,0.003\nR-2,,15.93,1,b,0.305,0.002\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["arrived.csv", "drawer.csv", "job.toml"]


def test_doing_it_twice_adds_nothing(tmp_path: Path, run: Run) -> None:
    once = accepted(tmp_path, run, HEAD + ROW)
    code, out, _ = run("fit", str(tmp_path), "--measured", str(tmp_path / "arrived.csv"), "--accept")
    assert code == 0
    assert "In the drawer already, left as they are: R-1 [a] and R-2 [b]." in out
    assert (tmp_path / "drawer.csv").read_bytes() == once


def test_the_plan_uses_what_was_accepted_as_it_was_measured(tmp_path: Path, run: Run) -> None:
    accepted(tmp_path, run, HEAD + ROW)
    found = {(line.part.name, line.part.piece): line for line in load_stock(tmp_path / "drawer.csv", []).lines}
    piece = found["R-1", "a"]
    # measured 0.501 and 0.503 with an error of 0.002
    assert (piece.part.thickness.low, piece.part.thickness.high, piece.on_hand) == (499_000, 505_000, 1)


@pytest.mark.parametrize(
    ("drawer", "expected"),
    [
        # a semicolon, decimal commas, Windows line ends, Windows-1252, no line end at the end
        (
            "part;thickness_mm;at;piece;measured_mm;measuring_error_mm\r\nÄ-1;0,5;Fach ü;;;".encode("cp1252"),
            "part;thickness_mm;at;piece;measured_mm;measuring_error_mm\r\nÄ-1;0,5;Fach ü;;;\r\n"
            "R-1;;;a;0,502;0,003\r\nR-2;;;b;0,305;0,002\r\n".encode("cp1252"),
        ),
        # the mark of UTF-8, tabs, points, a quoted cell with a line end in it, a blank line
        (
            '\ufeffpart\tthickness_mm\tnote\tpiece\tmeasured_mm\tmeasuring_error_mm\nÄ\t0.5\t"two\nlines"\t\t\t\n\n'.encode(),
            '\ufeffpart\tthickness_mm\tnote\tpiece\tmeasured_mm\tmeasuring_error_mm\nÄ\t0.5\t"two\nlines"\t\t\t\n\n'
            "R-1\t\t\ta\t0.502\t0.003\nR-2\t\t\tb\t0.305\t0.002\n".encode(),
        ),
        # UTF-16 with its mark
        (
            "\ufeffpart,thickness_mm,piece,measured_mm,measuring_error_mm\nÄ,0.5,,,\n".encode("utf-16-le"),
            "\ufeffpart,thickness_mm,piece,measured_mm,measuring_error_mm\nÄ,0.5,,,\n"
            "R-1,,a,0.502,0.003\nR-2,,b,0.305,0.002\n".encode("utf-16-le"),
        ),
        # a drawer in thou, as few digits as read back to the nanometre: 0.502 mm = 19.76378, 0.003 mm = 0.1181 thou
        (
            b"part,piece,measured_thou,measuring_error_thou\nX,,20,\n",
            b"part,piece,measured_thou,measuring_error_thou\nX,,20,\nR-1,a,19.76378,0.1181\nR-2,b,12.00787,0.07874\n",
        ),
        # odd spacing, capitals and an unread column stay as they are
        (
            b"Part , Thickness_mm ,colour,PIECE,measured_mm,measuring_error_mm\n R-0 , 0.50 ,red,,,\n",
            b"Part , Thickness_mm ,colour,PIECE,measured_mm,measuring_error_mm\n R-0 , 0.50 ,red,,,\n"
            b"R-1,,,a,0.502,0.003\nR-2,,,b,0.305,0.002\n",
        ),
    ],
    ids=["semicolon and comma", "tabs and quotes", "UTF-16", "thou", "odd header"],
)
def test_encoding_delimiter_decimal_comma_and_line_ends_are_kept(
    tmp_path: Path, run: Run, drawer: bytes, expected: bytes
) -> None:
    assert accepted(tmp_path, run, drawer, BARE) == expected


def test_columns_that_are_missing_are_added_at_the_right(tmp_path: Path, run: Run) -> None:
    after = accepted(tmp_path, run, b'part,thickness_thou,note\r\nX,20,"a, b"\r\n\r\nY,10,\r\n')
    assert after == (
        b"part,thickness_thou,note,piece,measured_thou,measuring_error_thou,inner_thou\r\n"
        b'X,20,"a, b",,,,\r\n\r\nY,10,,,,,\r\n'
        b"R-1,,,a,19.76378,0.1181,626.77165\r\nR-2,,,b,12.00787,0.07874,627.16535\r\n"
    )


@pytest.mark.parametrize(
    ("drawer", "arrived", "expected"),
    [
        # what the table of pieces says
        (b"part,thickness_mm\nX,0.3\n", "R-1,a,0.5,+0.02/-0.01,0.501\n", "R-1,0.5,+0.02/-0.01,a,0.501"),
        # what the drawer says of the part
        (b"part,thickness_mm,tolerance_mm\nR-1,0.5,0.02\n", "R-1,a,,,0.501\n", "R-1,0.5,0.02,a,0.501"),
        # a drawer of measures alone, whose parts stand in no catalogue
        (b"part,measured_mm\nX,0.3\n", "R-1,a,0.5,0.02,0.501\n", "R-1,0.5,0.02,a,0.501"),
    ],
)
def test_the_printed_tolerance_stays_beside_the_measure(
    tmp_path: Path, run: Run, drawer: bytes, arrived: str, expected: str
) -> None:
    after = accepted(tmp_path, run, drawer, f"part,piece,thickness_mm,tolerance_mm,measured_mm\n{arrived}")
    rows = list(csv.DictReader(after.decode().splitlines()))
    part, thickness, tolerance, piece, measured = expected.split(",")
    assert rows[-1] == {
        "part": part,
        "thickness_mm": thickness,
        "tolerance_mm": tolerance,
        "piece": piece,
        "measured_mm": measured,
    }


def test_a_cell_that_needs_quotes_gets_them(tmp_path: Path, run: Run) -> None:
    arrived = 'part,piece,measured_mm,at\n"R ""x"", 1",a,0.5,"tin, left"\n'
    after = accepted(tmp_path, run, b"part,thickness_mm,at,piece,measured_mm\nX,0.5,,,\n", arrived)
    assert after.endswith(b'"R ""x"", 1",,"tin, left",a,0.5\n')
    assert load_stock(tmp_path / "drawer.csv", []).lines[0].part.name == 'R "x", 1'


def test_only_pieces_that_fit_somewhere_are_accepted(tmp_path: Path, run: Run) -> None:
    arrived = ARRIVED.replace("15.93", "15.5")
    write_job(tmp_path, drawer=HEAD + ROW, arrived_csv=arrived)
    code, out, _ = run("fit", str(tmp_path), "--measured", str(tmp_path / "arrived.csv"), "--accept")
    assert (code, "1 piece added" in out) == (1, True)
    assert b"R-2" not in (tmp_path / "drawer.csv").read_bytes()


def test_a_workbook_is_only_read_and_the_rows_are_printed(tmp_path: Path, run: Run) -> None:
    book = openpyxl.Workbook()
    book.active.append(["part", "thickness_mm"])
    book.active.append(["X", 0.5])
    book.save(tmp_path / "drawer.xlsx")
    write_job(tmp_path, edited(("drawer.csv", "drawer.xlsx")), drawer=None, arrived_csv=ARRIVED)
    before = (tmp_path / "drawer.xlsx").read_bytes()
    code, out, _ = run("fit", str(tmp_path), "--measured", str(tmp_path / "arrived.csv"), "--accept")
    assert code == 0
    assert "is a workbook and is only read" in out
    assert "part R-1, piece a, on_hand 1, measured_mm 0.502, measuring_error_mm 0.003, inner_mm 15.92" in out
    assert (tmp_path / "drawer.xlsx").read_bytes() == before
    marked = "part,piece,thickness_mm,tolerance_mm,measured_mm,supplier,lot\nR-1,a,0.5,0.02,0.501,Osier,9\n"
    (tmp_path / "arrived.csv").write_text(marked, encoding="utf-8")
    _, out, _ = run("fit", str(tmp_path), "--measured", str(tmp_path / "arrived.csv"), "--accept")
    assert "thickness_mm 0.5, tolerance_mm 0.02, supplier Osier, lot 9" in " ".join(out.split())


def test_a_name_that_the_drawers_encoding_lacks_is_refused_and_the_drawer_stays(tmp_path: Path, run: Run) -> None:
    drawer = "part,thickness_mm\nÄ,0.5\n".encode("cp1252")
    write_job(tmp_path, drawer=drawer, arrived_csv=ARRIVED.replace("R-1", "Шайба"))
    code, _, err = run("fit", str(tmp_path), "--measured", str(tmp_path / "arrived.csv"), "--accept")
    assert (code, "Save the drawer as UTF-8 first" in err) == (2, True)
    assert (tmp_path / "drawer.csv").read_bytes() == drawer


def test_who_cannot_get_the_lock_is_told_and_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "drawer.csv"
    path.write_bytes(HEAD + ROW)
    with locked(path), pytest.raises(InputError, match="another program is changing the drawer"), locked(path, 0):
        pytest.fail("two held one lock")
