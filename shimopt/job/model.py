"""The job: its gaps, where shims may go, what is compared, and what it states beside. Lengths in nanometres."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import KW_ONLY, dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from math import gcd, lcm
from pathlib import Path
from typing import Any

from shimopt.assembly import RunningTorque, Torque, Turns, turns
from shimopt.job.clusters import Balance, Cluster, clusters
from shimopt.job.gap import Gap
from shimopt.job.learnt_sizes import LearntSize, learnt_by_line
from shimopt.job.levels import Level
from shimopt.job.record import Record
from shimopt.job.seat import Seat
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.parts.drawer import Drawer, FittedPiece, Held
from shimopt.readings import Reading

# the title of a job that states none
UNTITLED = "untitled job"


@dataclass(frozen=True, slots=True)
class Place:
    """Where one stack goes; a stack has at least `fewest_pieces`, or nothing is fitted.

    Places that act together all have them, or in none of them anything is fitted.

    `installed` are the pieces that were in while the gaps were read, as indices of stock lines. They stay while every
    gap that the place moves is inside, unless `keep` is false or a best estimate is further than `keep_within` [nm]
    from its target. `came_out` are pieces that were in before and were taken out for the reading: they lie at hand.
    `parts` names those that it takes (`W-*`), of those that its seat takes; empty for all. `held`: nothing is changed
    there, whatever its gaps read, before it is known what is in. `most_assumed`: nobody stated `most_pieces`.
    """

    name: str
    seat: Seat | None
    most_pieces: int
    fewest_pieces: int = 0
    installed: tuple[int, ...] = ()
    keep: bool = True
    keep_within: int | None = None
    _: KW_ONLY
    came_out: tuple[int, ...] = ()
    parts: tuple[str, ...] = ()
    held: bool = False
    most_assumed: bool = False

    @property
    def takes_shims(self) -> bool:
        """Whether its seat takes shims at all."""
        return self.seat is None or self.seat.shims_allowed


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
    """A fastener and the torque called for; `tool_max` the largest torque of the tool that sets it [N·m], if known."""

    name: str
    torque: Torque
    source: str = ""
    tool_max: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """What one of another currency costs in the job's own, and who says so."""

    rate: Decimal
    source: str = ""


@dataclass(frozen=True, slots=True)
class Money:
    """The currency that all money of a job is in, empty where nobody names one, and the rates that it states."""

    currency: str = ""
    rates: Mapping[str, Rate] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Supplier:
    """On what terms a supplier delivers: money per order, and the least that the goods of an order come to.

    Where the job says what the supplier's own currency costs, money is in the job's: `charged_in` is its own, `rate`
    what one of it costs. `as_its_prices`: it states no currency, and its postage is in that of its prices.
    """

    name: str
    postage: Decimal
    smallest_order: Decimal = Decimal(0)
    currency: str = ""
    _: KW_ONLY
    rate: Decimal = Decimal(1)
    charged_in: str = ""
    as_its_prices: bool = False


@dataclass(frozen=True, slots=True)
class Sources:
    """The files that a job was read from and that may be written to; `version` is the job file's fingerprint then.

    `stock` says which drawer of which stock it has in place of one in a file.
    """

    job: Path
    drawer: Path | None
    catalogues: tuple[Path, ...] = ()
    version: str = ""
    stock: str = ""


@dataclass(frozen=True, repr=False)
class Job:
    """One rebuild, with the stock that serves it.

    `was_in` holds what was in the places before anything was done. Where it starts from its last record,
    `as_first_read` holds the readings then, `began_with` what was in by stock lines, and `read_with` what of it was in
    while they were taken; `before` is the job as it stood before that record. `equal` names places whose packs hold the
    same parts. What follows from the rest is worked out once, when the job is made: `gap` and `place` by name,
    `moved_by` the gaps that each place moves, `there` how many pieces there are of each stock line, on hand and in the
    machine, the `clusters`, by place all of its cluster (`acting_with`), and of those that are `alone` the place by its
    gap.
    """

    title: str
    unit: str
    gaps: tuple[Gap, ...]
    places: tuple[Place, ...]
    balances: tuple[Balance, ...]
    stock: tuple[StockLine, ...]
    priority: tuple[Level, ...] = ()
    _: KW_ONLY
    about: Mapping[str, str] = field(default_factory=dict)
    not_read: tuple[tuple[str, str], ...] = ()
    inputs: tuple[str, ...] = ()
    micrometer: Micrometer | None = None
    state: tuple[tuple[str, str], ...] = ()
    tightening: tuple[Tightening, ...] = ()
    seats: tuple[Seat, ...] = ()
    sources: Sources | None = None
    records: tuple[Record, ...] = ()
    as_first_read: Mapping[str, Reading] = field(default_factory=dict)
    began_with: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    read_with: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    before: Job | None = field(default=None, compare=False)
    equal: tuple[tuple[str, ...], ...] = ()
    places_stated: bool = False  # written out, and not one for every gap
    was_in: Mapping[str, tuple[FittedPiece, ...]] = field(default_factory=dict)
    suppliers: tuple[Supplier, ...] = ()
    money: Money = field(default_factory=Money)
    drawer_of: Drawer | None = field(default=None, compare=False)  # where its pieces are kept
    held: tuple[Held, ...] = ()  # pieces of its drawer that are promised to other jobs
    learnt_sizes: tuple[LearntSize, ...] = ()  # what its shop's records say of suppliers' sizes
    worked_out: dict[str, Any] = field(default_factory=dict, init=False, compare=False)  # what is asked for again
    gap: Mapping[str, Gap] = field(init=False, compare=False)
    place: Mapping[str, Place] = field(init=False, compare=False)
    moved_by: Mapping[str, tuple[Gap, ...]] = field(init=False, compare=False)
    there: tuple[int, ...] = field(init=False, compare=False)
    clusters: tuple[Cluster, ...] = field(init=False, compare=False)
    acting_with: Mapping[str, tuple[str, ...]] = field(init=False, compare=False)
    alone: Mapping[str, str] = field(init=False, compare=False)
    found_outside: tuple[str, ...] = field(init=False, compare=False)  # when they were last read after a fitting

    def __post_init__(self) -> None:
        moved: dict[str, list[Gap]] = {place.name: [] for place in self.places}
        for gap in self.gaps:
            for place, _ in gap.effects:
                moved[place].append(gap)
        installed = Counter(i for place in self.places for i in place.installed)
        movers = {gap.name: [place for place, _ in gap.effects] for gap in self.gaps}
        tied = clusters(moved, movers, self.equal)
        for name, value in (
            ("gap", {gap.name: gap for gap in self.gaps}),
            ("place", {place.name: place for place in self.places}),
            ("moved_by", {place: tuple(gaps) for place, gaps in moved.items()}),
            ("there", tuple(line.on_hand + installed[i] for i, line in enumerate(self.stock))),
            ("clusters", tied),
            ("acting_with", {name: cluster.places for cluster in tied for name in cluster.places}),
            ("alone", {cluster.gaps[0]: cluster.places[0] for cluster in tied if cluster.alone}),
            ("found_outside", tuple(gap.name for gap in self.gaps if gap.found_outside)),
        ):
            # the one moment in which a frozen object may be written to
            object.__setattr__(self, name, value)

    def __repr__(self) -> str:
        """One line, as a notebook shows it."""
        counts = f"gaps: {len(self.gaps)}, places: {len(self.places)}, kinds of piece: {len(self.stock)}"
        return f"<Job {self.title[:60]!r}, in {self.unit}; {counts}>"

    @cached_property
    def tick(self) -> Fraction:
        """The largest length that divides every length of the job [nm]: only who looks for a plan needs it."""
        return tick_of([*_lengths_of(self)])

    @cached_property
    def learnt(self) -> Mapping[int, LearntSize]:
        """What records say of the pieces of a stock line that nobody measured; no line of which they say nothing."""
        return learnt_by_line(self.stock, self.learnt_sizes)

    def first_read(self, gap: Gap) -> Reading:
        """A gap's reading before anything was done."""
        return self.as_first_read.get(gap.name, gap.reading)

    @property
    def drawer(self) -> Path | None:
        """The drawer's file."""
        return self.sources.drawer if self.sources else None

    @property
    def drawer_key(self) -> str:
        """What tells its drawer from every other; empty where it has none, or one in memory."""
        return os.path.realpath(self.drawer) if self.drawer else self.sources.stock if self.sources else ""

    def stands_bare(self, gap: Gap) -> bool:
        """Whether a gap was read under a cover with no shims in: it then is minus what the cover stands off."""
        return gap.reading.opens and not any(self.place[place].installed for place, _ in gap.effects)

    def opened_by_more(self, gap: Gap) -> bool | None:
        """Whether more at its places opens a gap; None too where less would, and nothing is in that could come out."""
        more = gap.opened_by_more
        return more if more or any(self.place[place].installed for place, _ in gap.effects) else None

    def takes_shims(self, name: str) -> bool:
        """Whether any place that moves this gap takes shims; of a gap that no place moves nobody knows."""
        effects = self.gap[name].effects
        return not effects or any(self.place[place].takes_shims for place, _ in effects)

    def gaps_behind(self, balance: Balance) -> tuple[str, ...]:
        """The gaps of a balance, or those that its places move: while one of them is outside it is set aside."""
        moved = (gap.name for place in balance.places for gap in self.moved_by[place])
        return balance.gaps or tuple(dict.fromkeys(moved))

    def turned(self, gap: str) -> RunningTorque | None:
        """The running torque of a gap that the last record knows; None where it knows none."""
        found = self.records[-1].gaps.get(gap) if self.records else None
        return None if found is None else found.running

    def turns_wrong(self, gap: str) -> Turns:
        """Whether a gap turns too "tight" or "loose" by the last record; empty where its length says that too."""
        measured, of = self.turned(gap), self.gap[gap]
        way = "" if measured is None else turns(measured, of.running)
        by_length, blind = of.reading.bracket.best, of.reading.no_preload_assumed
        agree = not blind and of.window.off(by_length) and (of.window.side(by_length) == "over") is (way == "loose")
        return way if way in ("tight", "loose") and not agree else ""

    def set_by_torque(self, gap: str) -> bool:
        """Whether a gap that nobody read since it was fitted turns as is stated, and is inside by calculation."""
        return self._turns_right(gap) and not self.right_but_by_length(gap)

    def right_but_by_length(self, gap: str) -> bool:
        """Whether it turns so, and is outside by calculation: one of the two is wrong."""
        of = self.gap[gap]
        return self._turns_right(gap) and bool(of.window.off(of.reading.bracket.best))

    def _turns_right(self, gap: str) -> bool:
        measured, of = self.turned(gap), self.gap[gap]
        return measured is not None and turns(measured, of.running) == "right" and of.reading.calculated

    def untold(self, gap: str) -> bool:
        """Whether neither its reading nor a running torque tells how tight a gap is."""
        return self.gap[gap].may_be_tight and not self.turns_wrong(gap)

    def machined(self, gap: str) -> str:
        """What was done to a gap without a shim, by the last record; empty where nothing was."""
        found = self.records[-1].gaps.get(gap) if self.records else None
        return "" if found is None else found.machined

    def stood_bare(self, gap: Gap) -> bool:
        """Whether it was first read so."""
        if gap.name not in self.as_first_read:
            return self.stands_bare(gap)
        return self.first_read(gap).opens and not any(self.read_with.get(place) for place, _ in gap.effects)

    def read_on(self, gap: str) -> str:
        """The day on which a gap was last read after a fitting; empty where it never was."""
        return next((one.date[:10] for one in reversed(self.records) if _was_read(one, gap)), "")

    @property
    def levels(self) -> tuple[Level, ...]:
        """All levels in this job's order: those with priority first."""
        return (*self.priority, *(level for level in Level if level not in self.priority))


def _was_read(record: Record, gap: str) -> bool:
    return gap in record.gaps and record.gaps[gap].read is not None


def splits_not_stated(job: Job) -> list[tuple[str, ...]]:
    """Places, in job order, that share a total of which nothing states how it is split.

    They move the same gaps in the same proportion and the same way, so that a little less at one and a little more at
    another leaves every clearance as it is. Equal packs and a balance of all of them state the split.
    """
    groups: dict[tuple[tuple[str, Fraction], ...], list[str]] = {}
    for place, gaps in job.moved_by.items():
        moves = [(gap.name, dict(gap.effects)[place]) for gap in gaps]
        if moves:
            first = abs(moves[0][1])
            groups.setdefault(tuple((gap, effect / first) for gap, effect in moves), []).append(place)
    stated = [set(names) for names in (*job.equal, *(balance.places for balance in job.balances))]
    return [tuple(names) for names in groups.values() if len(names) > 1 and not any(set(names) <= s for s in stated)]


def tick_of(lengths: Collection[Fraction]) -> Fraction:
    """The largest tick that divides all these lengths [nm]."""
    denominator = lcm(*(length.denominator for length in lengths))
    numerator = gcd(*(length.numerator * (denominator // length.denominator) for length in lengths))
    return Fraction(numerator or 1, denominator)


def _lengths_of(job: Job) -> Iterator[Fraction]:
    """Every length that a plan is reckoned with [nm]."""

    def ends(bracket: Bracket) -> tuple[Fraction, ...]:
        return bracket.low, bracket.best, bracket.high

    effects = {Fraction(1)} | {abs(effect) for gap in job.gaps for _, effect in gap.effects}
    known = [gap for gap in job.gaps if gap.effect_sources]
    effects |= {abs(end) for gap in known for place, _ in gap.effects for end in gap.reach(place)}
    for line in job.stock:
        for end in ends(line.part.thickness):
            yield from (effect * end for effect in effects)
    for gap in job.gaps:
        yield from ends(gap.reading.bracket)
        window = gap.window
        yield from (Fraction(limit) for limit in (window.min, window.max, window.target) if limit is not None)
    for balance in job.balances:
        yield from (Fraction(length) for length in (balance.within, *balance.offset.values()) if length is not None)
