"""What couples places: gaps that several of them move, whose clearance is a sum over columns, and ties among packs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from shimopt.arithmetic.carried import carried, lines_carried, spared_by
from shimopt.candidates import Ends, Judge, Option, Scale, moved_by
from shimopt.errors import FaultError
from shimopt.job import Gap, Job


@dataclass(frozen=True, slots=True)
class Carried:
    """Pieces of one line that may go from place to place: by group and column, how many go in, below 0 come out.

    `spares` says by source and target, as numbers of groups, how much less one of them leaves open at each end [ticks].
    """

    counts: tuple[Mapping[int, int], ...]
    spares: Mapping[tuple[int, int], int]


@dataclass(frozen=True)
class Linked:
    """A gap with what each column of the places that move it does to it: low, best, high [ticks], by group.

    Its ends lie as near as they can whatever the other places get: a piece that might come out of one of them counts
    there. `allowed` says by how much nearer that is; what is really `carried` is known once all are chosen, so that
    places which give or take such pieces are among its groups, though they do not move it.
    """

    name: str
    judge: Judge
    groups: tuple[int, ...]
    moves: tuple[Mapping[int, Ends], ...]
    allowed: tuple[Mapping[int, int], ...] = ()
    carried: tuple[Carried, ...] = ()

    def after(self, chosen: Sequence[int]) -> Ends:
        """The clearance when these columns are chosen, one per group."""
        moved = [moves[chosen[group]] for group, moves in zip(self.groups, self.moves, strict=True)]
        low, best, high = (read + sum(m[end] for m in moved) for end, read in enumerate(self.judge.read))
        wider = self.wider(lambda by_column, at: by_column.get(chosen[self.groups[at]], 0)) if self.carried else 0
        return low - wider, best, high + wider

    def wider(self, of: Callable[[Mapping[int, int], int], Any]) -> Any:
        """By how much each end lies further out than by the moves alone; `of` reads a number by column, of a group."""
        total = sum(of(by_column, at) for at, by_column in enumerate(self.allowed))
        for one in self.carried:
            counts = [of(by_column, at) for at, by_column in enumerate(one.counts)]
            for source, target, moved in carried(counts):
                if spares := one.spares.get((source, target)):
                    total = total - moved * spares
        return total

    @cached_property
    def movers(self) -> frozenset[int]:
        """The groups of which some column moves it: once these are chosen, `moves` have no more to say."""
        return frozenset(
            group for group, moves in zip(self.groups, self.moves, strict=True) if any(map(any, moves.values()))
        )

    @property
    def most_allowed(self) -> int:
        """How much nearer each end can be than if no piece were carried."""
        return sum(max(by_column.values(), default=0) for by_column in self.allowed)

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
    found, known = {}, dict[object, dict[Ends, Ends]]()
    for gap in job.gaps:
        at = tuple(group_of[place] for place, _ in gap.effects if place in group_of)
        if at and columns[groups[at[0]][0]].change is not None:
            linked, first = _linked(gap, scale, groups, columns, at, known), job.place[gap.effects[0][0]]
            if lines_carried(job, first):
                together = [group_of[place] for place in job.acting_with[first.name] if place in group_of]
                counts = {group: {c: dict(columns[c].carries) for c in groups[group]} for group in together}
                linked = _carrying(job, gap, linked, scale, counts)
            found[gap.name] = linked
    return found


def _linked(
    gap: Gap,
    scale: Scale,
    groups: Sequence[Sequence[int]],
    columns: Sequence[Option],
    at: tuple[int, ...],
    known: dict[object, dict[Ends, Ends]],
) -> Linked:
    """A gap with its moves; `known`, by effect, what changes of thickness do, is filled."""
    moves: list[dict[int, Ends]] = []
    for group, (place, effect) in zip(at, gap.effects, strict=True):
        reach = gap.reach(place)
        moves.append({})
        moved = known.setdefault((effect, reach), {})
        for c in groups[group]:
            change = columns[c].change
            if change is None:
                raise FaultError(f"an option of {place} does not say what it changes")
            if change not in moved:
                moved[change] = moved_by(change, effect, reach)
            moves[-1][c] = moved[change]
    return Linked(gap.name, Judge(scale, gap), at, tuple(moves))


def _carrying(
    job: Job, gap: Gap, linked: Linked, scale: Scale, counts: Mapping[int, Mapping[int, Mapping[int, int]]]
) -> Linked:
    """The gap with the pieces that may be carried between its places.

    Parameters: counts, by group that acts together with these, and column, how many of each line go in.
    """
    spared = spared_by(gap)
    group_of = {place: group for group, (place, _) in zip(linked.groups, gap.effects, strict=True)}
    given = {g: {i for one in of.values() for i, count in one.items() if count < 0} for g, of in counts.items()}
    taken = {g: {i for one in of.values() for i, count in one.items() if count > 0} for g, of in counts.items()}
    lines = sorted({i for one, two in spared for i in given[group_of[one]] & taken[group_of[two]]})
    # in the order of the job, as pieces are carried
    at = [g for g, of in counts.items() if g in linked.groups or any(i in one for one in of.values() for i in lines)]
    place_at = {place: at.index(group) for place, group in group_of.items()}
    found = []
    for i in lines:
        thickness = job.stock[i].part.thickness
        spares = {
            (place_at[one], place_at[two]): scale.ticks(thickness.high, by) - scale.ticks(thickness.low, by)
            for (one, two), by in spared.items()
        }
        by_group = tuple({c: one[i] for c, one in counts[group].items() if i in one} for group in at)
        if any(spares.values()):
            found.append(Carried(by_group, spares))
    if not found:
        return linked
    moves = dict(zip(linked.groups, linked.moves, strict=True))
    moved = [moves.get(group, dict.fromkeys(counts[group], (0, 0, 0))) for group in at]
    allowed = [_allowed(found, n, ends) for n, ends in enumerate(moved)]
    nearer = tuple(
        {c: (low + less[c], best, high - less[c]) for c, (low, best, high) in ends.items()}
        for ends, less in zip(moved, allowed, strict=True)
    )
    return Linked(gap.name, linked.judge, tuple(at), nearer, tuple(allowed), tuple(found))


def _allowed(found: Sequence[Carried], at: int, ends: Mapping[int, Ends]) -> dict[int, int]:
    """By column of a group, how much the pieces that go in could spare were all of them carried."""
    allowed = dict.fromkeys(ends, 0)
    for one in found:
        best = max((spares for (_, target), spares in one.spares.items() if target == at), default=0)
        for c, count in one.counts[at].items():
            allowed[c] += max(0, count) * best
    return allowed


@dataclass(frozen=True, slots=True)
class Ties:
    """What groups share besides gaps and stock.

    `equal` holds groups whose packs hold the same parts, piece for piece, or all stay; `together` groups that all
    stay as soon as one of them stays short of its least number of pieces; `worth` groups with gaps of which at
    most so many may be outside where any of them is changed; `tight` names gaps with how far below 0 they may be off.
    """

    equal: tuple[tuple[int, ...], ...] = ()
    together: tuple[tuple[int, ...], ...] = ()
    worth: tuple[tuple[tuple[int, ...], tuple[str, ...], int], ...] = ()
    tight: tuple[tuple[str, int], ...] = ()
