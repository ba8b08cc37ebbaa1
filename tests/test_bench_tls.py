"""The bench page over TLS: with a certificate made here, asked as a browser asks."""

from __future__ import annotations

import http.client
import os
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from shimopt.bench.addresses import own_address
from shimopt.bench.connections import TO_ASK
from tests.bench_browser import bench, says, typed
from tests.bench_server import ROOT, Server, is_open, laid_job, served

pytestmark = [
    pytest.mark.skipif(shutil.which("openssl") is None, reason="nothing here makes a certificate"),
    pytest.mark.skipif(not own_address(), reason="this computer is on no network"),
]


# more of them: SHIMOPT_SLOW=10000, as far as this process may have so many open
_MANY = min(int(os.environ.get("SHIMOPT_SLOW", "400")), 900)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 that signs itself, and its key."""
    folder = tmp_path_factory.mktemp("tls")
    certificate, key = folder / "cert.pem", folder / "key.pem"
    of = ["-subj", "/CN=bench", "-addext", "subjectAltName=IP:127.0.0.1", "-days", "2"]
    made = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", str(key)]
    subprocess.run(
        ["openssl", "req", "-x509", *made, "-out", str(certificate), *of], check=True, capture_output=True, timeout=60
    )
    return certificate, key


@pytest.fixture(scope="module")
def shop(
    pair: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Server, ssl.SSLContext, str]]:
    folder = tmp_path_factory.mktemp("shop")
    file = laid_job(folder / "winch")
    # a job of its own for the browser: it would have to choose, where the other's reading is still on its way
    laid_job(folder / "reel", file.read_text(encoding="utf-8").replace("Winch", "Reel"))
    with served(folder, "--network", "--tls", *map(str, pair)) as server:
        yield server, ssl.create_default_context(cafile=str(pair[0])), server.code()


def ask(
    server: Server, trust: ssl.SSLContext, method: str, path: str, body: str = "", **headers: str
) -> tuple[int, dict[str, str], str]:
    line = http.client.HTTPSConnection("127.0.0.1", server.port, timeout=20, context=trust)
    try:
        line.request(method, path, body or None, {name.replace("_", "-"): value for name, value in headers.items()})
        found = line.getresponse()
        return found.status, dict(found.getheaders()), found.read().decode()
    finally:
        line.close()


def test_pages_come_over_tls_and_changes_from_pages_of_it_alone(shop: tuple[Server, ssl.SSLContext, str]) -> None:
    server, trust, _ = shop
    status, _, text = ask(server, trust, "GET", "/")
    assert (status, 'href="/job/winch' in text) == (200, True)
    job = "winch" + text.partition('href="/job/winch')[2].partition('"')[0]
    reading = urlencode({"bench": "a" * 16, "counter": "1", "gap": "east", "go": "20", "no_go": "21"})
    sent = {"X_Bench": "1", "Content_Type": "application/x-www-form-urlencoded", "Accept": "application/json"}
    for scheme, expected in (("http", 403), ("https", 200)):
        origin = f"{scheme}://127.0.0.1:{server.port}"
        assert ask(server, trust, "POST", f"/job/{job}/reading", reading, Origin=origin, **sent)[0] == expected


@pytest.mark.browser
def test_a_browser_reads_over_tls(chromium: Any, shop: tuple[Server, ssl.SSLContext, str]) -> None:
    server, _, _ = shop
    where = f"https://127.0.0.1:{server.port}"
    with bench(chromium, server, base_url=where, ignore_https_errors=True) as page:
        page.goto("/")
        page.tap(".jobs >> text=Reel")
        page.wait_for_selector("#gap-1 .step")
        typed(page, 1, 22, 23)
        says(page, "#state", "✓ sent")
        # the events come too
        says(page, ".answer", "S-10 + S-05 at east")


def test_the_token_of_a_device_goes_over_tls_alone(shop: tuple[Server, ssl.SSLContext, str]) -> None:
    server, trust, code = shop
    sent = {"X_Bench": "1", "Content_Type": "application/x-www-form-urlencoded"}
    origin = f"https://127.0.0.1:{server.port}"
    joined = ask(server, trust, "POST", "/pair", f"code={code}&name=vice", Origin=origin, **sent)
    assert joined[0] == 303
    assert {"HttpOnly", "SameSite=strict", "Secure"} <= set(joined[1]["set-cookie"].split("; "))


def test_what_is_not_tls_or_never_begins_it_gets_nothing_and_blocks_nobody(
    shop: tuple[Server, ssl.SSLContext, str],
) -> None:
    server, trust, _ = shop
    with socket.create_connection(("127.0.0.1", server.port), timeout=15) as line:
        line.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode())
        assert b"winch" not in line.recv(65536)
    begun = time.monotonic()
    lines = [socket.create_connection(("127.0.0.1", server.port), timeout=15) for _ in range(_MANY)]
    try:
        assert ask(server, trust, "GET", "/")[0] == 200
        # whoever had to make room for that was sent away before it was answered
        ends = time.monotonic() + TO_ASK / 2
        while (there := sum(is_open(line) for line in lines)) > 301 and time.monotonic() < ends:
            time.sleep(0.05)
        assert there <= 301
        # and nobody else, as long as they still have time to ask
        assert there > 0 or time.monotonic() - begun > TO_ASK
    finally:
        for line in lines:
            line.close()


def test_a_key_of_another_certificate_is_refused_with_what_to_do(pair: tuple[Path, Path], tmp_path: Path) -> None:
    other = tmp_path / "other.pem"
    subprocess.run(
        ["openssl", "ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", str(other)],
        check=True,
        capture_output=True,
        timeout=60,
    )
    told = subprocess.run(
        [sys.executable, "-m", "shimopt", "bench", str(tmp_path), "--port", "0", "--tls", str(pair[0]), str(other)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=False,
    )
    assert told.returncode == 2
    assert "certificate and key cannot be used" in told.stderr
    assert "both in PEM" in " ".join(told.stderr.split())
