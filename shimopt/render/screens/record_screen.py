"""The report of a record on a screen: each sentence folded at its spaces, a long path kept whole."""

from __future__ import annotations

import textwrap

from shimopt.errors import shown

__all__ = ["folded_line"]

_LONGEST = 2000


def folded_line(line: str, width: int) -> list[str]:
    """One line of the report, folded to `width`; a path that is longer stays whole."""
    set_in = "  " if line.startswith("  ") else ""
    return textwrap.wrap(
        shown(line.strip(), _LONGEST),
        width,
        initial_indent=set_in,
        subsequent_indent=f"{set_in}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
