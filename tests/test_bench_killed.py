"""The server killed with -9 in the midst of readings: what was answered is there, once, in the log and in the file."""

from __future__ import annotations

import http.client
import json
import os
import socket
import threading
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest

from shimopt.bench.kept_apart import KeptApart
from shimopt.bench.readings_log import ReadingsLog
from shimopt.errors import InputError
from tests.bench_server import Server, job_text, laid_job, reading, served

GAPS = tuple(f"gap {n}" for n in range(5))


def five_gaps(folder: Path) -> Path:
    return laid_job(folder / "winch", job_text(**dict.fromkeys(GAPS, "feeler = { go = 17, no_go = 18 }")))


def logged(folder: Path) -> list[dict[str, Any]]:
    lines = (folder / ".shimopt-bench" / "readings.jsonl").read_text(encoding="utf-8").splitlines()
    return [one for one in map(json.loads, lines) if one["kind"] == "reading"]


def send_until_killed(server: Server, name: str, bench: int, answered: list[dict[str, Any]]) -> None:
    """One bench, which goes on giving readings of its own gap until nobody answers."""
    for counter in range(1, 10_000):
        go = 10 + counter % 20
        sent = reading(counter, GAPS[bench], f"{bench:016d}", go=str(go), no_go=str(go + 1))
        try:
            if server.post(f"/job/{name}/reading", sent).status == 200:
                answered.append(sent)
        except (OSError, http.client.HTTPException):
            return


# more moments: SHIMOPT_BENCH_KILLS=100
@pytest.mark.parametrize("after", [20, *range(1, int(os.environ.get("SHIMOPT_BENCH_KILLS", "0")))])
def test_a_server_killed_at_any_moment_loses_and_doubles_nothing(tmp_path: Path, after: int) -> None:
    file, answered = five_gaps(tmp_path), list[dict[str, Any]]()
    with served(tmp_path) as server:
        name = server.job()
        benches = [
            threading.Thread(target=send_until_killed, args=(server, name, bench, answered)) for bench in range(5)
        ]
        for bench in benches:
            bench.start()
        while len(answered) < after:
            time.sleep(0.002)
        server.kill()
        for bench in benches:
            bench.join()
    kept = [(one["bench"], one["counter"]) for one in logged(tmp_path)]
    assert len(kept) == len(set(kept))
    assert {(one["bench"], one["counter"]) for one in answered} <= set(kept)
    with served(tmp_path) as server:
        # a browser that heard no answer sends again: nothing is taken twice
        last = [max((one for one in answered if one["gap"] == gap), key=lambda one: one["counter"]) for gap in GAPS]
        for one in last:
            assert server.post(f"/job/{name}/reading", one).status == 200
        assert len(logged(tmp_path)) == len(kept)
        newest = {one["gap"]: one["said"] for one in logged(tmp_path)}
        # what was kept stands in the job's file, whether the server was killed before it was written there or after
        server.until(f"/job/{name}/answer", lambda told: told["stage"] == "reasons")
        found = {gap["name"]: gap["feeler"] for gap in tomllib.loads(file.read_text(encoding="utf-8"))["gap"]}
        assert found == {gap: {key: int(text) for key, text in newest[gap].items()} for gap in GAPS}
        # a page that listens keeps nobody waiting
        with socket.create_connection(("127.0.0.1", server.port), timeout=10) as line:
            line.sendall(f"GET /events?job={name} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode())
            assert line.recv(4096).startswith(b"HTTP/1.1 200")
            assert server.stop() == 130


def entries(path: Path) -> list[dict[str, Any]]:
    log = ReadingsLog(path)
    try:
        return log.entries
    finally:
        log.close()


def test_a_line_that_was_cut_off_is_taken_away_and_the_rest_stands(tmp_path: Path) -> None:
    path = tmp_path / "kept" / "readings.jsonl"
    assert entries(path) == []
    whole = b'{"seq": 1, "kind": "written", "of": []}\n'
    for cut in range(len(whole)):
        path.write_bytes(whole + whole[:cut])
        assert entries(path) == [{"seq": 1, "kind": "written", "of": []}]
        assert path.read_bytes() == whole


@pytest.mark.parametrize("wrong", [b"nonsense\n", b"[]\n", b'{"kind": "reading"}\n', b"\x00\n"])
def test_a_log_with_a_line_that_nobody_wrote_is_not_touched(tmp_path: Path, wrong: bytes) -> None:
    path = tmp_path / "kept" / "readings.jsonl"
    path.parent.mkdir()
    path.write_bytes(b'{"seq": 1, "kind": "written", "of": []}\n' + wrong)
    with pytest.raises(InputError, match="line 2"):
        entries(path)
    assert path.read_bytes().endswith(wrong)


def test_a_second_page_of_the_same_folder_is_refused(tmp_path: Path) -> None:
    kept = KeptApart(tmp_path)
    with kept.alone(), pytest.raises(InputError, match="another bench page"), KeptApart(tmp_path).alone():
        pass
    with kept.alone():
        pass


def test_what_the_page_keeps_is_nobody_elses_to_read_and_goes_into_no_repository(tmp_path: Path) -> None:
    kept = KeptApart(tmp_path)
    assert kept.key() == KeptApart(tmp_path).key()
    kept.save("devices", [])
    assert (kept.path / ".gitignore").read_text(encoding="utf-8") == "*\n"
    if os.name == "posix":
        assert kept.path.stat().st_mode & 0o077 == 0
        assert (kept.path / "key").stat().st_mode & 0o077 == 0
