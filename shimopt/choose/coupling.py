"""Gaps that several places move: their clearance is a sum over columns, and helpers follow from it.

Every row and every helper is a whole number of ticks. A helper's value in a solution only has to be right where a level
is brought down; what a choice is worth is always worked out anew from its columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shimopt.candidates import Ends, Judge, Option, Scale, moved_by
from shimopt.errors import FaultError
from shimopt.job import Gap, Job

if TYPE_CHECKING:
    from shimopt.choose.whole_model import Model

__all__ = ["Linked", "Ties", "add_fight", "add_linked", "add_ties", "linked_gaps"]


@dataclass(frozen=True, slots=True)
class Linked:
    """A gap with what each column of the places that move it does to it: low, best, high [ticks], by group."""

    name: str
    judge: Judge
    groups: tuple[int, ...]
    moves: tuple[Mapping[int, Ends], ...]

    def after(self, chosen: Sequence[int]) -> Ends:
        """The clearance when these columns are chosen, one per group."""
        moved = [moves[chosen[group]] for group, moves in zip(self.groups, self.moves, strict=True)]
        low, best, high = (read + sum(m[end] for m in moved) for end, read in enumerate(self.judge.read))
        return low, best, high

    def terms(self, end: int) -> dict[int, int]:
        """What each column adds to one end of the clearance."""
        return {c: ends[end] for moves in self.moves for c, ends in moves.items() if ends[end]}

    def range(self, end: int) -> tuple[int, int]:
        """The least and the most that one end of the clearance can be, whatever is chosen."""
        by_group = [[ends[end] for ends in moves.values()] for moves in self.moves]
        read = self.judge.read[end]
        return read + sum(min(values) for values in by_group), read + sum(max(values) for values in by_group)


def linked_gaps(
    job: Job, scale: Scale, groups: Sequence[Sequence[int]], columns: Sequence[Option], place_of: Sequence[str]
) -> dict[str, Linked]:
    """All gaps whose places don't move them alone; `place_of` names the place of every group."""
    group_of = {place: group for group, place in enumerate(place_of)}
    found = {}
    for gap in job.gaps:
        at = tuple(group_of[place] for place, _ in gap.effects if place in group_of)
        if at and columns[groups[at[0]][0]].change is not None:
            found[gap.name] = _linked(gap, scale, groups, columns, at)
    return found


def _linked(
    gap: Gap, scale: Scale, groups: Sequence[Sequence[int]], columns: Sequence[Option], at: tuple[int, ...]
) -> Linked:
    moves: list[dict[int, Ends]] = []
    for group, (place, effect) in zip(at, gap.effects, strict=True):
        reach = gap.reach(place)
        moves.append({})
        for c in groups[group]:
            change = columns[c].change
            if change is None:
                raise FaultError(f"an option of {place} does not say what it changes")
            moves[-1][c] = moved_by(change, effect, reach)
    return Linked(gap.name, Judge(scale, gap), at, tuple(moves))


def add_linked(model: Model, linked: Linked, *, exact_outside: bool) -> None:
    """Rows and helpers of one gap.

    `exact_outside`: also forbid to call a gap outside that is not. Where `outside` is brought down before anything else
    that comes by itself; in another order of levels a balance could be set aside by a lie.
    """
    judge, levels = linked.judge, model.levels
    best = linked.terms(1)
    below, above = 0, 0
    outs: dict[int, int] = {}
    least, most = linked.range(1)
    if judge.max is not None and most > judge.max:
        above = most - judge.max
        outs[_side(model, best, judge.read[1], judge.max, (least, most), exact=exact_outside)] = 1
    if judge.min is not None and least < judge.min:
        below = judge.min - least
        outs[_side(model, _turned(best), -judge.read[1], -judge.min, (-most, -least), exact=exact_outside)] = 1
    model.outs[linked.name] = outs
    levels["outside"] |= outs
    if above or below:
        miss = model.add_helper(0, max(above, below), whole=False)
        levels["miss"][miss] = 1
        model.misses[linked.name] = miss
        if above:
            model.add_row({**best, miss: -1}, (judge.max or 0) - judge.read[1])
        if below:
            model.add_row({**_turned(best), miss: -1}, judge.read[1] - (judge.min or 0))
    _add_doubt(model, linked, outs)
    if judge.target is not None and (off := max(most - judge.target, judge.target - least)) > 0:
        away = model.add_helper(0, off, whole=False)
        levels["target"][away] = 1
        model.add_row({**best, away: -1}, judge.target - judge.read[1])
        model.add_row({**_turned(best), away: -1}, judge.read[1] - judge.target)


def _side(model: Model, terms: Mapping[int, int], read: int, limit: int, ends: tuple[int, int], *, exact: bool) -> int:
    """A yes-or-no helper: the estimate read + terms, which runs from end to end, lies above the limit."""
    least, most = ends
    out = model.add_helper(0, 1, whole=True)
    model.add_row({**terms, out: limit - most}, limit - read)
    if exact and least <= limit:
        # above the limit by at least one tick, or not called so
        model.add_row({**_turned(terms), out: limit + 1 - least}, read - least)
    return out


def _add_doubt(model: Model, linked: Linked, outs: Mapping[int, int]) -> None:
    """Whether the bracket stands out of the window, and by how much; nothing where the gap is outside."""
    judge = linked.judge
    least, most = linked.range(0)[0], linked.range(2)[1]
    sides: list[tuple[dict[int, int], int, int, int]] = []
    if judge.max is not None and most > judge.max:
        sides.append((linked.terms(2), judge.read[2], judge.max, most - judge.max))
    if judge.min is not None and least < judge.min:
        sides.append((_turned(linked.terms(0)), -judge.read[0], -judge.min, judge.min - least))
    if not sides:
        return
    unproven = model.add_helper(0, 1, whole=True)
    model.levels["unproven"][unproven] = 1
    for terms, read, limit, reach in sides:
        doubt = model.add_helper(0, reach, whole=False)
        model.levels["doubt"][doubt] = 1
        slack = dict.fromkeys(outs, -reach)
        model.add_row({**terms, **slack, unproven: -reach}, limit - read)
        model.add_row({**terms, **slack, doubt: -1}, limit - read)


def _turned(terms: Mapping[int, int]) -> dict[int, int]:
    return {c: -term for c, term in terms.items()}


def add_fight(model: Model, gaps: Sequence[str], apart: int) -> None:
    """Windows that surely miss each other by `apart` in all: at least one gap is outside, and so much is missed.

    The solver would find out by itself, after a long search.
    """
    if all(name in model.misses for name in gaps):
        model.add_row({out: -1 for name in gaps for out in model.outs[name]}, -1)
        model.add_row({model.misses[name]: -1 for name in gaps}, -apart)


@dataclass(frozen=True, slots=True)
class Ties:
    """What groups share besides gaps and stock.

    `equal` holds groups whose packs hold the same parts, piece for piece, or all stay; `together` groups that all
    stay as soon as one of them stays short of its least number of pieces.
    """

    equal: tuple[tuple[int, ...], ...]
    together: tuple[tuple[int, ...], ...]

    def hold(self, model: Model, chosen: Sequence[int]) -> bool:
        """Whether a choice of one column per group keeps to them."""
        stay = [c == group[0] for c, group in zip(chosen, model.groups, strict=True)]
        for groups in self.equal:
            packs = {_parts(model, chosen[group]) for group in groups}
            if len(packs) > 1 and not all(stay[group] for group in groups):
                return False
        for groups in self.together:
            short = any(model.columns[chosen[group]].share.get("short") for group in groups)
            if short and not all(stay[group] for group in groups):
                return False
        return True


def add_ties(model: Model, job: Job, clusters: Iterable[Sequence[str]], group_of: Mapping[str, int]) -> Ties:
    """The rows of equal packs, and of places that get no stack because one is short of its least number."""
    ties = Ties(
        tuple(tuple(group_of[name] for name in names) for names in job.equal if set(names) <= set(group_of)),
        tuple(
            tuple(group_of[name] for name in places)
            for places in clusters
            if len(places) > 1 and set(places) <= set(group_of)
        ),
    )
    for at in ties.equal:
        _add_equal(model, [model.groups[group] for group in at])
    for at in ties.together:
        stays = [model.groups[group][0] for group in at]
        for stay in stays:
            if model.columns[stay].share.get("short"):
                for other in stays:
                    if other != stay:
                        model.add_row({stay: 1, other: -1}, 0)
    return ties


def _parts(model: Model, column: int) -> tuple[str, ...]:
    return tuple(sorted(model.job.stock[i].part.name for i in model.columns[column].stack))


def _add_equal(model: Model, groups: Sequence[range]) -> None:
    packs = [{c: _parts(model, c) for c in group} for group in groups]
    stay: int | None = None
    if len({pack[group[0]] for pack, group in zip(packs, groups, strict=True)}) > 1:
        stay = model.add_helper(0, 1, whole=True)
        for group in groups:
            model.add_row({stay: 1, group[0]: -1}, 0)
    for name in sorted({name for pack in packs for parts in pack.values() for name in parts}):
        first, *others = ({c: n for c, parts in pack.items() if (n := parts.count(name))} for pack in packs)
        for other in others:
            reach = max([*first.values(), *other.values()], default=0)
            slack = {} if stay is None else {stay: -reach}
            model.add_row({**first, **_turned(other), **slack}, 0)
            model.add_row({**_turned(first), **other, **slack}, 0)
