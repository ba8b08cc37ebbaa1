"""Writing a result: whole or not at all, never over an input, and by what the file's name ends in."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from shimopt.cli.shared_options import Moment
from shimopt.errors import InputError
from shimopt.tables.replacing import replace_file

__all__ = ["refuse_ending", "refuse_input", "write_paper", "write_text"]


def refuse_ending(output: Path, known: tuple[str, ...]) -> None:
    """Raise InputError where a name does not end in one of the endings that are known here."""
    if output.suffix.lower() not in known:
        raise InputError.at(
            output,
            f"the name ends in {' or '.join(known)}",
            f"name it {output.stem or 'out'}{known[0]}",
            value=output.suffix,
        )


def refuse_input(path: Path, inputs: Iterable[str]) -> None:
    """Raise InputError where the result would replace a file that it was made from, or something that is no file."""
    for name in inputs:
        try:
            same = path.exists() and os.path.samefile(path, name)
        except OSError:
            same = False
        if same:
            raise InputError.at(path, "the output is one of the job's own files", "choose another name")
    if path.is_dir() or (path.exists() and not stat.S_ISREG(path.stat().st_mode)):
        raise InputError.at(path, "the output is not an ordinary file", "name a file, or - for standard output")


def write_text(path: Path, text: str) -> None:
    """Write a text file atomically, in UTF-8. Raises InputError."""
    replace_file(path, text.encode())


def write_paper(output: Path, content: dict[str, Any], paper: str, moment: Moment) -> None:
    """Write a paper's content as a PDF or a page for a browser, by the ending. Raises InputError."""
    if output.suffix.lower() == ".html":
        from shimopt.render.papers.html import page_of

        write_text(output, page_of(content))
        return
    from shimopt.render.papers.pdf import pdf_of

    result = pdf_of(content, "letter" if paper == "letter" else "a4", moment[1])
    replace_file(output, result.pdf)
    if result.missing:
        signs = ", ".join(f"U+{ord(ch):04X}" for ch in result.missing[:8])
        more = f" and {len(result.missing) - 8} more" if len(result.missing) > 8 else ""
        click.echo(
            f"shimopt: no font here has {signs}{more}: written by number. A font for that script, "
            "installed on this computer, mends it; so does an .html file.",
            err=True,
        )
