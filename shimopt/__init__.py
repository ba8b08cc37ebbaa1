"""Choose shims and spacers from readings, a window and a drawer: proven stacks, with reasons."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shimopt.batch.many import plan_many
    from shimopt.door import Plan, plan
    from shimopt.errors import FaultError, InputError, Problem, ShimoptError
    from shimopt.job import Job, load_job

__version__ = "0.1.0"

__all__ = [
    "FaultError",
    "InputError",
    "Job",
    "Plan",
    "Problem",
    "ShimoptError",
    "__version__",
    "load_job",
    "plan",
    "plan_many",
]

# loaded when first asked for, so that `shimopt --help` does not wait for solvers and tables
_HOME = {
    "FaultError": "errors",
    "InputError": "errors",
    "Job": "job",
    "Plan": "door",
    "Problem": "errors",
    "ShimoptError": "errors",
    "load_job": "job",
    "plan": "door",
    "plan_many": "batch.many",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'shimopt' has no attribute {name!r}")
    return getattr(import_module(f"shimopt.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
