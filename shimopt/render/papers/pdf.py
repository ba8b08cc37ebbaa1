"""From plain content to a PDF. Text reaches typst as JSON, never as markup."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from shimopt.errors import FaultError

__all__ = ["PaperResult", "pdf_of"]

_HERE = Path(__file__).parent
# typst names the characters that no font has: the text `"漢"` could not be displayed with font ...
_MISSING = re.compile(r'the text `"(.*?)"` could not be displayed')
_MOST_TRIES = 20


@dataclass(frozen=True, slots=True)
class PaperResult:
    """A PDF, and the characters that no font at hand can show (they are written by their numbers)."""

    pdf: bytes
    missing: tuple[str, ...] = ()


def pdf_of(content: dict[str, Any], paper: Literal["a4", "letter"], moment: datetime) -> PaperResult:
    """The PDF of a content, tagged for accessibility (PDF/UA-1), the same bytes for the same input and fonts.

    The fonts inside typst are used; only where they lack a character are the system's fonts looked at.
    """
    missing: set[str] = set()
    system_fonts = False
    for _ in range(_MOST_TRIES):
        try:
            pdf = _compiled(_spelled(content, missing), paper, moment, system_fonts=system_fonts)
        except _LacksGlyphsError as error:
            if system_fonts:
                missing |= error.characters
            system_fonts = True
            continue
        return PaperResult(pdf, tuple(sorted(missing)))
    raise FaultError("the paper has characters that no font can show, and they could not be replaced")


class _LacksGlyphsError(Exception):
    def __init__(self, characters: set[str]) -> None:
        self.characters = characters
        super().__init__()


def _compiled(content: dict[str, Any], paper: str, moment: datetime, *, system_fonts: bool) -> bytes:
    import typst

    inputs = {"content": json.dumps(content, ensure_ascii=False), "paper": "us-letter" if paper == "letter" else paper}
    try:
        found = typst.compile(
            str(_HERE / f"{content['kind']}.typ"),
            root=str(_HERE),
            format="pdf",
            ignore_system_fonts=not system_fonts,
            sys_inputs=inputs,
            pdf_standards="ua-1",
            timestamp=int(moment.astimezone(UTC).timestamp()),
        )
    except typst.TypstError as error:
        if characters := {ch for text in _MISSING.findall(str(error)) for ch in text}:
            raise _LacksGlyphsError(characters) from None
        raise FaultError(f"typst: {str(error)[:300]}") from None
    if not isinstance(found, bytes):
        raise FaultError("typst gave no single file")
    return found


def _spelled(value: Any, missing: set[str]) -> Any:
    """The content with characters that cannot be shown written by their numbers."""
    if not missing:
        return value
    if isinstance(value, str):
        return "".join(f"[U+{ord(ch):04X}]" if ch in missing else ch for ch in value)
    if isinstance(value, list):
        return [_spelled(item, missing) for item in value]
    if isinstance(value, dict):
        return {key: _spelled(item, missing) for key, item in value.items()}
    return value
