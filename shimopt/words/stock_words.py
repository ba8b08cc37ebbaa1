"""The shop's stock in sentences: who holds what, until when, what was booked."""

from __future__ import annotations

from datetime import date

from shimopt.errors import shown
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part
from shimopt.words.speaker import plural


def held_words(held: Held) -> str:
    """`S-10 would have served, and is held for Mill until Friday 2026-11-27 (A. Roe, bench 2).`"""
    count = "" if held.pieces == 1 else f" ({plural(held.pieces, 'piece')})"
    who = ", ".join(shown(name) for name in (held.who, held.bench) if name)
    return (
        f"{called(held.part)}{count} would have served, and is held for {shown(held.title)} until {day(held.until)}"
        f"{f' ({who})' if who else ''}."
    )


def called(part: Part) -> str:
    """A part by its name, with its tag where it has one."""
    return shown(part.name) if part.piece is None else f"{shown(part.name)} [{shown(part.piece)}]"


def day(iso: str) -> str:
    """`Friday 2026-11-27`."""
    return f"{date.fromisoformat(iso):%A} {iso}"
