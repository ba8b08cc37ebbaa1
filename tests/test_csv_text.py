"""CSV both ways: what is written is read back as the same cells, by us and by the standard module."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.errors import InputError
from shimopt.parts import load_stock
from shimopt.tables.csv_text import BrokenRecordError, csv_of, delimiter_of, records
from shimopt.tables.read import read_table

CELLS = st.lists(st.text('ab",;\t \r\n', max_size=5), min_size=2, max_size=2)


@given(rows=st.lists(CELLS, max_size=5), semicolons=st.booleans())
def test_what_is_written_is_read_back(rows: list[list[str]], semicolons: bool) -> None:
    text = csv_of(["one", "two"], rows, semicolons=semicolons, exact_names=True).removeprefix("\ufeff")
    delimiter = ";" if semicolons else ","
    assert delimiter_of(text) == delimiter
    assert [record.cells for record in records(text, delimiter)][1:] == rows
    assert list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))[1:] == rows


def test_with_semicolons_numbers_have_commas_and_a_mark_stands_before_it_all() -> None:
    rows: list[list[object]] = [["a;b", 0.35, 2, None], ["1.5", -1.0, 0, ""]]
    assert csv_of(["x", "y", "z", "w"], rows, semicolons=True) == '\ufeffx;y;z;w\n"a;b";0,35;2;\n1.5;-1,0;0;\n'


def test_a_quote_that_never_closes_is_told_with_its_line() -> None:
    with pytest.raises(BrokenRecordError) as broken:
        list(records('a,b\n1,2\n3,"4\n5,6\n', ","))
    assert broken.value.number == 3


def test_a_table_in_parquet_is_the_same_table(tmp_path: Path) -> None:
    """Numbers as floats, whole numbers, texts and blanks; rows are numbered as a spreadsheet would."""
    columns = {"part": ["A", "B"], "thickness_mm": [0.1, 0.3], "inner_mm": [16, None], "price": ["1.20", None]}
    pyarrow.parquet.write_table(pa.table(columns), tmp_path / "parts.parquet")
    (tmp_path / "parts.csv").write_text("part,thickness_mm,inner_mm,price\nA,0.1,16,1.20\nB,0.3,,\n")
    one, other = (read_table(tmp_path / f"parts.{kind}", "catalogue") for kind in ("csv", "parquet"))
    assert (one.columns, [tuple(row) for row in one.rows]) == (other.columns, [tuple(row) for row in other.rows])
    parts = [
        [line.part for line in load_stock(None, [tmp_path / f"parts.{kind}"]).lines] for kind in ("csv", "parquet")
    ]
    assert parts[0] == parts[1]


def test_a_wrong_cell_in_parquet_is_told_with_its_place(tmp_path: Path) -> None:
    pyarrow.parquet.write_table(pa.table({"part": ["A", "B"], "thickness_mm": [0.1, -1.0]}), tmp_path / "p.parquet")
    with pytest.raises(InputError) as refused:
        load_stock(None, [tmp_path / "p.parquet"])
    (problem,) = refused.value.problems
    assert (problem.where, problem.value) == ("row 3, column thickness_mm", "-1")
    (tmp_path / "p.parquet").write_bytes(b"PAR1 and then nothing")
    with pytest.raises(InputError, match="not a readable parquet file"):
        load_stock(None, [tmp_path / "p.parquet"])


def test_rows_of_the_same_figures_are_told_apart_by_what_stands_beside_them(tmp_path: Path) -> None:
    """Figures that stand on many rows are worked out once: names, tags, notes and terms are each row's own."""
    head = "part,thickness_mm,inner_mm,material,note,price,supplier\n"
    (tmp_path / "c.csv").write_text(head + "A,0.1,16,steel,one,1,X\nB,0.1,16,brass,two,2,X\nC,0.1,16,steel,,1,Y\n")
    lines = {line.part.name: line for line in load_stock(None, [tmp_path / "c.csv"]).lines}
    assert [(lines[n].part.material, lines[n].part.note) for n in "ABC"] == [
        ("steel", "one"),
        ("brass", "two"),
        ("steel", ""),
    ]
    assert [(lines[n].offers[0].price, lines[n].offers[0].supplier) for n in "ABC"] == [(1, "X"), (2, "X"), (1, "Y")]
    (tmp_path / "c.csv").write_text(head + "A,0.1,x,,,1,\nB,0.1,x,,,-1,\nC,0.1,x,,,1,\n")
    with pytest.raises(InputError) as refused:
        load_stock(None, [tmp_path / "c.csv"])
    wrong = [problem.where for problem in refused.value.problems]
    # every row with a wrong cell is told, though the cell is read once
    assert [w for w in wrong if "inner" in w] == [f"row {n}, column inner_mm" for n in (2, 3, 4)]
    assert [w for w in wrong if "price" in w] == ["row 3, column price"]
