"""What slips of a unit or of a point are held against, and what is said of one: the evidence of `job/reading_slips.py`.

Lengths in nm, without sign.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from fnmatch import fnmatchcase
from fractions import Fraction
from typing import Literal, NamedTuple

from shimopt.job.gap import Gap, Window
from shimopt.job.model import Job
from shimopt.lengths import UNITS, finer_than
from shimopt.readings.reading import Term

FAR = 12
# a small reading is held against its window with less distance: its digits must speak against it as well
SMALL = 8
# ... and a meaning is of the right order if it comes so near
NEAR = 3
# common practice, no source: a reading so many times its neighbours is worth a second look
WORTH_A_LOOK = 6
# common practice, no source: neighbouring blades differ by more, and no gauge of a shop shows less than a micrometre
CLOSEST_BLADES = 5_000
LEAST_SHOWN = 1_000
# common practice, no source: blades so many times as far apart as the window is wide tell nothing about it
COARSE = 2
# common practice, no source: the finest that a gauge in a unit shows [nm]
SHOWN = {"mm": 1_000, "um": 1_000, "in": 2_540, "thou": 2_540}
# common practice, no source: what people read in a unit [nm]: half of 0.01 mm, a micrometre, a tenth of a thou ...
READ = {"mm": 5_000, "um": 1_000, "in": 2_540, "thou": 2_540}
# what a dimension of a sum is multiplied by where its point, or its unit, slipped
_FACTORS = [Fraction(10) ** n for n in (-3, -1, 1, 3)] + [
    Fraction(one, other) for one in UNITS.values() for other in UNITS.values() if one != other
]

# what readings that are held against each other have in common: the window, whether pieces were in, and which way
Kind = tuple[int | None, int | None, bool, bool]
Against = Literal["neighbours", "window", "window and pieces", "first reading"]
Why = Literal["beyond_parts", "blades", "nothing", "division", "digits", "known"] | Against


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that is probably not what was read [nm, without sign].

    `stops` where nothing is planned on it; `low` to `high` the reading as typed; `meant` its likely meaning, typed in
    `unit`, or with its point elsewhere where `unit` is empty, None where no meaning is likely; `usual` what it is held
    against, by `why`: by the "first reading" the second is, taken closed up; `point` what it would be with its point
    elsewhere, where that is likely beside another unit; `terms` those of a sum of which one explains it.
    """

    gap: str
    stops: bool
    low: Fraction
    high: Fraction
    usual: Fraction
    why: Why
    meant: Fraction | None = None
    unit: str = ""
    _: KW_ONLY
    point: Fraction | None = None
    terms: tuple[str, ...] = ()

    @property
    def reading(self) -> Fraction:
        """The best estimate as typed."""
        return (self.low + self.high) / 2


class Others(NamedTuple):
    """The other gaps of the same window: how many they are, and the median of what they read (None where none)."""

    number: int
    middle: Fraction | None

    @property
    def several(self) -> bool:
        """Whether they can bear witness together."""
        return self.number > 1


def top_of(window: Window) -> Fraction:
    """The largest clearance, or preload, of a window."""
    return Fraction(max(abs(limit) for limit in (window.min, window.max) if limit is not None))


def thickest_taken(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """The thickest piece that its places take by name, where each of them says which."""
    places = [job.place[name] for name, _ in gap.effects]
    named = [place.parts or (() if place.seat is None else place.seat.parts) for place in places]
    parts = [line.part for line in job.stock if any(fnmatchcase(line.part.name, one) for of in named for one in of)]
    return max((part.thickness.best for part in parts), default=Fraction(0)) if all(named) else thickest


def reach_of(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """By how much stacks of the thickest piece at all its places would move a gap."""
    return sum((abs(effect) * job.place[name].most_pieces * thickest for name, effect in gap.effects), Fraction(0))


def must_be_in(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """By how much what its seats ask for at least would close a gap that was read bare: so much more it reads."""
    bare = [(job.place[name], effect) for name, effect in gap.effects if effect < 0 and not job.place[name].installed]
    return sum((-effect * place.fewest_pieces * thickest for place, effect in bare), Fraction(0))


def as_typed_at(gap: Gap) -> tuple[Fraction, Fraction]:
    """From which figure to which a reading was typed: its blades, else its best estimate."""
    if gap.blades is not None:
        return Fraction(gap.blades[0]), Fraction(gap.blades[1])
    read = abs(gap.reading.bracket.best)
    return read, read


def others_of(gap: Gap, readings: Sequence[Fraction]) -> Others:
    """The others of the gaps that read so."""
    best = size_of(gap)
    own = bisect_left(readings, best)
    if gap.reading.no_preload_assumed or own == len(readings) or readings[own] != best:
        own = len(readings)
    count = len(readings) - (own < len(readings))
    # nothing is copied: there may be a hundred thousand of them
    middle = [readings[at + (at >= own)] for at in ((count - 1) // 2, count // 2)] if count else []
    return Others(count, sum(middle, Fraction(0)) / 2 if middle else None)


def kind_of(job: Job, gap: Gap) -> Kind:
    """What a reading has in common with those that it is held against."""
    was_in = any(job.place[place].installed for place, _ in gap.effects)
    return gap.window.min, gap.window.max, was_in, gap.reading.bracket.best < 0


def alike_of(gaps: Sequence[Gap], job: Job) -> Mapping[Kind, list[Fraction]]:
    """Readings of these gaps in order, by what they have in common."""
    alike: dict[Kind, list[Fraction]] = {}
    for gap in gaps:
        if (size := size_of(gap)) > 0 and not gap.reading.no_preload_assumed:
            alike.setdefault(kind_of(job, gap), []).append(size)
    for readings in alike.values():
        readings.sort()
    return alike


def apart(one: Fraction, other: Fraction) -> Fraction:
    """How many times the smaller the larger is."""
    return max(one / other, other / one)


def in_there(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """How much of what was in when it was read closes it; what a stack bridges where nothing was is no wonder."""
    packs = [(effect, job.place[name].installed) for name, effect in gap.effects]
    if not any(pack for _, pack in packs):
        return reach_of(job, gap, thickest)
    return sum((abs(effect) * job.stock[i].part.thickness.best for effect, pack in packs for i in pack), Fraction(0))


def size_of(gap: Gap) -> Fraction:
    """What a gap reads, without its sign where that only says how it was read: a cover stands off, a preload is told.

    Below 0 where a preload reads so that nobody asked for.
    """
    best = gap.reading.bracket.best
    return -best if gap.reading.opens or (gap.window.wants_preload and best < 0) else best


def came_out_of(job: Job, gap: Gap) -> Fraction:
    """How thick all was that came out of its places: under a cover read bare, it stands off by about so much."""
    return sum((job.stock[i].part.thickness.best for at, _ in gap.effects for i in job.place[at].came_out), Fraction(0))


def terms_of_a_sum(gap: Gap, most: Fraction) -> tuple[str, ...]:
    """The dimensions of a sum of which one, with its point or its unit elsewhere, brings it to what pieces bridge."""
    best = gap.reading.bracket.best

    def explains(term: Term) -> bool:
        sums = (best + term.amount * (factor - 1) for factor in _FACTORS)
        return any(0 <= one <= most for one in sums)

    return tuple(term.name for term in gap.reading.terms if term.name and term.amount and explains(term))


def finer_than_known(gap: Gap, typed: Fraction) -> bool:
    """Whether a figure has more digits than one reads in its unit, and is known no better than that: 0.021 ± 0.01."""
    step, known = READ[gap.typed_in or gap.own_unit or "mm"], gap.reading.found
    errors = [t.half for t in gap.reading.terms if t.code == "permissible_error" and not t.assumed]
    if gap.reading.kind == "value" and gap.own_unit:
        errors = [(known.high - known.low) / 2]
    # what may as well be nothing tells nothing by its digits
    return finer_than(typed, step) and any(step <= error < abs(gap.reading.bracket.best) for error in errors)


def too_coarse(gap: Gap, most: Fraction) -> Slip | None:
    """A caution: blades too far apart for the window, and above it by more than any stack here bridges, `most`."""
    least, top, (low, high) = gap.window.min, gap.window.max, as_typed_at(gap)
    if gap.blades is None or gap.reading.opens or gap.heat is not None or not least or not top or least < 0:
        return None
    read = abs(gap.reading.bracket.best)
    coarse = high - low >= COARSE * (top - least) and read > most
    return Slip(gap.name, False, read, read, Fraction(top), "window") if coarse else None
