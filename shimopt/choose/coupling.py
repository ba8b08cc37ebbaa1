"""What couples places: gaps that several of them move, whose clearance is a sum over columns, and ties among packs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shimopt.candidates import Ends, Judge, Option, Scale, moved_by
from shimopt.errors import FaultError
from shimopt.job import Gap, Job


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
    found, known = {}, dict[object, dict[Ends, Ends]]()
    for gap in job.gaps:
        at = tuple(group_of[place] for place, _ in gap.effects if place in group_of)
        if at and columns[groups[at[0]][0]].change is not None:
            found[gap.name] = _linked(gap, scale, groups, columns, at, known)
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


@dataclass(frozen=True, slots=True)
class Ties:
    """What groups share besides gaps and stock.

    `equal` holds groups whose packs hold the same parts, piece for piece, or all stay; `together` groups that all
    stay as soon as one of them stays short of its least number of pieces.
    """

    equal: tuple[tuple[int, ...], ...]
    together: tuple[tuple[int, ...], ...]
