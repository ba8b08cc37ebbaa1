"""Pages from templates: every text is escaped by itself, so that it stays text."""

from __future__ import annotations

import hashlib
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.words.bench_page_words import LABELS
from shimopt.words.bench_words import NOT_DONE, WRONG_TITLES
from shimopt.words.button_words import by_buttons

if TYPE_CHECKING:
    from jinja2 import Environment

# a line that is a comment, and a comment behind a line; the marks of a style sheet, with the spaces round them
_COMMENT, _BEHIND = re.compile(r"//|/\*.*\*/$"), re.compile(r"""\s+// [^"'`]*$""")
_SPACED = re.compile(r"\s*([{};,])\s*|(?<=:)\s+")
_PAGES = Path(__file__).parent / "pages"
# what a page may ask for by name, and its kind
STATIC = {"bench.css": "text/css", "bench.js": "text/javascript", "icon.svg": "image/svg+xml"}
# what somebody typed into a form goes back into it as it is
_TYPED = ("typed", "form")
# pictures of how a gap is read
STATIC |= {f"how-{way}.svg": "image/svg+xml" for way in ("feeler", "cover", "dial", "dimensions")}


def page(name: str, **data: Any) -> str:
    """The page that a template makes of plain data: what a button does is said by its words, not by a command."""
    told = {key: it if key in _TYPED else by_buttons(it) for key, it in data.items()}
    return _templates().get_template(f"{name}.html.j2").render(label=LABELS, address=address, **told)


def wrong_page(status: int, words: str, back: str = "/") -> str:
    """The page that says why what was asked for is not there; `back` is where it leads, if anywhere."""
    return page("wrong", title=WRONG_TITLES.get(status, NOT_DONE), said=[words], back=back)


@cache
def static(name: str) -> bytes:
    """The content of a file that pages ask for, without what only its readers need; empty where there is none."""
    path = _PAGES / name
    text = path.read_text(encoding="utf-8") if name in STATIC and path.is_file() else ""
    return _lean(text, style=name.endswith(".css")).encode()


def _lean(text: str, *, style: bool) -> str:
    """A file without its comments, its indents, the spaces round its arrows, and the mark that ends a rule."""
    lines = [line for line in map(str.strip, text.splitlines()) if line and not _COMMENT.match(line)]
    if style:
        return _SPACED.sub(r"\1", "\n".join(lines)).replace(";}", "}").replace(" !important", "!important")
    return "\n".join(_BEHIND.sub("", line).replace(" => ", "=>") for line in lines)


@cache
def address(name: str) -> str:
    """Where a page finds a file: another content is another address."""
    return f"/{name}?v={hashlib.sha256(static(name)).hexdigest()[:12]}"


def load_ahead() -> None:
    """Make all templates ready, so that the first page does not wait for it."""
    for name in _templates().list_templates(["j2"]):
        _templates().get_template(name)


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(_PAGES),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
