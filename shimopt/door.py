"""The friendly door: `load_job`, `plan` and the `Plan` that they lead to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

from shimopt.job import Job
from shimopt.planner import Decision, decide
from shimopt.watch import Watch

__all__ = ["DEFAULT_NODES", "Plan", "plan"]

# search steps per level: counted, not timed, so that the same job gives the same plan everywhere
DEFAULT_NODES = 24_000


@dataclass(frozen=True)
class Plan(Decision):
    """A plan with its proof and reasons; `to_dict` gives the object that `shimopt plan --json` prints."""

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain data: lengths in mm as numbers, exact to the nanometre."""
        from shimopt.render.json.plan_json import plan_object

        return plan_object(self)


def plan(
    job: Job,
    buy: bool = False,
    *,
    nodes: int | None = DEFAULT_NODES,
    progress: Callable[[str], None] | None = None,
    choices: bool = False,
    watch: Watch | None = None,
) -> Plan:
    """Choose one stack per place, proven level by level, with reasons.

    Parameters: job, from `load_job`; buy, whether what the catalogues offer may be used too; nodes, the most search
    nodes per level (None: until proven); progress, told each level as it begins; choices, whether to weigh it against
    fewer and more pieces; watch, in place of nodes and progress, how long it may take. Raises InputError, FaultError.

    >>> import shimopt
    >>> shimopt.plan(shimopt.load_job("demo_data/swing-bridge")).outcome.doable
    True
    """
    decision = decide(job, buy=buy, watch=watch or Watch(steps=nodes, progress=progress), choices=choices)
    return Plan(**{field.name: getattr(decision, field.name) for field in fields(decision)})
