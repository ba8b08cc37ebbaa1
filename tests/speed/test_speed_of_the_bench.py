"""50 benches, each giving a reading every 5 seconds for five-gap jobs: how long each stage takes, and how much memory.

Measured by one process over the loopback, bounded in count and time. The bars: the first stage within 50 ms and the
whole plan within 200 ms for 99 of 100 readings, 250 MB for server and two planning processes.
"""

from __future__ import annotations

import asyncio
import json
import os
import time
from pathlib import Path

import psutil  # type: ignore[import-untyped] # shipped without types
import pytest

from tests.bench_server import Server, job_text, laid_job, served

BENCHES, EVERY, ROUNDS = 50, 5.0, int(os.environ.get("SHIMOPT_ROUNDS", "2"))
GAPS = tuple(f"gap {n}" for n in range(5))
DRAWER = "part,thickness_thou,on_hand\n" + "".join(f"S-{n:02},{n},3\n" for n in (2, 3, 4, 5, 7, 10, 15))


def with_balance() -> str:
    """Five gaps, two of which should come out alike."""
    readings = {gap: f"feeler = {{ go = {16 + n}, no_go = {17 + n} }}" for n, gap in enumerate(GAPS)}
    return job_text(**readings) + f'\n[[balance]]\nname = "pair"\ngaps = ["{GAPS[0]}", "{GAPS[1]}"]\nwithin = 3\n'


async def asked(line: tuple[asyncio.StreamReader, asyncio.StreamWriter], head: str, body: bytes = b"") -> bytes:
    """One request on a line that stays open."""
    reader, writer = line
    writer.write(f"{head}\r\nContent-Length: {len(body)}\r\n\r\n".encode() + body)
    found = await reader.readuntil(b"\r\n\r\n")
    length = next(int(one[15:]) for one in found.lower().split(b"\r\n") if one.startswith(b"content-length:"))
    return await reader.readexactly(length)


async def one_bench(server: Server, job: str, number: int, stages: dict[str, list[float]]) -> None:
    """Readings, each followed until the whole plan with its version is there."""
    host = f"Host: 127.0.0.1:{server.port}"
    line = await asyncio.open_connection("127.0.0.1", server.port)
    post = (
        f"POST /job/{job}/reading HTTP/1.1\r\n{host}\r\nOrigin: http://127.0.0.1:{server.port}\r\nX-Bench: 1\r\n"
        "Content-Type: application/json\r\nAccept: application/json"
    )
    get = f"GET /job/{job}/answer{{}} HTTP/1.1\r\n{host}"
    await asyncio.sleep(EVERY * number / BENCHES)
    for counter in range(1, ROUNDS + 1):
        # another reading than any before: the same again changes nothing
        now = {"go": f"{12 + (number + counter) % 8}.{1 + counter // 5}", "no_go": "21"}
        said = {"bench": f"{number:016d}", "counter": counter, "gap": GAPS[counter % 5], **now}
        before = json.loads(await asked(line, get.format("")))["version"]
        began = time.monotonic()
        answer = json.loads(await asked(line, post, json.dumps(said).encode()))
        stages["alone"].append(time.monotonic() - began)
        assert answer["taken"], answer
        while True:
            told = json.loads(await asked(line, get.format(f"?after={before}&stage=reasons")))
            if told["readings"][counter % 5]["now"] == now and told["version"] != before:
                break
        stages["whole"].append(time.monotonic() - began)
        await asyncio.sleep(max(0.0, EVERY - (time.monotonic() - began)))
    line[1].close()


def megabytes(server: Server) -> float:
    """What server and planning processes hold together, each page of memory once."""
    processes = [psutil.Process(server.process.pid), *psutil.Process(server.process.pid).children(recursive=True)]
    assert len(processes) == 3
    return float(sum(one.memory_full_info().pss for one in processes)) / 1e6


def seconds(server: Server) -> tuple[float, float]:
    """Processor time of the server, and of the planning processes together [s]."""
    own = psutil.Process(server.process.pid)
    return tuple(sum(sum(one.cpu_times()[:2]) for one in of) for of in ([own], own.children()))  # type: ignore[return-value]


def share(found: list[float], of: float) -> float:
    return sorted(found)[min(len(found) - 1, int(len(found) * of))]


@pytest.mark.skipif("SHIMOPT_ROUNDS" not in os.environ, reason="half a minute of a quiet machine: SHIMOPT_ROUNDS=4")
def test_fifty_benches(tmp_path: Path) -> None:
    for number in range(BENCHES):
        laid_job(tmp_path / f"job {number}", with_balance(), DRAWER)
    with served(tmp_path) as server:
        jobs = sorted({part.split('"')[0] for part in server.get("/").text.split('href="/job/')[1:]})
        assert len(jobs) == BENCHES
        for job in jobs:
            server.until(f"/job/{job}/answer", lambda told: told["stage"] == "reasons")
        stages: dict[str, list[float]] = {"alone": [], "whole": []}

        async def all_benches() -> None:
            await asyncio.gather(*(one_bench(server, job, n, stages) for n, job in enumerate(jobs)))

        before = seconds(server)
        asyncio.run(asyncio.wait_for(all_benches(), 60 + EVERY * ROUNDS))
        held, after = megabytes(server), seconds(server)
        server_s, planning_s = (
            (end - start) / len(stages["alone"]) * 1e3 for start, end in zip(before, after, strict=True)
        )
        print(f"processor time for a reading: server {server_s:.0f} ms, planning {planning_s:.0f} ms")
        for name, found in stages.items():
            told = ", ".join(f"{words} {share(found, of) * 1e3:.0f} ms" for words, of in (("p50", 0.5), ("p99", 0.99)))
            print(f"{name}: {len(found)} readings, {told}, most {max(found) * 1e3:.0f} ms")
        print(f"server and two planning processes: {held:.0f} MB")
        assert held < 250
