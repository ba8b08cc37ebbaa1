"""The catalogues that come with shimopt: their figures, and where they are from."""

from __future__ import annotations

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.errors import InputError, RefusedError
from shimopt.job import built_in_catalogues
from shimopt.job.seat_schema import pressure_named
from shimopt.parts import Part, load_stock
from shimopt.parts.standards import catalogue_folder, reference_rows, strip_tolerance

TABLES = ["iso286-grades", "iso286-deviations", "strip-tolerances", "thermal-expansion", "limit-pressures"]
# bore x outside of the pairs that are legible in a public copy of DIN 988:1990: five with their limits d12, one as the
# example of how a ring is called
SEEN_PAIRS = {"15x21", "16x22", "17x24", "18x25", "19x26", "40x50"}
# ... and of those that a drawing file or parts lists name
SECOND_HAND_PAIRS = {
    "3x6",
    "4x8",
    "5x10",
    "6x12",
    "7x13",
    "8x14",
    "10x16",
    "11x17",
    "12x18",
    "13x19",
    "14x20",
    "20x28",
}


def din988() -> list[Part]:
    return [line.part for line in load_stock(None, [built_in_catalogues()["din988"]]).lines]


@pytest.mark.parametrize("name", sorted(built_in_catalogues()))
def test_every_row_of_a_catalogue_can_be_read_and_says_where_it_is_from(name: str) -> None:
    parts = [line.part for line in load_stock(None, [built_in_catalogues()[name]]).lines]
    assert parts
    assert {part.provenance for part in parts} <= {"seen", "second hand", "memory", "common practice"}


@pytest.mark.parametrize("name", TABLES)
def test_every_row_of_a_table_says_where_it_is_from(name: str) -> None:
    assert {row["provenance"] for row in reference_rows(name)} <= {"seen", "memory"}


def test_the_readme_of_the_catalogues_names_every_file() -> None:
    text = (catalogue_folder() / "README.md").read_text(encoding="utf-8")
    for file in [*catalogue_folder().glob("*.csv"), *catalogue_folder().glob("tables/*.csv")]:
        assert f"`{file.relative_to(catalogue_folder()).as_posix()}`" in text


def test_din_988_rings_are_bored_d12_and_turned_d12() -> None:
    # 40 D12 = 40.080/40.330 and 50 d12 = 49.670/49.920; 12 D12 = 12.050/12.230 (ISO 286, public tables)
    by_name = {part.name: part for part in din988()}
    large, small = by_name["PS 40x50x0.3"], by_name["PS 12x18x0.1"]
    assert large.inner is not None
    assert large.outer is not None
    assert small.inner is not None
    assert (large.inner.low, large.inner.high) == (40_080_000, 40_330_000)
    assert (large.outer.low, large.outer.high) == (49_670_000, 49_920_000)
    assert (small.inner.low, small.inner.high) == (12_050_000, 12_230_000)


def test_din_988_thicknesses_are_one_sided() -> None:
    # 0/-0.03 at 0.1, 0/-0.05 at 0.3 and 0.5 (partly seen); 0.5 + 0.3 + 0.1 is 0.77 to 0.90 mm
    by_name = {part.name: part.thickness for part in din988()}
    stack = [by_name[f"PS 16x22x{size}"] for size in ("0.1", "0.3", "0.5")]
    assert sum((t.low for t in stack), Fraction(0)) == 770_000
    assert sum((t.high for t in stack), Fraction(0)) == 900_000
    assert sum((t.best for t in stack), Fraction(0)) == 835_000


def test_din_988_calls_seen_only_what_was_seen() -> None:
    parts = din988()
    pairs = {part.name.split(" ")[1].rpartition("x")[0] for part in parts}
    assert len(pairs) == 57
    for part in parts:
        pair, _, size = part.name.split(" ")[1].rpartition("x")
        # the deviations of these two thicknesses are legible
        legible = part.name.startswith("PS") and size in ("0.1", "0.3")
        seen, second_hand = legible and pair in SEEN_PAIRS, legible and pair in SECOND_HAND_PAIRS
        assert part.provenance == ("seen" if seen else "second hand" if second_hand else "memory")
        assert (part.unconfirmed, part.judges_labels) == (not seen, seen)
        # class D12 of the bores was read in no copy
        assert ("second hand" if seen or second_hand else "from memory") in part.note


def test_strip_tolerances_are_those_of_the_table() -> None:
    # ISO 9445-1 as tabulated by a national steel association: ±0.10 t to 0.10 mm, ±0.010 to 0.15, ±0.020 to 0.40 mm
    assert strip_tolerance(80_000) == 8_000
    assert strip_tolerance(100_000) == 10_000
    assert strip_tolerance(150_000) == 10_000
    assert strip_tolerance(150_001) == 15_000
    assert strip_tolerance(400_000) == 20_000
    assert strip_tolerance(400_001) is None
    assert strip_tolerance(50_000) is None
    assert strip_tolerance(300_000, "precision") == 9_000


def test_limit_pressures_name_their_edition() -> None:
    # VDI 2230:2003, GJL-250: 900 N/mm²; VDI 2230:1986, St37: 260 N/mm²
    assert pressure_named("GJL-250").value == 900
    assert pressure_named("GJL-250").source == "GJL-250, VDI 2230:2003"
    assert pressure_named("gjl-250 (VDI 2230:2003)").value == 900
    assert (pressure_named("St37").value, pressure_named("St37").source) == (260, "St37, VDI 2230:1986")
    assert pressure_named("St37").memory
    assert not pressure_named("S235JRG1").memory
    assert pressure_named("S235JRG1").value == 490
    for text, rule in (("GJL-25", "not in the table"), ("GJL-250, VDI 2230:1986", "no such material")):
        with pytest.raises(RefusedError, match=rule):
            pressure_named(text)


def test_a_shops_own_catalogue_with_mistakes_is_refused_by_row_and_column(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text(
        "part,thickness_mm,inner_mm,outer_mm,form,hardness,edge_mm\n"
        "A,0.3,16 d12,22 d12,ring,350 HV,0.2\n"
        "B,0.3,16 D12,22 D12,ringg,350,-1\n"
        "C,0.3,22,16,washer,90 HRC,\n",
        encoding="utf-8",
    )
    with pytest.raises(InputError) as error:
        load_stock(None, [path])
    told = [(problem.where, problem.value) for problem in error.value.problems]
    assert told == [
        ("row 2, column inner_mm", "16 d12"),
        ("row 3, column outer_mm", "22 D12"),
        ("row 3, column form", "ringg"),
        ("row 3, column hardness", "350"),
        ("row 3, column edge_mm", "-1"),
        ("row 4, column inner_mm", "22"),
        ("row 4, column form", "washer"),
        ("row 4, column hardness", "90 HRC"),
    ]
    assert any("did you mean ring?" in problem.remedy for problem in error.value.problems)


def test_classes_hardness_and_edges_of_a_table_are_read(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    head = "part;thickness_mm;inner_mm;outer_mm;form;hardness;edge_mm\n"
    path.write_text(f"{head}A;0,3;16,5 D12;22 ± 0,1;Ring;HV 350;0,2\n", encoding="utf-8")
    part = load_stock(None, [path]).lines[0].part
    # 16.5 D12: EI 50, IT12 180 µm
    assert part.inner is not None
    assert (part.inner.low, part.inner.high) == (16_550_000, 16_730_000)
    assert (part.form, part.hardness, part.edge) == ("ring", "350 HV", 200_000)


def test_no_names_of_makers_stand_in_the_data() -> None:
    for path in catalogue_folder().rglob("*.csv"):
        with open(path, encoding="utf-8", newline="") as file:
            for row in csv.reader(file):
                assert not re.search(r"www\.|http|®|™|GmbH|Ltd|Inc\.", " ".join(row))
