"""Columns of cells as whole nanometres: the fast ways against the one that reads a number by itself."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.batch.decimals import Lengths, lengths_of
from shimopt.lengths import UNITS, LengthError, parse_number, to_nm
from tests.file_strategies import ODD_CELLS

units = st.sampled_from(sorted(UNITS))
plain = st.decimals(-400, 400, places=6).map(lambda number: f"{number:f}")
fine = st.decimals(-400, 400, places=14).map(lambda number: f"{number:f}")
endless = st.from_regex(r"[0-9]{0,12}\.[0-9]{1,70}", fullmatch=True)
floats = st.floats(-400, 400, allow_nan=False).map(repr)
# halves of a nanometre in mm and thereabouts, where rounding decides
ties = st.builds(
    lambda n, rest: f"{Decimal(2 * n + 1) / 2 / 10**6:f}{rest}",
    st.integers(-99, 99),
    st.sampled_from(["", "0", "000000000001"]),
)
odd = st.sampled_from([*ODD_CELLS, "5/64", " 1.5 ", "−0.2", "1e3"])
cells = st.lists(st.one_of(plain, fine, endless, floats, ties, odd), min_size=1, max_size=8)


def alone(text: str, unit: str) -> int | None:
    """One number read by itself; None where it is refused."""
    try:
        return to_nm(parse_number(text.strip().replace("−", "-")), unit)
    except LengthError:
        return None


def read(texts: list[str] | pa.Array, unit: str, **options: object) -> Lengths:
    array = texts if isinstance(texts, pa.Array) else pa.array([text or None for text in texts], pa.string())
    return lengths_of(array, unit, **options)  # type: ignore[arg-type]


@settings(max_examples=150)
@given(cells, units)
def test_a_column_is_read_as_each_of_its_numbers_by_itself(texts: list[str], unit: str) -> None:
    found = read(texts, unit)
    for row, text in enumerate(texts):
        if not text.strip():
            assert not found.filled[row]
            continue
        assert found.filled[row]
        expected = alone(text, unit)
        assert (row in found.wrong) == (expected is None), text
        if expected is not None:
            assert found.nm[row] == expected, text


@settings(max_examples=100)
@given(st.lists(st.one_of(st.floats(-400, 400), st.decimals(-400, 400, places=5).map(float)), min_size=1), units)
def test_floats_are_taken_as_the_decimals_that_they_are_written_as(numbers: list[float], unit: str) -> None:
    found = read(pa.array(numbers, pa.float64()), unit)
    for row, number in enumerate(numbers):
        if np.isnan(number):
            assert not found.filled[row]
        else:
            expected = alone(repr(number), unit)
            assert (found.nm[row] if row not in found.wrong else None) == expected, number


@pytest.mark.parametrize(
    ("text", "unit", "nm"),
    [
        ("0.35", "mm", 350_000),
        ("17", "thou", 431_800),
        ("0.017", "in", 431_800),
        ("350", "um", 350_000),
        ("5/64", "in", 1_984_375),  # 25 400 000 × 5/64, by hand
        ("0.0000005", "mm", 0),
        ("0.0000015", "mm", 2),
        ("0.00000050000000000001", "mm", 1),  # half to even; just above
        ("1e1", "mm", 10_000_000),
        ("-0.02", "mm", -20_000),
        ("10000", "mm", 10_000_000_000),
    ],
)
def test_a_cell_is_exact_to_the_nanometre(text: str, unit: str, nm: int) -> None:
    for column in ([text], [text, "0.1"], [text, "oops"]):
        found = read(column, unit)
        assert (found.nm[0], 0 in found.wrong) == (nm, False)


@pytest.mark.parametrize(
    "text",
    [
        "10001",
        "99999999",
        "1e15",
        "1e400",
        "123456789012",
        "inf",
        "nan",
        "0.5x",
        "1,5",
        "1_0",
        "٣",
        "0x1",
        "--1",
        "1/0",
        "9" * 100,
    ],
)
def test_what_is_no_length_is_refused_in_its_own_row(text: str) -> None:
    found = read(["0.1", text, "0.25"], "mm")
    assert set(found.wrong) == {1}
    assert found.nm.tolist()[::2] == [100_000, 250_000]


def test_a_decimal_comma_is_read_where_the_table_has_them() -> None:
    found = read(["0,35", "0.35", "1.234,5", "1,2,3", "none"], "mm", decimal_comma=True, word="none")
    assert found.nm.tolist()[:2] == [350_000, 350_000]
    assert set(found.wrong) == {2, 3}
    assert found.words.tolist() == [False, False, False, False, True]


@pytest.mark.parametrize(
    "column",
    [
        pa.array([1, None, 3], pa.int64()),
        pa.array([1.0, None, 3.0], pa.float32()),
        pa.array(["1", None, "3"]),
        pa.array([Decimal("1.0"), None, Decimal("3.0")]),
        pa.array(["1", None, "3"]).dictionary_encode(),
        pa.array([1.0, float("nan"), 3.0]),
        pa.array([1, None, 3], pa.uint8()),
        pa.array(["1", None, "3"], pa.large_string()),
    ],
    ids=lambda column: str(column.type)[:20],
)
def test_a_column_may_be_typed_as_it_likes(column: pa.Array) -> None:
    found = read(column, "mm")
    assert found.nm[[0, 2]].tolist() == [1_000_000, 3_000_000]
    assert found.filled.tolist() == [True, False, True]
    assert not found.wrong


def test_cells_that_are_no_numbers_at_all_are_refused() -> None:
    for column in (pa.array([True, False]), pa.array([[1], [2]]), pa.array([b"1", b"\xff"])):
        assert set(read(column, "mm").wrong) >= {1}


def test_floats_that_are_infinite_are_refused() -> None:
    found = read(pa.array([0.1, float("inf"), float("-inf")]), "mm")
    assert set(found.wrong) == {1, 2}
    assert Fraction(int(found.nm[0])) == 100_000
