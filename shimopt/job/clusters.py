"""Which places act together: those that move the same gap, or whose packs must be equal."""

from __future__ import annotations

from dataclasses import dataclass

from shimopt.job.model import Gap, Job

__all__ = ["Cluster", "clusters_of"]

_KEPT = "clusters of the job"


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


def clusters_of(job: Job) -> tuple[Cluster, ...]:
    """The clusters of a job, in the order of their first places, then the gaps that no place moves.

    A cluster is `alone` where one place moves one gap and nothing else: the ordinary case.
    """
    # asked for again and again of one job, which never changes
    found: tuple[Cluster, ...] | None = job.__dict__.get(_KEPT)
    if found is None:
        found = job.__dict__[_KEPT] = _found(job)
    return found


def _found(job: Job) -> tuple[Cluster, ...]:
    root = {place.name: place.name for place in job.places}

    def found(name: str) -> str:
        while root[name] != name:
            root[name] = root[root[name]]
            name = root[name]
        return name

    ties = [tuple(place for place, _ in gap.effects) for gap in job.gaps]
    for tied in (*ties, *job.equal):
        for other in tied[1:]:
            root[found(other)] = found(tied[0])
    places: dict[str, list[str]] = {}
    gaps: dict[str, list[Gap]] = {}
    for place in job.places:
        places.setdefault(found(place.name), []).append(place.name)
    for gap in job.gaps:
        if gap.effects:
            gaps.setdefault(found(gap.effects[0][0]), []).append(gap)
    tied_by_packs = {name for names in job.equal for name in names}
    clusters = []
    for first, names in places.items():
        moved = gaps.get(first, [])
        alone = len(names) == 1 and len(moved) == 1 and names[0] not in tied_by_packs
        clusters.append(Cluster(tuple(names), tuple(gap.name for gap in moved), alone))
    return (*clusters, *(Cluster((), (gap.name,), False) for gap in job.gaps if not gap.effects))
