"""Text that acts: a spreadsheet runs a cell that begins with =, +, - or @ as a formula.

So in every table that people open, such a text gets an apostrophe before it. A program that reads the table is asked
for with `--exact-names`, and gets every text as it is.
"""

from __future__ import annotations

__all__ = ["DANGEROUS", "harmless"]

# a pattern for all texts of a column at once; the wide forms count where a spreadsheet is set to an East Asian language
DANGEROUS = "^(?:[\\s\\pZ\x0b\x1c-\x1f\x85]*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n])"
_SIGNS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip().startswith(_SIGNS) or text.startswith(("\t", "\r", "\n")) else text
