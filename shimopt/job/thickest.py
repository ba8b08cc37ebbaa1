"""How thick a piece at hand a place takes: by that it is judged what a stack can bridge."""

from __future__ import annotations

from fnmatch import fnmatchcase
from fractions import Fraction

from shimopt.job.model import Job, Place


class Thickest:
    """The thickest part at hand that a place takes by its name: a gasket is no piece of a seat for shims."""

    def __init__(self, job: Job) -> None:
        self._stock = job.stock
        self._known: dict[tuple[tuple[str, ...], ...], Fraction] = {}

    def at(self, place: Place) -> Fraction:
        """Its thickness [nm], 0 where there is none."""
        if (taken := place.names_taken) not in self._known:
            parts = [line.part for line in self._stock]
            fit = [p for p in parts if all(any(fnmatchcase(p.name, name) for name in names) for names in taken)]
            self._known[taken] = max((part.thickness.best for part in fit), default=Fraction(0))
        return self._known[taken]
