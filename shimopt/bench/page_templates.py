"""Pages from templates: every text is escaped by itself, so that it stays text."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.words.bench_page_words import LABELS

if TYPE_CHECKING:
    from jinja2 import Environment

_PAGES = Path(__file__).parent / "pages"
_KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}


def page(name: str, **data: Any) -> str:
    """The page that a template makes of plain data."""
    return _templates().get_template(f"{name}.html.j2").render(label=LABELS, address=address, **data)


@cache
def static(name: str) -> tuple[str, bytes] | None:
    """The kind and the content of a file that pages ask for by name; None where there is none."""
    path = _PAGES / name
    if path.parent != _PAGES or path.suffix not in _KINDS or not path.is_file():
        return None
    return _KINDS[path.suffix], path.read_bytes()


@cache
def address(name: str) -> str:
    """Where a page finds a file: another content is another address."""
    found = static(name)
    return f"/{name}?v={hashlib.sha256(found[1] if found else b'').hexdigest()[:12]}"


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
