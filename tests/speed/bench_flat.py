"""One flat model of a large job in one solver, for comparison: how far it comes in so many seconds."""

from __future__ import annotations

from datetime import timedelta
from time import perf_counter
from typing import Any, NamedTuple

from ortools.math_opt.python import mathopt

from shimopt.choose.chooser import Chooser
from shimopt.choose.model import build_model
from shimopt.choose.solver import _built
from shimopt.job import Job
from shimopt.seats import screen

__all__ = ["Flat", "solved_flat"]


class Flat(NamedTuple):
    """The first level at which the solver had not finished ("" where it finished all), and the seconds that it took."""

    stopped_at: str
    seconds: float


def solved_flat(of: Job, kind: Any, seconds: float) -> Flat:
    """Level by level with one yes-or-no column for every stack of every place, until the time is up.

    The time is the solver's: the model is made beforehand.
    """
    chooser = Chooser(of, screen(of), False)
    most = max(place.most_pieces for place in of.places)
    model = build_model(of, chooser.scale, chooser._options({}, most, 10**9), chooser.supply)
    start = perf_counter()
    rows = list(model.rows)
    for level in chooser.levels:
        objective = {at: f for at, f in model.levels[level].items() if f}
        if not objective:
            continue
        left = seconds - (perf_counter() - start)
        if left <= 0:
            return Flat(level, perf_counter() - start)
        program, _, _ = _built(model, model.groups, rows, objective, relaxed=False)
        parameters = mathopt.SolveParameters(
            relative_gap_tolerance=0.0, absolute_gap_tolerance=0.999, time_limit=timedelta(seconds=left)
        )
        if kind is mathopt.SolverType.CP_SAT:  # HiGHS takes no number of threads here
            parameters.threads = 2
        result = mathopt.solve(program, kind, params=parameters)
        if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            return Flat(level, perf_counter() - start)
        rows.append(type(rows[0])(objective, round(result.objective_value())))
    return Flat("", perf_counter() - start)
