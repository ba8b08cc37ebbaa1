"""How long a million separate gaps take, CSV in and out, chance included; as a ratio to bare reading and writing.

Nothing is asserted about time. Target on two cores: under 2 s. The yardstick is pyarrow alone, in the same run: it
reads the same CSV (numbers as floats) and writes the same answers. Readings in steps of a micrometre make many gaps
alike; the other table has hardly two gaps alike, and a fifth of them unproven.
"""

from __future__ import annotations

from pathlib import Path
from time import perf_counter, process_time
from typing import Any, cast

import numpy as np
import pyarrow.csv
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from shimopt.batch.batching import Result, run_batch
from shimopt.batch.terms import Terms, load_terms

_GAPS = 1_000_000
_SIZES = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.00, 1.20)
STEPS = {"readings in steps of 0.001 mm": 1_000, "hardly two gaps alike": 1}


def _terms(folder: Path) -> Terms:
    parts = "".join(f"S-{size:.2f},{size:.2f},0.002\n" for size in _SIZES)
    (folder / "parts.csv").write_text("part,thickness_mm,tolerance_mm\n" + parts)
    return load_terms(folder / "parts.csv", min="0.10 mm", max="0.25 mm")


def _gaps(table: Path, step: int, count: int = _GAPS) -> None:
    """Readings from 0.1 to 1.9 mm, 0.01 to 0.15 mm wide, in steps [nm]."""
    rng = np.random.default_rng(1)
    low = rng.integers(100_000 // step, 1_900_000 // step, count) * step
    wide = rng.choice([10_000, 20_000, 30_000, 50_000], count) if step > 1 else rng.integers(1_000, 150_000, count)
    ends = zip(low.tolist(), (low + wide).tolist(), strict=True)
    with open(table, "w", encoding="utf-8") as file:
        file.write("gap,low_mm,high_mm\n")
        file.writelines(f"gap {n},{one / 1e6:.6g},{two / 1e6:.6g}\n" for n, (one, two) in enumerate(ends))


def _bare(table: Path, answers: Path, copy: Path) -> float:
    """Read gaps and write answers with pyarrow alone [s]."""
    found = pyarrow.csv.read_csv(answers)
    start = perf_counter()
    pyarrow.csv.read_csv(table)
    pyarrow.csv.write_csv(found, copy)
    return perf_counter() - start


@pytest.mark.parametrize("kind", STEPS)
def test_a_million_gaps(
    kind: str, benchmark: BenchmarkFixture, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    terms, table, out = _terms(tmp_path), tmp_path / "gaps.csv", tmp_path / "out.csv"
    _gaps(table, STEPS[kind])
    used = process_time()
    start = perf_counter()
    result = cast(Result, cast(Any, benchmark).pedantic(run_batch, (table, out, terms), rounds=1, warmup_rounds=0))
    ours, used = perf_counter() - start, process_time() - used
    bare = _bare(table, out, tmp_path / "copy.csv")
    benchmark.extra_info.update(ratio=ours / bare, cpu=used)
    assert result.counts.gaps == _GAPS
    with capsys.disabled():
        print(f"\n{kind}: {ours:.2f} s ({used:.2f} s of processor time) against {bare:.2f} s, ratio {ours / bare:.2f}")
