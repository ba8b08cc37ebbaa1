"""A PostgreSQL server for tests: started once, as a user that is not root, on a socket in a temporary folder."""

from __future__ import annotations

import atexit
import os
import pwd
import shutil
import subprocess
import tempfile
from contextlib import suppress
from functools import cache
from itertools import count
from pathlib import Path

import psycopg
import pytest

_NAMES = count()
_MISSING = (
    "NOT TESTED: stocks in PostgreSQL, for no PostgreSQL server is installed here (Debian: apt install postgresql-15)"
)


def binaries() -> Path | None:
    """The folder that holds initdb and postgres; None where there is none."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda folder: float(folder.parent.name))
    found = shutil.which("initdb")
    folders = [Path(found).resolve().parent, *folders] if found else folders
    fit = [folder for folder in folders if (folder / "initdb").exists() and (folder / "postgres").exists()]
    return fit[-1] if fit else None


class Server:
    """A server in a folder of its own; `durable` where it has to bring everything to the disk."""

    def __init__(self, programs: Path, *, durable: bool = False) -> None:
        self.programs = programs
        self.folder = Path(tempfile.mkdtemp(prefix="shimopt-pg-"))
        self._as = {}
        if os.getuid() == 0:
            # PostgreSQL refuses to run as root
            user = next(name for name in ("postgres", "nobody") if _is_user(name))
            shutil.chown(self.folder, user)
            self._as = {"user": user, "extra_groups": []}
        self.user = self._as.get("user") or pwd.getpwuid(os.getuid()).pw_name
        fast = [] if durable else ["--no-sync"]
        self._run("initdb", "-D", self.folder / "data", "-A", "trust", "-U", "shop", "-E", "UTF8", "--locale=C", *fast)
        options = [f"-k {self.folder}", "-c listen_addresses=", "-c max_connections=60"]
        options += [] if durable else ["-c fsync=off"]
        self._options = " ".join(options)
        self.start()
        atexit.register(self.remove)

    def start(self) -> None:
        log = self.folder / "log"
        self._run("pg_ctl", "-D", self.folder / "data", "-w", "-l", log, "-o", self._options, "start")

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "-D", self.folder / "data", "-w", "-m", how, "stop")

    def remove(self) -> None:
        atexit.unregister(self.remove)
        with suppress(subprocess.CalledProcessError):
            self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    def new_database(self) -> str:
        """The address of an empty database."""
        name = f"stock_{os.getpid()}_{next(_NAMES)}"
        with psycopg.connect(self._address("postgres"), autocommit=True) as connection:
            # copied file by file: faster than through the log, and nobody writes to the template
            connection.execute(f"CREATE DATABASE {name} STRATEGY file_copy")
        return self._address(name)

    def _address(self, database: str) -> str:
        return f"postgresql:///{database}?host={self.folder}&user=shop"

    def _run(self, program: str, *arguments: object) -> None:
        command = [str(self.programs / program), *map(str, arguments)]
        subprocess.run(command, check=True, capture_output=True, cwd=self.folder, timeout=60, **self._as)


def _is_user(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True


@cache
def server() -> Server | None:
    """The server of this run; None where PostgreSQL is not installed."""
    programs = binaries()
    return None if programs is None else Server(programs)


def new_database() -> str:
    """The address of an empty database; the test is skipped, and says so, where there is no server."""
    here = server()
    if here is None:
        pytest.skip(_MISSING)
    return here.new_database()
