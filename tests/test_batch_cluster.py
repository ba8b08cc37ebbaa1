"""Batches on a real Dask cluster of two workers: the same answers, also when a worker is killed midway."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import pandas as pd
import psutil
import pyarrow as pa
import pyarrow.parquet
import pytest

import shimopt
from shimopt.batch.unfinished import Unfinished
from tests.batch_files import WINDOW, Batches
from tests.test_batch_goes_on import gaps


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """A scheduler and two workers, each a process of its own."""
    # not at the top: it takes longer to load than all that these files import else
    distributed = pytest.importorskip("distributed")
    # what it tells its workers by the environment is not for the processes of other tests
    with (
        mock.patch.dict(os.environ),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs="CRITICAL"
        ) as made,
    ):
        yield made


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Batches:
    monkeypatch.setattr("shimopt.batch.csv_source.PIECE_BYTES", 4_000)
    return Batches(tmp_path, capsys)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Gaps in two parquet files of several row groups, and in a CSV."""
    tables = tmp_path / "gaps"
    tables.mkdir()
    for part in (2, 10):
        lines = [line.rsplit(",", 2) for line in gaps(600, seed=part).splitlines()[1:]]
        table = pa.table(
            {
                "gap": [line[0] for line in lines],
                "low_mm": [float(line[1]) for line in lines],
                "high_mm": [line[2] for line in lines],
            }
        )
        pyarrow.parquet.write_table(table, tables / f"part {part}.parquet", row_group_size=100)
    (tables / "part 30.csv").write_text(gaps(600, seed=30))
    return tables


def test_a_worker_that_dies_loses_nothing_and_the_answer_is_the_same(
    batches: Batches, folder: Path, cluster: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    arguments = [folder, "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.out]
    here = batches.call(*arguments)
    first = cluster.workers[0].process.pid
    keep, killed = Unfinished.keep, []

    def kill_after_three(self: Unfinished, *piece: Any) -> None:
        keep(self, *piece)
        if len(self.done) == 3:
            os.kill(first, signal.SIGKILL)
            killed.append(first)

    monkeypatch.setattr(Unfinished, "keep", kill_after_three)
    there = batches.call(*arguments, "--scheduler", cluster.scheduler_address)
    assert killed == [first]
    assert len(there.rows) == 1800
    assert there.rows == here.rows
    assert there.code == here.code


def test_a_dask_frame_is_answered_partition_by_partition(batches: Batches, cluster: Any) -> None:
    frame = pd.DataFrame(
        {
            "gap": [f"gap {n}" for n in range(40)],
            "low_mm": [0.1 + n / 50 for n in range(40)],
            "high_mm": [0.12 + n / 50 for n in range(40)],
        }
    )
    options = {"parts": batches.folder / "parts.csv", "min": "0.10 mm", "max": "0.25 mm"}
    from dask import dataframe
    from distributed import Client

    with Client(cluster):
        there = shimopt.plan_many(dataframe.from_pandas(frame, npartitions=4), **options).compute()
    pd.testing.assert_frame_equal(there, shimopt.plan_many(frame, **options))


def test_without_dask_it_is_said_how_to_get_it(batches: Batches, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    ended = batches.of("gap,low_mm,high_mm\na,0.4,0.42\n", *WINDOW, "--scheduler", "local")
    assert ended.code == 2
    assert "pip install '.[cluster]'" in ended.err


def test_a_bad_row_and_a_broken_file_are_told_from_the_cluster_too(batches: Batches, cluster: Any) -> None:
    ended = batches.of(
        "gap,low_mm,high_mm\na,0.4x,0.42\nb,0.40,0.42\n", *WINDOW, "--scheduler", cluster.scheduler_address
    )
    assert [row["verdict"] for row in ended.rows] == ["refused", "inside"]
    many = "".join(f"S-{n},{n / 100 + 0.01:.2f}\n" for n in range(200))
    (batches.folder / "parts.csv").write_text("part,thickness_mm\n" + many)
    ended = batches.of("gap,low_mm,high_mm\na,0.4,0.42\n", *WINDOW, "--scheduler", cluster.scheduler_address)
    assert ended.code == 2
    assert "more than 500,000 stacks" in ended.err


# at the first line that it reads its workers go, and none comes after them
_CLUSTER = """
import sys
import distributed
if __name__ == "__main__":
    cluster = distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp",
        dashboard_address=None,
        silence_logs="CRITICAL",
    )
    print(cluster.scheduler_address, flush=True)
    for _ in sys.stdin:
        cluster.scale(0)
"""


def end(cluster: subprocess.Popen[str]) -> None:
    for process in psutil.Process(cluster.pid).children(recursive=True):
        # of what a process shares there is one who takes it away by himself
        if "resource_tracker" not in " ".join(process.cmdline()):
            process.kill()
    cluster.kill()


@pytest.mark.parametrize("vanished", ["scheduler", "workers"])
def test_a_cluster_that_vanishes_is_told_and_the_same_command_goes_on(
    batches: Batches, folder: Path, monkeypatch: pytest.MonkeyPatch, vanished: str
) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("shimopt.batch.cluster._LONGEST_WITHOUT_WORKERS", 3.0)
    arguments = [folder, "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.out]
    keep, pipe = Unfinished.keep, subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", _CLUSTER], stdin=pipe, stdout=pipe, text=True) as cluster:
        assert cluster.stdin is not None
        assert cluster.stdout is not None
        address = cluster.stdout.readline().strip()

        def gone_after_three(self: Unfinished, *piece: Any) -> None:
            keep(self, *piece)
            if len(self.done) == 3 and vanished == "scheduler":
                end(cluster)
            elif len(self.done) == 3:
                print(file=cluster.stdin, flush=True)
                time.sleep(2)

        with monkeypatch.context() as patched:
            patched.setattr(Unfinished, "keep", gone_after_three)
            ended = batches.call(*arguments, "--scheduler", address)
        if vanished == "workers":
            end(cluster)
    assert ended.code == 2
    assert "the cluster answers no longer" in ended.err
    assert "finished pieces are kept" in ended.err
    assert len(list(batches.out.with_name("out.csv.unfinished").glob("*.piece"))) >= 3
    assert len(batches.call(*arguments).rows) == 1800
