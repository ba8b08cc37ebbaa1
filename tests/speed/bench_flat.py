"""One flat model of a large job in one solver, for comparison: how far it comes in so many seconds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from time import process_time
from typing import Any, NamedTuple

from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt

from shimopt.choose.chooser import Chooser
from shimopt.choose.model_rows import build_model
from shimopt.choose.whole_model import Model
from shimopt.job import Job
from shimopt.proof.rows import Row
from shimopt.seats import screen

__all__ = ["Flat", "solved_flat"]


class Flat(NamedTuple):
    """The first level at which the solver had not finished ("" where it finished all), and its CPU seconds."""

    stopped_at: str
    seconds: float


def solved_flat(of: Job, kind: Any, seconds: float, *, buy: bool = False) -> Flat:
    """Level by level with one yes-or-no column for every stack of every place, until the time is up.

    The time is the solver's, all threads together: making and filling the model is no part of it. HiGHS does not look
    at its limit while it presolves, and so may take several times as long.
    """
    chooser = Chooser(of, screen(of), buy)
    most = max(place.most_pieces for place in of.places)
    model = build_model(of, chooser.scale, chooser.offered.options({}, most, 10**9, {}), chooser.supply)
    spent, rows = 0.0, list(model.rows)
    for level in chooser.levels:
        objective = {at: f for at, f in model.levels[level].items() if f}
        if not objective:
            continue
        if spent >= seconds:
            return Flat(level, spent)
        program = _flat_program(model, rows, objective)
        parameters = mathopt.SolveParameters(
            relative_gap_tolerance=0.0, absolute_gap_tolerance=0.999, time_limit=timedelta(seconds=seconds - spent)
        )
        if kind is mathopt.SolverType.CP_SAT:  # HiGHS takes no number of threads here
            parameters.threads = 2
        start = process_time()
        result = mathopt.solve(program, kind, params=parameters)
        spent += process_time() - start
        if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            return Flat(level, spent)
        rows.append(type(rows[0])(objective, round(result.objective_value())))
    return Flat("", spent)


def _flat_program(model: Model, rows: Sequence[Row], objective: Mapping[int, int]) -> Any:
    """The whole model as it is, filled as a protocol buffer: coefficient by coefficient building takes longest."""
    left = [column for group in model.groups for column in group]
    helpers = list(enumerate(model.helpers, start=len(model.columns)))
    numbers = [*left, *(number for number, _ in helpers)]
    at = {number: place for place, number in enumerate(numbers)}
    filled = model_pb2.ModelProto()
    filled.variables.ids.extend(range(len(at)))
    filled.variables.lower_bounds.extend([0.0] * len(left) + [float(helper.low) for _, helper in helpers])
    filled.variables.upper_bounds.extend([1.0] * len(left) + [float(helper.high) for _, helper in helpers])
    filled.variables.integers.extend([True] * len(left) + [helper.whole for _, helper in helpers])
    ones = [(dict.fromkeys(group, 1), 1.0, 1.0) for group in model.groups]
    all_rows = [*ones, *((row.terms, float("-inf"), float(row.limit)) for row in rows)]
    filled.linear_constraints.ids.extend(range(len(all_rows)))
    filled.linear_constraints.lower_bounds.extend(low for _, low, _ in all_rows)
    filled.linear_constraints.upper_bounds.extend(high for _, _, high in all_rows)
    matrix = filled.linear_constraint_matrix
    for number, (terms, _, _) in enumerate(all_rows):
        kept = sorted((at[column], factor) for column, factor in terms.items() if column in at)
        matrix.row_ids.extend([number] * len(kept))
        matrix.column_ids.extend(column for column, _ in kept)
        matrix.coefficients.extend(factor for _, factor in kept)
    costs = sorted((at[column], factor) for column, factor in objective.items() if column in at)
    filled.objective.linear_coefficients.ids.extend(column for column, _ in costs)
    filled.objective.linear_coefficients.values.extend(factor for _, factor in costs)
    return mathopt.Model.from_model_proto(filled)
