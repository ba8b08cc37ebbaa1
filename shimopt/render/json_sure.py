"""How sure a plan is, as JSON: readings with their terms, what decides, the gauge, heat, torques. Lengths in mm."""

from __future__ import annotations

from fractions import Fraction
from math import isinf
from typing import Any

from shimopt.arithmetic.needed import guarded
from shimopt.assembly import tool_error
from shimopt.assembly.torque import UNITS
from shimopt.job import Gap, Tightening
from shimopt.lengths import Bracket, mm_number
from shimopt.probability import Normal, Sides, Student, effective_dof, standard_uncertainty
from shimopt.readings import Term
from shimopt.reasons import Gauge
from shimopt.words.assembly_words import heat_words, tightening_words
from shimopt.words.gauge_words import gauge_words
from shimopt.words.reading_words import term_words
from shimopt.words.speaker import Speaker

__all__ = ["bracket_object", "decision_object", "detail_object", "gauge_object", "heat_object", "tightening_object"]


def bracket_object(bracket: Bracket) -> dict[str, float]:
    """Low, best and high."""
    return {"low": mm_number(bracket.low), "best": mm_number(bracket.best), "high": mm_number(bracket.high)}


def detail_object(gap: Gap, say: Speaker) -> dict[str, Any]:
    """How a gap was read; both brackets where both are known; standard uncertainty; terms."""
    reading = gap.reading
    dof = effective_dof(reading.errors)
    worst = reading.worst or (reading.bracket if reading.basis == "worst case" else None)
    return {
        "kind": reading.kind,
        "worst_case": None if worst is None else bracket_object(worst),
        "at_95": None if reading.likely is None else bracket_object(reading.likely),
        "standard_uncertainty": round(standard_uncertainty(reading.errors) / 1e6, 9),
        "degrees_of_freedom": None if isinf(dof) else round(dof, 2),
        "terms": [_term(term, say) for term in reading.terms],
    }


def _term(term: Term, say: Speaker) -> dict[str, Any]:
    return {
        "code": term.code,
        "name": term.name or None,
        "amount": mm_number(term.amount),
        "error": mm_number(term.half),
        "spread": _spread(term),
        "assumed": term.assumed,
        "words": term_words(term, say),
    }


def _spread(term: Term) -> str | None:
    """How the term's error is spread, in a word."""
    for error in term.errors:
        if isinstance(error, Student):
            return "t"
        if isinstance(error, Normal):
            return "normal"
        if isinstance(error, Sides):
            return "half on each side"
    if len(term.errors) == 2 and term.errors[0] == term.errors[1]:
        return "triangular"
    return "rectangular" if term.errors else None


def decision_object(gap: Gap) -> dict[str, Any]:
    """What counts as inside, where the best estimate has to come for it, and the guard bands."""
    zone = guarded(gap)
    low, high = zone or (None, None)
    limits = (gap.window.min, gap.window.max)
    guard = [
        None if end is None or limit is None else mm_number(abs(Fraction(end) - limit))
        for end, limit in zip((low, high), limits, strict=True)
    ]
    return {
        "rule": "sure" if gap.least_chance is None else "chance",
        "chance": None if gap.least_chance is None else float(gap.least_chance),
        "possible": zone is not None,
        "accept": None
        if zone is None
        else {
            "min": None if low is None else mm_number(low),
            "max": None if high is None else mm_number(high),
        },
        "guard": None if zone is None else {"min": guard[0], "max": guard[1]},
    }


def gauge_object(gauge: Gauge | None, say: Speaker) -> dict[str, Any] | None:
    """Whether reading and sizes are good enough, with the numbers that say so."""
    if gauge is None:
        return None
    return {
        "good": gauge.good,
        "code": gauge.code,
        "uncertainty": mm_number(gauge.uncertainty),
        "step": _or_none(gauge.step),
        "reading_that_would_do": _or_none(gauge.would_do),
        "words": gauge_words(gauge, say),
    }


def _or_none(length: Fraction | None) -> float | None:
    return None if length is None else mm_number(length)


def heat_object(gap: Gap, after: Bracket, say: Speaker) -> dict[str, Any] | None:
    """The growth, the clearance hot, and both windows as they were stated."""
    heat = gap.heat
    if heat is None:
        return None
    hot = Bracket(after.low + heat.growth, after.best + heat.growth, after.high + heat.growth)
    cold = gap.cold_window or gap.window
    return {
        "from": heat.cold,
        "to": heat.hot,
        "growth": mm_number(heat.growth),
        "after_hot": bracket_object(hot),
        "window_hot": None if heat.window is None else _limits(heat.window.min, heat.window.max),
        "window_cold": _limits(cold.min, cold.max),
        "parts": [
            {
                "side": side,
                "material": part.material,
                "coefficient": float(part.coefficient),
                "length": mm_number(part.length),
                "source": part.source,
            }
            for side, parts in (("housing", heat.housing), ("shaft", heat.shaft))
            for part in parts
        ],
        "words": heat_words(gap, after, say),
    }


def _limits(low: int | None, high: int | None) -> dict[str, float | None]:
    return {"min": None if low is None else mm_number(low), "max": None if high is None else mm_number(high)}


def tightening_object(entry: Tightening) -> dict[str, Any]:
    """The range called for [N·m], the setting in every unit, and the tool's permissible error."""
    setting = entry.torque.setting
    return {
        "name": entry.name,
        "source": entry.source or None,
        "called_for": {"low": _number(entry.torque.low), "high": _number(entry.torque.high)},
        "setting": {
            "lbf_ft": _number(setting / UNITS["lbf·ft"]),
            "lbf_in": _number(setting / UNITS["lbf·in"]),
            "N_m": _number(setting),
        },
        "tool_error_percent": _number(tool_error(setting) * 100),
        "words": tightening_words(entry),
    }


def _number(value: Fraction) -> float | int:
    return value.numerator if value.denominator == 1 else round(float(value), 9)
