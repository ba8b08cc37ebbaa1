"""New content put in a file's place at one stroke: a reader sees the old content or the new, never half."""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from functools import partial
from pathlib import Path

from shimopt.errors import InputError
from shimopt.machine import settle_folder, tidied

__all__ = ["replace_file"]


def replace_file(path: Path, content: bytes, what: str = "output") -> None:
    """Write a file atomically. Raises InputError.

    A file that its owner made read-only is left alone, though the folder would allow its replacement.
    """
    target = Path(os.path.realpath(path))
    new = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.part")
    try:
        old_mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else None
        if old_mode is not None and not old_mode & stat.S_IWUSR:
            raise InputError.at(path, f"the {what} is read-only", "allow writing to it, or copy it")
        with tidied(partial(new.unlink, missing_ok=True)):
            with open(new, "xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            if old_mode is not None:
                os.chmod(new, old_mode)
            os.replace(new, target)
        settle_folder(target.parent)
    except OSError as error:
        kept = "; it is as it was" if target.exists() else ""
        # what a spreadsheet has open cannot be replaced on some systems
        open_there = "; if it is open in another program, close it there" if isinstance(error, PermissionError) else ""
        remedy = f"check the folder, its rights and the disk{open_there}"
        raise InputError.at(path, f"the {what} cannot be written ({error.strerror}){kept}", remedy) from None
    finally:
        with suppress(OSError):
            new.unlink(missing_ok=True)
