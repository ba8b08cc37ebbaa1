"""What the answer takes for granted because nobody stated it: each is named in the answer."""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Gap, Job
from shimopt.reasons.reason import Reason
from shimopt.reasons.shared_reasons import (
    DimensionAssumed,
    ErrorsIndependent,
    FarthestPull,
    FigureAssumed,
    GasketAssumed,
    HeatUniform,
    MeasuredIndependent,
    MicrometerShared,
    PermissibleErrorAssumed,
    RepeatabilityAssumed,
    ResolutionAssumed,
    UnmeasuredIndependent,
)

__all__ = ["assumptions"]

# by the term of a reading that nobody stated
_ASSUMED: dict[str, type[FigureAssumed]] = {
    "repeatability": RepeatabilityAssumed,
    "resolution": ResolutionAssumed,
    "permissible_error": PermissibleErrorAssumed,
    "dimension": DimensionAssumed,
    "gasket": GasketAssumed,
}


def assumptions(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    """All assumptions: of the readings in job order, then of the pieces that are fitted, then of heat."""
    found = [reason for gap in job.gaps for reason in _of_reading(gap)]
    likely = tuple(gap.name for gap in job.gaps if gap.reading.basis == "95 %")
    found += [ErrorsIndependent(about="", names=likely)] if likely else []
    found += _of_pieces(job, stacks)
    warm = tuple(gap.name for gap in job.gaps if gap.heat is not None)
    return [*found, HeatUniform(about="", names=warm)] if warm else found


def _of_reading(gap: Gap) -> list[Reason]:
    found: list[Reason] = []
    for term in gap.reading.terms:
        if term.assumed:
            names = (term.name,) if term.name else ()
            found.append(_ASSUMED[term.code](about=gap.name, names=names, half=term.half))
        if term.code == "repeats" and gap.reading.basis == "worst case":
            found.append(FarthestPull(about=gap.name))
    return found


def _of_pieces(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    fitted = [job.stock[i].part for stack in stacks.values() for i in stack]
    found: list[Reason] = []
    if any(not part.measured and not part.thickness.exact for part in fitted):
        found.append(UnmeasuredIndependent(about=""))
    if any(part.measured and not part.thickness.exact for part in fitted):
        if job.micrometer is None:
            found.append(MeasuredIndependent(about=""))
        else:
            shared = job.micrometer
            names = (shared.name,) if shared.name else ()
            found.append(MicrometerShared(about="", names=names, half=shared.error, source=shared.source))
    return found
