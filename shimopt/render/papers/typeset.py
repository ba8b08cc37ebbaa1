"""From a paper's plain content to a PDF, or to a page for a browser: one file that needs nothing else.

Text reaches typst as JSON and Jinja2 escapes it: what somebody typed is never markup.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from shimopt.errors import FaultError
from shimopt.render.screens.layout import whole_figures
from shimopt.words.sheet_words import missing_signs_words

if TYPE_CHECKING:
    from jinja2 import Environment

Paper = Literal["a4", "letter"]

_HERE = Path(__file__).parent
# typst names the characters that no font has: the text `"漢"` could not be displayed with font ...
_MISSING = re.compile(r'the text `"(.*?)"` could not be displayed')
_MOST_TRIES = 20


@dataclass(frozen=True, slots=True)
class Fonts:
    """Where fonts are looked for that are not inside typst: those of the `system`, and further `folders`."""

    system: bool = False
    folders: tuple[str, ...] = ()


MACHINE = Fonts(system=True)


@dataclass(frozen=True, slots=True)
class PaperResult:
    """A file's content, and the characters that no font at hand can show (they are written by their numbers)."""

    file: bytes
    missing: tuple[str, ...] = ()


def typeset(content: dict[str, Any], output: Path, paper: Paper, moment: datetime) -> PaperResult:
    """A page for a browser where the output's name ends in .html, else a PDF."""
    if output.suffix.lower() == ".html":
        return PaperResult(page_of(content).encode())
    return pdf_of(content, paper, moment)


def page_of(content: dict[str, Any]) -> str:
    """The page of a paper's content, set by the template of its kind: every text is escaped, so that it stays text."""
    return _templates().get_template(f"{content['kind']}.html.j2").render(content)


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    templates.filters["whole_figures"] = whole_figures
    return templates


def pdf_of(content: dict[str, Any], paper: Paper, moment: datetime, fonts: Fonts | None = None) -> PaperResult:
    """The PDF of a content, tagged for accessibility (PDF/UA-1), the same bytes for the same input and fonts.

    The fonts inside typst are used; only where they lack a character are others looked at (`fonts`, else those of this
    machine), Noto's first. A character that none has is written by its number, and the paper says so at its end.
    """
    try:
        return PaperResult(_compiled(content, paper, moment, Fonts()))
    except _LacksGlyphsError:
        fonts = fonts or MACHINE
    missing: set[str] = set()
    # typst names one sign at a time: the others are asked for alone, which is quick
    for _ in range(_MOST_TRIES):
        try:
            pdf = _compiled(_spelled(content, missing), paper, moment, fonts)
        except _LacksGlyphsError as error:
            missing |= error.characters | (set() if missing else _lacking(content, fonts))
            continue
        return PaperResult(pdf, tuple(sorted(missing)))
    raise FaultError("the paper has characters that no font can show, and they could not be replaced")


def _lacking(content: dict[str, Any], fonts: Fonts) -> set[str]:
    """The unusual signs of a content that no font shows where each stands alone."""
    lacking = set()
    for sign in {sign for sign in json.dumps(content, ensure_ascii=False) if not sign.isascii() and sign.isprintable()}:
        try:
            _set("sign", fonts, {"sign": sign})
        except _LacksGlyphsError:
            lacking.add(sign)
    return lacking


class _LacksGlyphsError(Exception):
    def __init__(self, characters: set[str]) -> None:
        self.characters = characters
        super().__init__()


def _compiled(content: dict[str, Any], paper: str, moment: datetime, fonts: Fonts) -> bytes:
    inputs = {"content": json.dumps(content, ensure_ascii=False), "paper": "us-letter" if paper == "letter" else paper}
    return _set(content["kind"], fonts, inputs, int(moment.astimezone(UTC).timestamp()))


def _set(template: str, fonts: Fonts, inputs: dict[str, str], timestamp: int = 0) -> bytes:
    """What typst makes of a template."""
    import typst

    try:
        found = typst.compile(
            str(_HERE / f"{template}.typ"),
            root=str(_HERE),
            font_paths=list(fonts.folders),
            format="pdf",
            ignore_system_fonts=not fonts.system,
            sys_inputs=inputs,
            pdf_standards="ua-1",
            timestamp=timestamp,
        )
    except typst.TypstError as error:
        if characters := {ch for text in _MISSING.findall(str(error)) for ch in text}:
            raise _LacksGlyphsError(characters) from None
        raise FaultError(f"typst: {str(error)[:300]}") from None
    if not isinstance(found, bytes):
        raise FaultError("typst gave no single file")
    return found


def _spelled(content: dict[str, Any], missing: set[str]) -> dict[str, Any]:
    """The content with characters that cannot be shown written by their numbers, and `lacking` to say so."""

    def spelled(value: Any) -> Any:
        if isinstance(value, str):
            # a picture has no room for numbers: the table beside it names its rows in the same order
            picture = value.startswith("<svg")
            return "".join(("?" if picture else f"[U+{ord(ch):04X}]") if ch in missing else ch for ch in value)
        if isinstance(value, list):
            return [spelled(item) for item in value]
        if isinstance(value, dict):
            return {key: spelled(item) for key, item in value.items()}
        return value

    lacking = f"Here {missing_signs_words(sorted(missing))}." if missing else ""
    return {**(spelled(content) if missing else content), "lacking": lacking}
