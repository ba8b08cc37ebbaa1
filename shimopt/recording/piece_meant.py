"""Which piece a name typed after a fitting means: the one that was planned, that was in, or one of the drawer."""

from __future__ import annotations

from collections import Counter

from shimopt.lengths import Bracket
from shimopt.planner import Decision


class PieceMeant:
    """Which piece a bare name means in a place: the one that is planned there, else the one that was in, else one that
    the drawer can give."""

    def __init__(self, decision: Decision, place: str) -> None:
        self.stock, of = decision.job.stock, decision.job.place[place]
        self.planned = decision.stacks.get(place, ())
        self.here = [*self.planned]
        self.here += (Counter((*of.installed, *of.came_out)) - Counter(self.here)).elements()

    def worn_or_new(self, name: str) -> tuple[int, int] | None:
        """A worn piece of this name that was in, and one like it in the drawer, where neither is planned to stay."""
        planned = [i for i in self.planned if self.stock[i].part.name == name]
        worn = next((i for i in self.here if self.stock[i].part.name == name and self.stock[i].part.worn), None)
        new = self.unmeasured(name)
        return None if planned or worn is None or new is None else (worn, new)

    def unmeasured(self, name: str) -> int | None:
        """The stock line of a piece of this name as marked, which the drawer holds."""
        lines = ((i, line) for i, line in enumerate(self.stock) if line.part.name == name and line.on_hand)
        return next((i for i, line in lines if not line.part.measured), None)

    def measured_as(self, name: str, measured: Bracket | None) -> int | None:
        """The one of this name that is here, and is known to be so thick already."""
        parts = ((i, self.stock[i].part) for i in self.here if measured is not None)
        alike = (i for i, part in parts if part.name == name and part.measured and _holds(part.thickness, measured))
        return next(alike, None)

    def line(self, name: str) -> int | None:
        """The stock line of the next piece of this name, None where nothing tells which."""
        at = next((i for i in self.here if self.stock[i].part.name == name), None)
        if at is not None:
            self.here.remove(at)
            return at
        there = [i for i, line in enumerate(self.stock) if line.part.name == name and line.on_hand]
        return there[0] if len(there) == 1 else None


def _holds(thickness: Bracket, measured: Bracket | None) -> bool:
    return measured is not None and thickness.low <= measured.best <= thickness.high
