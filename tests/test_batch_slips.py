"""Slipped units in a batch: refused in their own row by the rule that stops a job, and not where a row is checked."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shimopt.batch.answers import Answers
from shimopt.batch.terms import Terms
from shimopt.job import Gap, Job, Place, Window
from shimopt.job.reading_slips import slips_of
from shimopt.lengths import UNITS, Bracket
from shimopt.readings import Reading
from tests.batch_files import Batches
from tests.jobs import shim

# sizes of 0.05, 0.10 and 0.20 mm, three in a stack: up to 0.60 mm is bridged
STOCK = tuple(shim(size, 9, unit="mm") for size in ("0.05", "0.1", "0.2"))


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Batches:
    return Batches(tmp_path, capsys)


def test_a_reading_in_another_unit_is_refused_in_its_own_row(batches: Batches) -> None:
    # 17 thou = 0.4318 mm; 420 um = 0.42 mm
    rows = "a,0.40,0.42,\nb,17,18,\nc,420,430,no\ne,17,18,yes\nf,0.01,0.02,\ng,0.4,0.42,perhaps\n"
    ended = batches.of(f"gap,low_mm,high_mm,checked\n{rows}")
    told = {row["gap"]: row["reason"] for row in ended.rows if row["verdict"] == "refused"}
    assert list(told) == ["b", "c", "g"]
    above = "in mm it is far too loose, and no stack comes near it. Write what was read; if it was read so, "
    above += "write yes in a column checked."
    assert told["b"] == f"The reading was probably in thou: {above}"
    assert told["c"] == f"The reading was probably in um: {above}"
    assert told["g"].startswith("checked: a reading was checked or not. Write yes")
    assert {row["gap"]: row["verdict"] for row in ended.rows}["e"] == "outside"
    assert ended.code == 1

    # 0.0175 thou is 444.5 nm; 0.0175 in are 17.5 thou
    # 17000 thou, where 17 were read: no other unit makes that of it
    (row,) = batches.of("gap,low_thou,high_thou\na,17000,17000\n").rows
    assert row["reason"].startswith("The reading is probably a thousand times too large: in thou it is far too loose")
    (row,) = batches.of("gap,low_thou,high_thou\na,0.017,0.018\n").rows
    assert row["reason"].startswith("The reading was probably in inches: in thou it is less than any gauge shows.")


LENGTHS = st.one_of(
    st.integers(0, 900), st.integers(0, 60_000), st.integers(0, 900).map(lambda n: n * 1_000), st.integers(-500, 0)
)


@settings(deadline=None)
@example("thou", [(900_000, 0, False)], (-50_000, 0))
@given(
    st.sampled_from(["mm", "thou", "um", "in"]),
    st.lists(st.tuples(LENGTHS, st.sampled_from([0, 0, 1, 20]), st.booleans()), min_size=1, max_size=6),
    st.sampled_from([(None, 250_000), (100_000, 250_000), (100_000, None), (-50_000, 0), (0, 20_000)]),
)
def test_a_batch_refuses_what_stops_a_job(
    unit: str, readings: list[tuple[int, int, bool]], limits: tuple[int | None, int | None]
) -> None:
    """The rule on columns against the rule on a job of one gap."""
    window = Window(*limits, "test")
    # in thousandths of the unit, as one types them
    typed = [(Decimal(low) / 1000, Decimal(low + wide) / 1000) for low, wide, _ in readings]
    names = [str(number) for number in range(len(readings))]
    cells = {"gap": names, "low": [f"{low:f}" for low, _ in typed], "high": [f"{high:f}" for _, high in typed]}
    cells["checked"] = ["yes" if checked else "" for *_, checked in readings]
    columns = {key: pa.array(values, pa.string()) for key, values in cells.items()}
    answered = Answers(Terms(STOCK, window)).of(columns, {"low": unit, "high": unit})
    for row, (low, high), (*_, checked) in zip(answered.table().to_pylist(), typed, readings, strict=True):
        ends = [round(Fraction(end) * UNITS[unit]) for end in (low, high)]
        if max(map(abs, ends)) > 10 * 10**9:
            continue
        gap = Gap("g", Reading(Bracket.between(*ends), "table"), window, (("g", Fraction(-1)),), typed_in=unit)
        job = Job("test", unit, (gap,), (Place("g", None, 3),), (), STOCK)
        stops = any(slip.stops for slip in slips_of(job))
        assert (row["verdict"] == "refused") == (stops and not checked)


def test_many_times_the_window_is_a_caution(batches: Batches) -> None:
    """Stacks close 1.50 mm at most: 4.00 is sixteen times 0.25; of a window up to 0.50, 2.10 is only four times."""
    (row,) = batches.of("gap,low_mm,high_mm\na,4.00,4.02\n").rows
    assert row["verdict"] == "outside"
    assert "a decimal point may have slipped, measure it again before anything is fitted" in row["reason"]
    (row,) = batches.of("gap,low_mm,high_mm\na,2.10,2.12\n", "--min", "0.10 mm", "--max", "0.50 mm").rows
    assert row["verdict"] == "outside"
    assert "more than the thickest stack can close" in row["reason"]
