"""Which piece a name means that somebody typed of a place: there may be several that are not alike."""

from __future__ import annotations

from collections import Counter

from shimopt.lengths import Bracket, decimal_text
from shimopt.parts import Part, StockLine
from shimopt.parts.part import called
from shimopt.planner import Decision


class Meant:
    """Which piece a bare name means in a place: the one that is planned there, else the one that was in, else one that
    the drawer can give."""

    def __init__(self, decision: Decision, place: str) -> None:
        self.stock, of, self.unit = decision.job.stock, decision.job.place[place], decision.job.unit
        self.planned = decision.stacks.get(place, ())
        self.here = [*self.planned]
        self.here += (Counter((*of.installed, *of.came_out)) - Counter(self.here)).elements()

    def unclear(self, name: str) -> str:
        """Why a bare name tells nothing: none is planned, and one that was in is unlike one in the drawer."""
        named = [i for i, line in enumerate(self.stock) if line.part.name == name]
        was = [self.stock[i].part for i in named if i in self.here]
        there = [self.stock[i].part for i in named if i not in self.here and self.stock[i].on_hand]
        apart = [(one, other) for one in was for other in there if not _overlap(one.thickness, other.thickness)]
        if not apart or any(i in self.planned for i in named):
            return ""
        one, other = (self._printed(part) for part in apart[0])
        return f"two unlike pieces have this name: {one} was in, {other} lies in the drawer"

    def _printed(self, part: Part) -> str:
        how = (
            f"measured {decimal_text(part.thickness.best, self.unit)} {self.unit}" if part.measured else "not measured"
        )
        return called(part.name, part.piece) if part.piece else f"{part.name} ({how})"

    def measured(self, name: str, found: Bracket) -> StockLine | None:
        """The piece here, or in the drawer, that is known to be just so thick as was typed without an error."""
        lines = [self.stock[i] for i in self.here] + [line for line in self.stock if line.on_hand]
        known = (line for line in lines if line.part.name == name and line.part.measured)
        return next((line for line in known if found.exact and line.part.thickness.best == found.best), None)

    def line(self, name: str) -> int | None:
        """The stock line of the next piece of this name, None where nothing tells which."""
        at = next((i for i in self.here if self.stock[i].part.name == name), None)
        if at is not None:
            self.here.remove(at)
            return at
        there = [i for i, line in enumerate(self.stock) if line.part.name == name and line.on_hand]
        return there[0] if len(there) == 1 else None


def _overlap(one: Bracket, other: Bracket) -> bool:
    return one.low <= other.high and other.low <= one.high
