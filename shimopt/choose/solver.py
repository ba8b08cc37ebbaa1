"""The only file that knows a solver: one level's best choice, and its linear relaxation, through ortools' math_opt.

HiGHS does the work. Its answer is only a proposal: the chooser works out every value again in whole numbers. One
worker and limits in search nodes, not seconds, so that the same job gives the same plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import Enum
from fractions import Fraction
from functools import partial
from typing import Any

from ortools.math_opt.python import mathopt

from shimopt.choose.bundles import bundles_of, in_bundles
from shimopt.choose.model import Model, Row
from shimopt.choose.quiet import quiet_stdout
from shimopt.watch import Watch

__all__ = ["Answer", "Least", "LinearProgram", "Proposal", "Solver", "propose", "relaxed_prices"]

# HiGHS accepts a column at 1e-6 from whole unless told otherwise; times a coefficient of 1e6 that is a whole tick
_TOLERANCE = 1e-9


class Answer(Enum):
    """What a solver says, one meaning each."""

    BEST = "no choice is better"
    GOOD = "a choice; the search stopped at its limit"
    NONE = "no choice was found"


class Solver(Enum):
    """Ways to ask, in the order in which they are tried."""

    HIGHS = "HiGHS"
    HIGHS_WITHOUT_PRESOLVE = "HiGHS without presolve"
    CP_SAT = "CP-SAT without presolve"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A solver's answer: one column per place, and the solver's own bound (a float: a hint, not a proof)."""

    answer: Answer
    chosen: tuple[int, ...]
    bound: float | None


def _built(
    model: Model, alive: Sequence[Sequence[int]], rows: Sequence[Row], objective: Mapping[int, int], *, relaxed: bool
) -> tuple[Any, dict[int, Any], list[Any]]:
    """A math_opt model of the columns that are left: itself, its variables by number, its rows.

    It is filled as a protocol buffer: coefficient by coefficient the building takes longer than the solving.
    """
    from ortools.math_opt import model_pb2
    from ortools.math_opt.python import mathopt

    left = [column for group in alive for column in group]
    helpers = list(enumerate(model.helpers, start=len(model.columns)))
    bundles = bundles_of(model, alive)
    first = len(model.columns) + len(model.helpers)
    numbers = [*left, *(number for number, _ in helpers), *range(first, first + len(bundles))]
    at = {number: place for place, number in enumerate(numbers)}
    filled = model_pb2.ModelProto()
    filled.variables.ids.extend(range(len(at)))
    filled.variables.lower_bounds.extend(
        [0.0] * len(left) + [float(helper.low) for _, helper in helpers] + [0.0] * len(bundles)
    )
    filled.variables.upper_bounds.extend(
        [1.0] * len(left) + [float(helper.high) for _, helper in helpers] + [1.0] * len(bundles)
    )
    whole = [True] * len(left) + [helper.whole for _, helper in helpers] + [True] * len(bundles)
    filled.variables.integers.extend(must and not relaxed for must in whole)
    ones = [(dict.fromkeys(group, 1), 1.0, 1.0) for group in alive]
    ones += [({**dict.fromkeys(bundle, 1), number: -1}, 0.0, 0.0) for number, bundle in enumerate(bundles, start=first)]
    all_rows = [
        *ones,
        *(
            (in_bundles(row.terms, bundles, first) if bundles else row.terms, float("-inf"), float(row.limit))
            for row in rows
        ),
    ]
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
    return _told(partial(mathopt.solve, program, kind, **options))


def _told(solve: Callable[[], Any]) -> Any:
    try:
        with quiet_stdout():
            return solve()
    except Exception:  # HiGHS ends in kError now and then, which ortools 9.15 turns into errors of no one type
        return None


def relaxed_prices(
    model: Model, alive: Sequence[Sequence[int]], rows: Sequence[Row], objective: Mapping[int, int]
) -> list[float] | None:
    """Prices of the rows in the linear relaxation (none above 0); None where the solver has none to give."""
    program, _, built_rows = _built(model, alive, rows, objective, relaxed=True)
    result = _solved(program, mathopt.SolverType.GLOP)
    if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL:
        return None
    if not result.has_dual_feasible_solution():
        return None
    return [float(price) for price in result.dual_values(built_rows)] if built_rows else []


def prices_of_rows(
    cost: Mapping[str, Fraction],
    rows: Sequence[tuple[Mapping[str, Fraction], Fraction]],
    box: Mapping[str, tuple[Fraction, Fraction]],
) -> list[float] | None:
    """Prices of rows `sum of terms <= limit` at the least cost over a box of named variables; None: none to be had."""
    from ortools.math_opt.python import mathopt

    program = mathopt.Model()
    variables = {name: program.add_variable(lb=float(low), ub=float(high)) for name, (low, high) in box.items()}
    built = []
    for terms, limit in rows:
        row = program.add_linear_constraint(ub=float(limit))
        for name, factor in terms.items():
            row.set_coefficient(variables[name], float(factor))
        built.append(row)
    program.objective.is_maximize = False
    for name, factor in cost.items():
        program.objective.set_linear_coefficient(variables[name], float(factor))
    result = _solved(program, mathopt.SolverType.GLOP)
    if result is None or result.termination.reason != mathopt.TerminationReason.OPTIMAL or not built:
        return None
    return [float(price) for price in result.dual_values(built)]


@dataclass(frozen=True, slots=True)
class Least:
    """The least cost of a linear program, the prices of its rows and the values of its columns (floats: proposals)."""

    cost: float
    prices: list[float]
    values: list[float]


class LinearProgram:
    """Rows `sum of terms <= limit`, the first few with = in place of <=; columns from 0 up, added as they are found."""

    def __init__(self, limits: Sequence[float], *, equal: int) -> None:
        self.program = mathopt.Model()
        self.rows = [
            self.program.add_linear_constraint(lb=limit if at < equal else float("-inf"), ub=limit)
            for at, limit in enumerate(limits)
        ]
        self.columns: list[Any] = []
        self.solver: Any = None

    def add_column(self, terms: Mapping[int, int], cost: int) -> None:
        """One more column: its terms by row, and its cost."""
        column = self.program.add_variable(lb=0.0)
        for row, factor in terms.items():
            self.rows[row].set_coefficient(column, float(factor))
        if cost:
            self.program.objective.set_linear_coefficient(column, float(cost))
        self.columns.append(column)

    def least(self) -> Least | None:
        """The least cost; GLOP goes on from where it was. None where no solver has an answer."""
        # handing over takes longer than solving: only what is asked for, and no zeros
        wanted = mathopt.ModelSolveParameters(
            variable_values_filter=mathopt.SparseVectorFilter(skip_zero_values=True),
            reduced_costs_filter=mathopt.SparseVectorFilter(filtered_items=()),
        )
        for kind in (mathopt.SolverType.GLOP, mathopt.SolverType.GLOP, mathopt.SolverType.HIGHS):
            again = kind is mathopt.SolverType.GLOP
            if self.solver is None and again:
                self.solver = mathopt.IncrementalSolver(self.program, kind)
            solve = self.solver.solve if again else partial(mathopt.solve, self.program, kind)
            result = _told(partial(solve, model_params=wanted))
            if (
                result is not None
                and result.termination.reason == mathopt.TerminationReason.OPTIMAL
                and result.has_dual_feasible_solution()
            ):
                values = result.variable_values()
                return Least(
                    result.objective_value(),
                    result.dual_values(self.rows),
                    [values.get(column, 0.0) for column in self.columns],
                )
            # anew: where it went on from may have been what it stumbled over
            self.solver = None
        return None


def propose(
    model: Model,
    alive: Sequence[Sequence[int]],
    rows: Sequence[Row],
    objective: Mapping[int, int],
    unit: int,
    start: Sequence[int],
    watch: Watch,
    solver: Solver,
    gap: int = 0,
) -> Proposal:
    """Minimise `objective`, whose values are multiples of `unit`; `start` is a choice to improve on.

    `gap` is how far from the least value is good enough.
    """
    scaled = {at: factor // unit for at, factor in objective.items()}
    program, variables, _ = _built(model, alive, rows, scaled, relaxed=False)
    hint = mathopt.SolutionHint(
        variable_values={variables[c]: float(c in set(start)) for group in alive for c in group}
    )
    parameters = mathopt.SolveParameters(
        # values are whole numbers: what is less than one unit from the bound is at the bound
        relative_gap_tolerance=0.0,
        absolute_gap_tolerance=gap // unit + 0.999,
        node_limit=watch.steps,
        time_limit=None if (left := watch.left()) is None else timedelta(seconds=left),
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
    result = _solved(program, kind, params=parameters, model_params=mathopt.ModelSolveParameters(solution_hints=[hint]))
    reasons = mathopt.TerminationReason
    if result is None or result.termination.reason not in (reasons.OPTIMAL, reasons.FEASIBLE) or not result.solutions:
        return Proposal(Answer.NONE, (), None)
    values = result.variable_values()
    chosen = tuple(max(group, key=lambda c: values[variables[c]]) for group in alive)
    best = result.termination.reason == reasons.OPTIMAL
    return Proposal(Answer.BEST if best else Answer.GOOD, chosen, result.dual_bound() * unit)
