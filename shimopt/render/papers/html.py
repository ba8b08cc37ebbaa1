"""The papers as pages for a browser, from the same content: one file that needs nothing else."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["page_of"]


def page_of(content: dict[str, Any]) -> str:
    """The page of a paper's content, set by the template of its kind: every text is escaped, so that it stays text."""
    return _templates().get_template(f"{content['kind']}.html.j2").render(content)


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
