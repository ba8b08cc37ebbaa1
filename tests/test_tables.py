"""Parts tables as spreadsheets of all countries write them: what is read, and as what."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.lengths import Bracket
from shimopt.parts import StockLine, load_stock
from tests.job_files import edited, write_job


def stock(folder: Path, drawer: str | bytes, catalogue: str | None = None) -> dict[str, StockLine]:
    """A drawer's lines by the name of the part."""
    (folder / "drawer.csv").write_bytes(drawer.encode() if isinstance(drawer, str) else drawer)
    if catalogue is not None:
        (folder / "catalogue.csv").write_text(catalogue)
    lines = load_stock(folder / "drawer.csv", [folder / "catalogue.csv"] if catalogue else []).lines
    assert len({line.part.name for line in lines}) == len(lines)
    return {line.part.name: line for line in lines}


def exactly(nm: int) -> Bracket:
    return Bracket.between(nm, nm)


def test_a_plain_drawer(tmp_path: Path) -> None:
    line = stock(tmp_path, "part,thickness_mm,on_hand,inner_mm,outer_mm,at,note\nA-0.3,0.3,4,16.2,24,tray 2,old\n")[
        "A-0.3"
    ]
    assert (line.on_hand, line.part.thickness, line.part.measured) == (4, exactly(300_000), False)
    assert (line.part.inner, line.part.outer) == (exactly(16_200_000), exactly(24_000_000))
    assert (line.part.at, line.part.note) == ("tray 2", "old")


@pytest.mark.parametrize(
    ("unit", "cell", "nm"),
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST SP 811)
    [
        ("mm", "0.35", 350_000),
        ("um", "350", 350_000),
        ("in", "0.017", 431_800),
        ("thou", "17", 431_800),
        ("in", "5/64", 1_984_375),
        ("thou", "1 1/2", 38_100),
    ],
)
def test_a_column_says_its_unit(tmp_path: Path, unit: str, cell: str, nm: int) -> None:
    assert stock(tmp_path, f"part,thickness_{unit}\nA,{cell}\n")["A"].part.thickness == exactly(nm)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_drawer_in_any_usual_encoding(tmp_path: Path, encoding: str) -> None:
    assert list(stock(tmp_path, "part,thickness_mm\nGröße 3,0.3\n".encode(encoding))) == ["Größe 3"]


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_a_european_spreadsheet_with_decimal_commas(tmp_path: Path, delimiter: str) -> None:
    text = "part;thickness_mm;tolerance_mm;inner_mm;on_hand\r\nA;0,35;+0/-0,05;16,2 ± 0,1;3\r\nB;0.40;0,02;;1\r\n"
    lines = stock(tmp_path, text.replace(";", delimiter))
    assert lines["A"].part.thickness == Bracket.between(300_000, 350_000)
    assert lines["A"].part.inner == Bracket.between(16_100_000, 16_300_000)
    assert lines["B"].part.thickness == Bracket.between(380_000, 420_000)
    assert (lines["A"].on_hand, lines["B"].on_hand) == (3, 1)


# spreadsheets write a first line that names the delimiter, even where the second would mislead
@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "SEP=; "])
def test_a_first_line_that_names_the_delimiter(tmp_path: Path, first: str) -> None:
    lines = stock(tmp_path, f"{first}\r\npart;thickness_mm;on_hand\r\nA, B, C and D;0,35;3\r\n")
    assert lines["A, B, C and D"].part.thickness == exactly(350_000)
    assert lines["A, B, C and D"].row == 3
    lines = stock(tmp_path, "sep=,\npart,thickness_mm\nA,0.35\n")
    assert lines["A"].part.thickness == exactly(350_000)


def test_a_price_with_a_decimal_comma(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("part;thickness_mm;price\nA;0,3;1,25\n")
    [line] = load_stock(None, [tmp_path / "c.csv"]).lines
    assert str(line.offers[0].price) == "1.25"


def test_quotes_blank_rows_and_old_line_ends(tmp_path: Path) -> None:
    lines = stock(tmp_path, 'part,thickness_mm\r\r"ring, ""thin""",0.1\r,\rB, 0.2 \r')
    assert {name: line.part.thickness.best for name, line in lines.items()} == {'ring, "thin"': 100_000, "B": 200_000}


def test_headers_in_capitals_and_in_any_order(tmp_path: Path) -> None:
    assert stock(tmp_path, "On_Hand,THICKNESS_MM,Part\n2,0.1,A\n")["A"].on_hand == 2


def test_a_part_number_keeps_its_zeros(tmp_path: Path) -> None:
    assert list(stock(tmp_path, "part,thickness_mm\n0050,0.5\n")) == ["0050"]


def test_words_that_mean_missing_elsewhere_are_names(tmp_path: Path) -> None:
    assert set(stock(tmp_path, "part,thickness_mm\nNA,0.5\nnull,0.6\n")) == {"NA", "null"}


def test_a_piece_without_a_name_is_called_by_its_thickness(tmp_path: Path) -> None:
    assert set(stock(tmp_path, "part,thickness_thou\n,5\n,2.5\nS,7\n")) == {"5 thou", "2.5 thou", "S"}
    assert set(stock(tmp_path, "thickness_mm\n0.1\n0.25\n")) == {"0.10 mm", "0.25 mm"}


def test_one_of_each_where_no_column_says_how_many(tmp_path: Path) -> None:
    assert stock(tmp_path, "part,thickness_mm\nA,1\n")["A"].on_hand == 1


def test_none_on_hand_is_a_count(tmp_path: Path) -> None:
    assert stock(tmp_path, "part,thickness_mm,on_hand\nA,1,0\n")["A"].on_hand == 0


@pytest.mark.parametrize(
    ("cell", "low", "high"),
    [
        ("0.05", 450_000, 550_000),
        ("± 0.05", 450_000, 550_000),
        ("+/-0.05", 450_000, 550_000),
        ("+0/-0.05", 450_000, 500_000),
        ("0/-0.05", 450_000, 500_000),
        ("+0.02 / -0.01", 490_000, 520_000),
        ("+0/−0.05", 450_000, 500_000),
        ("", 500_000, 500_000),
    ],
)
def test_a_tolerance_on_both_sides_or_on_one(tmp_path: Path, cell: str, low: int, high: int) -> None:
    part = stock(tmp_path, f"part,thickness_mm,tolerance_mm\nA,0.5,{cell}\n")["A"].part
    # the best estimate is the middle: a stack of one-sided pieces is on average thinner than its label
    assert part.thickness == Bracket(Fraction(low), Fraction(low + high, 2), Fraction(high))


def test_a_measured_thickness_replaces_the_marked_one_and_its_tolerance(tmp_path: Path) -> None:
    part = stock(tmp_path, "part,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm\nA,0.5,0.05,0.53,0.002\n")[
        "A"
    ].part
    assert (part.thickness, part.measured, part.marked) == (Bracket.between(528_000, 532_000), True, 500_000)


def test_a_measured_thickness_without_an_error_is_taken_as_exact(tmp_path: Path) -> None:
    assert stock(tmp_path, "part,measured_mm\nA,0.53\n")["A"].part.thickness == exactly(530_000)


def test_one_part_on_several_rows_with_tags_or_measured_thicknesses(tmp_path: Path) -> None:
    (tmp_path / "d.csv").write_text(
        "part,piece,thickness_mm,measured_mm\nA,1,0.5,\nA,2,0.5,\nA,,0.5,0.51\nA,,0.5,0.52\nA,,0.5,\n"
    )
    lines = load_stock(tmp_path / "d.csv", []).lines
    assert [(line.part.name, line.part.piece, int(line.part.thickness.best)) for line in lines] == [
        ("A", None, 500_000),
        ("A", None, 510_000),
        ("A", None, 520_000),
        ("A", "1", 500_000),
        ("A", "2", 500_000),
    ]


def test_a_drawer_row_takes_the_rest_from_a_catalogue(tmp_path: Path) -> None:
    catalogue = (
        "part,thickness_mm,tolerance_mm,inner_mm,outer_mm,material,price,pack\nA,0.5,+0/-0.05,16,24,steel,1.20,10\n"
    )
    line = stock(tmp_path, "part,on_hand\nA,3\n", catalogue)["A"]
    assert (line.part.thickness, line.part.inner, line.part.outer, line.part.material) == (
        Bracket.between(450_000, 500_000),
        exactly(16_000_000),
        exactly(24_000_000),
        "steel",
    )
    assert (line.on_hand, str(line.offers[0].price), line.offers[0].pack) == (3, "1.2", 10)


def test_a_drawer_row_with_a_measured_thickness_takes_its_bore_from_a_catalogue(tmp_path: Path) -> None:
    (tmp_path / "d.csv").write_text("part,measured_mm\nA,0.47\n")
    (tmp_path / "c.csv").write_text("part,thickness_mm,inner_mm\nA,0.5,16\n")
    owned, sold = load_stock(tmp_path / "d.csv", [tmp_path / "c.csv"]).lines
    assert (owned.part.thickness, owned.part.marked, owned.part.inner) == (
        exactly(470_000),
        500_000,
        exactly(16_000_000),
    )
    assert (owned.on_hand, owned.offers, sold.on_hand, len(sold.offers)) == (1, (), 0, 1)


def test_the_same_part_of_two_suppliers(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("part,thickness_mm,supplier,price\nA,0.5,north,2\nA,0.5,south,1\n")
    [line] = load_stock(None, [tmp_path / "c.csv"]).lines
    assert [(offer.supplier, str(offer.price)) for offer in line.offers] == [("north", "2"), ("south", "1")]


def test_parts_come_in_natural_order_whatever_the_order_of_rows(tmp_path: Path) -> None:
    rows = ["S-10,10\n", "S-2,2\n", "S-1,1\n", "R,5\n"]
    there, back = (list(stock(tmp_path, "part,thickness_thou\n" + "".join(some))) for some in (rows, reversed(rows)))
    assert there == back == ["R", "S-1", "S-2", "S-10"]


def test_columns_that_nobody_reads_are_told(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, drawer="part,,thickness_mm,colour\nA,x,1,blue\n"))
    assert job.not_read == (("drawer.csv", "(without a name)"), ("drawer.csv", "colour"))


def test_paths_are_relative_to_the_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "jobs" / "bridge").mkdir(parents=True)
    (tmp_path / "elsewhere").mkdir()
    write_job(
        tmp_path / "jobs" / "bridge",
        edited(('"drawer.csv"', '"../../drawer.csv"\ncatalogues = ["../maker.csv"]')),
        drawer=None,
    )
    (tmp_path / "drawer.csv").write_text("part,on_hand\nA,7\n")
    (tmp_path / "jobs" / "maker.csv").write_text("part,thickness_mm\nA,1\n")
    monkeypatch.chdir(tmp_path / "elsewhere")
    [line] = load_job("../jobs/bridge").stock
    assert (line.part.name, line.on_hand) == ("A", 7)


def test_another_drawer_can_stand_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_job(tmp_path)
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "mine.csv").write_text("thickness_mm\n0.3\n")
    monkeypatch.chdir(tmp_path / "here")
    job = load_job("..", drawer="mine.csv")
    assert [line.part.name for line in job.stock] == ["0.30 mm"]
    assert Path(job.inputs[1]) == Path("mine.csv")


def test_a_catalogue_alone_is_stock_enough(tmp_path: Path) -> None:
    write_job(tmp_path, edited(('drawer = "drawer.csv"', 'catalogues = ["c.csv"]')), drawer=None)
    (tmp_path / "c.csv").write_text("part,thickness_mm\nA,1\n")
    assert [line.on_hand for line in load_job(tmp_path).stock] == [0]
