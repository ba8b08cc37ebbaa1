"""A batch that was cut off goes on where it stopped; whatever happens, the answers are the same."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from random import Random
from typing import Any

import pyarrow.parquet
import pytest

from shimopt.batch.unfinished import Unfinished
from tests.batch_files import WINDOW, Batches
from tests.faults.harness import Ended, Faults

ROOT = Path(__file__).parents[1]
_ROWS = 3_000

KEEP = "shimopt.batch.unfinished.Unfinished.keep"
SMALL_PIECES = {"shimopt.batch.csv_source.PIECE_BYTES": 8_000}


def gaps(rows: int = _ROWS, seed: int = 3) -> str:
    rng = Random(seed)
    lines = ["gap,low_mm,high_mm"]
    for row in range(rows):
        low = rng.randint(50, 1_100)
        lines.append(f'"pump {row}, left",{low / 1000:.3f},{(low + rng.randint(0, 90)) / 1000:.3f}')
    return "\n".join(lines) + "\n"


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Batches:
    made = Batches(tmp_path, capsys)
    (tmp_path / "gaps.csv").write_text(gaps())
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", 8_000)
    return made


def call(batches: Batches, out: Path) -> list[str]:
    folder = batches.folder
    return ["batch", str(folder / "gaps.csv"), "--parts", str(folder / "parts.csv"), *WINDOW, "-o", str(out)]


def cut_off(faults: Faults, batches: Batches, out: Path, do: str) -> Ended:
    """A batch in a process of its own that is killed or interrupted once four pieces are kept."""
    return faults.run(batches.folder, *call(batches, out), do=do, after=(KEEP, 4), settings=SMALL_PIECES)


def content(out: Path) -> object:
    """What a reader of the output sees."""
    return out.read_bytes() if out.suffix == ".csv" else pyarrow.parquet.read_table(out).to_pylist()


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_a_batch_that_was_killed_goes_on_and_gives_what_it_would_have_given(
    faults: Faults, batches: Batches, form: str
) -> None:
    whole, out = batches.folder / f"whole.{form}", batches.folder / f"cut.{form}"
    batches.call(*call(batches, whole)[1:])
    assert cut_off(faults, batches, out, "kill").code == -signal.SIGKILL
    assert not out.exists()
    left = batches.folder / f"cut.{form}.unfinished"
    kept = {file.name: file.stat().st_mtime_ns for file in left.glob("*.piece")}
    assert len(kept) == 4
    # what was in the middle of being written is no piece
    (left / "9.new").write_text("half a piece")
    ended = batches.call(*call(batches, out)[1:])
    assert f"Went on from {len(kept)} finished pieces" in ended.out
    assert content(out) == content(whole)
    assert not left.exists()


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_an_interrupted_batch_ends_quietly_and_keeps_what_is_finished(
    faults: Faults, batches: Batches, form: str
) -> None:
    out = batches.folder / f"cut.{form}"
    ended = cut_off(faults, batches, out, "interrupt")
    assert (ended.code, ended.err.strip()) == (130, "")
    assert list((batches.folder / f"cut.{form}.unfinished").glob("*.piece"))


@pytest.mark.parametrize("changed", ["gaps.csv", "parts.csv", "window"])
def test_what_was_finished_by_other_inputs_is_not_used(
    batches: Batches, changed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = batches.folder / "cut.csv"
    stopped_after(batches, out, 4, monkeypatch)
    again = call(batches, out)
    if changed == "gaps.csv":
        (batches.folder / changed).write_text(gaps(seed=4))
    elif changed == "parts.csv":
        (batches.folder / changed).write_text("part,thickness_mm\nS-11,0.11\n")
    else:
        again[again.index("0.25 mm")] = "0.26 mm"
    ended = batches.call(*again[1:])
    assert "What was left of another batch was not used" in ended.out
    new = batches.folder / "new.csv"
    batches.call(*[str(new) if part == str(out) else part for part in again[1:]])
    assert out.read_bytes() == new.read_bytes()


def test_another_process_knows_the_same_inputs_again(batches: Batches) -> None:
    # names in sets come in another order in every process: so does what a seat says that there is not
    (batches.folder / "job.toml").write_text(
        'unit = "mm"\ndrawer = "parts.csv"\n[window]\nmin = 0.1\nmax = 0.25\nsource = "s"\n'
        '[[seat]]\nname = "cap"\nbore = "none"\nnext_ring = "none"\n'
    )
    code = (
        "import sys\nfrom pathlib import Path\nfrom shimopt.batch.batching import _fingerprint\n"
        "from shimopt.batch.sources import sources_of\nfrom shimopt.batch.terms import load_terms\n"
        "terms = load_terms(None, sys.argv[1])\nassert len(terms.seats['cap'].absent) == 2\n"
        "print(_fingerprint(sources_of(Path(sys.argv[2]), terms), terms, '.csv'))"
    )
    arguments = [sys.executable, "-c", code, str(batches.folder / "job.toml"), str(batches.folder / "gaps.csv")]
    prints = {
        subprocess.run(arguments, cwd=ROOT, env={"PYTHONHASHSEED": seed}, capture_output=True, check=True).stdout
        for seed in ("1", "2", "5")
    }
    assert len(prints) == 1


def stopped_after(batches: Batches, out: Path, pieces: int, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of a batch that was cut off when so many pieces were kept."""
    keep = Unfinished.keep

    def stop(self: Unfinished, *piece: Any) -> None:
        keep(self, *piece)
        if len(self.done) == pieces:
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(Unfinished, "keep", stop)
        assert batches.call(*call(batches, out)[1:]).code == 130
    return out.with_name(f"{out.name}.unfinished")


def test_files_among_the_pieces_that_are_none_are_told_and_not_used(
    batches: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole, out = batches.folder / "whole.csv", batches.folder / "cut.csv"
    batches.call(*call(batches, whole)[1:])
    left = stopped_after(batches, out, 4, monkeypatch)
    one = min(left.glob("*.piece"))
    # a piece beyond the last, one whose name says nothing, one that is there twice with other counts, and a note
    (left / "9999_1_0_0_0_0.piece").write_text("no gap of this batch,,,,,,,\n")
    (left / "copy of a piece.piece").write_text("x")
    (left / f"{one.stem.split('_')[0]}_7_7_7_7_7.piece").write_text("x")
    (left / "note.txt").write_text("mine")
    ended = batches.call(*call(batches, out)[1:])
    assert ended.code == 1
    assert "Passed over: 5 files in " in ended.out
    assert "Went on from 3 finished pieces" in ended.out
    assert out.read_bytes() == whole.read_bytes()
    assert f"{_ROWS:,} gaps: " in ended.out
    assert not left.exists()


def test_pieces_that_an_earlier_shimopt_left_without_their_fingerprint_hold_nobody_up(
    batches: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It once took the fingerprint away first: killed then, the same command refused for ever."""
    out = batches.folder / "cut.csv"
    left = stopped_after(batches, out, 4, monkeypatch)
    (left / "fingerprint").unlink()
    ended = batches.call(*call(batches, out)[1:])
    assert ended.code == 1
    assert "What was left of another batch was not used" in ended.out
    assert not left.exists()


def test_two_batches_do_not_write_the_same_output_at_once(batches: Batches) -> None:
    from shimopt.tables.locking import locked

    out = batches.folder / "out.csv"
    with locked(out):
        ended = batches.call(*call(batches, out)[1:])
    assert ended.code == 2
    assert "another program is changing the output" in ended.err


@pytest.mark.parametrize("size", [60, 997, 8_000, 10**9])
def test_however_a_table_is_cut_the_answers_are_the_same_in_the_same_order(
    batches: Batches, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = batches.folder / "gaps.csv"
    lines = gaps(400).splitlines()
    # a name over two lines, a quote within a name, blank rows, a row too short, the end without a line end
    lines[7] = '"pump\nseven",0.40,0.42'
    lines[20] = 'pump 5" flange,0.40,0.42'
    lines[33:33] = ["", ",,", "short,0.4"]
    table.write_bytes("\r\n".join(lines).encode())
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", size)
    ended = batches.call(*call(batches, batches.out)[1:])
    names = [row["gap"] for row in ended.rows]
    assert len(names) == 401
    assert names[0] == "pump 0, left"
    assert names[6] == "pump\nseven"
    assert names[19] == 'pump 5" flange'
    assert names[-1] == "pump 399, left"
    assert [row["gap"] for row in ended.rows if row["verdict"] == "refused"] == [""]


def test_gaps_that_are_all_different_are_answered_as_those_that_are_alike(
    batches: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    # more rows at a time than a sample: there nobody looks for gaps that are alike
    rng = Random(5)
    rows = "".join(
        f"{n},{(low := rng.randint(50_000_000, 1_100_000_000)) / 1e9:.9f},{low / 1e9 + 0.03:.9f}\n"
        for n in range(20_000)
    )
    at_once = batches.of("gap,low_mm,high_mm\n" + rows, *WINDOW).rows
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", 10**9)
    assert batches.of("gap,low_mm,high_mm\n" + rows, *WINDOW).rows == at_once
