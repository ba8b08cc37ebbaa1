"""Where a result may be written: never over an input, and by what the file's name ends in."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from shimopt.cli.shared_options import Moment
from shimopt.cli.terminal import say
from shimopt.errors import InputError

__all__ = ["paper_bytes", "refuse_ending", "refuse_input"]


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


def paper_bytes(output: Path, content: dict[str, Any], paper: str, moment: Moment) -> bytes:
    """A paper's content as a PDF or a page for a browser, by the ending; says which signs no font here has."""
    if output.suffix.lower() == ".html":
        from shimopt.render.papers.html import page_of

        return page_of(content).encode()
    from shimopt.render.papers.pdf import pdf_of

    result = pdf_of(content, "letter" if paper == "letter" else "a4", moment[1])
    if result.missing:
        signs = ", ".join(f"U+{ord(ch):04X}" for ch in result.missing[:8])
        more = f" and {len(result.missing) - 8} more" if len(result.missing) > 8 else ""
        say(
            f"shimopt: no font here has {signs}{more}: written by number. A font for that script, "
            "installed on this computer, mends it; so does an .html file.",
            err=True,
        )
    return result.pdf
