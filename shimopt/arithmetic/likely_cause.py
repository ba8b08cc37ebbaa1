"""Why a gap was found otherwise than predicted: the explanation that the readings and the pieces bear out.

Common practice, no published source: what the brackets of both leave possible decides. What the reading before hid
comes first, then what was moved, then the pieces, at last dirt.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Literal

from shimopt.arithmetic.clearance import Stack, after_shimming, change_of, turnover
from shimopt.arithmetic.play_left import swing, with_play
from shimopt.job import Gap, Job, Seat
from shimopt.job.reading_slips import slips_of
from shimopt.lengths import Bracket
from shimopt.seats import on_place_all

# a marked thickness can be wrong by so much: 0.125 in has been found at 0.114, 0.50 mm at 0.53
_WRONG_MARK = Fraction(1, 10)

Likely = Literal[
    "agrees",
    "machined",
    "cover_rested",
    "preload_hidden",
    "cover_may_have_rested",
    "preload_may_be_hidden",
    "reading_slipped",
    "closed_up_holds",
    "record_off",
    "read_with_play",
    "moved_other_way",
    "interchanged",
    "packs_interchanged",
    "piece_missing",
    "piece_double",
    "piece_stayed",
    "piece_in",
    "wrong_piece",
    "half_share",
    "effect_computed",
    "clamp_state",
    "not_as_marked",
    "thicker_than_marked",
    "nothing_fitted",
    "nothing_done",
    "burr_or_seating",
    "clamp_or_seating",
    "under_cover",
    "reading_doubted",
]


@dataclass(frozen=True, slots=True)
class Cause:
    """What is likely, `code` as in `agreement.Compared`, with its parts, lengths [nm] and how many pieces there are."""

    code: Likely
    part: str = ""
    other: str = ""
    _: KW_ONLY
    low: Fraction = Fraction(0)
    high: Fraction = Fraction(0)
    count: int = 0


@dataclass(frozen=True, slots=True)
class Apart:
    """A gap predicted and found; `off` found less predicted by best estimates, `plausible` how far that may be [nm]."""

    predicted: Bracket
    found: Bracket
    off: Fraction
    plausible: Fraction

    @property
    def doubt(self) -> Fraction:
        """How far the two can lie apart at worst and still mean the same."""
        return (self.predicted.high - self.predicted.low) / 2 + (self.found.high - self.found.low) / 2

    @property
    def overlap(self) -> bool:
        """Whether both brackets can hold."""
        return self.predicted.low <= self.found.high and self.found.low <= self.predicted.high


@dataclass(frozen=True)
class Pieces:
    """The pieces that can be to blame: what is in, by place, how many of each lie loose, and which places are settled.

    A place is settled where a gap that it alone moves was found as predicted: what is in there is in no other.
    """

    job: Job
    stacks: Mapping[str, Stack]
    loose: Sequence[int]
    settled: Collection[str]
    _by_kind: dict[tuple[Seat | None, tuple[str, ...]], list[int]] = field(default_factory=dict)

    def can_be_at(self, place: str) -> list[int]:
        """The stock lines of which one piece more may be in a place: it takes them, and one is free."""
        here = Counter() if place in self.settled else Counter(self.stacks.get(place, ()))
        return [i for i in self._suited(place) if self.loose[i] > 0 or self._unsettled[i] > here[i]]

    @cached_property
    def slips(self) -> Mapping[str, Fraction]:
        """What readings that look like slips were likely meant to be, by gap."""
        slips = (slip for slip in slips_of(self.job) if slip.why != "first reading")
        return {slip.gap: slip.meant for slip in slips if slip.meant is not None}

    @cached_property
    def doubted(self) -> set[str]:
        """The gaps whose reading looks like a slip, whatever was meant."""
        return {slip.gap for slip in slips_of(self.job)}

    @cached_property
    def _unsettled(self) -> Counter[int]:
        return Counter(i for name, stack in self.stacks.items() if name not in self.settled for i in stack)

    def _suited(self, place: str) -> list[int]:
        """The stock lines that a place takes; places alike are asked about once."""
        where = self.job.place[place]
        kind = where.seat, where.parts
        if kind not in self._by_kind:
            answers = on_place_all([line.part for line in self.job.stock], where) if where.takes_shims else []
            self._by_kind[kind] = [i for i, answer in enumerate(answers) if answer.verdict != "stop"]
        return self._by_kind[kind]


def likely_cause(gap: Gap, apart: Apart, pieces: Pieces) -> Cause:
    """What explains that a gap was found so; the job is as it stood before."""
    return (
        _blind(gap, apart)
        or _read_otherwise(gap, apart, pieces)
        or _record_off(gap, apart, pieces)
        or _with_play(pieces.job, gap, apart)
        or _other_way(gap, apart, pieces)
        or _nothing_moved(gap, apart, pieces)
        or _figures(gap, apart, pieces)
        or _stack_at_fault(gap, apart, pieces)
    )


def _blind(gap: Gap, apart: Apart) -> Cause | None:
    """No blade went before, and it was found on the side that this can hide; where both can hold, it only may have."""
    if not gap.reading.no_preload_assumed or gap.reading.opens != (apart.off > 0):
        return None
    if not apart.overlap:
        return Cause("cover_rested" if gap.reading.opens else "preload_hidden")
    if gap.reading.opens:
        return Cause("cover_may_have_rested")
    # the most that was hidden: it moved as far as it can, and is as tight as it can be
    moved = apart.predicted.high - gap.reading.bracket.high
    return Cause("preload_may_be_hidden", high=moved - apart.found.low)


def _read_otherwise(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """A slip of the reading before, or a second one taken closed up, from which it comes out as found."""
    read, second = gap.reading.bracket, gap.closed_up
    if gap.reading.recorded:
        return None
    meant = pieces.slips.get(gap.name)
    if meant is not None and abs(apart.off - (meant - read.best)) <= apart.plausible:
        return Cause("reading_slipped", low=meant, high=meant)
    # a slip that was asked about, and what it meant was not known, or was something else
    if gap.name in pieces.doubted and abs(apart.off) >= read.best / 2:
        return Cause("reading_doubted")
    if second is None:
        return None
    low, high = apart.predicted.low - read.low + second.low, apart.predicted.high - read.high + second.high
    # a reading that begins at nothing is no figure to compare: it is what was foretold, or not
    foretold = apart.found.low <= 0 and low <= apart.found.high and apart.found.low <= high and not apart.overlap
    if abs(apart.off - (second.best - read.best)) > apart.plausible and not foretold:
        return None
    return Cause("closed_up_holds", low=low, high=high)


def _record_off(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """It is as the reading before any fitting foretold: what the record between says was read, or in, was not."""
    job, first = pieces.job, pieces.job.as_first_read.get(gap.name)
    if first is None or not gap.reading.recorded or first.no_preload_assumed:
        return None
    told = [record for record in job.records if gap.name in record.gaps]
    if any(record.gaps[gap.name].machined for record in told):
        return None

    def foretold(stacks: Mapping[str, Stack]) -> Bracket:
        first_in = {name: replace(job.place[name], installed=job.read_with.get(name, ())) for name, _ in gap.effects}
        change = {name: change_of(place, stacks.get(name, ()), job.stock) for name, place in first_in.items()}
        return after_shimming(replace(gap, reading=first), change)

    by_first = foretold(pieces.stacks)
    then = foretold({name: job.place[name].installed for name, _ in gap.effects})
    agrees = abs(apart.found.best - by_first.best) <= apart.plausible
    if not agrees or abs(gap.reading.bracket.best - then.best) <= apart.plausible:
        return None
    days = [one.date[:10] for one in told if one.gaps[gap.name].read == gap.reading.found]
    return Cause("record_off", days[-1] if days else "", low=by_first.low, high=by_first.high)


def _with_play(job: Job, gap: Gap, apart: Apart) -> Cause | None:
    """What hangs free between packs on both sides goes as far as the play, by what both of them would move it."""
    for other in with_play(job, gap):
        if abs(apart.off) - apart.plausible <= swing(gap) * other.reading.bracket.high:
            return Cause("read_with_play", other.name)
    return None


def _other_way(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """Packs on both sides moved it, and beyond doubt away from where they were to: no share or angle does that."""
    read = gap.reading.bracket
    meant, moved = apart.predicted.best - read.best, apart.found.best - read.best
    beyond_doubt = apart.found.low > read.high or apart.found.high < read.low
    if meant * moved >= 0 or not beyond_doubt or len({effect > 0 for _, effect in gap.effects}) < 2:
        return None
    first, *others = [place for place, _ in gap.effects if _changed(pieces, place)]
    return Cause("moved_other_way", first, others[0] if others else "")


def _nothing_moved(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """Nothing is thought to be in, or nothing to have been changed: a piece may be in after all."""
    if any(_changed(pieces, place) for place, _ in gap.effects):
        if any(pieces.stacks.get(place) for place, _ in gap.effects):
            return None
        return _one_more(gap, apart, pieces) or Cause("nothing_fitted")
    return _one_more(gap, apart, pieces) or Cause("nothing_done")


def _figures(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """How far a pack moves a gear, which the job leaves open or geometry alone gives."""
    if packs := _sharing(gap, apart, pieces):
        return Cause("half_share", *packs)
    by = {source.place for source in gap.effect_sources if source.kind == "bevel"}
    changed = [place for place, _ in gap.effects if place in by and _changed(pieces, place)]
    return Cause("effect_computed", *changed[:2]) if changed else None


def _stack_at_fault(gap: Gap, apart: Apart, pieces: Pieces) -> Cause:
    """A piece too many, too few, in another's stead or not as marked; dirt and seating where none explains it."""
    if len(gap.effects) != 1:
        # which of several stacks is to blame, one reading cannot tell
        opens = all(effect > 0 for _, effect in gap.effects)
        return Cause("burr_or_seating" if (apart.off > 0) == opens else "clamp_or_seating")
    place, effect = gap.effects[0]
    stack, stock = pieces.stacks.get(place, ()), pieces.job.stock
    thicker = apart.off / effect
    if found := _miscounted(gap, apart, pieces) or _one_more(gap, apart, pieces, came_out=True):
        return found
    if found := _another_instead(gap, apart, pieces):
        return found
    if thicker > 0 and gap.reading.opens:
        return Cause("under_cover")
    unmeasured = sum((stock[i].part.thickness.best for i in stack if not stock[i].part.measured), Fraction(0))
    if unmeasured and abs(thicker) - apart.doubt / abs(effect) <= unmeasured * _WRONG_MARK:
        return Cause("thicker_than_marked" if thicker > 0 else "not_as_marked")
    return Cause("burr_or_seating" if thicker > 0 else "clamp_or_seating")


def _miscounted(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """One piece fewer than is thought to be in, or one more of a kind where there is another."""
    (place, effect), stock = gap.effects[0], pieces.job.stock
    more = pieces.can_be_at(place)
    for index, count in sorted(Counter(pieces.stacks.get(place, ())).items()):
        part = stock[index].part
        if abs(apart.off / effect + part.thickness.best) <= apart.plausible / abs(effect):
            return Cause("piece_missing", part.name, count=count)
        if index in more and abs(apart.off / effect - part.thickness.best) <= apart.plausible / abs(effect):
            return Cause("piece_double", part.name, count=count)
    return None


def _one_more(gap: Gap, apart: Apart, pieces: Pieces, *, came_out: bool = False) -> Cause | None:
    """One piece more than is thought to be in: one that `came_out`, or where nothing went in, any that may be there."""
    if len(gap.effects) != 1:
        return None
    (place, effect), stock = gap.effects[0], pieces.job.stock
    thicker, apart_by = apart.off / effect, apart.plausible / abs(effect)
    _, out = turnover(pieces.job.place[place].installed, pieces.stacks.get(place, ()))
    free = pieces.can_be_at(place)
    found = [i for i in free if (i in out or not came_out) and abs(thicker - stock[i].part.thickness.best) <= apart_by]
    best = min(found, key=lambda i: (abs(thicker - stock[i].part.thickness.best), i not in out), default=None)
    if best is None:
        return None
    if stayed := Counter(out)[best]:
        return Cause("piece_stayed", stock[best].part.name, count=stayed)
    return Cause("piece_in", stock[best].part.name, count=len(pieces.stacks.get(place, ())))


def _another_instead(gap: Gap, apart: Apart, pieces: Pieces) -> Cause | None:
    """The exchange of one piece for another that comes nearest, where what it leaves is plausible."""
    (place, effect), stock = gap.effects[0], pieces.job.stock
    thicker = apart.off / effect
    swaps = [
        (abs(thicker - (there.thickness.best - fitted.thickness.best)), fitted.name, there.name)
        for fitted in (stock[i].part for i in sorted(set(pieces.stacks.get(place, ()))))
        for there in (stock[i].part for i in pieces.can_be_at(place))
        if there.thickness.best != fitted.thickness.best
    ]
    nearest = min(swaps, default=None)
    return Cause("wrong_piece", *nearest[1:]) if nearest and nearest[0] <= apart.plausible / abs(effect) else None


def _sharing(gap: Gap, apart: Apart, pieces: Pieces) -> tuple[str, str] | None:
    """The first two of the packs of one gear, where it moved as if they held it between them and nobody said so."""
    open_ = [source.place for source in gap.effect_sources if source.kind == "bevel" and "share" in source.not_stated]
    if len(open_) < 2:
        return None
    halved = replace(
        gap, effects=tuple((place, effect / 2 if place in open_ else effect) for place, effect in gap.effects)
    )
    job = pieces.job
    change = {place: change_of(job.place[place], pieces.stacks.get(place, ()), job.stock) for place, _ in gap.effects}
    off = apart.found.best - after_shimming(halved, change).best
    return (open_[0], open_[1]) if abs(off) <= apart.plausible else None


def _changed(pieces: Pieces, place: str) -> bool:
    return sorted(pieces.stacks.get(place, ())) != sorted(pieces.job.place[place].installed)
