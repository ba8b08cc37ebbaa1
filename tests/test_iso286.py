"""ISO 286 limits against worked limits of public tables, and against another library."""

from __future__ import annotations

from fractions import Fraction

import pressfit
import pytest

from shimopt.lengths import LengthError
from shimopt.parts.standards import class_limits, classed

# nominal [mm], class, least and largest size [mm]: ISO 286-1/-2 as given by four public tables that agree
WORKED = [
    ("25", "H7", "25.0000", "25.0210"),
    ("25", "g6", "24.9800", "24.9930"),
    ("25", "f7", "24.9590", "24.9800"),
    ("25", "h6", "24.9870", "25.0000"),
    ("12", "D12", "12.0500", "12.2300"),
    ("30", "d12", "29.7250", "29.9350"),
    ("20", "D12", "20.0650", "20.2750"),
    ("28", "d12", "27.7250", "27.9350"),
    ("40", "D12", "40.0800", "40.3300"),
    ("50", "d12", "49.6700", "49.9200"),
    ("3", "D12", "3.0200", "3.1200"),
    ("6", "d12", "5.8500", "5.9700"),
    ("10", "D12", "10.0400", "10.1900"),
    ("16", "d12", "15.7700", "15.9500"),
    ("100", "D12", "100.1200", "100.4700"),
    ("120", "d12", "119.5300", "119.8800"),
    ("50", "H8", "50.0000", "50.0390"),
    ("50", "e8", "49.9110", "49.9500"),
    ("80", "H11", "80.0000", "80.1900"),
    ("120", "D9", "120.1200", "120.2070"),
    ("180", "F8", "180.0430", "180.1060"),
    ("250", "h5", "249.9800", "250.0000"),
    ("18", "G7", "18.0060", "18.0240"),
    ("18.0001", "G7", "18.0071", "18.0281"),
]
# the edge of a band belongs to the lower band
EDGES = ["3", "6", "10", "18", "30", "50", "80", "120", "180", "250"]


def nm(text: str) -> Fraction:
    return Fraction(text) * 1_000_000


@pytest.mark.parametrize(("size", "name", "least", "largest"), WORKED)
def test_limits_are_those_of_the_worked_tables(size: str, name: str, least: str, largest: str) -> None:
    limits = class_limits(int(nm(size)), name[0], int(name[1:]))
    assert (limits.low, limits.high) == (nm(least), nm(largest))
    assert classed(f"{size} {name}", "hole" if name[0].isupper() else "shaft") == limits


@pytest.mark.parametrize("size", EDGES)
@pytest.mark.parametrize("grade", range(5, 12))
def test_holes_h_agree_with_another_library_at_both_sides_of_every_band_edge(size: str, grade: int) -> None:
    # pressfit (MIT) is right to 250 mm for hole H with shafts c to s, IT5 to IT11
    for nominal in (nm(size), nm(size) - 1_000):
        width = class_limits(int(nominal), "H", grade)
        assert (width.high - width.low) / 1000 == pressfit.it_value(float(nominal / 1_000_000), grade)


@pytest.mark.parametrize("size", EDGES)
@pytest.mark.parametrize("letter", "defgh")
def test_shafts_agree_with_another_library(size: str, letter: str) -> None:
    limits = class_limits(int(nm(size)), letter, 7)
    found = pressfit.fit(f"H7/{letter}7", float(size))
    assert (limits.low - nm(size), limits.high - nm(size)) == (found.shaft_ei_um * 1000, found.shaft_es_um * 1000)


def test_a_class_is_read_with_or_without_unit_and_space() -> None:
    assert classed("16h6", "shaft") == classed("16 h6", "shaft") == classed("16 mm h6", "shaft")
    # 0.625 in = 15.875 mm, in the band over 10 to 18: IT6 is 11 µm
    inches = classed("0.625 in h6", "shaft")
    assert inches is not None
    assert (inches.low, inches.high) == (15_864_000, 15_875_000)
    assert classed("0.625 h6", "shaft", "in") == inches


@pytest.mark.parametrize("text", ["16", "16 mm", "1.6e1", "16 mm ± 0.1 mm", "5/8 in", "in 5"])
def test_a_plain_length_is_no_class(text: str) -> None:
    assert classed(text, "shaft") is None


@pytest.mark.parametrize(
    ("text", "kind", "rule"),
    [
        ("16 H6", "shaft", "small letter"),
        ("16 h6", "hole", "capital letter"),
        ("16 k6", "shaft", "not known here"),
        ("16 js6", "shaft", "not known here"),
        ("16 h4", "shaft", "not known here"),
        ("16 h14", "shaft", "not known here"),
        ("250.001 h6", "shaft", "up to 250 mm"),
        ("0 h6", "shaft", "up to 250 mm"),
    ],
)
def test_a_class_that_is_not_in_the_tables_is_refused(text: str, kind: str, rule: str) -> None:
    with pytest.raises(LengthError, match=rule):
        classed(text, kind)
