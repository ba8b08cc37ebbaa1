"""One gap as JSON: how it was read, what it needs, what becomes of it and how surely; and its account for `why`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from fractions import Fraction
from math import isinf
from typing import TYPE_CHECKING, Any

from shimopt.arithmetic.clearance import Stack, stands_out
from shimopt.arithmetic.needed import Span, aimed, guarded, needed
from shimopt.errors import shown
from shimopt.job import Gap, Window
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.probability import Normal, Sides, Student, effective_dof, standard_uncertainty
from shimopt.readings import Term
from shimopt.reasons import Gauge
from shimopt.reasons.gap_account import Account, Rival
from shimopt.reasons.remedies import Remedies
from shimopt.render.json.results_json import bracket_object, mm
from shimopt.seats import Finding
from shimopt.words.assembly_words import heat_words
from shimopt.words.finding_words import finding_words
from shimopt.words.gauge_words import gauge_words
from shimopt.words.reading_words import term_words
from shimopt.words.reading_worth_words import worth_words
from shimopt.words.speaker import Speaker
from shimopt.words.why_words import why_answers

# a plan's JSON needs no order
if TYPE_CHECKING:
    from shimopt.ordering.reading_worth import ReadingWorth, Way


def gap_object(
    decision: Decision, gap: Gap, unsuited: Sequence[Finding], springs: Set[str], say: Speaker
) -> dict[str, Any]:
    """A gap of a plan; `unsuited` are the stops of parts of the right thickness, `springs` places that get a spring."""
    found, near = decision.outcome.gaps[gap.name], decision.nearest.get(gap.name)
    window, reading = gap.window, gap.reading
    sure = found.verdict == "inside" and reading.basis == "worst case" and not stands_out(found.after, window)
    nearest = None
    if near is not None:
        nearest = {
            "stack": stack_object(decision, near.stack, {}),
            "after": bracket_object(near.after),
            "off": mm(near.off),
        }
    return {
        "name": gap.name,
        "reading": {**bracket_object(reading.bracket), "basis": reading.basis},
        "window": {**_window(window), "target": mm(window.target), "source": window.source},
        "needed": _span(needed(decision.job, gap)),
        "aim": _span(aimed(decision.job, gap)),
        "after": bracket_object(found.after),
        "verdict": found.verdict,
        "sure": sure and not any(place in springs for place, _ in gap.effects),
        # nobody knows the chance of what may be tight already
        "chance": None if gap.may_be_tight else round(float(found.chance), 9),
        "nearest": nearest,
        "effects": {place: float(effect) for place, effect in gap.effects},
        "unsuited": [
            {"part": stop.part, "piece": stop.piece, "code": stop.code, "words": finding_words(stop, say)}
            for stop in unsuited
        ],
        "reading_detail": _detail(gap, say),
        "decision": _decision(gap),
        "gauge": _gauge(decision.gauges.get(gap.name), decision.remedies, say),
        "heat": _heat(gap, found.after, say),
        "state": dict(gap.state),
    }


def _detail(gap: Gap, say: Speaker) -> dict[str, Any]:
    """How a gap was read; both brackets where both are known; standard uncertainty; terms."""
    reading = gap.reading
    dof = effective_dof(reading.errors)
    worst = reading.worst or (reading.bracket if reading.basis == "worst case" else None)
    return {
        "kind": reading.kind,
        "worst_case": bracket_object(worst),
        "at_95": bracket_object(reading.likely),
        "standard_uncertainty": round(standard_uncertainty(reading.errors) / 1e6, 9),
        "degrees_of_freedom": None if isinf(dof) else round(dof, 2),
        "repeatability": mm(reading.repeats),
        "terms": [_term(term, say) for term in reading.terms],
    }


def _term(term: Term, say: Speaker) -> dict[str, Any]:
    return {
        "code": term.code,
        "name": term.name or None,
        "amount": mm(term.amount),
        "error": mm(term.half),
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


def _decision(gap: Gap) -> dict[str, Any]:
    """What counts as inside, where the best estimate has to come for it, and the guard bands."""
    zone = guarded(gap)
    low, high = zone or (None, None)
    limits = (gap.window.min, gap.window.max)
    guard = [
        None if end is None or limit is None else mm(abs(Fraction(end) - limit))
        for end, limit in zip((low, high), limits, strict=True)
    ]
    return {
        "rule": "sure" if gap.least_chance is None else "chance",
        "chance": None if gap.least_chance is None else float(gap.least_chance),
        "possible": zone is not None,
        "accept": None if zone is None else {"min": mm(low), "max": mm(high)},
        "guard": None if zone is None else {"min": guard[0], "max": guard[1]},
    }


def _gauge(gauge: Gauge | None, tried: Remedies, say: Speaker) -> dict[str, Any] | None:
    """Whether reading and sizes are good enough, with the numbers that say so."""
    if gauge is None:
        return None
    return {
        "good": gauge.good,
        "code": gauge.code,
        "uncertainty": mm(gauge.uncertainty),
        "step": mm(gauge.step),
        "step_in_gap": mm(gauge.moves),
        "reading_that_would_do": mm(gauge.would_do),
        "reading_in_final_assembly": gauge.final,
        "words": f"{shown(gauge.gap)}: {gauge_words(gauge, say, tried)}",
    }


def _heat(gap: Gap, after: Bracket, say: Speaker) -> dict[str, Any] | None:
    """The growth, the clearance hot, and both windows as they were stated."""
    heat = gap.heat
    if heat is None:
        return None
    hot = Bracket(after.low + heat.growth, after.best + heat.growth, after.high + heat.growth)
    cold = gap.cold_window or gap.window
    return {
        "from": heat.cold,
        "to": heat.hot,
        "growth": mm(heat.growth),
        "after_hot": bracket_object(hot),
        "window_hot": None if heat.window is None else _window(heat.window),
        "window_cold": _window(cold),
        "parts": [
            {
                "side": side,
                "material": part.material,
                "coefficient": float(part.coefficient),
                "length": mm(part.length),
                "source": part.source,
            }
            for side, parts in (("housing", heat.housing), ("shaft", heat.shaft))
            for part in parts
        ],
        "words": f"{shown(gap.name)}: {heat_words(gap, heat, after, say)}",
    }


def _window(window: Window) -> dict[str, float | None]:
    # `least` is what counts: 0 for a window of play of which nobody states the smallest clearance
    return {"min": mm(window.stated_min), "max": mm(window.max), "least": mm(window.min)}


def _span(span: Span | None) -> dict[str, float | None] | None:
    if span is None:
        return None
    return {"least": mm(span.least), "most": mm(span.most)}


def stack_object(decision: Decision, stack: Stack, to_buy: Mapping[int, int]) -> list[dict[str, Any]]:
    """A stack, one entry per kind of piece; `to_buy` says how many of each are to be bought."""
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


def why_object(decision: Decision, gaps: Sequence[str], worths: Sequence[ReadingWorth] = ()) -> dict[str, Any]:
    """The accounts as other programs read them; lengths in mm.

    Parameter: worths, what one more reading is worth, of gaps of which that was worked out.
    """
    say = Speaker.of(decision.job, buys=decision.buy)
    again = {worth.gap: worth for worth in worths}
    return {
        "format": 1,
        "title": decision.job.title,
        "lengths_in": "mm",
        "doable": decision.doable,
        "gaps": [_account_object(decision, decision.account(name), say, again.get(name)) for name in gaps],
    }


def _account_object(decision: Decision, account: Account, say: Speaker, worth: ReadingWorth | None) -> dict[str, Any]:
    job = decision.job
    again = None if worth is None else worth_words(worth, say)
    return {
        "name": account.gap.name,
        "stack": [job.stock[i].part.name for i in account.stack],
        "serves_readings": _span(account.serves),
        "could_be": [_rival_object(rival, account, decision) for rival in account.rivals],
        "unsuited": [
            {"part": job.stock[u.line].part.name, "piece": job.stock[u.line].part.piece, "code": u.finding.code}
            for u in account.unsuited
        ],
        "reasons": [
            {"code": reason.code, "names": list(reason.names)}
            for reason in decision.reasons
            if reason.about == account.gap.name
        ],
        "words": [
            {"about": about, "sentences": sentences} for about, sentences in why_answers(decision, account, say, again)
        ],
        "read_again": None if worth is None else _worth_object(worth),
    }


def _worth_object(worth: ReadingWorth) -> dict[str, Any]:
    """Each way on with what it costs on average, each further reading with all that it could tell."""
    best, saves = worth.best_reading, worth.saves
    return {
        "strip_down": float(worth.strip_down),
        "ways": [_way_object(way) for way in worth.ways],
        "readings": [
            {
                "by": one.further.by,
                "step": mm(one.further.step),
                "settles": float(one.further.settles),
                "again": None if one.again is None else float(one.again),
                "cost": None if one.cost is None else float(one.cost),
                "outcomes": [
                    {
                        **bracket_object(told.read),
                        "chance": float(told.share),
                        "sure": told.sure,
                        "way": _way_object(way),
                    }
                    for told, way in zip(one.further.told, one.ways or [None] * len(one.further.told), strict=True)
                ],
            }
            for one in worth.readings
        ],
        "best": None if best is None else {"by": best.further.by, "step": mm(best.further.step), "saves": float(saves)},
        "not_priced": worth.not_priced,
    }


def _way_object(way: Way | None) -> dict[str, Any] | None:
    if way is None:
        return None
    return {"way": way.name, "now": float(way.now), "again": float(way.again), "cost": float(way.cost)}


def _rival_object(rival: Rival, account: Account, decision: Decision) -> dict[str, Any]:
    parts = decision.job.stock
    return {
        "stack": [{"part": parts[i].part.name, "piece": parts[i].part.piece} for i in rival.stack],
        "plan": rival.stack == account.stack,
        "thickness": bracket_object(rival.thickness),
        "after": bracket_object(rival.after),
        "verdict": rival.verdict,
        "off": mm(rival.off),
        "used_by": list(rival.used_by),
        "worse_at": rival.level,
    }
