"""Requests that mean no good, one by one: nothing of them reaches a page, and nobody else waits for it."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from shimopt.bench.addresses import own_address
from shimopt.bench.web_server import taken_port
from tests.bench_server import Server, is_open, job_text, laid_job, reading, served

# a name and a gap as somebody might type them who means no good
_MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)> {{ 7919 * 7907 }} ' onload=&#x27;"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, str, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    text = job_text(east="feeler = { go = 17, no_go = 18 }", west="value = 9")
    file = laid_job(
        folder / "winch", text.replace('"Winch"', json.dumps(_MARKUP)).replace('"west"', json.dumps(_MARKUP))
    )
    with served(folder) as server:
        yield server, server.job(), file


def raw(server: Server, request: bytes, address: str = "127.0.0.1") -> bytes:
    with socket.create_connection((address, server.port), timeout=15) as line:
        line.sendall(request)
        found = b""
        while part := line.recv(65536):
            found += part
        return found


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:{port}", "", "[::1]", "127.0.0.1.:{port}"],
)
def test_a_foreign_host_is_answered_with_nothing(shop: tuple[Server, str, Path], host: str) -> None:
    server, name, _ = shop
    answer = server.get(f"/job/{name}", Host=host.format(port=server.port))
    assert answer.status == 421
    assert "Winch" not in answer.text


def test_no_host_and_two_hosts_are_none(shop: tuple[Server, str, Path]) -> None:
    server, _, _ = shop
    two = f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nHost: evil.example\r\nConnection: close\r\n\r\n"
    assert raw(server, two.encode()).startswith((b"HTTP/1.1 421", b"HTTP/1.1 400"))
    assert raw(server, b"GET / HTTP/1.0\r\n\r\n").startswith(b"HTTP/1.1 421")


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://127.0.0.1:{port}", "http://127.0.0.1", "http://localhost:{port}"],
)
def test_a_change_from_another_page_is_refused(shop: tuple[Server, str, Path], origin: str | None) -> None:
    server, name, file = shop
    before = file.read_bytes()
    given = None if origin is None else origin.format(port=server.port)
    answer = server.post(f"/job/{name}/reading", reading(1, go="30", no_go="31"), Origin=given)
    assert answer.status == 403
    assert file.read_bytes() == before


@pytest.mark.parametrize("token", ["", "x", "0.0.0", "é.é.é", "a" * 60_000])
def test_a_form_without_its_token_is_refused(shop: tuple[Server, str, Path], token: str) -> None:
    server, name, _ = shop
    for path in (
        f"/job/{name}/reading",
        f"/job/{name}/choose",
        f"/job/{name}/hold",
        f"/job/{name}/record",
        f"/drawer/{name}/piece",
        f"/job/{name}/customer",
        "/devices/revoke",
        "/pair",
    ):
        assert server.form(path, {"token": token, "gap": "east", "go": "1", "no_go": "2"}).status in (403, 413), path


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_pages_are_only_read_and_forms_only_sent(shop: tuple[Server, str, Path], method: str) -> None:
    server, _, _ = shop
    assert server.ask(method, "/").status == 405


@pytest.mark.parametrize(
    "path",
    [
        "/job/..%2f..%2f..%2fetc%2fpasswd",
        "/job/%2e%2e/%2e%2e/etc/passwd",
        "/job/winch/job.toml",
        "/job/winch",
        "/job/%00",
        "/job/{job}%2f..%2f..%2fjob.toml",
        "/job/" + "a" * 5_000,
        "/..%2fbench.css",
        "/bench.css/..%2f..%2fapplication.py",
        "/.shimopt-bench/key",
        "/c/..%2f..%2fkey",
        "/c/" + "A" * 22,
        "/drawer/..",
    ],
)
def test_no_path_leads_anywhere_but_to_a_page(shop: tuple[Server, str, Path], path: str) -> None:
    server, name, _ = shop
    answer = server.get(path.format(job=name))
    assert answer.status in (404, 405)
    assert "root:" not in answer.text


def test_a_body_that_is_too_large_is_refused_before_it_is_read(shop: tuple[Server, str, Path]) -> None:
    server, name, _ = shop
    head = f"POST /job/{name}/reading HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nOrigin: http://127.0.0.1:{server.port}\r\n"
    told = raw(server, f"{head}Content-Length: 65537\r\nConnection: close\r\n\r\n".encode())
    assert told.startswith(b"HTTP/1.1 413")
    chunk = b"8000\r\n" + b"x" * 0x8000 + b"\r\n"
    kept = f"{head}Transfer-Encoding: chunked\r\nX-Bench: 1\r\nConnection: close\r\n\r\n".encode()
    assert raw(server, kept + chunk * 3).startswith(b"HTTP/1.1 413")


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"nonsense",
        b"{" * 50_000,
        b'{"gap": {"a": 1}}',
        b'{"gap": "east", "bench": 1, "counter": -1}',
        b"\xff\xfe",
        b'{"gap": "east", "bench": "aaaaaaaaaaaaaaaa", "counter": 1e400, "go": "1", "no_go": "2"}',
    ],
)
def test_what_is_no_reading_is_told_so(shop: tuple[Server, str, Path], body: bytes) -> None:
    server, name, _ = shop
    answer = server.ask(
        "POST", f"/job/{name}/reading", body, Content_Type="application/json", X_Bench="1", Accept="application/json"
    )
    assert answer.status == 400
    assert answer.data["errors"]


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_no_page_of_others_makes_this_one_work_but_a_link_opens_it(shop: tuple[Server, str, Path], site: str) -> None:
    server, job, _ = shop
    for dest, mode in (("image", "no-cors"), ("iframe", "navigate"), ("empty", "cors")):
        sent_for = {"Sec_Fetch_Site": site, "Sec_Fetch_Mode": mode, "Sec_Fetch_Dest": dest}
        assert server.get("/drawer", **sent_for).status == 403
    opened = {"Sec_Fetch_Site": site, "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "document"}
    assert server.get(f"/job/{job}", **opened).status == 200
    ours = {"Sec_Fetch_Site": "same-origin", "Sec_Fetch_Mode": "cors", "Sec_Fetch_Dest": "empty"}
    assert server.get(f"/job/{job}", **ours).status == 200


HALF = "half \ud800 of a pair"


def test_half_a_pair_of_characters_is_refused_at_the_door(shop: tuple[Server, str, Path]) -> None:
    server, job, _ = shop
    sent: dict[str, dict[str, Any]] = {
        "/pair": {"code": "123456", "name": HALF},
        "/new": {"title": HALF, "step": "write"},
        f"/job/{job}/reading": {"bench": "a" * 16, "counter": 1, "gap": HALF, "go": "17", "no_go": "18"},
        f"/job/{job}/hold": {"person": HALF},
        f"/job/{job}/record": {"person": HALF, "after.1": "9"},
        f"/drawer/{job}/piece": {"part": HALF, "thickness": "3"},
    }
    for path, fields in sent.items():
        answer = server.post(path, fields)
        assert (answer.status, "no form of this page" in answer.text) == (400, True), path
    # as a form sends it, percent by percent
    half = b"gap=%ED%A0%80&go=17&no_go=18"
    kind = "application/x-www-form-urlencoded"
    assert server.ask("POST", f"/job/{job}/reading", half, Content_Type=kind, X_Bench="1").status == 400
    assert server.get("/devices").status == 200


def test_what_somebody_typed_is_only_ever_text(shop: tuple[Server, str, Path]) -> None:
    server, name, _ = shop
    for path in (
        "/",
        f"/job/{name}",
        f"/job/{name}/gap/2",
        f"/job/{name}/record",
        f"/job/{name}/order",
        "/drawer",
        f"/job/{name}/sheet.html",
        f"/job/{name}/letter.html",
    ):
        text = server.get(path).text
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
        # what a template would make of it; no random token holds so long a number
        assert "62615533" not in text, path
    typed = {"person": _MARKUP, "instrument": _MARKUP, "after.1": _MARKUP}
    assert "<script>alert" not in server.post(f"/job/{name}/record", typed, Accept="text/html").text
    assert (
        "<script>alert"
        not in server.post(f"/job/{name}/reading", {"gap": _MARKUP, "value": _MARKUP}).headers["content-type"]
    )


def test_garbage_ends_its_own_connection_alone(shop: tuple[Server, str, Path]) -> None:
    server, _, _ = shop
    for garbage in (b"\x16\x03\x01\x02\x00\x01" * 20, b"GET " + b"a" * 100_000, b"\r\n" * 1000, os.urandom(4096)):
        with socket.create_connection(("127.0.0.1", server.port), timeout=15) as line:
            line.sendall(garbage)
    assert server.get("/").status == 200


def test_slow_connections_are_bounded_and_block_nobody(shop: tuple[Server, str, Path]) -> None:
    """10,000 of them: SHIMOPT_SLOW=10000."""
    server, name, _ = shop
    many, kept = int(os.environ.get("SHIMOPT_SLOW", "700")), list[socket.socket]()
    half = f"POST /job/{name}/reading HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nX-Slow: ".encode()
    try:
        for number in range(many):
            line = socket.create_connection(("127.0.0.1", server.port), timeout=15)
            line.sendall(half)
            kept.append(line)
            if len(kept) > 600:
                kept.pop(0).close()
            if number % 350 == 349:
                began = time.monotonic()
                assert server.get(f"/job/{name}").status == 200
                assert time.monotonic() - began < 10
        ends = time.monotonic() + 10
        # what still waits to be let in is not shut yet
        while (there := sum(is_open(line) for line in kept)) > 301 and time.monotonic() < ends:
            time.sleep(0.05)
        assert 0 < there <= 301
    finally:
        for line in kept:
            line.close()
    assert server.get("/").status == 200


def test_who_asks_before_a_crowd_comes_is_answered(shop: tuple[Server, str, Path]) -> None:
    """All stand before the door at once: who came first is not pushed out before what it asked is read."""
    server, _, _ = shop
    there, kept = ("127.0.0.1", server.port), list[socket.socket]()
    server.process.send_signal(signal.SIGSTOP)
    try:
        with socket.create_connection(there, timeout=15) as line:
            line.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nConnection: close\r\n\r\n".encode())
            for _ in range(450):
                kept.append(socket.create_connection(there, timeout=15))
                kept[-1].sendall(b"GET /slow")
            server.process.send_signal(signal.SIGCONT)
            assert line.recv(65536).startswith(b"HTTP/1.1 200")
    finally:
        server.process.send_signal(signal.SIGCONT)
        for one in kept:
            one.close()


_AWAY = own_address()


@pytest.mark.skipif(not _AWAY or _AWAY.startswith("127."), reason="this computer is on no network")
def test_on_the_network_a_device_joins_with_a_code_and_is_shut_out_again(tmp_path: Path) -> None:
    laid_job(tmp_path / "winch")
    with served(tmp_path, "--network", "--name", "bench.test") as server:
        code = server.code()
        host, name = f"bench.test:{server.port}", server.job()

        def away(method: str, path: str, *more: str, body: str = "") -> bytes:
            head = [f"{method} {path} HTTP/1.1", f"Host: {host}", "Connection: close", *more]
            if method == "POST":
                head += [f"Content-Length: {len(body)}", "Content-Type: application/x-www-form-urlencoded"]
            return raw(server, ("\r\n".join(head) + "\r\n\r\n" + body).encode(), _AWAY)

        origin = f"Origin: http://{host}"
        # nothing but the page that lets in, not even under a name of this computer's own, nor by way of the loopback
        assert away("GET", "/", "Accept: text/html").startswith(b"HTTP/1.1 303")
        for path in ("/", f"/job/{name}", f"/job/{name}/answer", "/events", "/devices", "/drawer"):
            assert away("GET", path).startswith(b"HTTP/1.1 403"), path
            assert server.get(path, Host=host).status == 403, path
        assert away("GET", "/", f"Cookie: shimopt-bench-{server.port}=guessed").startswith(b"HTTP/1.1 403")
        assert away("GET", "/pair/qr.svg").startswith(b"HTTP/1.1 404")
        page = away("GET", "/pair").decode()
        assert code not in page
        form = page.partition('name="token" value="')[2].partition('"')[0]

        def join(number: str) -> bytes:
            return away("POST", "/pair", origin, "X-Bench: 1", body=f"code={number}&name=vice&token={form}")

        wrong = f"{(int(code) + 1) % 10**6:06d}"
        assert join(wrong).startswith(b"HTTP/1.1 403")
        joined = join(code).decode()
        assert joined.startswith("HTTP/1.1 303")
        cookie = re.search(r"set-cookie: (shimopt-bench-\d+=[^;]+); (.*)\r\n", joined)
        assert cookie is not None
        assert f"shimopt-bench-{server.port}=" in cookie[1]
        assert {"HttpOnly", "SameSite=strict"} <= set(cookie[2].split("; "))
        # a code is for one device
        assert join(code).startswith(b"HTTP/1.1 403")
        assert away("GET", f"/job/{name}", f"Cookie: {cookie[1]}").startswith(b"HTTP/1.1 200")
        # its reading beside another is told by its name and the clock on the wall, and by no other's browser
        said = urlencode(reading(1, bench="b" * 16, go="20", no_go="21"))
        sent = ("X-Bench: 1", "Accept: application/json", f"Cookie: {cookie[1]}")
        assert away("POST", f"/job/{name}/reading", origin, *sent, body=said).startswith(b"HTTP/1.1 200")
        assert server.post(f"/job/{name}/reading", reading(1, go="22", no_go="23")).data["differs"]
        told = server.get(f"/job/{name}").text
        assert re.search(r"<span>vice</span>, \d\d:\d\d: <b>20 goes, 21 does not", told)
        assert re.findall(r'data-by="(\w+)"', told) == ["a" * 16]
        # who is let in and shut out is decided on the computer itself
        assert away("GET", "/devices", f"Cookie: {cookie[1]}").startswith(b"HTTP/1.1 403")
        assert cookie[1].partition("=")[2] not in (tmp_path / ".shimopt-bench" / "devices.json").read_text(
            encoding="utf-8"
        )
        row = re.search(r'name="id" value="([0-9a-f]+)"', server.get("/devices").text)
        assert row is not None
        with socket.create_connection((_AWAY, server.port), timeout=15) as line:
            line.sendall(f"GET /events?job={name} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie[1]}\r\n\r\n".encode())
            while b"retry" not in line.recv(65536):
                pass
            assert server.post("/devices/revoke", {"id": row[1]}).data == {"revoked": True}
            # what it listens to ends with it: the last chunk is empty
            heard = b""
            while b": still here" not in heard and not heard.endswith(b"0\r\n\r\n") and (part := line.recv(65536)):
                heard += part
            assert b": still here" not in heard
        assert away("GET", "/", f"Cookie: {cookie[1]}").startswith(b"HTTP/1.1 403")
        # wrong codes are counted
        assert [join(wrong)[9:12] for _ in range(4)] == [b"403", b"403", b"403", b"429"]


def test_an_answer_never_waits_for_its_second_half() -> None:
    """asyncio sets TCP_NODELAY on a line only where its listening socket names the protocol."""
    with taken_port(0) as listening:
        assert listening.proto == socket.IPPROTO_TCP
