"""A gap as a job knows it: its reading, its window, what moves it and how far, what heat does. Lengths in nm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from shimopt.assembly import Length, RunningTorque
from shimopt.job.seat import Seat
from shimopt.lengths import Bracket, beyond
from shimopt.readings import Reading

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

# stands for a limit that a window does not have: beyond all lengths, counted in halves too
NO_LIMIT = 2**60

Odds = Literal["limits", "order", "target"]
# on which side of its window a gap is
Side = Literal["over", "under"]
# what cannot be in a window: the rule, and its remedy
AT_ODDS: Mapping[Odds, tuple[str, str]] = {
    "limits": ("a window with neither min nor max allows everything", "state at least one of them"),
    "order": ("min is above max", "swap them"),
    "target": ("the target lies outside min and max", "aim inside the window"),
}
_Exact = TypeVar("_Exact", int, "npt.NDArray[np.int64]")


def odds_of(least: _Exact, most: _Exact, target: _Exact | None) -> dict[Odds, Any]:
    """What cannot be in a window: no limit at all, min above max, a target outside; of many windows at once too.

    No limit is -NO_LIMIT or NO_LIMIT, no target None. Among many, what is said of one without a target means nothing.
    """
    found: dict[Odds, Any] = {"limits": (least == -NO_LIMIT) & (most == NO_LIMIT), "order": least > most}
    return found if target is None else found | {"target": beyond(target, target, least, most) > 0}


@dataclass(frozen=True, slots=True)
class Window:
    """The smallest and largest clearance allowed, None where there is no such limit; `source` says who says so.

    `ended`: nobody states a smallest one, and `min` is 0 because nothing says how much preload there may be.
    """

    min: int | None
    max: int | None
    source: str
    stated_target: int | None = None
    ended: bool = False

    @property
    def ended_at_nothing(self) -> Window:
        """The same; one of play without a smallest clearance ends at 0: no preload is built that nobody limits."""
        ends = self.min is None and self.max is not None and self.max > 0 and (self.stated_target or 0) >= 0
        return replace(self, min=0, ended=True) if ends else self

    @property
    def stated_min(self) -> int | None:
        """The smallest clearance as somebody stated it."""
        return None if self.ended else self.min

    @property
    def preload_unlimited(self) -> bool:
        """Whether nothing states how much preload there may be."""
        return self.stated_min is None

    @property
    def target(self) -> Fraction | None:
        """What to aim at: as stated, else the middle; None for a one-sided window."""
        if self.stated_target is not None:
            return Fraction(self.stated_target)
        low = self.stated_min
        return None if low is None or self.max is None else Fraction(low + self.max, 2)

    @property
    def wants_preload(self) -> bool:
        """Whether no play at all is allowed."""
        return self.max is not None and self.max <= 0

    @property
    def at_odds(self) -> Odds | None:
        """What cannot be in this window as stated."""
        least = -NO_LIMIT if self.min is None else self.min
        found = odds_of(least, NO_LIMIT if self.max is None else self.max, self.stated_target)
        return next((odds for odds, wrong in found.items() if wrong), None)

    def off(self, clearance: Fraction) -> Fraction:
        """How far a clearance lies outside [nm], 0 inside."""
        return self.out(clearance, clearance)

    def side(self, clearance: Fraction) -> Side:
        """On which side a clearance lies that is outside."""
        return "over" if self.max is not None and clearance > self.max else "under"

    def out(self, low: Fraction, high: Fraction) -> Fraction:
        """By how much a range stands out [nm], both ends together."""
        return beyond(low, high, self.min, self.max)


@dataclass(frozen=True, slots=True)
class EffectSource:
    """Where the figure of an effect comes from, and what else is known of it.

    `kind`: "bevel" (geometry) or "trial" (two readings with different packs), or "figure" (service data); `geometry`
    the effect that the geometry gives, `low` and `high` what two readings leave open, `teeth` and `angle` the gears;
    `not_stated` names what geometry took for granted: "share" (how much of a pack moves the gear), "into_mesh".
    """

    place: str
    kind: Literal["bevel", "trial", "figure"]
    effect: Fraction
    source: str = ""
    _: KW_ONLY
    geometry: Fraction | None = None
    low: Fraction | None = None
    high: Fraction | None = None
    teeth: tuple[int, int] | None = None
    angle: Fraction | None = None
    on: str = ""
    not_stated: tuple[str, ...] = ()


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
class Gap:
    """A measured clearance; `effects` says by how much it changes per unit of thickness at each place.

    `least_chance` is the chance of being inside from which it counts as inside, None where only what is sure does;
    `cold_window` the window as stated, where `window` is narrower so that the gap is inside when hot too; `state` how
    the trial assembly stood; `final_reading` the stated ± of the final reading [nm]; `again` how far the gap may lie
    below and above the best estimate of a reading like today's, `shift` apart [nm], None where the bracket says it;
    `blades` the two neighbouring feeler blades that went and did not, where it was read by one such pair; `closed_up`
    what a second reading gave, taken with the machine closed up; `running` the running torque that its preload is to
    have, as its maker states it; `shift_stated` whether anybody said how far it may
    move until the final assembly, be it not at all.
    """

    name: str
    reading: Reading
    window: Window
    effects: tuple[tuple[str, Fraction], ...]
    seat: Seat | None = None
    _: KW_ONLY
    # the unit in which its bare numbers were typed, None where they carried their own; whether somebody looked again
    typed_in: str | None = None
    # the unit that a length with ± carries
    own_unit: str | None = None
    checked: bool = False
    least_chance: Fraction | None = None
    heat: Heat | None = None
    cold_window: Window | None = None
    state: tuple[tuple[str, str], ...] = ()
    effect_sources: tuple[EffectSource, ...] = ()
    final_reading: int | None = None
    again: tuple[Fraction, Fraction] | None = None
    blades: tuple[int, int] | None = None
    running: RunningTorque | None = None
    closed_up: Bracket | None = None
    shift_stated: bool = False

    @property
    def found_outside(self) -> bool:
        """Whether it was outside its window when it was last read after a fitting."""
        return self.reading.after_fitting and bool(self.window.off(self.reading.bracket.best))

    @property
    def may_be_tight(self) -> bool:
        """Whether it may hold its preload already, or more: it reads as nothing where one is wanted.

        Then nobody knows where it stands, and no sum makes it inside.
        """
        return self.window.wants_preload and self.reading.no_preload_assumed and not self.reading.opens

    @property
    def in_own_place(self) -> bool:
        """Whether the place of its own name moves it, and no other."""
        return [place for place, _ in self.effects] == [self.name]

    @property
    def opened_by_more(self) -> bool | None:
        """Whether more at its places opens it, as under a cover; None where they move it either way, or none does."""
        ways = {effect > 0 for _, effect in self.effects}
        return ways.pop() if len(ways) == 1 else None

    def reach(self, place: str) -> tuple[Fraction, Fraction]:
        """The least and the most that its effect at a place can be: one figure unless two trial readings gave it."""
        for source in self.effect_sources:
            if source.place == place and source.kind == "trial" and source.low is not None and source.high is not None:
                return source.low, source.high
        effect = dict(self.effects)[place]
        return effect, effect
