"""A bench page as a process of its own, asked as a browser asks: over the loopback, with raw requests."""

from __future__ import annotations

import asyncio
import http.client
import json
import os
import re
import signal
import socket
import subprocess
import time
from collections.abc import Coroutine, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from tests.processes import started

ROOT = Path(__file__).parents[1]
DRAWER = "part,thickness_thou,on_hand\nS-02,2,4\nS-05,5,4\nS-07,7,4\nS-10,10,4\n"
WINDOW = '[window]\nmin = 4\nmax = 12\nsource = "sheet 7"\n'


def job_text(**gaps: str) -> str:
    """A job in thou, each gap with its reading as the file writes it."""
    tables = "".join(f'\n[[gap]]\nname = "{name}"   # as the drawing calls it\n{it}\n' for name, it in gaps.items())
    return f'# the winch\ntitle = "Winch"\nunit = "thou"\ndrawer = "drawer.csv"\n\n{WINDOW}{tables}'


def laid_job(folder: Path, text: str | None = None, drawer: str = DRAWER) -> Path:
    """A job in a folder; its file."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "drawer.csv").write_text(drawer, encoding="utf-8")
    # another file in its place: written over within one tick of the clock it would have the marks of what was there
    laid = folder / "laid.toml"
    laid.write_text(text or job_text(east="feeler = { go = 17, no_go = 18 }", west="value = 9"), encoding="utf-8")
    return laid.replace(folder / "job.toml")


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def data(self) -> Any:
        return json.loads(self.body)

    @property
    def text(self) -> str:
        return self.body.decode()


@dataclass
class Server:
    """A page that is served, and how it is asked."""

    process: Any
    port: int

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str | None) -> Answer:
        """One request; a header that is None is left out."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        told = {"Host": f"127.0.0.1:{self.port}"}
        if method == "POST":
            told |= {"Origin": f"http://127.0.0.1:{self.port}", "Content-Length": str(len(body or b""))}
        given = told | {name.replace("_", "-"): value for name, value in headers.items()}  # type: ignore[arg-type]
        try:
            line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in given.items():
                if value is not None:
                    line.putheader(name, value)
            line.endheaders(body)
            found = line.getresponse()
            return Answer(found.status, dict(found.getheaders()), found.read())
        finally:
            line.close()

    def get(self, path: str, **headers: str | None) -> Answer:
        return self.ask("GET", path, **headers)

    def post(self, path: str, fields: Mapping[str, Any], **headers: str | None) -> Answer:
        """As our script does."""
        told = {"Content_Type": "application/json", "Accept": "application/json", "X_Bench": "1"} | headers
        return self.ask("POST", path, json.dumps(fields).encode(), **told)

    def form(self, path: str, fields: Mapping[str, str], **headers: str | None) -> Answer:
        """As a browser without script does."""
        told = {"Content_Type": "application/x-www-form-urlencoded", "Accept": "text/html"} | headers
        return self.ask("POST", path, urlencode(fields).encode(), **told)

    def after(self, answer: Answer) -> Answer:
        """The page that a form leads to."""
        assert answer.status == 303, answer.text
        return self.get(answer.headers["location"].partition("#")[0])

    def job(self) -> str:
        """The id of its only job."""
        (found,) = {part.split('"')[0] for part in self.get("/").text.split('href="/job/')[1:]}
        return found

    def code(self) -> str:
        """The code by which a device joins, as the line after the first tells it on a network."""
        found = re.search(r"code (\d{6})", self.process.stdout.readline() if self.process.stdout else "")
        assert found is not None
        return found[1]

    def until(self, path: str, true: Any, seconds: float = 60.0) -> Any:
        """The data of a page, as soon as something holds of it."""
        ends = time.monotonic() + seconds
        while not true(found := self.get(path).data):
            if time.monotonic() > ends:
                raise AssertionError(found)
            time.sleep(0.05)
        return found

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        self.process.kill()
        self.process.wait()

    def stop(self) -> int:
        """End it as Ctrl-C does."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=10)


@contextmanager
def served(folder: Path, *options: str) -> Iterator[Server]:
    """The page of a folder, on a free port."""
    process = started(
        *("bench", str(folder), "--port", "0", *options),
        stdout=subprocess.PIPE,
        cwd=ROOT,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    try:
        line = process.stdout.readline() if process.stdout else ""
        yield Server(process, int(line.partition("127.0.0.1:")[2].partition("/")[0]))
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        if process.stdout:
            process.stdout.close()


def ran(what: Coroutine[Any, Any, None]) -> None:
    """Run it in a thread of its own: a browser driven beside it may have a loop running in this one."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, what).result()


def is_open(line: socket.socket) -> bool:
    """Whether the server has not ended this line."""
    line.setblocking(False)
    try:
        return line.recv(1) != b""
    except BlockingIOError:
        return True
    except OSError:
        return False


def reading(counter: int, gap: str = "east", bench: str = "a" * 16, **said: str) -> dict[str, Any]:
    """A reading as our script sends it."""
    return {"bench": bench, "counter": counter, "gap": gap, **(said or {"go": "17", "no_go": "18"})}
