"""The order in which places are settled among plans that are equal at every level."""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.job import Gap, Job
from shimopt.parts import natural_key


def tie_order(job: Job, alone: Mapping[str, Gap]) -> list[int]:
    """Places as written in the job, then those of a table by name; `alone` is the gap of places that move one alone."""

    def key(at: int) -> tuple[object, ...]:
        name = job.places[at].name
        of_table = name in alone and alone[name].reading.kind == "table"
        return (1, natural_key(name), name) if of_table else (0, at)

    return sorted(range(len(job.places)), key=key)
