"""What is tied together: places that move the same gap or must have equal packs, gaps that should come out alike."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Balance:
    """Gaps that should come out alike, or in place of them `places` whose stacks should be as thick as each other.

    `offset` is how much larger (thicker) than the others one should be [nm].
    """

    name: str
    gaps: tuple[str, ...]
    within: int | None = None
    offset: Mapping[str, int] = field(default_factory=dict)
    places: tuple[str, ...] = ()

    @property
    def members(self) -> tuple[str, ...]:
        """What it compares: gaps or places."""
        return self.places or self.gaps


@dataclass(frozen=True, slots=True)
class Cluster:
    """Places and gaps tied together, each in job order; nothing outside moves these gaps."""

    places: tuple[str, ...]
    gaps: tuple[str, ...]
    alone: bool

    @property
    def fixed(self) -> bool:
        """Whether this is a gap that no place moves."""
        return not self.places


def clusters(
    places: Iterable[str], moved_by: Mapping[str, Sequence[str]], equal: Sequence[Sequence[str]]
) -> tuple[Cluster, ...]:
    """The clusters, in the order of their first places, then the gaps that no place moves.

    Parameters: names of places; moved_by, for every gap the places that move it; equal, places whose packs hold the
    same parts. A cluster is `alone` where one place moves one gap and nothing else: the ordinary case.
    """
    root = {place: place for place in places}

    def found(name: str) -> str:
        while root[name] != name:
            root[name] = root[root[name]]
            name = root[name]
        return name

    for tied in (*moved_by.values(), *equal):
        for other in tied[1:]:
            root[found(other)] = found(tied[0])
    together: dict[str, list[str]] = {}
    gaps: dict[str, list[str]] = {}
    for place in root:
        together.setdefault(found(place), []).append(place)
    for gap, movers in moved_by.items():
        if movers:
            gaps.setdefault(found(movers[0]), []).append(gap)
    tied_by_packs = {name for names in equal for name in names}
    made = []
    for first, names in together.items():
        moved = gaps.get(first, [])
        alone = len(names) == 1 and len(moved) == 1 and names[0] not in tied_by_packs
        made.append(Cluster(tuple(names), tuple(moved), alone))
    return (*made, *(Cluster((), (gap,), False) for gap, movers in moved_by.items() if not movers))
