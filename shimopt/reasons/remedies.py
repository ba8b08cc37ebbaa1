"""What the plan says would help, each tried before it is said: the changed job is planned, or its sums done again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from shimopt.arithmetic import Outcome, after_shimming, off_by
from shimopt.arithmetic.clearance import change_of, stands_out
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.reasons.chosen import Chosen
from shimopt.reasons.gauge import FINEST_READING

__all__ = ["Remedies", "better", "remedies_of"]

# a job of more places is not planned again to try a remedy
_MOST_PLACES = 8
_NOTHING = Fraction(0)
# common practice, no source: a micrometer on a clean shim
_MICROMETER = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What was tried and helps, by the names of gaps and balances.

    `finer`: gaps that the finest reading alone would make sure, with the stacks as planned; `measured`: those that
    measuring their pieces alone would; `both`: those that only the two together would; `effects`: those that only
    better trial readings of an effect would. `bought`: whether the catalogues make a better plan, None where that was
    not tried. `one_more`: balances that one piece more in each place would bring within, where the seat says nothing.
    """

    finer: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    both: tuple[str, ...] = ()
    effects: tuple[str, ...] = ()
    bought: bool | None = None
    one_more: tuple[str, ...] = ()


def remedies_of(chosen: Chosen, again: Callable[[Job, bool], Chosen]) -> Remedies:
    """The remedies that help a plan, tried.

    Parameter: again, plans a changed job, with what can be bought or without, and says what that comes to.
    """
    job, outcome = chosen.job, chosen.outcome
    unproven = [gap for gap in job.gaps if outcome.gaps[gap.name].verdict == "unproven" and _can_be_surer(gap)]
    finer = [gap.name for gap in unproven if _sure(chosen, gap, read=True)]
    measured = [gap.name for gap in unproven if _sure(chosen, gap, pieces=True)]
    left = [gap for gap in unproven if gap.name not in (*finer, *measured)]
    both = [gap.name for gap in left if _has_pieces(chosen, gap) and _sure(chosen, gap, read=True, pieces=True)]
    left = [gap for gap in left if gap.name not in both and gap != _exactly_moved(gap)]
    effects = [gap.name for gap in left if _sure(chosen, _exactly_moved(gap))]
    unmet = [balance.name for balance in job.balances if outcome.balances[balance.name].met is False]
    bought, one_more = None, tuple[str, ...]()
    if len(job.places) <= _MOST_PLACES and not outcome.doable:
        if not chosen.buy and any(line.offers for line in job.stock):
            bought = better(again(job, True).outcome, outcome)
        if unmet:
            more = replace(job, places=tuple(map(_one_more, job.places)))
            found = again(more, chosen.buy).outcome
            helped = found.levels["outside"] <= outcome.levels["outside"]
            one_more = tuple(name for name in unmet if helped and found.balances[name].met)
    return Remedies(
        finer=tuple(finer),
        measured=tuple(measured),
        both=tuple(both),
        effects=tuple(effects),
        bought=bought,
        one_more=one_more,
    )


def _can_be_surer(gap: Gap) -> bool:
    """What may be tight already wants turning; what nobody has read since it was fitted wants reading, by any gauge."""
    return not gap.may_be_tight and not gap.reading.calculated


def _one_more(place: Place) -> Place:
    """A place that takes one piece more, unless its seat says how many it bears."""
    fixed = not place.most_pieces or (place.seat is not None and place.seat.most_pieces is not None)
    return place if fixed else replace(place, most_pieces=place.most_pieces + 1)


def _exactly_moved(gap: Gap) -> Gap:
    """A gap of which trial readings leave nothing open."""
    known = (
        replace(source, low=None, high=None) if source.kind == "trial" else source for source in gap.effect_sources
    )
    return replace(gap, effect_sources=tuple(known))


def better(other: Outcome, planned: Outcome) -> bool:
    """Whether another plan has fewer gaps outside, is nearer or surer, or more even: as good in what comes before."""
    for level in ("outside", "miss", "unproven", "doubt", "excess"):
        if other.levels[level] != planned.levels[level]:
            return other.levels[level] < planned.levels[level]
    return False


def _sure(chosen: Chosen, gap: Gap, *, read: bool = False, pieces: bool = False) -> bool:
    """Whether the planned stacks leave a gap surely inside, read as finely as can be, or its pieces measured."""
    if read:
        bracket = gap.reading.bracket
        known = Bracket(
            max(bracket.low, bracket.best - FINEST_READING),
            bracket.best,
            min(bracket.high, bracket.best + FINEST_READING),
        )
        gap = replace(gap, reading=replace(gap.reading, bracket=known))
    if pieces and not _has_pieces(chosen, gap):
        return False
    job = chosen.job
    stock = [_measured(line) for line in job.stock] if pieces else job.stock
    change = {place: change_of(job.place[place], chosen.stacks.get(place, ()), stock) for place, _ in gap.effects}
    after = after_shimming(gap, change)
    return stands_out(after, gap.window) == _NOTHING and not off_by(after.best, gap.window)


def _measured(line: StockLine) -> StockLine:
    """A piece as a micrometer would know it, were it as thick as its best estimate."""
    part, best = line.part, line.part.thickness.best
    if part.measured or part.thickness.high - best <= _MICROMETER:
        return line
    return replace(line, part=replace(part, thickness=Bracket(best - _MICROMETER, best, best + _MICROMETER)))


def _has_pieces(chosen: Chosen, gap: Gap) -> bool:
    """Whether pieces that are not measured yet, nor known exactly, leave a gap open."""
    return any(
        not part.measured and not part.thickness.exact
        for part in (chosen.job.stock[i].part for i in _moving(chosen, gap))
    )


def _moving(chosen: Chosen, gap: Gap) -> Iterator[int]:
    """The stock lines of all pieces that move a gap, going in or coming out."""
    for place, _ in gap.effects:
        yield from set(chosen.stacks.get(place, ())) ^ set(chosen.job.place[place].installed)
