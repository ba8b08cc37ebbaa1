"""What the page keeps for itself, in a hidden folder beside the jobs: small files of JSON, and a key.

One page serves a folder at a time: whoever holds the lock in it.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from shimopt.bench.folder_scan import KEPT
from shimopt.errors import InputError
from shimopt.machine import settle_folder
from shimopt.tables.replacing import replace_file

_KEY_BYTES = 32


class KeptApart:
    """The hidden folder, made where there is none. Raises InputError."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / KEPT
        try:
            self.path.mkdir(mode=0o700, exist_ok=True)
            # what is secret here, and what is only of this computer, goes into nobody's repository
            (self.path / ".gitignore").write_text("*\n", encoding="utf-8")
            settle_folder(folder)
        except OSError as error:
            rule = f"the page keeps readings there, and cannot ({error.strerror})"
            raise InputError.at(folder, rule, "check the folder and its rights") from None

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Serve this folder alone. Raises InputError where another page does."""
        from filelock import FileLock, Timeout

        lock = FileLock(self.path / "lock", mode=0o600)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            rule = "another bench page serves this folder"
            raise InputError.at(self.path.parent, rule, "use that one, or end it first") from None
        except OSError as error:
            raise InputError.at(
                self.path, f"no lock can be made there ({error.strerror})", "check its rights"
            ) from None
        try:
            yield
        finally:
            lock.release()

    def key(self) -> bytes:
        """The key that forms are signed with."""
        file = self.path / "key"
        with suppress(OSError):
            if len(key := file.read_bytes()) == _KEY_BYTES:
                return key
        key = secrets.token_bytes(_KEY_BYTES)
        _write(file, key)
        return key

    def load(self, name: str) -> list[dict[str, Any]]:
        """The rows of a file; none where it is not there. Raises InputError where it holds something else."""
        file = self.path / f"{name}.json"
        try:
            rows = json.loads(file.read_bytes())
        except FileNotFoundError:
            return []
        except (OSError, ValueError):
            rows = None
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise InputError.at(file, "this is not what the page wrote there", "delete it: devices have to join anew")
        return rows

    def save(self, name: str, rows: list[dict[str, Any]]) -> None:
        """Write the rows of a file. Raises InputError."""
        _write(self.path / f"{name}.json", json.dumps(rows, indent=1).encode())


def _write(file: Path, content: bytes) -> None:
    if not file.exists():
        # nobody else's to read from its first moment on
        with suppress(OSError):
            os.close(os.open(file, os.O_CREAT | os.O_WRONLY, 0o600))
    replace_file(file, content)
