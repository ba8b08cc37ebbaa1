"""The files of a new job, written all or none; nothing that is there is overwritten."""

from __future__ import annotations

import errno
from pathlib import Path

from shimopt.errors import InputError
from shimopt.tables.replacing import new_file, new_folder

FILES = ("job.toml", "drawer.csv")


def write_new(folder: Path, files: dict[str, str]) -> None:
    """Write all files, or none; into a folder that is there already the job comes last.

    Raises InputError, and FileExistsError where something is in the way.
    """
    contents = {name: text.encode() for name, text in files.items()}
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        if not folder.exists():
            new_folder(folder, contents)
            return
        job, drawer = (folder / name for name in FILES)
        made = drawer.name in files and not holds(drawer, files[drawer.name])
        if made:
            new_file(drawer, contents[drawer.name])
        try:
            new_file(job, contents[job.name])
        except OSError:
            if made:
                drawer.unlink(missing_ok=True)
            raise
    except OSError as error:
        if error.errno in (errno.EEXIST, errno.ENOTEMPTY) and folder.exists():
            raise FileExistsError from None
        raise InputError.at(
            folder, f"the job cannot be written ({error.strerror})", "check the folder, its rights and the disk"
        ) from None


def holds(path: Path, text: str) -> bool:
    """Whether a file holds this text."""
    try:
        return path.is_file() and path.read_bytes() == text.encode()
    except OSError:
        return False
