"""The papers as pages for a browser, from the same content: one file that needs nothing else."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Template

__all__ = ["page_of"]


def page_of(content: dict[str, Any]) -> str:
    """The page of a paper's content. Text that somebody typed is escaped by the template, and so shown as text."""
    return _template().render(content)


@cache
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    found = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    return found.get_template("page.html.j2")
