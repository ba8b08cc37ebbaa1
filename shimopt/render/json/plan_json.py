"""The plan as one JSON object, and what was found after it was fitted. Keys are only ever added."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from shimopt.arithmetic.outcome import packs_to_buy
from shimopt.assembly import tool_error
from shimopt.assembly.torque import UNITS
from shimopt.choose import LevelResult, Scarce
from shimopt.job import Job, Place, Tightening
from shimopt.job.levels import Level
from shimopt.job.record import Record
from shimopt.parts.drawer import Held
from shimopt.planner import Decision
from shimopt.reasons.alternatives import Alternative
from shimopt.reasons.gap_reasons import PartsDoNotSuit
from shimopt.render.json.change_json import bought_at, change_objects, change_totals, move_objects
from shimopt.render.json.gap_json import gap_object, stack_object
from shimopt.render.json.results_json import amount, bracket_object, finding_object, mm
from shimopt.seats import fitting_order
from shimopt.words.assembly_words import tightening_words
from shimopt.words.choice_words import choice_words
from shimopt.words.exact_words import exact_counts
from shimopt.words.headline import headline
from shimopt.words.next_steps import next_steps
from shimopt.words.reading_words import assumption_words
from shimopt.words.reason_words import about_reason, reason_words, scarce_words
from shimopt.words.record_words import compared_lines, running_words
from shimopt.words.shortfall_words import springs_fitted
from shimopt.words.speaker import Speaker

if TYPE_CHECKING:
    from shimopt.recording import Fitted, Recorded


def plan_object(decision: Decision) -> dict[str, Any]:
    """The whole plan."""
    job, outcome = decision.job, decision.outcome
    say = Speaker.of(job, buys=decision.buy)
    unsuited = {reason.about: reason.findings for reason in decision.reasons if isinstance(reason, PartsDoNotSuit)}
    springs = {one.place for one in springs_fitted(decision)}
    weighed = {"choices": [_choice(row, decision, say) for row in decision.choices]} if decision.choices else {}
    held = {"held_for_others": [_held(one) for one in decision.remedies.held]} if decision.remedies.held else {}
    return {
        "format": 1,
        "title": job.title,
        "lengths_in": "mm",
        "doable": decision.doable,
        "gaps": [gap_object(decision, gap, unsuited.get(gap.name, ()), springs, say) for gap in job.gaps],
        "places": [
            {
                "name": place.name,
                "seat": place.seat.name if place.seat else None,
                "stack": stack_object(
                    decision, decision.stacks.get(place.name, ()), bought_at(decision.changes.at[place.name])
                ),
                "thickness": bracket_object(outcome.thickness[place.name]),
                "order": _order(decision, place),
                "was_in": stack_object(decision, place.installed, {}),
            }
            for place in job.places
        ],
        "balances": [
            {
                "name": balance.name,
                "gaps": list(balance.gaps),
                "places": list(balance.places),
                "spread_before": mm(outcome.balances[balance.name].spread_before),
                "spread_after": mm(outcome.balances[balance.name].spread_after),
                "within": mm(balance.within),
                "offset": {name: mm(larger) for name, larger in balance.offset.items()},
                "met": outcome.balances[balance.name].met,
            }
            for balance in job.balances
        ],
        "totals": {
            "pieces": int(outcome.levels["pieces"]),
            "to_buy": sum(outcome.to_buy.values()),
            "cost": amount(decision.cost),
            **change_totals(decision.changes),
        },
        "changes": change_objects(decision),
        "purchase": _purchase(decision),
        "levels": [_level(level) for level in decision.levels],
        "way": decision.way,
        "scarce": [_scarce(one, decision, say) for one in decision.scarce],
        "moves": move_objects(decision),
        "findings": [
            {"place": finding.place, "part": finding.part, "piece": finding.piece} | finding_object(finding, say)
            for finding in decision.findings
        ],
        "reasons": [
            {"about": reason.about, "code": reason.code, "words": reason_words(reason, about_reason(job, reason, say))}
            for reason in decision.reasons
        ],
        "assumptions": [
            {"about": reason.about, "code": reason.code, "words": assumption_words(reason, say)}
            for reason in decision.assumptions
        ],
        "state": dict(job.state),
        "tightening": [_tightening(entry) for entry in job.tightening],
        "answer": headline(decision, say),
        "taken_as_exact": {what: {"count": n, "of": of} for what, (n, of) in exact_counts(decision).items()},
        "not_checked": decision.screening.unchecked,
        "next": next_steps(decision, say),
        **weighed,
        **held,
        **_start(decision),
    }


def _start(decision: Decision) -> dict[str, Any]:
    """The record that the plan starts from, and what stays in since then."""
    job = decision.job
    if not job.records:
        return {}
    last = job.records[-1]
    kept = {name: last.places.get(name, ()) for name in decision.changes.left}
    return {
        "started_from": {
            "id": last.id,
            "date": last.date,
            "person": last.person,
            "found_outside": list(job.found_outside),
            "running_torque": _running(last),
            "kept": {
                name: [{"part": p.part, "piece": p.piece, "thickness": bracket_object(p.thickness)} for p in pieces]
                for name, pieces in kept.items()
                if pieces
            },
        }
    }


def _running(record: Record) -> list[dict[str, Any]]:
    """The running torques of a record [N·m], gap by gap."""
    return [
        {
            "gap": name,
            "newton_metres": {"low": _number(gap.running.torque.low), "high": _number(gap.running.torque.high)},
            "written": gap.running.written,
            "how": gap.running.how or None,
            "words": running_words(gap.running),
        }
        for name, gap in record.gaps.items()
        if gap.running is not None
    ]


def _choice(row: Alternative, decision: Decision, say: Speaker) -> dict[str, Any]:
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
        "places": [
            {"name": name, "stack": stack_object(decision, stack, {})} for name, stack in row.choice.stacks.items()
        ],
        "balances": [
            {"name": name, "spread_after": mm(found.spread_after), "met": found.met}
            for name, found in outcome.balances.items()
        ],
        "to_buy": sum(outcome.to_buy.values()),
        "cost": amount(cost),
        "levels": [_level(level) for level in row.choice.levels],
        "words": choice_words(row, job, say),
    }


def _held(held: Held) -> dict[str, Any]:
    """Pieces that would have served, and are promised to another job."""
    part = {"part": held.part.name, "piece": held.part.piece, "pieces": held.pieces}
    return part | {"for": held.title, "until": held.until, "who": held.who, "bench": held.bench}


def _level(level: LevelResult) -> dict[str, Any]:
    return {
        "name": level.name,
        "value": _level_number(level.name, level.value),
        "bound": _level_number(level.name, level.bound),
        "proven": level.proven,
        "proof": str(level.proof),
    }


def _scarce(one: Scarce, decision: Decision, say: Speaker) -> dict[str, Any]:
    """A size that holds the job back: with so many more of it a plan was found that is so much better at a level."""
    part = decision.job.stock[one.line].part
    return {
        "part": part.name,
        "piece": part.piece,
        "more": one.more,
        "level": one.level,
        "fewer": one.fewer,
        "words": scarce_words(one, say),
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
            "cost": amount(count * Fraction(offer.price or 0)),
        }
        for i, pieces in decision.outcome.to_buy.items()
        for offer, count in packs_to_buy(stock[i].offers, pieces)
    ]


def _order(decision: Decision, place: Place) -> list[dict[str, Any]]:
    """The pieces one by one, the one at the face first."""
    stock = decision.job.stock
    pieces = fitting_order(decision.stacks.get(place.name, ()), stock, place.seat)
    return [{"part": stock[i].part.name, "piece": stock[i].part.piece} for i in pieces]


def _level_number(name: str, value: Fraction | None) -> float | int | None:
    return mm(value) if Level(name).is_length else amount(value)


def _tightening(entry: Tightening) -> dict[str, Any]:
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
        # where the tool is not known, that of the wider class that could set it
        "tool_error_percent": _number(tool_error(entry.tool_max or setting) * 100),
        "words": tightening_words(entry),
    }


def _number(value: Fraction) -> float | int:
    return value.numerator if value.denominator == 1 else round(float(value), 9)


def record_object(recorded: Recorded, job: Job) -> dict[str, Any]:
    """What was recorded, each gap compared, and the drawer's changes."""
    record = recorded.record
    return {
        "format": 1,
        "title": job.title,
        "lengths_in": "mm",
        "id": record.id,
        "date": record.date,
        "person": record.person,
        "instrument": record.instrument,
        "written": not recorded.again,
        **_fitted(recorded.fitted),
        "gaps": [
            {
                "name": row.gap,
                "predicted": bracket_object(row.predicted),
                "found": bracket_object(row.found),
                "off": mm(row.off),
                "plausible": mm(row.plausible),
                "verdict": row.verdict,
                "code": row.code,
                "part": row.part or None,
                "instead": row.other or None,
                "words": words,
            }
            for row, words in zip(recorded.compared, compared_lines(recorded, job, job.unit), strict=True)
        ],
        "running_torque": _running(record),
        "drawer": {
            "state": record.drawer,
            "changes": [
                {"part": c.piece.part, "piece": c.piece.piece, "row": c.row, "before": c.count, "by": c.by}
                for c in recorded.changes
            ],
            "bought": [{"part": p.part, "piece": p.piece, "count": count} for p, count in recorded.bought.items()],
            "as_csv": None if recorded.as_csv is None else str(recorded.as_csv),
        },
    }


def _fitted(fitted: Fitted | None) -> dict[str, Any]:
    """What is in the places, and in which of them that is not what was planned."""
    if fitted is None:
        return {}
    say = Speaker(fitted.job.unit, fitted.job.stock)
    places = [
        {
            "name": name,
            "pieces": [{"part": p.part, "piece": p.piece, "thickness": bracket_object(p.thickness)} for p in pieces],
        }
        for name, pieces in fitted.pieces.items()
    ]
    unsuited = [{"place": f.place, "part": f.part, "piece": f.piece} | finding_object(f, say) for f in fitted.unsuited]
    others = list(fitted.others)
    was = fitted.as_it_was
    told = {"as_planned": not others and not was, "as_it_was": was, "others": others}
    return {"fitted": told | {"places": places, "unsuited": unsuited}}
