"""The same decision as a plain whole-number model: how many pieces of each stock line go into each place.

A second formulation, solved by HiGHS level by level. It shares no code with `shimopt.choose` and `stacks`; it knows no
buying. The model's lengths are whole multiples of the job's greatest common length.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from fractions import Fraction
from math import gcd, lcm
from typing import Any

from ortools.math_opt.python import mathopt

from shimopt.job import Gap, Job, Place
from shimopt.seats import Screening

__all__ = ["LEVELS", "NotProvenError", "values_by_counts"]

LEVELS = ("outside", "miss", "unproven", "doubt", "excess", "pieces", "cautions", "spread", "target")
_LENGTHS = ("miss", "doubt", "excess", "spread", "target")


class NotProvenError(Exception):
    """HiGHS stopped at its time limit; `level` is the one it was at."""

    def __init__(self, level: str) -> None:
        self.level = level
        super().__init__(level)


@dataclass
class _Counts:
    """The model, the terms of its levels, and what balances need to know of a gap."""

    program: Any
    levels: dict[str, Any] = field(default_factory=lambda: dict.fromkeys(LEVELS, 0))
    after: dict[str, Any] = field(default_factory=dict)
    left_outside: dict[str, Any] = field(default_factory=dict)


def _tick(job: Job) -> Fraction:
    lengths = [end for line in job.stock for end in _ends(line.part.thickness)]
    for gap in job.gaps:
        limits = (gap.window.min, gap.window.max, gap.window.target)
        lengths += [*_ends(gap.reading.bracket), *(Fraction(limit) for limit in limits if limit is not None)]
    for balance in job.balances:
        lengths += [Fraction(balance.within or 0), *(Fraction(x) for x in balance.offset.values())]
    below = lcm(*(length.denominator for length in lengths))
    return Fraction(gcd(*(int(length * below) for length in lengths)) or 1, below)


def _ends(bracket: Any) -> tuple[Fraction, Fraction, Fraction]:
    return bracket.low, bracket.best, bracket.high


def values_by_counts(job: Job, screening: Screening, seconds: float | None = None) -> dict[str, Fraction]:
    """The least value of every level, one after another [nm or pieces]. Raises NotProvenError at the time limit."""
    tick = _tick(job)
    counts = _Counts(mathopt.Model())
    left: list[Any] = [0] * len(job.stock)
    for place, gap in zip(job.places, job.gaps, strict=True):
        used = _place(counts, job, place, gap, screening, tick)
        for line, number in used.items():
            left[line] = left[line] + number
    for line, total in enumerate(left):
        if not isinstance(total, int):
            counts.program.add_linear_constraint(total <= job.stock[line].on_hand)
    for balance in job.balances:
        _balance(counts, balance, tick)
    return _solved(counts, job, tick, seconds)


def _place(counts: _Counts, job: Job, place: Place, gap: Gap, screening: Screening, tick: Fraction) -> dict[int, Any]:
    """Adds a place and its gap; says how many pieces of each line it takes."""
    program, levels = counts.program, counts.levels

    def whole(length: Fraction | int) -> int:
        ticks = Fraction(length) / tick
        assert ticks.denominator == 1
        return ticks.numerator

    low, best, high = (whole(end) for end in _ends(gap.reading.bracket))
    least = None if gap.window.min is None else whole(gap.window.min)
    most = None if gap.window.max is None else whole(gap.window.max)
    lines = [i for i in screening.suits[place.name] if job.stock[i].on_hand]
    ends = {i: tuple(whole(end) for end in _ends(job.stock[i].part.thickness)) for i in lines}
    used = {i: program.add_integer_variable(lb=0, ub=min(job.stock[i].on_hand, place.most_pieces)) for i in lines}
    fitted = program.add_binary_variable()
    pieces = sum(used.values()) if used else 0
    program.add_linear_constraint(pieces <= place.most_pieces * fitted)
    program.add_linear_constraint(pieces >= fitted)
    low_after = low - sum(ends[i][2] * n for i, n in used.items())
    after = best - sum(ends[i][1] * n for i, n in used.items())
    high_after = high - sum(ends[i][0] * n for i, n in used.items())
    miss = max(0 if least is None else least - best, 0 if most is None else best - most, 0)
    thickest = max((end[2] for end in ends.values()), default=0) * place.most_pieces
    far = abs(low) + abs(high) + thickest + abs(least or 0) + abs(most or 0)
    outside = (1 - fitted) * int(miss > 0)  # only a gap without a stack may be outside
    doubts = []
    for end, inside, limit, sign in ((low_after, after, least, 1), (high_after, after, most, -1)):
        if limit is not None:
            program.add_linear_constraint(sign * (inside - limit) >= -far * (1 - fitted))
            doubt = program.add_variable(lb=0, ub=far)
            program.add_linear_constraint(doubt >= sign * (limit - end) - far * outside)
            doubts.append(doubt)
    unproven = program.add_binary_variable()
    program.add_linear_constraint(sum(doubts) <= 2 * far * unproven)
    levels["outside"] += outside
    levels["miss"] += outside * miss
    levels["unproven"] += unproven
    levels["doubt"] += sum(doubts)
    levels["pieces"] += pieces
    levels["cautions"] += sum(n for i, n in used.items() if i in screening.cautions[place.name])
    if gap.window.target is not None:
        away = program.add_variable(lb=0)
        program.add_linear_constraint(away >= after - whole(gap.window.target))
        program.add_linear_constraint(away >= whole(gap.window.target) - after)
        levels["target"] += away
    counts.after[gap.name], counts.left_outside[gap.name] = after, outside
    return used


def _balance(counts: _Counts, balance: Any, tick: Fraction) -> None:
    program = counts.program
    top, bottom = program.add_variable(), program.add_variable()
    spread = program.add_variable(lb=0)
    far = 10**5
    set_aside = sum(counts.left_outside[name] for name in balance.gaps)
    program.add_linear_constraint(spread >= top - bottom - far * set_aside)
    for name in balance.gaps:
        even = counts.after[name] - int(balance.offset.get(name, 0) / tick)
        program.add_linear_constraint(top >= even)
        program.add_linear_constraint(bottom <= even)
    counts.levels["spread"] += spread
    if balance.within is not None:
        over = program.add_variable(lb=0)
        program.add_linear_constraint(over >= spread - int(balance.within / tick))
        counts.levels["excess"] += over


def _minimised(program: Any, parameters: Any) -> Any:
    try:
        return mathopt.solve(program, mathopt.SolverType.HIGHS, params=parameters)
    except AttributeError:  # HiGHS ended in kError, which ortools 9.15 fails to put into words
        return mathopt.solve(
            program,
            mathopt.SolverType.HIGHS,
            params=mathopt.SolveParameters(
                relative_gap_tolerance=0.0,
                absolute_gap_tolerance=0.999,
                presolve=mathopt.Emphasis.OFF,
                time_limit=parameters.time_limit,
            ),
        )


def _solved(counts: _Counts, job: Job, tick: Fraction, seconds: float | None) -> dict[str, Fraction]:
    values: dict[str, Fraction] = {}
    parameters = mathopt.SolveParameters(relative_gap_tolerance=0.0, absolute_gap_tolerance=0.999)
    parameters.time_limit = None if seconds is None else timedelta(seconds=seconds)
    parameters.highs.double_options["mip_feasibility_tolerance"] = 1e-9
    for level in (name for name in job.levels if name in LEVELS):
        terms = counts.levels[level]
        if isinstance(terms, int):
            values[level] = Fraction(terms)
            continue
        counts.program.minimize(terms)
        result = _minimised(counts.program, parameters)
        if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
            raise NotProvenError(level)
        value = round(result.objective_value())
        assert abs(value - result.objective_value()) < 1e-4
        counts.program.add_linear_constraint(terms <= value)
        values[level] = Fraction(value) * (tick if level in _LENGTHS else 1)
    return values
