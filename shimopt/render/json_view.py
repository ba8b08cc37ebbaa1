"""The plan as one JSON object. Lengths in mm, exact to the nanometre; keys are only ever added."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from shimopt.arithmetic.clearance import Stack, stands_out
from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.arithmetic.outcome import packs_to_buy
from shimopt.choose import LevelResult, Scarce
from shimopt.errors import Problem
from shimopt.job import Gap, Place
from shimopt.job.levels import Level
from shimopt.lengths import mm_number
from shimopt.planner import Decision
from shimopt.reasons import Alternative
from shimopt.render.json_sure import (
    bracket_object,
    decision_object,
    detail_object,
    gauge_object,
    heat_object,
    tightening_object,
)
from shimopt.render.moves_view import bought_at, move_rows
from shimopt.seats import Finding, fitting_order
from shimopt.words import assumption_words, choice_words, finding_words, reason_words, scarce_words
from shimopt.words.headline import exact_counts, headline
from shimopt.words.next_words import next_steps

__all__ = ["errors_object", "json_text", "plan_object"]

_MOST_INDENTED = 2_000


def json_text(value: dict[str, Any]) -> str:
    """The object as text, ending with a line end; a plan of very many gaps on one line, which is far quicker."""
    gaps = value.get("gaps")
    # a batch gives the number of its gaps, a plan the gaps themselves
    indent = None if isinstance(gaps, list) and len(gaps) > _MOST_INDENTED else 2
    return json.dumps(value, ensure_ascii=False, indent=indent, allow_nan=False) + "\n"


def errors_object(problems: Iterable[Problem]) -> dict[str, Any]:
    """What is wrong with the input, for other programs."""
    return {"format": 1, "errors": [problem.to_dict() for problem in problems]}


def plan_object(decision: Decision) -> dict[str, Any]:
    """The whole plan."""
    job, outcome, unit = decision.job, decision.outcome, decision.job.unit
    unsuited = {reason.about: reason.findings for reason in decision.reasons if reason.code == "parts_do_not_suit"}
    to_order = bought_at(decision)
    weighed = {"choices": [_choice(row, decision) for row in decision.choices]} if decision.choices else {}
    return {
        "format": 1,
        "title": job.title,
        "lengths_in": "mm",
        "doable": outcome.doable,
        "gaps": [_gap(decision, gap, unsuited.get(gap.name, ())) for gap in job.gaps],
        "places": [
            {
                "name": place.name,
                "seat": place.seat.name if place.seat else None,
                "stack": _stack(decision, decision.stacks.get(place.name, ()), to_order.get(place.name, {})),
                "thickness": bracket_object(outcome.thickness[place.name]),
                "order": _order(decision, place),
                "was_in": _stack(decision, place.installed, {}),
            }
            for place in job.places
        ],
        "balances": [
            {
                "name": balance.name,
                "gaps": list(balance.gaps),
                "spread_before": mm_number(outcome.balances[balance.name].spread_before),
                "spread_after": mm_number(outcome.balances[balance.name].spread_after),
                "within": None if balance.within is None else mm_number(balance.within),
                "offset": {name: mm_number(larger) for name, larger in balance.offset.items()},
                "met": outcome.balances[balance.name].met,
            }
            for balance in job.balances
        ],
        "totals": {
            "pieces": int(outcome.levels["pieces"]),
            "to_buy": sum(outcome.to_buy.values()),
            "cost": None if decision.cost is None else _plain(decision.cost),
        },
        "purchase": _purchase(decision),
        "levels": [_level(level) for level in decision.levels],
        "way": decision.way,
        "scarce": [_scarce(one, decision) for one in decision.scarce],
        "moves": move_rows(decision),
        "findings": [_finding(finding, unit) for finding in decision.findings],
        "reasons": [
            {"about": reason.about, "code": reason.code, "words": reason_words(reason, job, unit)}
            for reason in decision.reasons
        ],
        "assumptions": [
            {"about": reason.about, "code": reason.code, "words": assumption_words(reason, unit)}
            for reason in decision.assumptions
        ],
        "state": dict(job.state),
        "tightening": [tightening_object(entry) for entry in job.tightening],
        "answer": headline(decision, unit),
        "taken_as_exact": {what: {"count": n, "of": of} for what, (n, of) in exact_counts(decision).items()},
        "not_checked": decision.screening.unchecked,
        "next": next_steps(decision, unit),
        **weighed,
        **_start(decision),
    }


def _start(decision: Decision) -> dict[str, Any]:
    """The record that the plan starts from, and what stays in since then."""
    job = decision.job
    if not job.records:
        return {}
    last = job.records[-1]
    kept = {place.name: job.kept(place.name) for place in job.places}
    return {
        "started_from": {
            "id": last.id,
            "date": last.date,
            "person": last.person,
            "kept": {
                name: [{"part": p.part, "piece": p.piece, "thickness": bracket_object(p.thickness)} for p in pieces]
                for name, pieces in kept.items()
                if pieces
            },
        }
    }


def _choice(row: Alternative, decision: Decision) -> dict[str, Any]:
    """One row of the trade-off; `plan` marks the plan's own."""
    job, outcome = decision.job, row.outcome
    cost = row.cost(job)
    return {
        "pieces": row.pieces,
        "plan": row.is_plan,
        "proven": row.proven,
        "doable": outcome.doable,
        "gaps": [
            {"name": name, "after": bracket_object(found.after), "verdict": found.verdict}
            for name, found in outcome.gaps.items()
        ],
        "places": [{"name": name, "stack": _stack(decision, stack, {})} for name, stack in row.choice.stacks.items()],
        "balances": [
            {"name": name, "spread_after": mm_number(found.spread_after), "met": found.met}
            for name, found in outcome.balances.items()
        ],
        "to_buy": sum(outcome.to_buy.values()),
        "cost": None if cost is None else _plain(cost),
        "levels": [_level(level) for level in row.choice.levels],
        "words": choice_words(row, job, job.unit),
    }


def _level(level: LevelResult) -> dict[str, Any]:
    return {
        "name": level.name,
        "value": _level_number(level.name, level.value),
        "bound": None if level.bound is None else _level_number(level.name, level.bound),
        "proven": level.proven,
    }


def _scarce(one: Scarce, decision: Decision) -> dict[str, Any]:
    """A size that holds the job back: with so many more of it a plan was found that is so much better at a level."""
    part = decision.job.stock[one.line].part
    return {
        "part": part.name,
        "piece": part.piece,
        "more": one.more,
        "level": one.level,
        "fewer": one.fewer,
        "words": scarce_words(one, decision),
    }


def _gap(decision: Decision, gap: Gap, unsuited: Sequence[Finding]) -> dict[str, Any]:
    found, near = decision.outcome.gaps[gap.name], decision.nearest.get(gap.name)
    window, reading = gap.window, gap.reading
    sure = found.verdict == "inside" and reading.basis == "worst case" and not stands_out(found.after, window)
    nearest = None
    if near is not None:
        nearest = {
            "stack": _stack(decision, near.stack, {}),
            "after": bracket_object(near.after),
            "off": mm_number(near.off),
        }
    return {
        "name": gap.name,
        "reading": {**bracket_object(reading.bracket), "basis": reading.basis},
        "window": {
            "min": None if window.min is None else mm_number(window.min),
            "max": None if window.max is None else mm_number(window.max),
            "target": None if window.target is None else mm_number(window.target),
            "source": window.source,
        },
        "needed": _span(needed(decision.job, gap)),
        "aim": _span(aimed(decision.job, gap)),
        "after": bracket_object(found.after),
        "verdict": found.verdict,
        "sure": sure,
        "chance": round(float(found.chance), 9),
        "nearest": nearest,
        "effects": {place: float(effect) for place, effect in gap.effects},
        "unsuited": [
            {"part": stop.part, "piece": stop.piece, "code": stop.code, "words": finding_words(stop, decision.job.unit)}
            for stop in unsuited
        ],
        "reading_detail": detail_object(gap, decision.job.unit),
        "decision": decision_object(gap),
        "gauge": gauge_object(decision.gauges.get(gap.name), decision.job.unit),
        "heat": heat_object(gap, found.after, decision.job.unit),
        "state": dict(gap.state),
    }


def _purchase(decision: Decision) -> list[dict[str, Any]]:
    """What to buy: one entry per part and offer."""
    stock = decision.job.stock
    return [
        {
            "part": stock[i].part.name,
            "pieces": pieces,
            "packs": count,
            "pack": offer.pack,
            "supplier": offer.supplier or None,
            "cost": _plain(count * Fraction(offer.price or 0)),
        }
        for i, pieces in decision.outcome.to_buy.items()
        for offer, count in packs_to_buy(stock[i].offers, pieces)
    ]


def _order(decision: Decision, place: Place) -> list[dict[str, Any]]:
    """The pieces one by one, the one at the face first."""
    stock = decision.job.stock
    pieces = fitting_order(decision.stacks.get(place.name, ()), stock, place.seat.order if place.seat else "")
    return [{"part": stock[i].part.name, "piece": stock[i].part.piece} for i in pieces]


def _stack(decision: Decision, stack: Stack, to_buy: Mapping[int, int]) -> list[dict[str, Any]]:
    entries = []
    for i in sorted(set(stack)):
        part = decision.job.stock[i].part
        entries.append(
            {
                "part": part.name,
                "piece": part.piece,
                "pieces": stack.count(i),
                "to_buy": to_buy.get(i, 0),
                "thickness": bracket_object(part.thickness),
                "at": part.at or None,
            }
        )
    return entries


def _finding(finding: Finding, unit: str) -> dict[str, Any]:
    return {
        "place": finding.place,
        "part": finding.part,
        "piece": finding.piece,
        "grade": finding.grade,
        "code": finding.code,
        "words": finding_words(finding, unit),
        "numbers": {
            **{key: mm_number(length) for key, length in finding.lengths.items()},
            **{key: float(round(number, 9)) for key, number in finding.numbers.items()},
        },
    }


def _span(span: Span | None) -> dict[str, float | None] | None:
    if span is None:
        return None
    return {"least": mm_number(span.least), "most": None if span.most is None else mm_number(span.most)}


def _level_number(name: str, value: Fraction) -> float | int:
    return mm_number(value) if Level(name).is_length else _plain(value)


def _plain(value: Fraction) -> float | int:
    return int(value) if value.denominator == 1 else float(value)
