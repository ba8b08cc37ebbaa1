"""What the search asks of a solver: one level's best order, and its linear relaxation, through ortools' math_opt.

HiGHS does the work. Its answer is only a proposal: the search works out every value again in whole numbers. One worker
and limits in search nodes, not seconds, so that the same job gives the same order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, cast

from ortools.math_opt.python import mathopt

from shimopt.choose import bounds
from shimopt.choose.model import Helper, Model, Row
from shimopt.choose.quiet import quiet_stdout
from shimopt.choose.solver import Answer, Solver

__all__ = ["Program", "Proposal", "exact_bound", "propose", "relaxed_prices"]

# HiGHS accepts a column at 1e-6 from whole unless told otherwise; times a coefficient of 1e6 that is a whole tick
_TOLERANCE = 1e-9


class Program(Protocol):
    """What a model must have to be solved: columns of which each group chooses one, and helpers numbered after them.

    Where `whole_columns` is false, the columns follow from whole helpers and need not be asked to be whole.
    """

    @property
    def columns(self) -> Sequence[object]:
        """All columns."""

    @property
    def helpers(self) -> Sequence[Helper]:
        """All helpers."""

    @property
    def whole_columns(self) -> bool:
        """Whether columns must be asked to be whole."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A solver's answer: one column per group, the solver's own bound (a float: a hint, not a proof), whole helpers.

    `impossible` where the solver says that nothing keeps to all rows.
    """

    answer: Answer
    chosen: tuple[int, ...]
    bound: float | None
    helpers: tuple[int, ...] = ()
    impossible: bool = False


def _built(
    model: Program, alive: Sequence[Sequence[int]], rows: Sequence[Row], objective: Mapping[int, int], *, relaxed: bool
) -> tuple[Any, dict[int, Any], list[Any]]:
    """A math_opt model of the columns that are left: itself, its variables by number, its rows.

    It is filled as a protocol buffer: coefficient by coefficient the building takes longer than the solving.
    """
    from ortools.math_opt import model_pb2
    from ortools.math_opt.python import mathopt

    left = [column for group in alive for column in group]
    helpers = list(enumerate(model.helpers, start=len(model.columns)))
    at = {number: place for place, number in enumerate([*left, *(number for number, _ in helpers)])}
    filled = model_pb2.ModelProto()
    filled.variables.ids.extend(range(len(at)))
    filled.variables.lower_bounds.extend([0.0] * len(left) + [float(helper.low) for _, helper in helpers])
    filled.variables.upper_bounds.extend([1.0] * len(left) + [float(helper.high) for _, helper in helpers])
    whole = [model.whole_columns] * len(left) + [helper.whole for _, helper in helpers]
    filled.variables.integers.extend(must and not relaxed for must in whole)
    ones = [(dict.fromkeys(group, 1), 1.0, 1.0) for group in alive]
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
    program = mathopt.Model.from_model_proto(filled)
    variables = dict(zip(at, program.variables(), strict=True))
    return program, variables, list(program.linear_constraints())[len(ones) :]


def _solved(program: Any, kind: Any, **options: Any) -> Any:
    """The solver's result; None where the solver breaks down."""
    from ortools.math_opt.python import mathopt

    try:
        with quiet_stdout():
            return mathopt.solve(program, kind, **options)
    except Exception:  # HiGHS ends in kError now and then, which ortools 9.15 turns into errors of no one type
        return None


def exact_bound(
    program: Program,
    alive: Sequence[Sequence[int]],
    rows: Sequence[Row],
    objective: Mapping[int, int],
    prices: Sequence[float],
) -> bounds.Bound:
    """The bound that these prices of the rows give; it needs no more of a model than a Program has."""
    return bounds.exact_bound(cast(Model, program), alive, rows, objective, prices)


def relaxed_prices(
    model: Program, alive: Sequence[Sequence[int]], rows: Sequence[Row], objective: Mapping[int, int]
) -> list[float] | None:
    """Prices of the rows in the linear relaxation (none above 0); None where the solver has none to give."""
    program, _, built_rows = _built(model, alive, rows, objective, relaxed=True)
    result = _solved(program, mathopt.SolverType.GLOP)
    if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
        return None
    if not result.has_dual_feasible_solution():
        return None
    return [float(price) for price in result.dual_values(built_rows)] if built_rows else []


def propose(
    model: Program,
    alive: Sequence[Sequence[int]],
    rows: Sequence[Row],
    objective: Mapping[int, int],
    unit: int,
    start: Sequence[int] | None,
    nodes: int | None,
    solver: Solver,
) -> Proposal:
    """Minimise `objective`, whose values are multiples of `unit`; `start` is a choice to improve on, None for none."""
    scaled = {at: factor // unit for at, factor in objective.items()}
    program, variables, _ = _built(model, alive, rows, scaled, relaxed=False)
    first = None if start is None else set(start)
    hints = [] if first is None else [mathopt.SolutionHint(
        variable_values={variables[c]: float(c in first) for group in alive for c in group}
    )]  # fmt: skip
    parameters = mathopt.SolveParameters(
        # values are whole numbers: what is less than one unit from the bound is at the bound
        relative_gap_tolerance=0.0,
        absolute_gap_tolerance=0.999,
        node_limit=nodes,
    )
    kind = mathopt.SolverType.HIGHS
    if solver is Solver.CP_SAT:
        kind = mathopt.SolverType.CP_SAT
        parameters.node_limit = None
        parameters.threads = 1
        parameters.presolve = mathopt.Emphasis.OFF
        parameters.cp_sat.max_deterministic_time = 60.0
    else:
        parameters.highs.double_options["mip_feasibility_tolerance"] = _TOLERANCE
        parameters.highs.double_options["primal_feasibility_tolerance"] = _TOLERANCE
        parameters.highs.string_options["parallel"] = "off"
        if solver is Solver.HIGHS_WITHOUT_PRESOLVE:
            parameters.presolve = mathopt.Emphasis.OFF
    result = _solved(program, kind, params=parameters, model_params=mathopt.ModelSolveParameters(solution_hints=hints))
    reasons = mathopt.TerminationReason
    if result is None or result.termination.reason not in (reasons.OPTIMAL, reasons.FEASIBLE) or not result.solutions:
        impossible = result is not None and result.termination.reason == reasons.INFEASIBLE
        return Proposal(Answer.NONE, (), None, impossible=impossible)
    values = result.variable_values()
    chosen = tuple(max(group, key=lambda c: values[variables[c]]) for group in alive)
    best = result.termination.reason == reasons.OPTIMAL
    helpers = tuple(round(values[variables[len(model.columns) + at]]) for at in range(len(model.helpers)))
    return Proposal(Answer.BEST if best else Answer.GOOD, chosen, result.dual_bound() * unit, helpers)
