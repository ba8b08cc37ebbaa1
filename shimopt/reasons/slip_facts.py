"""Kinds of facts about what looks like a slip of a unit or of a point: readings and sizes."""

from __future__ import annotations

from typing import Literal

from shimopt.seats.finding import Fact, Length


class ReadingFarOff(Fact):
    """Far from what is usual, by what it is held `against`; `terms` those of a sum of which one explains it."""

    reading: Length
    usual: Length
    against: Literal["neighbours", "window", "window and pieces", "first reading"]
    terms: tuple[str, ...] = ()


class ReadingSuspect(ReadingFarOff):
    """Likely a slip: `how`, "ten times too large", "a zero too many" or the unit meant; `point` by its point."""

    meant: Length
    how: str
    point: Length | None = None


class SizeSuspect(Fact):
    """A size likely typed in another unit than its column's, `typed_in`: in `unit`; `others` of its series tell."""

    thickness: Length
    typed_in: str
    meant: Length
    unit: str
    others: tuple[str, ...] = ()
    offered: bool = False


class WindowSuspect(Fact):
    """A window, `low` to `high`, above all that is read and at hand, or too `narrow` for the blades that read its gaps.

    Meant was likely `meant_low` to `meant_high`, typed in `unit`, or with its point elsewhere where that is empty.
    """

    low: Length
    high: Length
    meant_low: Length
    meant_high: Length
    unit: str
    narrow: bool
