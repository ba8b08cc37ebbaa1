"""Choose shims and spacers from readings, a window and a drawer: proven stacks, with reasons."""

from __future__ import annotations

from importlib import import_module

# what `typing` calls so; to load it takes longer than all that comes before Ctrl-C is heard
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from shimopt.batch.plan_many import plan_many
    from shimopt.door.alone import OneGap, one_gap
    from shimopt.door.arrived import Arrival, came
    from shimopt.door.planned import Plan, letter, plan, why
    from shimopt.door.purchased import Order, order
    from shimopt.door.workshop import Recording, fit, record
    from shimopt.errors import FaultError, InputError, Problem, ShimoptError
    from shimopt.job import Job, job_from, load_job, load_stock

__version__ = "0.1.0"

__all__ = [
    "Arrival",
    "FaultError",
    "InputError",
    "Job",
    "OneGap",
    "Order",
    "Plan",
    "Problem",
    "Recording",
    "ShimoptError",
    "__version__",
    "came",
    "fit",
    "job_from",
    "letter",
    "load_job",
    "load_stock",
    "one_gap",
    "order",
    "plan",
    "plan_many",
    "record",
    "why",
]

# loaded when first asked for, so that `shimopt --help` does not wait for solvers and tables
_HOME = {
    "errors": ("FaultError", "InputError", "Problem", "ShimoptError"),
    "job": ("Job", "job_from", "load_job", "load_stock"),
    "door.alone": ("OneGap", "one_gap"),
    "door.arrived": ("Arrival", "came"),
    "door.planned": ("Plan", "letter", "plan", "why"),
    "door.purchased": ("Order", "order"),
    "door.workshop": ("Recording", "fit", "record"),
    "batch.plan_many": ("plan_many",),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOME.items():
        if name in names:
            return getattr(import_module(f"shimopt.{home}"), name)
    raise AttributeError(f"module 'shimopt' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
