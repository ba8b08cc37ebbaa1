"""Dates on the command line: ISO, a time with its offset."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import click

__all__ = ["date_option"]


def date_option(what: str, end: str = "") -> Callable[[Any], Any]:
    """The option --date; its value is the text as written on paper, and the moment that it means."""
    return click.option(
        "--date",
        "moment",
        callback=_moment,
        metavar="DATE",
        help=f"{what}, like 2026-05-03 or 2026-05-03T14:20+02:00; else today.{end}",
    )


def _moment(_context: click.Context, _option: click.Parameter, text: str | None) -> tuple[str, datetime]:
    """A day alone is its beginning in UTC."""
    if text is None:
        text = datetime.now().astimezone().date().isoformat()
    try:
        if "T" not in text.upper():
            day = date.fromisoformat(text)
            return day.isoformat(), datetime(day.year, day.month, day.day, tzinfo=UTC)
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.BadParameter("a date is written like 2026-05-03 or 2026-05-03T14:20+02:00") from None
    if moment.tzinfo is None:
        raise click.BadParameter("a time needs its offset from UTC: 2026-05-03T14:20+02:00")
    return moment.isoformat(timespec="minutes"), moment
