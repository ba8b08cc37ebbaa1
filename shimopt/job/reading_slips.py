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

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from shimopt.job.gap import Gap
from shimopt.job.model import Job
from shimopt.job.slip_evidence import (
    CLOSEST_BLADES,
    FAR,
    LEAST_SHOWN,
    NEAR,
    READ,
    SHOWN,
    SMALL,
    WORTH_A_LOOK,
    Against,
    Kind,
    Others,
    Slip,
    Why,
    alike_of,
    apart,
    as_typed_at,
    came_out_of,
    finer_than_known,
    in_there,
    kind_of,
    must_be_in,
    others_of,
    reach_of,
    size_of,
    terms_of_a_sum,
    thickest_taken,
    too_coarse,
    top_of,
)
from shimopt.lengths import UNITS, Bracket, as_typed, finer_than, other_units
from shimopt.parts import sizes_of

_TO_THE_DIGIT, _FAR_BETTER = Fraction(21, 20), 2
_LONG_GAP = 5_000_000  # 5 mm: no end play is that long
# readings whose digits are those that were typed, not a sum or a mean
_TYPED = ("value", "feeler", "cover_gap", "table")


def slips_of(job: Job) -> tuple[Slip, ...]:
    """Every reading of a job that looks like a slip, those that stop and those that are cautions."""
    # they stop a job when it is read, and are told when it is planned
    if "slips" not in job.worked_out:
        job.worked_out["slips"] = tuple(_slips(job))
    found: tuple[Slip, ...] = job.worked_out["slips"]
    return found


def _slips(job: Job) -> Iterator[Slip]:
    found = list(_against(job, job.gaps, alike_of(job.gaps, job)))
    # what looks far too large bears no witness against what is small beside it
    large = {slip.gap for slip in found if slip.reading > slip.usual}
    small = [slip.gap for slip in found if slip.why == "neighbours" and slip.gap not in large]
    again: dict[str, Slip] = {}
    if large and small:
        alike = alike_of([gap for gap in job.gaps if gap.name not in large], job)
        again = {slip.gap: slip for slip in _against(job, [job.gap[name] for name in small], alike)}
    for slip in found:
        if slip.gap not in small or not large:
            yield slip
        elif slip.gap in again:
            yield again[slip.gap]


def _against(job: Job, gaps: Sequence[Gap], alike: Mapping[Kind, list[Fraction]]) -> Iterator[Slip]:
    """Those of these gaps whose readings look like slips beside what is alike."""
    thickest = max(sizes_of(job.stock), default=Fraction(0))
    for gap in gaps:
        if gap.checked or gap.reading.recorded:
            continue
        slip = _slip(job, gap, others_of(gap, alike.get(kind_of(job, gap), [])), thickest)
        if slip is None and gap.closed_up is not None:
            slip = _second(job, gap, gap.closed_up)
        if slip is not None:
            yield slip


@dataclass(frozen=True, slots=True)
class _Seen:
    """A reading beside its witnesses [nm, without sign]: its window's `top`, what is `usual`, the `reach` of stacks.

    `pack` is what came out of a cover that was read bare: it stands off by about so much.
    """

    gap: Gap
    unit: str
    read: Fraction
    top: Fraction
    usual: Fraction | None
    reach: Fraction
    pack: Fraction = Fraction(0)

    def nearest(self, least: Fraction, most: Fraction, *, small: bool = False) -> tuple[Fraction, str] | None:
        """The other meaning that comes nearest to a witness, where it is of the right order.

        None where a slip of the point explains the reading better, unless it is so `small` that its digits speak
        against it; a thousandth, or a thousand times where it is small, may be meant too.
        """
        # a length that carries its unit is doubted where it is longer than any play, or finer than any gauge shows
        own = self.gap.own_unit if small or self.read >= _LONG_GAP else None
        exact = self.gap.reading.kind in _TYPED and (self.gap.reading.bracket.exact or (own is not None and not small))
        typed_in = self.gap.typed_in or own or self.unit
        # the digits are those of the number as typed: 0.017 thou came in as 432 nm
        typed = as_typed(self.read, typed_in) * UNITS[typed_in]
        otherwise = self.read * 1000 if small else self.read / 1000
        units = other_units(self.read, self.gap.typed_in or own)
        meanings = dict.fromkeys([*units, (otherwise, "")])
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
        return min(apart(meant, witness) for witness in (self.pack or self.top, self.usual) if witness)


def _slip(job: Job, gap: Gap, others: Others, thickest: Fraction) -> Slip | None:
    read, top = abs(gap.reading.bracket.best), top_of(gap.window)
    if read == 0 or top == 0:
        return None
    taken = thickest_taken(job, gap, thickest)
    usual, must = others.middle if others.several else None, must_be_in(job, gap, taken)
    bare = gap.reading.opens and not any(job.place[at].installed for at, _ in gap.effects)
    pack = came_out_of(job, gap) if bare else Fraction(0)
    seen = _Seen(gap, job.unit, read, top + must, usual, reach_of(job, gap, taken), pack)
    # how far a cover stands off without shims its window does not say, but what came out does
    far = not bare or read >= (WORTH_A_LOOK * (top + pack) if pack else _LONG_GAP)
    slipped = (_too_large(seen) if far else None) or _too_small(seen) or _blades_too_near(seen)
    if slipped is None:
        slipped = _by_a_point(seen, others, must, in_there(job, gap, thickest))
        # ... unless it is about ten times its window of play, not of preload, and more than any stack here bridges
        about = 8 * top <= read <= Fraction(25, 2) * (gap.window.max or 0) and read > seen.top + seen.reach and not pack
        slipped = slipped if far or about or slipped is None or slipped.why == "neighbours" else None
    slipped = slipped or too_coarse(gap, seen.top + seen.reach)
    if slipped is not None and gap.reading.kind == "built_up":
        return replace(slipped, terms=terms_of_a_sum(gap, seen.top + seen.reach))
    return slipped


def _too_large(seen: _Seen) -> Slip | None:
    """A slip of a unit far above all that the window allows, or the neighbours read, and the pieces bridge."""
    gap, open_ended = seen.gap, seen.gap.window.max is None
    most = seen.usual if open_ended else seen.top
    if most is None or seen.read < FAR * most or seen.read <= most + seen.reach:
        return None
    if not open_ended and gap.window.off(seen.read) == 0:
        return None
    likely = max(NEAR * most, most + seen.reach)
    meant = seen.nearest(most / FAR, likely)
    if meant is None:
        return None
    # of a sum any term may have slipped; a cover read bare stands off by its pack, of which the window says nothing
    said = (None, "") if gap.reading.kind == "built_up" else meant
    point = seen.read / 10 if gap.reading.opens and meant[1] and seen.read / 10 <= likely else None
    return Slip(gap.name, True, *as_typed_at(gap), most, "beyond_parts", *said, point=point)


def _too_small(seen: _Seen) -> Slip | None:
    """A slip of a unit far below the window, of which the digits tell as well."""
    gap, top = seen.gap, seen.top
    low, high = as_typed_at(gap)
    why = _looks_like_another_units(gap, low, high) if seen.read * SMALL <= top else None
    if why is None:
        return None
    least = Fraction(abs(gap.window.min or 0), NEAR) or top / FAR
    # a row of a table is held to what a batch of such rows asks too
    meant = seen.nearest(least, max(NEAR * top, top + seen.reach), small=gap.reading.kind != "table")
    if meant is None or meant[0] <= seen.read:
        return None
    finer = finer_than(_typed_sum(gap, high), SHOWN[gap.typed_in or seen.unit])
    stops = why != "known" and (why != "digits" or finer)
    return Slip(gap.name, stops, low, high, top, why, *meant)


def _blades_too_near(seen: _Seen) -> Slip | None:
    """A caution: a pair of blades that nobody makes, far below the window, and ten times as much is of its order."""
    gap, (low, high) = seen.gap, as_typed_at(seen.gap)
    tight = gap.window.min is not None and seen.read < gap.window.min
    if gap.blades is None or high - low >= CLOSEST_BLADES or not tight:
        return None
    meant = 10 * seen.read
    fits = gap.window.min is not None and gap.window.min <= meant <= max(NEAR * seen.top, seen.top + seen.reach)
    return Slip(gap.name, False, seen.read, seen.read, seen.top, "window", meant) if fits else None


def _looks_like_another_units(gap: Gap, low: Fraction, high: Fraction) -> Why | None:
    """Why a small reading cannot well have been read as it is typed; None where it can."""
    if gap.blades is not None:
        return "blades" if high - low < CLOSEST_BLADES else None
    if high < LEAST_SHOWN:
        return "nothing"
    if not gap.window.off(gap.reading.bracket.best):
        return None
    # nobody knows a reading to less than any gauge shows
    known = gap.reading.found
    if gap.reading.kind == "value" and 0 < known.high - known.low < LEAST_SHOWN:
        return "digits"
    if gap.typed_in is None:
        return "known" if finer_than_known(gap, high) else None
    if gap.reading.kind == "indicator":
        return _finer_than_its_dial(gap, high)
    if gap.reading.kind == "value" or (gap.reading.kind == "feeler" and gap.reading.by == "snug"):
        return "digits" if finer_than(high, READ[gap.typed_in]) or _below_a_thou(gap, high) else None
    return None


def _finer_than_its_dial(gap: Gap, high: Fraction) -> Why | None:
    """Whether pulls have more digits than half a division, as people read it; or than a fifth, and are below one."""
    half = next(term for term in gap.reading.terms if term.code == "resolution")
    least, pulls = half.half if half.as_read is None else half.as_read, _typed_sum(gap, high)
    if not least or not finer_than(pulls, int(least)):
        return "known" if finer_than_known(gap, pulls) else None
    return "division" if high < 2 * least and finer_than(5 * pulls, int(2 * least)) and not half.assumed else "digits"


def _typed_sum(gap: Gap, high: Fraction) -> Fraction:
    """What a reading was typed as; of pulls their sum, for a mean has more digits than each of them."""
    pulls = next((term for term in gap.reading.terms if term.code == "pulls"), None)
    return high if pulls is None else pulls.amount * (pulls.count or 1)


def _below_a_thou(gap: Gap, high: Fraction) -> bool:
    """Whether less than one thou was typed, and not half of it, as a fraction of a millimetre is."""
    return gap.typed_in == "thou" and high < UNITS["thou"] and finer_than(high, UNITS["thou"] // 2)


def _by_a_point(seen: _Seen, others: Others, must: Fraction, there: Fraction) -> Slip | None:
    """A caution: about ten times, or a tenth of, what is usual, or far from it with no likely meaning.

    `there` is what was in: no machine ran so long that it takes more than twice that, and `FAR` times its window.
    """
    gap = seen.gap
    read, window = size_of(gap), gap.window
    # of a pack that opens a gap no more can come out than is in
    reach = there if window.wants_preload and gap.opened_by_more else seen.reach
    inside = window.off(gap.reading.bracket.best) == 0
    turned = read != gap.reading.bracket.best
    if read <= 0 or (inside and window.stated_min is not None and window.max is not None):
        return None
    usual, against = _usual(gap, others, must)
    worn = usual is not None and read >= FAR * usual and read > usual + there
    # a cover that stands off with its pack in asks for so much more than that pack
    worn |= gap.reading.opens and usual is not None and read >= max(WORTH_A_LOOK * usual, NEAR * there)
    bridged = usual is not None and usual < read <= usual + reach and not worn
    # what the drawer bridges is no slip, but where it is far from several neighbours
    if usual is None or usual <= 0 or (bridged and not (others.several and against == "neighbours")):
        return None
    # far above its neighbours, and not just a loose gap among tight ones
    about_ten_times = others.several and against == "neighbours" and 8 * usual <= read <= Fraction(25, 2) * usual
    top = top_of(window) if turned or window.wants_preload else window.max
    beyond = top is None or read >= NEAR * (top + must)
    above = read >= WORTH_A_LOOK * usual and beyond and (against == "neighbours" or not inside)
    far_above = about_ten_times or above
    # a small reading is mostly just a tight gap: only far below several neighbours does it look like a slip
    far_below = read * WORTH_A_LOOK <= usual and against == "neighbours" and others.several
    # ... or one that is a tenth of the only neighbour to the digit
    far_below |= not inside and against == "neighbours" and apart(10 * read, usual) <= _TO_THE_DIGIT
    if not (far_above or far_below or (read >= _LONG_GAP and read > (window.max or 0) + reach)):
        return None
    point = read / 10 if read > usual else read * 10
    # a pack that has to be changed lets it read so much more
    likely = Fraction(1, NEAR) * usual <= point <= max(NEAR * usual, usual + there)
    meanings, units = [(read / 10, ""), (read * 10, "")], list(other_units(read, gap.typed_in or seen.unit))
    # what was typed with its own unit is a slip of that only where it explains the neighbours, and a point does not
    better = against == "neighbours" and apart(point, usual) > _FAR_BETTER
    better &= min(apart(meant, usual) for meant, _ in units) <= _TO_THE_DIGIT
    meanings += units if gap.typed_in is not None or better else []
    # of a sum any term may have slipped
    near = [one for one in meanings if 1 <= NEAR * one[0] / usual <= NEAR**2 and gap.reading.kind != "built_up"]
    meant = min(near, key=lambda one: apart(one[0], usual), default=None)
    beside = point if likely and meant is not None and meant[1] and far_above else None
    if likely and meant is None and gap.reading.kind != "built_up":
        meant = (point, "")
    if meant is None and not (far_above or far_below):
        return None
    return Slip(gap.name, False, read, read, usual, against, *(meant or (None, "")), point=beside)


def _usual(gap: Gap, others: Others, must: Fraction) -> tuple[Fraction | None, Against]:
    """What such a gap usually reads: the middle of its neighbours with the same window, else the window itself.

    Read bare, where something must be in, it reads by that much more.
    """
    window, read = gap.window, size_of(gap)
    turned = read != gap.reading.bracket.best
    # play where a preload is wanted is held against how much of that is allowed
    by_size = turned or (window.wants_preload and read > 0)
    limit = must + (top_of(window) if by_size else window.max if window.max is not None else window.min or 0)
    usual = None if gap.reading.no_preload_assumed else others.middle
    # neighbours typed in the same wrong unit agree with each other, but not with the window
    if usual and (not Fraction(1, WORTH_A_LOOK) < read / usual < WORTH_A_LOOK or not limit or limit <= 0):
        return usual, "neighbours"
    return (limit or None), ("window and pieces" if must else "window")


def _second(job: Job, gap: Gap, closed_up: Bracket) -> Slip | None:
    """The second reading, taken closed up, beside the first: closing up takes of it, and adds nothing like so much."""
    read, first = abs(closed_up.best), abs(gap.reading.bracket.best)
    if not read or not first or not gap.window.off(closed_up.best):
        return None
    apart_by = closed_up.high - closed_up.low
    closed = 0 < apart_by < CLOSEST_BLADES or read < LEAST_SHOWN
    if read >= FAR * first or (closed and read * SMALL <= first):
        otherwise = (read * 1000 if read < first else read / 1000, "")
        meanings = dict.fromkeys([*other_units(read, gap.typed_in or job.unit), otherwise])
        meant = min(meanings, key=lambda one: apart(one[0], first))
        by_a_point = min(apart(10 * read, first), apart(read / 10, first))
        if apart(meant[0], first) <= min(Fraction(NEAR), by_a_point):
            return Slip(gap.name, True, abs(closed_up.low), abs(closed_up.high), first, "first reading", *meant)
    if read >= SMALL * first or apart(10 * read, first) <= _TO_THE_DIGIT:
        meant = (read / 10 if read > first else read * 10, "")
        return Slip(gap.name, False, read, read, first, "first reading", *meant)
    return None
