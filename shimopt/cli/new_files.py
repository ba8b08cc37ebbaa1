"""The files of a new job, written only where there are none."""

from __future__ import annotations

from pathlib import Path

from shimopt.errors import InputError, Problem

__all__ = ["refuse_existing", "write_new"]

_FILES = ("job.toml", "drawer.csv")


def refuse_existing(folder: Path) -> None:
    """Raise InputError where the folder is a file or already holds a job."""
    if folder.exists() and not folder.is_dir():
        raise InputError([Problem(str(folder), "", "", "there is a file of this name", "name another folder")])
    there = [name for name in _FILES if (folder / name).exists() or (folder / name).is_symlink()]
    if there:
        raise InputError(
            [
                Problem(
                    str(folder / name),
                    "",
                    "",
                    "the file is there already, and nothing is overwritten",
                    "name another folder",
                )
                for name in there
            ]
        )


def write_new(folder: Path, job_text: str, drawer_text: str) -> None:
    """Write both files, or neither. Raises InputError."""
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in zip(_FILES, (job_text, drawer_text), strict=True):
            # "x": somebody else may have made the file since we looked
            with open(folder / name, "x", encoding="utf-8", newline="\n") as file:
                written.append(folder / name)
                file.write(text)
    except OSError as error:
        for path in written:
            path.unlink(missing_ok=True)
        raise InputError(
            [
                Problem(
                    str(folder),
                    "",
                    "",
                    f"the job cannot be written ({error.strerror})",
                    "check the folder, its rights and the disk",
                )
            ]
        ) from None
