"""The second opinion: CP-SAT, asked on the same whole-number model for anything better than what is in hand."""

from __future__ import annotations

from enum import Enum
from math import gcd
from typing import Any, NamedTuple

import numpy as np

from shimopt.proof.exact_bounds import Range, Sums, Wholes

# larger numbers have made its presolve call models with answers impossible (seen in ortools 9.15, at 1e8 and more)
LARGEST = 1_000_000


class Opinion(Enum):
    """What the second solver says, one meaning each."""

    NOTHING = "nothing is better"
    BETTER = "this is better"
    SILENT = "not asked, not settled within its limit, or it contradicts itself"


class Second(NamedTuple):
    """An opinion, the values of all variables where something is better, and the effort that was spent on it."""

    opinion: Opinion
    values: Wholes | None = None
    effort: float = 0.0


# a question (what, in which range, better than which answer) and two limits: it is put in one place only
def second_opinion(
    sums: Sums, objective: Wholes, within: Range, best: int, chosen: Wholes, effort: float, seconds: float | None
) -> Second:
    """Whether anything in this range is better than `best`, the objective of the columns `chosen`.

    It is not believed unless it finds `chosen` itself possible, which need not lie in the range. Parameters: effort,
    its limit in units that do not depend on the machine (about seconds); seconds, the most that it may take.
    """
    all_columns = within.high.copy()
    all_columns[: sums.columns] = 1
    rows = _small_rows(sums, objective, Range(within.low, all_columns))
    if rows is None or abs(best) >= LARGEST:
        return Second(Opinion.SILENT)
    from ortools.sat.python import cp_model

    def asked(most: int, high: Wholes) -> tuple[Any, Wholes | None, float]:
        program = cp_model.CpModel()
        ends = zip(within.low.tolist(), high.tolist(), strict=True)
        variables = [program.new_int_var(low, most_of, "") for low, most_of in ends]
        for group in np.split(np.arange(sums.columns), sums.starts[1:]):
            program.add_exactly_one([variables[at] for at in group.tolist() if high[at] > 0])
        for terms, limit in rows:
            program.add(sum(factor * variables[at] for at, factor in terms) <= limit)
        costs = np.flatnonzero(objective).tolist()
        if costs:
            total = sum(int(objective[at]) * variables[at] for at in costs)
            program.add(total <= most)
            # with something to bring down, relaxations lead its search: it ends far sooner than without
            program.minimize(total)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = effort
        if seconds is not None:
            solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(program)
        spent = solver.response_proto.deterministic_time
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return status, np.array([solver.value(variable) for variable in variables], np.int64), spent
        return status, None, spent

    status, values, spent = asked(best - 1, within.high)
    if values is not None:
        return Second(Opinion.BETTER, values, spent)
    if status != cp_model.INFEASIBLE:
        return Second(Opinion.SILENT, None, spent)
    only_chosen = within.high.copy()
    only_chosen[: sums.columns] = 0
    only_chosen[chosen] = 1
    _, possible, again = asked(best, only_chosen)
    return Second(Opinion.SILENT if possible is None else Opinion.NOTHING, None, spent + again)


def _small_rows(sums: Sums, objective: Wholes, within: Range) -> list[tuple[list[tuple[int, int]], int]] | None:
    """The rows, each divided by its common divisor (all variables are whole); None where a number is too large."""
    rows: list[tuple[list[tuple[int, int]], int]] = []
    if np.abs(objective).max(initial=0) >= LARGEST or within.high.max(initial=0) >= LARGEST:
        return None
    ends = np.searchsorted(sums.row_of, np.arange(len(sums.limits) + 1)).tolist()
    for number, limit in enumerate(sums.limits.tolist()):
        here = slice(ends[number], ends[number + 1])
        pairs = zip(sums.at[here].tolist(), sums.factors[here].tolist(), strict=True)
        terms = [(at, factor) for at, factor in pairs if within.high[at] > 0]
        divisor = gcd(*(factor for _, factor in terms)) or 1
        terms, limit = [(at, factor // divisor) for at, factor in terms], limit // divisor
        if abs(limit) >= LARGEST or any(abs(factor) >= LARGEST for _, factor in terms):
            return None
        if terms or limit < 0:
            rows.append((terms, limit))
    return rows
