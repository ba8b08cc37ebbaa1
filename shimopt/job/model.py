"""The job: what was read, what is allowed, and where shims may go. Lengths in nanometres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

from shimopt.assembly import Length, Torque
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.readings import Reading

__all__ = ["LEVELS", "Balance", "Gap", "Heat", "Job", "Micrometer", "Place", "Seat", "Supplier", "Tightening",
           "Window"]  # fmt: skip

# what a plan is judged by, each level proven best before the next is looked at; lower is better
LEVELS = ("outside", "miss", "unproven", "doubt", "excess", "bought", "opened", "pieces", "cautions", "spread",
          "target", "cost")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Window:
    """The smallest and largest clearance allowed, None where there is no such limit; `source` says who says so."""

    min: int | None
    max: int | None
    source: str
    stated_target: int | None = None

    @property
    def target(self) -> Fraction | None:
        """What to aim at: as stated, else the middle; None for a one-sided window."""
        if self.stated_target is not None:
            return Fraction(self.stated_target)
        return None if self.min is None or self.max is None else Fraction(self.min + self.max, 2)


@dataclass(frozen=True, slots=True)
class Seat:
    """The geometry that a shim sits on, and what the seat allows.

    `bore_play` is the largest allowed difference of a part's bore and the shaft, None for the default.
    """

    name: str
    shaft: Bracket | None = None
    bore_play: int | None = None
    most_pieces: int | None = None
    shims_allowed: bool = True
    why: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """Where one stack goes."""

    name: str
    seat: Seat | None
    most_pieces: int


@dataclass(frozen=True, slots=True)
class Heat:
    """What heat does to a gap: by how much it grows [nm], and the window that must hold when hot, where one is stated.

    `cold` and `hot` are the temperatures as written.
    """

    growth: int
    cold: str
    hot: str
    housing: tuple[Length, ...] = ()
    shaft: tuple[Length, ...] = ()
    window: Window | None = None


@dataclass(frozen=True, slots=True)
class Micrometer:
    """The one micrometer that measured the pieces: they share its error [nm], all of theirs where None is stated.

    `source` is the standard that states the error, empty where the shop does.
    """

    name: str
    error: int | None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Tightening:
    """A fastener and the torque called for."""

    name: str
    torque: Torque
    source: str = ""


@dataclass(frozen=True, slots=True)
class Supplier:
    """On what terms a supplier delivers: money per order, and the least that the goods of an order come to."""

    name: str
    postage: Decimal
    smallest_order: Decimal = Decimal(0)
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """A measured clearance; `effects` says by how much it changes per unit of thickness at each place.

    `least_chance` is the chance of being inside from which it counts as inside, None where only what is sure does;
    `cold_window` the window as stated, where `window` is narrower so that the gap is inside when hot too; `state` how
    the trial assembly stood; `again` how far the gap may lie below and above the best estimate of its final reading
    [nm], None for as far as today's; `blades` the two neighbouring feeler blades that went and did not, where it was
    read by one such pair.
    """

    name: str
    reading: Reading
    window: Window
    effects: tuple[tuple[str, Fraction], ...]
    seat: Seat | None = None
    # the value as typed where it was a bare number, for the guard against a number typed in the wrong unit
    bare: bool = False
    least_chance: Fraction | None = None
    heat: Heat | None = None
    cold_window: Window | None = None
    state: tuple[tuple[str, str], ...] = ()
    again: tuple[Fraction, Fraction] | None = None
    blades: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Balance:
    """Gaps that should come out alike; `offset` is how much larger than the others a gap should be [nm]."""

    name: str
    gaps: tuple[str, ...]
    within: int | None = None
    offset: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Job:
    """One rebuild, with the stock that serves it."""

    title: str
    unit: str
    gaps: tuple[Gap, ...]
    places: tuple[Place, ...]
    balances: tuple[Balance, ...]
    stock: tuple[StockLine, ...]
    priority: tuple[str, ...] = ()
    about: Mapping[str, str] = field(default_factory=dict)
    not_read: tuple[tuple[str, str], ...] = ()
    inputs: tuple[str, ...] = ()
    micrometer: Micrometer | None = None
    state: tuple[tuple[str, str], ...] = ()
    tightening: tuple[Tightening, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    drawer: str = ""

    @cached_property
    def gap(self) -> Mapping[str, Gap]:
        """Gaps by name."""
        return {gap.name: gap for gap in self.gaps}

    @cached_property
    def place(self) -> Mapping[str, Place]:
        """Places by name."""
        return {place.name: place for place in self.places}

    @property
    def levels(self) -> tuple[str, ...]:
        """All levels in this job's order: those with priority first."""
        return (*self.priority, *(level for level in LEVELS if level not in self.priority))
