"""Slips of a unit or of a point: a reading that no such gap has, and that the same digits meant otherwise explain.

Published errata show what slips: inches typed for millimetres (25.4), thou for millimetres (39.37) or inches (1000), a
lost zero (10). What counts as evidence, for a false alarm is worse than a miss:

- The window says of what order such a gap is, and the pieces at hand how much more it may read: a reading that a stack
  bridges is no slip, however large. Other gaps of the same window accuse, but never excuse: they may share the slip.
- Too large is a slip of a unit where even the thickest stack leaves the gap above its window, the reading is `FAR`
  times the window's top (between 10, a point, and 25.4, a unit), and in another unit it would be of the right order,
  with no more digits than a gauge in that unit shows.
- Too small is mostly just a tight gap, so smallness alone says nothing. The digits must look like another unit's too:
  blades that nobody makes, less than any gauge shows, or a bare number finer than what one reads in its unit; where a
  fine dial shows it all the same, as 0.001 mm, that is a caution.
- Ten times, or a tenth of, the neighbours or the window is a caution: there the digits cannot tell.

Whoever looked again says `checked = true`, and is not asked. What a slip says is data; nothing is changed by itself.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from fnmatch import fnmatchcase
from fractions import Fraction
from typing import Literal, NamedTuple

from shimopt.job.gap import Gap, Window
from shimopt.job.model import Job
from shimopt.lengths import UNITS, as_typed, finer_than, other_units

FAR = 12
# a small reading is held against its window with less distance: its digits must speak against it as well
SMALL = 8
# ... and a meaning is of the right order if it comes so near
NEAR = 3
# common practice, no source: a reading so many times its neighbours is worth a second look
WORTH_A_LOOK = 6
# common practice, no source: neighbouring blades differ by more, and no gauge of a shop shows less than a micrometre
_CLOSEST_BLADES = 5_000
LEAST_SHOWN = 1_000
_TO_THE_DIGIT = Fraction(21, 20)
_LONG_GAP = 5_000_000  # 5 mm: no end play is that long
# common practice, no source: what people read in a unit [nm]: half of 0.01 mm, a micrometre, a tenth of a thou ...
_READ = {"mm": 5_000, "um": 1_000, "in": 2_540, "thou": 2_540}
# ... and the finest that a gauge in that unit shows
SHOWN = {"mm": 1_000, "um": 1_000, "in": 2_540, "thou": 2_540}
# readings whose digits are those that were typed, not a sum or a mean
_TYPED = ("value", "feeler", "cover_gap", "table")

# what readings that are held against each other have in common: the window, and whether pieces were in
_Kind = tuple[int | None, int | None, bool]
Against = Literal["neighbours", "window", "window and pieces"]
Why = Literal["beyond_parts", "blades", "nothing", "digits"] | Against


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that is probably not what was read [nm, without sign].

    `stops` where nothing is planned on it; `low` to `high` the reading as typed; `meant` its likely meaning, typed in
    `unit`, or with its point elsewhere where `unit` is empty, None where no meaning is likely; `usual` what it is held
    against, by `why`; `point` what it would be with its point elsewhere, where that is likely beside another unit.
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

    @property
    def reading(self) -> Fraction:
        """The best estimate as typed."""
        return (self.low + self.high) / 2


def slips_of(job: Job) -> Iterator[Slip]:
    """Every reading of a job that looks like a slip, those that stop and those that are cautions."""
    found = list(_against(job, job.gaps, _alike(job.gaps, job)))
    # what looks far too large bears no witness against what is small beside it
    large = {slip.gap for slip in found if slip.reading > slip.usual}
    small = [slip.gap for slip in found if slip.why == "neighbours" and slip.gap not in large]
    again: dict[str, Slip] = {}
    if large and small:
        alike = _alike([gap for gap in job.gaps if gap.name not in large], job)
        again = {slip.gap: slip for slip in _against(job, [job.gap[name] for name in small], alike)}
    for slip in found:
        if slip.gap not in small or not large:
            yield slip
        elif slip.gap in again:
            yield again[slip.gap]


def _against(job: Job, gaps: Sequence[Gap], alike: Mapping[_Kind, list[Fraction]]) -> Iterator[Slip]:
    """Those of these gaps whose readings look like slips beside what is alike."""
    thickest = max((line.part.thickness.best for line in job.stock), default=Fraction(0))
    for gap in gaps:
        if gap.checked or gap.reading.recorded:
            continue
        if slip := _slip(job, gap, _others(gap, alike.get(_kind(job, gap), [])), thickest):
            yield slip


def _kind(job: Job, gap: Gap) -> _Kind:
    return gap.window.min, gap.window.max, any(job.place[place].installed for place, _ in gap.effects)


def _alike(gaps: Sequence[Gap], job: Job) -> Mapping[_Kind, list[Fraction]]:
    """Readings of these gaps in order, by what they have in common."""
    alike: dict[_Kind, list[Fraction]] = {}
    for gap in gaps:
        if gap.reading.bracket.best > 0 and not gap.reading.no_preload_assumed:
            alike.setdefault(_kind(job, gap), []).append(gap.reading.bracket.best)
    for readings in alike.values():
        readings.sort()
    return alike


class _Others(NamedTuple):
    """The other gaps of the same window: how many they are, and the median of what they read (None where none)."""

    number: int
    middle: Fraction | None

    @property
    def several(self) -> bool:
        """Whether they can bear witness together."""
        return self.number > 1


@dataclass(frozen=True, slots=True)
class _Seen:
    """A reading beside its witnesses [nm, without sign]: its window's `top`, what is `usual`, the `reach` of stacks."""

    gap: Gap
    unit: str
    read: Fraction
    top: Fraction
    usual: Fraction | None
    reach: Fraction

    def nearest(self, least: Fraction, most: Fraction, *, small: bool = False) -> tuple[Fraction, str] | None:
        """The other meaning that comes nearest to a witness, where it is of the right order.

        None where a slip of the point explains the reading better, unless it is so `small` that its digits speak
        against it; a thousandth, or a thousand times where it is small, may be meant too.
        """
        exact = self.gap.reading.kind in _TYPED and self.gap.reading.bracket.exact
        typed_in = self.gap.typed_in or self.unit
        # the digits are those of the number as typed: 0.017 thou came in as 432 nm
        typed = as_typed(self.read, typed_in) * UNITS[typed_in]
        otherwise = self.read * 1000 if small else self.read / 1000
        meanings = dict.fromkeys([*other_units(self.read, self.gap.typed_in), (otherwise, "")])
        found = [
            (meant, named)
            for meant, named in meanings
            if least <= meant <= most
            and not (exact and finer_than(meant / self.read * typed, SHOWN[named or self.unit]))
        ]
        best = min(found, key=lambda one: self._off(one[0]), default=None)
        by_a_point = min(self._off(self.read / 10), self._off(self.read * 10))
        return best if best is not None and (small or self._off(best[0]) < by_a_point) else None

    def _off(self, meant: Fraction) -> Fraction:
        return min(_apart(meant, witness) for witness in (self.top, self.usual) if witness)


def _slip(job: Job, gap: Gap, others: _Others, thickest: Fraction) -> Slip | None:
    read, top = abs(gap.reading.bracket.best), _top(gap.window)
    if read == 0 or top == 0:
        return None
    thickest = _thickest_taken(job, gap, thickest)
    usual, must = others.middle if others.several else None, _must_be_in(job, gap, thickest)
    seen = _Seen(gap, job.unit, read, top + must, usual, _reach(job, gap, thickest))
    slipped = _too_large(seen) or _too_small(seen) or _blades_too_near(seen)
    return slipped or _by_a_point(gap, others, seen.reach, must, _in_there(job, gap))


def _too_large(seen: _Seen) -> Slip | None:
    """A slip of a unit far above all that the window allows, or the neighbours read, and the pieces bridge."""
    gap, open_ended = seen.gap, seen.gap.window.max is None
    most = seen.usual if open_ended else seen.top
    if most is None or seen.read < FAR * most or seen.read <= most + seen.reach:
        return None
    if not open_ended and gap.window.off(seen.read) == 0:
        return None
    meant = seen.nearest(most / FAR, max(NEAR * most, most + seen.reach))
    return None if meant is None else Slip(gap.name, True, *_as_typed(gap), most, "beyond_parts", *meant)


def _too_small(seen: _Seen) -> Slip | None:
    """A slip of a unit far below the window, of which the digits tell as well."""
    gap, top = seen.gap, seen.top
    low, high = _as_typed(gap)
    why = _looks_like_another_units(gap, low, high) if seen.read * SMALL <= top else None
    if why is None:
        return None
    least = Fraction(abs(gap.window.min or 0), NEAR) or top / FAR
    # a row of a table is held to what a batch of such rows asks too
    meant = seen.nearest(least, max(NEAR * top, top + seen.reach), small=gap.reading.kind != "table")
    if meant is None or meant[0] <= seen.read:
        return None
    stops = why != "digits" or finer_than(high, SHOWN[gap.typed_in or seen.unit])
    return Slip(gap.name, stops, low, high, top, why, *meant)


def _blades_too_near(seen: _Seen) -> Slip | None:
    """A caution: a pair of blades that nobody makes, far below the window, and ten times as much is of its order."""
    gap, (low, high) = seen.gap, _as_typed(seen.gap)
    tight = gap.window.min is not None and seen.read < gap.window.min
    if gap.blades is None or high - low >= _CLOSEST_BLADES or not tight:
        return None
    meant = 10 * seen.read
    fits = gap.window.min is not None and gap.window.min <= meant <= max(NEAR * seen.top, seen.top + seen.reach)
    return Slip(gap.name, False, seen.read, seen.read, seen.top, "window", meant) if fits else None


def _top(window: Window) -> Fraction:
    """The largest clearance, or preload, of a window."""
    return Fraction(max(abs(limit) for limit in (window.min, window.max) if limit is not None))


def _thickest_taken(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """The thickest piece that its places take by name, where each of them says which."""
    places = [job.place[name] for name, _ in gap.effects]
    named = [place.parts or (() if place.seat is None else place.seat.parts) for place in places]
    parts = [line.part for line in job.stock if any(fnmatchcase(line.part.name, one) for of in named for one in of)]
    return max((part.thickness.best for part in parts), default=Fraction(0)) if all(named) else thickest


def _reach(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """By how much stacks of the thickest piece at all its places would move a gap."""
    return sum((abs(effect) * job.place[name].most_pieces * thickest for name, effect in gap.effects), Fraction(0))


def _must_be_in(job: Job, gap: Gap, thickest: Fraction) -> Fraction:
    """By how much what its seats ask for at least would close a gap that was read bare: so much more it reads."""
    bare = [(job.place[name], effect) for name, effect in gap.effects if effect < 0 and not job.place[name].installed]
    return sum((-effect * place.fewest_pieces * thickest for place, effect in bare), Fraction(0))


def _as_typed(gap: Gap) -> tuple[Fraction, Fraction]:
    """From which figure to which a reading was typed: its blades, else its best estimate."""
    if gap.blades is not None:
        return Fraction(gap.blades[0]), Fraction(gap.blades[1])
    read = abs(gap.reading.bracket.best)
    return read, read


def _others(gap: Gap, readings: Sequence[Fraction]) -> _Others:
    """The others of the gaps that read so."""
    best = gap.reading.bracket.best
    own = bisect_left(readings, best)
    if gap.reading.no_preload_assumed or own == len(readings) or readings[own] != best:
        own = len(readings)
    count = len(readings) - (own < len(readings))
    # nothing is copied: there may be a hundred thousand of them
    middle = [readings[at + (at >= own)] for at in ((count - 1) // 2, count // 2)] if count else []
    return _Others(count, sum(middle, Fraction(0)) / 2 if middle else None)


def _apart(one: Fraction, other: Fraction) -> Fraction:
    """How many times the smaller the larger is."""
    return max(one / other, other / one)


def _looks_like_another_units(gap: Gap, low: Fraction, high: Fraction) -> Why | None:
    """Why a small reading cannot well have been read as it is typed; None where it can."""
    if gap.blades is not None:
        return "blades" if high - low < _CLOSEST_BLADES else None
    if high < LEAST_SHOWN:
        return "nothing"
    if gap.reading.kind == "value" and gap.typed_in is not None and gap.window.off(gap.reading.bracket.best):
        return "digits" if finer_than(high, _READ[gap.typed_in]) or _below_a_thou(gap, high) else None
    return None


def _below_a_thou(gap: Gap, high: Fraction) -> bool:
    """Whether less than one thou was typed, and not half of it, as a fraction of a millimetre is."""
    return gap.typed_in == "thou" and high < UNITS["thou"] and finer_than(high, UNITS["thou"] // 2)


def _in_there(job: Job, gap: Gap) -> Fraction:
    """How much of what was in when it was read closes it; what a stack bridges where nothing was is no wonder."""
    packs = [(effect, job.place[name].installed) for name, effect in gap.effects]
    if not any(pack for _, pack in packs):
        return _reach(job, gap, max((line.part.thickness.best for line in job.stock), default=Fraction(0)))
    return sum((abs(effect) * job.stock[i].part.thickness.best for effect, pack in packs for i in pack), Fraction(0))


def _by_a_point(gap: Gap, others: _Others, reach: Fraction, must: Fraction, there: Fraction) -> Slip | None:
    """A caution: about ten times, or a tenth of, what is usual, or far from it with no likely meaning.

    `there` is what was in: no machine ran so long that it takes more than twice that, and `FAR` times its window.
    """
    read, window = gap.reading.bracket.best, gap.window
    inside = window.off(read) == 0
    if read <= 0 or (inside and window.stated_min is not None and window.max is not None):
        return None
    usual, against = _usual(gap, others, must)
    several = others.several
    bridged = usual is not None and usual < read <= usual + reach and not (read >= FAR * usual and read > usual + there)
    # what the drawer bridges is no slip, but where it is far from several neighbours
    if usual is None or usual <= 0 or (bridged and (not several or against != "neighbours")):
        return None
    # far above its neighbours, and not just a loose gap among tight ones
    about_ten_times = several and against == "neighbours" and 8 * usual <= read <= Fraction(25, 2) * usual
    beyond = window.max is None or read >= NEAR * (window.max + must)
    above = read >= WORTH_A_LOOK * usual and beyond and (against == "neighbours" or not inside)
    far_above = about_ten_times or above
    # a small reading is mostly just a tight gap: only far below several neighbours does it look like a slip
    far_below = read * WORTH_A_LOOK <= usual and against == "neighbours" and several
    # ... or one that is a tenth of the only neighbour to the digit
    far_below |= not inside and against == "neighbours" and _apart(10 * read, usual) <= _TO_THE_DIGIT
    if not (far_above or far_below or (read >= _LONG_GAP and read > (window.max or 0) + reach)):
        return None
    meanings = [(read / 10, ""), (read * 10, "")]
    meanings += [] if gap.typed_in is None else list(other_units(read, gap.typed_in))
    # of a sum any term may have slipped
    near = [one for one in meanings if 1 <= NEAR * one[0] / usual <= NEAR**2 and gap.reading.kind != "built_up"]
    meant = min(near, key=lambda one: _apart(one[0], usual), default=None)
    point = read / 10 if read > usual else read * 10
    # a pack that has to be changed lets it read so much more
    likely = Fraction(1, NEAR) * usual <= point <= max(NEAR * usual, usual + there)
    beside = point if likely and meant is not None and meant[1] and far_above else None
    if likely and meant is None and gap.reading.kind != "built_up":
        meant = (point, "")
    if meant is None and not (far_above or far_below):
        return None
    return Slip(gap.name, False, read, read, usual, against, *(meant or (None, "")), point=beside)


def _usual(gap: Gap, others: _Others, must: Fraction) -> tuple[Fraction | None, Against]:
    """What such a gap usually reads: the middle of its neighbours with the same window, else the window itself.

    Read bare, where something must be in, it reads by that much more.
    """
    window, read = gap.window, gap.reading.bracket.best
    limit = must + (window.max if window.max is not None else window.min or 0)
    usual = None if gap.reading.no_preload_assumed else others.middle
    # neighbours typed in the same wrong unit agree with each other, but not with the window
    if usual and (not Fraction(1, WORTH_A_LOOK) < read / usual < WORTH_A_LOOK or not limit or limit <= 0):
        return usual, "neighbours"
    return (limit or None), ("window and pieces" if must else "window")
