"""What the answer takes for granted because nobody stated it: each is named in the answer."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Gap, Job
from shimopt.reasons.reason import Reason

__all__ = ["assumptions"]


def assumptions(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    """All assumptions: of the readings in job order, then of the pieces that are fitted, then of heat."""
    found = [reason for gap in job.gaps for reason in _of_reading(gap)]
    likely = tuple(gap.name for gap in job.gaps if gap.reading.basis == "95 %")
    found += [Reason("", "errors_independent", names=likely)] if likely else []
    found += _of_pieces(job, stacks)
    warm = tuple(gap.name for gap in job.gaps if gap.heat is not None)
    return [*found, Reason("", "heat_uniform", names=warm)] if warm else found


def _of_reading(gap: Gap) -> list[Reason]:
    found: list[Reason] = []
    for term in gap.reading.terms:
        if term.assumed:
            names = (term.name,) if term.name else ()
            found.append(Reason(gap.name, f"{term.code}_assumed", {"half": term.half}, names))
        if term.code == "repeats" and gap.reading.basis == "worst case":
            found.append(Reason(gap.name, "farthest_pull", {"half": term.half}))
    return found


def _of_pieces(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    fitted = [job.stock[i].part for stack in stacks.values() for i in stack]
    found: list[Reason] = []
    if any(not part.measured and not part.thickness.exact for part in fitted):
        found.append(Reason("", "unmeasured_independent"))
    if any(part.measured and not part.thickness.exact for part in fitted):
        if job.micrometer is None:
            found.append(Reason("", "measured_independent"))
        else:
            error = job.micrometer.error
            found.append(
                Reason(
                    "",
                    "micrometer_shared",
                    {} if error is None else {"half": Fraction(error)},
                    (job.micrometer.name,) if job.micrometer.name else (),
                    texts={"source": job.micrometer.source},
                )
            )
    return found
