"""Jobs on the shop's stock: what one bench holds or reads, the pages of the others tell by themselves."""

from __future__ import annotations

import os
import re
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from shimopt.stock.sqlite_store import SqliteStore
from tests.bench_server import Server, job_text, laid_job, reading, served
from tests.stocks import in_file, shim


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, dict[str, str], Path]]:
    folder = tmp_path_factory.mktemp("shop")
    # S-10 is 10 thou thick: one of them, and two jobs that need it
    in_file(folder, shim("S-10", 0.254, 1), shim("S-02", 0.0508, 1))
    text = job_text(east="feeler = { go = 17, no_go = 18 }").replace('"drawer.csv"', '"stock:main"')
    for name in ("mill", "quarry"):
        laid_job(folder / name, text.replace("Winch", name.title()))
        (folder / name / "drawer.csv").unlink()
    with served(folder) as server:
        found = [part.split('"')[0] for part in server.get("/").text.split('href="/job/')[1:]]
        yield server, {name.rpartition("-")[0]: name for name in found}, folder


def version(server: Server, job: str) -> str:
    """Which plan a page shows."""
    told: str = server.get(f"/job/{job}/answer").data["version"]
    return told


def heard(server: Server, job: str, until: Callable[[str], bool], then: Callable[[], object]) -> str:
    """What a page that listens is told from the moment on in which something is done."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=20) as line:
        line.sendall(f"GET /events?job={job} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode())
        told = ""
        while "retry: 2000" not in told:
            told += line.recv(65536).decode()
        then()
        ends = time.monotonic() + 20
        while not until(told) and time.monotonic() < ends:
            told += line.recv(65536).decode()
    return told


def test_a_reading_of_another_bench_is_told_and_the_newer_answer_too(
    shop: tuple[Server, dict[str, str], Path],
) -> None:
    server, jobs, _ = shop
    path = f"/job/{jobs['mill']}/reading"
    told = heard(
        server,
        jobs["mill"],
        # an answer of before may still be on its way
        lambda told: '"stage": "reasons"' in told.partition("event: reading")[2],
        lambda: server.post(path, reading(1, go="18", no_go="19")),
    )
    since = told.partition("event: reading")[2]
    assert "event: answer" in since
    assert since.index('"stage": "plan"') < since.rindex('"stage": "reasons"')


def test_what_is_held_for_one_job_is_gone_for_the_other_and_its_page_hears_of_it(
    shop: tuple[Server, dict[str, str], Path],
) -> None:
    server, jobs, _ = shop
    for name in jobs.values():
        answer = server.until(f"/job/{name}/answer", lambda told: told["stage"] == "reasons")
        none = {"held": False, "until": "", "by": "", "pieces": "", "lacking": ""}
        assert answer["hold"] == none | {"can": True}
    # off the Wi-Fi nothing is sent: what a form says then stands beside each that holds or shows
    page = server.get(f"/job/{jobs['mill']}").text
    for what in ("hold", "customer"):
        assert "data-no-way" in page.partition(f'action="/job/{jobs["mill"]}/{what}"')[2].partition(">")[0]
    told = heard(
        server,
        jobs["quarry"],
        lambda told: "event: changed" in told,
        lambda: server.post(
            f"/job/{jobs['mill']}/hold",
            {"person": "A. Roe", "request": "r" * 24, "version": version(server, jobs["mill"])},
        ),
    )
    assert f'event: changed\ndata: {{"job": "{jobs["quarry"]}"}}' in told
    held = server.until(f"/job/{jobs['mill']}/answer", lambda told: told["hold"]["held"])
    assert held["hold"]["until"]
    assert (held["hold"]["pieces"], held["hold"]["lacking"], held["hold"]["can"]) == ("S-10", "", False)
    # the one S-10 is promised: without it 17 to 18 thou less 2 stay above 12
    other = server.until(f"/job/{jobs['quarry']}/answer", lambda told: told["stage"] == "reasons")
    assert other["data"]["verdict"] == "outside"
    assert not other["hold"]["can"]
    assert "Mill" in server.get(f"/drawer/{jobs['quarry']}").text
    # opened from the first page the drawer is no job's: what is held is free for none
    drawer = server.get("/drawer").text
    assert re.findall(r"<td>([^<]+)</td>", drawer) == ["1 free", "0 free"]
    assert "<li>1 x S-10: Mill until " in drawer
    refused = server.post(f"/job/{jobs['quarry']}/hold", {"version": other["version"]})
    assert "Nothing is held" in refused.data["said"][0]
    freed = server.post(f"/job/{jobs['mill']}/hold", {"free": "1"})
    assert "S-10" in freed.data["said"][0]
    server.until(f"/job/{jobs['quarry']}/answer", lambda told: told["data"]["verdict"] == "inside")


def open_of_the_stock(server: Server) -> list[str]:
    """What the server and its planning processes have open of the stock's files."""
    own = server.process.pid
    processes = [own, *map(int, Path(f"/proc/{own}/task/{own}/children").read_text().split())]
    assert len(processes) > 1
    found = []
    for handle in (handle for pid in processes for handle in Path(f"/proc/{pid}/fd").iterdir()):
        # one that is closed meanwhile
        with suppress(FileNotFoundError):
            found.append(os.readlink(handle))
    return [name for name in found if "stock.db" in name]


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="a system that does not tell what a process has open")
def test_no_page_leaves_the_stock_open_and_each_works_after_every_other(
    shop: tuple[Server, dict[str, str], Path],
) -> None:
    server, jobs, folder = shop
    job = f"/job/{jobs['mill']}"
    for page in ("/order", "/record", "/sheet.html", "/gap/1", "/letter.pdf", ""):
        held = server.post(f"{job}/hold", {"person": "A. Roe", "version": version(server, jobs["mill"])})
        assert (held.status, "S-10" in held.data["said"][0]) == (200, True), held.text
        assert server.get(f"{job}{page}").status == 200
        # another process, this one, opens and closes it: it sees what the page said
        with SqliteStore(folder / "stock.db").reading() as within:
            assert within.rows("SELECT part FROM lot WHERE promised > 0") == [("S-10",)]
        freed = server.post(f"{job}/hold", {"free": "1"})
        assert (freed.status, "S-10" in freed.data["said"][0]) == (200, True), freed.text
        assert left_open(server) == [], page
    for page in ("/", "/drawer", f"/drawer/{jobs['mill']}", "/history"):
        assert server.get(page).status == 200
        assert left_open(server) == [], page


def left_open(server: Server) -> list[str]:
    """What stays open of the stock's files; what is planned anew after a change may have them open for a moment."""
    ends = time.monotonic() + 10
    while (found := open_of_the_stock(server)) and time.monotonic() < ends:
        time.sleep(0.02)
    return found
