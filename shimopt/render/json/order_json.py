"""The order as one JSON object. Lengths in mm, exact to the nanometre; keys are only ever added."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job
from shimopt.ordering.after_fitting import after_fitting, still_serving
from shimopt.ordering.after_together import after_together, blade_rows_of, still_serving_together
from shimopt.ordering.cheapest_ways import Way
from shimopt.ordering.demand import Demand
from shimopt.ordering.order_result import LevelProof, Line, Order
from shimopt.ordering.readings_together import Range, Stacks, Table, share_open
from shimopt.ordering.unevenness import unevenness
from shimopt.ordering.unserved_readings import Hole
from shimopt.ordering.unserved_together import open_together
from shimopt.ordering.worth import Option
from shimopt.render.json.results_json import amount, mm
from shimopt.words.hole_words import hole_words
from shimopt.words.money_words import charged_in
from shimopt.words.order_limits_words import assumed_words, caution_lines, not_looked_at, unanswered_words
from shimopt.words.order_words import order_headline, order_reasons
from shimopt.words.speaker import Speaker
from shimopt.words.stock_words import coming_words
from shimopt.words.table_words import open_words
from shimopt.words.worth_words import way_lines


def order_object(order: Order) -> dict[str, Any]:
    """The whole order."""
    unit = order.jobs[0].unit
    say = Speaker(unit, order.stock)
    reasons = order_reasons(order)
    return {
        "format": 1,
        "title": " + ".join(job.title for job in order.jobs),
        "lengths_in": "mm",
        "answer": order_headline(order),
        "sure": order.sure,
        "whole": order.whole,
        "currency": order.market.currency or None,
        "rates": [
            {"currency": name, "rate": float(rate.rate), "source": rate.source or None}
            for name, rate in {name: rate for job in order.jobs for name, rate in job.money.rates.items()}.items()
        ],
        "lines": [_line(order, line) for line in order.lines],
        # beside the order, of what its smallest orders ask for: cards and leftovers count it, and what is `charged`
        "top_up": [
            _line(order, more.line)
            | {
                "may_serve": [
                    *(order.demands[gap].gap.name for gap in more.gaps),
                    *(demand.gap.name for table in more.spare_for for demand in order.tables[table].demands),
                ]
            }
            for more in order.top_up
        ],
        "suppliers": [
            {
                "supplier": bill.supplier.name,
                "goods": amount(bill.goods),
                "top_up": amount(bill.top_up),
                "postage": amount(Fraction(bill.supplier.postage)),
                "total": amount(bill.total),
                "lost": amount(bill.lost),
                "beyond": amount(bill.beyond),
                "or_add": None if bill.reach is None else _line(order, bill.reach),
                "charged": None
                if bill.total is None
                else amount((bill.total + bill.beyond) / Fraction(bill.supplier.rate)),
                "charged_in": charged_in(order, bill.supplier) or None,
            }
            for bill in order.bills
        ],
        "cost": amount(order.cost),
        "cost_filled": amount(order.cost_filled),
        "arrives_in_days": order.arrives_in_days,
        "cards": [_card(order, number) for number in range(len(order.cards))],
        "balances": [
            {
                "name": one.balance.name,
                "job": order.jobs[one.job].title,
                "within": mm(Fraction(one.balance.within or 0)),
                "worst": mm(one.worst),
                "most": None if one.worst is None else mm(one.most),
                "met": one.met,
                # readings at which it is more, or, where it is met by best estimates, may be
                "where": [[_read_of(order.answered[n], *ends) for n, ends in read] for read in one.where],
            }
            for one in unevenness(order)
        ],
        # what keeps them at more readings, where this does not: `--keep-balances` buys it
        "balances_kept_by": None
        if order.balanced is None
        else {
            "cost": amount(order.balanced.cost),
            "proven": order.balanced.proven,
            "lines": [_line(order.balanced, line) for line in order.balanced.lines],
        },
        # where limits leave open what acts together
        "without_limits": None
        if order.unlimited is None
        else {
            "cost": amount(order.unlimited.cost_filled),
            "proven": order.unlimited.proven,
            "whole": order.unlimited.whole,
            "lines": [_line(order.unlimited, line) for line in order.unlimited.lines],
        },
        "tables": [_table(order, table) for table in order.tables],
        "holes": [_hole(order, hole, say) for hole in order.holes],
        "options": [_option(order, option) for option in order.options],
        "ways": [_way(order, way) for way in order.ways],
        "surer": None if order.surer is None else _way(order, order.surer),
        "leftovers": [{**_part(order, left.part), "least": left.least, "most": left.most} for left in order.left],
        "jobs": [_job(order, number) for number in range(len(order.jobs))],
        "levels": [_level(level) for level in order.levels],
        "reasons": [{"about": about, "code": code, "words": words} for about, code, words in reasons],
        "unanswered": [
            {
                "gap": left.gap.name,
                "job": order.jobs[left.job].title,
                "why": left.why,
                "words": unanswered_words(order, left),
            }
            for left in order.unanswered
        ],
        "cautions": [
            {"gap": name, "code": finding.code, "words": words} for name, words, finding in caution_lines(order, say)
        ],
        "not_looked_at": not_looked_at(order),
        "assumed": [*coming_words(order.stock, [job.title for job in order.jobs]), *assumed_words(order)],
    }


def _line(order: Order, line: Line) -> dict[str, Any]:
    return {
        "supplier": line.supplier,
        "part": order.stock[line.part].part.name,
        "packs": line.packs,
        "pieces": line.pieces,
        "pack": line.offer.pack,
        "cost": amount(line.cost),
        "charged": None if line.cost is None else amount(line.cost / Fraction(line.offer.rate)),
        "charged_in": line.offer.charged_in or order.market.currency or None,
        "lead_days": line.offer.lead_days,
    }


def _part(order: Order, line: int) -> dict[str, Any]:
    part = order.stock[line].part
    return {
        "part": part.name,
        "piece": part.piece,
        "measured": mm(part.thickness.best) if part.measured else None,
    }


def _stack(order: Order, stack: Stack) -> list[dict[str, Any]]:
    return [{**_part(order, line), "pieces": count} for line, count in Counter(stack).items()]


def _card(order: Order, number: int) -> dict[str, Any]:
    demand, card = order.demands[number], order.cards[number]
    found: dict[str, Any] = {
        "gap": demand.gap.name,
        "job": order.jobs[demand.job].title,
        "range": {"from": mm(demand.low), "to": mm(demand.high)},
        "uncertainty": {"below": mm(demand.below), "above": mm(demand.above)},
        "bands": [
            {
                "from": mm(band.start),
                "to": mm(band.end),
                "stack": _stack(order, band.stack),
                "stays": bool(demand.place.installed) and band.stack == demand.place.installed,
                "then": _span(after_fitting(demand, band.stack, order.stock, band.start, band.end)),
            }
            for band in card.bands
        ],
    }
    # of these there are not enough for every gap: the card keeps to what is set aside for it
    found["shared"] = [_part(order, line) for line in order.contested.get(number, ())]
    planned = order.planned.get(number)
    # what the plan of today's readings fits, where the card's row for today's best estimate says something else
    found["planned"] = planned and {"stack": _stack(order, planned.stack), "verdict": planned.verdict}
    sign = demand.gap.reading.sign
    # how thick a piece may be found so that all its rows still serve
    found["pieces_from_to"] = [
        _part(order, i) | {"from": mm(thick.low), "to": mm(thick.high)}
        for i, thick in still_serving(demand, card, order.stock).items()
    ]
    if card.rows:
        found["blades"] = [
            {
                "go": mm(row.go),
                "no_go": mm(row.no_go),
                "stack": None if row.stack is None else _stack(order, row.stack),
                "contradicts_today": row.contradicts,
                "then": None
                if row.stack is None
                else _span(after_fitting(demand, row.stack, order.stock, *[sign * (row.go + row.no_go) / 2] * 2)),
            }
            for row in card.rows
        ]
    return found


def _span(ends: tuple[Fraction, Fraction]) -> dict[str, float | None]:
    return {"from": mm(ends[0]), "to": mm(ends[1])}


def _table(order: Order, table: Table) -> dict[str, Any]:
    """Of gaps whose places act together: for which readings of all of them which stacks."""
    job, say = replace(order.jobs[table.job], stock=order.stock), Speaker(order.jobs[0].unit, order.stock)
    found: dict[str, Any] = {
        "job": job.title,
        "gaps": [demand.gap.name for demand in table.demands],
        "rows": [_table_row(order, job, table, box.ranges, box.stacks) for box in table.boxes],
        "not_served": [
            {
                "readings": readings_object(table, one.readings),
                "chance": float(one.chance),
                "words": open_words(order, table, one, say),
            }
            for one in open_together(job, table)
        ],
        # how much of all that may be read, as lengths and pairs of blades
        "share_not_served": float(share_open(table)),
        "pieces_from_to": [
            _part(order, i) | {"from": mm(thick.low), "to": mm(thick.high)}
            for i, thick in still_serving_together(job, table).items()
        ],
    }
    if rows := list(blade_rows_of(table)):
        found["blades"] = [_table_row(order, job, table, readings, stacks) for readings, stacks in rows]
    return found


def _table_row(
    order: Order, job: Job, table: Table, readings: Sequence[Range], stacks: Stacks | None
) -> dict[str, Any]:
    """What is read, what goes in by place and what the gaps then read; None where nothing serves."""
    row: dict[str, Any] = {"readings": readings_object(table, readings)}
    if stacks is None:
        return row | {"stacks": None, "then": None}
    after = after_together(job, table, stacks, readings)
    return row | {
        "stacks": [{"place": name, "stack": _stack(order, stacks[name])} for name in table.places],
        "then": [{"gap": d.gap.name} | _span(ends) for d, ends in zip(table.demands, after, strict=True)],
    }


def readings_object(table: Table, readings: Sequence[Range]) -> list[dict[str, Any]]:
    """What every gap of a table reads, from .. to, and by which blades."""
    return [_read_of(demand, *ends) for demand, ends in zip(table.demands, readings, strict=True)]


def _read_of(demand: Demand, low: Fraction, high: Fraction) -> dict[str, Any]:
    """The readings of a row; where blades tell them all that is nearest to theirs, and the blades."""
    start, end = demand.as_read(low, high) or (low, high)
    pairs = [at for at in demand.pairs if low <= at <= high]
    found: dict[str, Any] = {"gap": demand.gap.name, "from": mm(start), "to": mm(end)}
    if pairs and demand.step is not None:
        ends = sorted(demand.gap.reading.sign * at for at in (pairs[0], pairs[-1]))
        found["blades"] = {"go": mm(ends[0] - demand.step / 2), "no_go": mm(ends[1] + demand.step / 2)}
    return found


def _hole(order: Order, hole: Hole, say: Speaker) -> dict[str, Any]:
    demand = order.demands[hole.gap]
    return {
        "gap": demand.gap.name,
        "job": order.jobs[demand.job].title,
        "from": mm(hole.start),
        "to": mm(hole.end),
        "chance": float(hole.chance),
        "cause": hole.cause,
        "finer": mm(hole.finer),
        "between": None if hole.between is None else [mm(end) for end in hole.between],
        "grind": None if hole.grind is None else order.stock[hole.grind].part.name,
        "words": hole_words(order, hole, say),
    }


def _way(order: Order, way: Way) -> dict[str, object]:
    return {
        "at_least": float(way.at_least),
        "cost": None if way.packs is None else amount(way.cost),
        "chance": None if way.packs is None else float(way.chance),
        "bound": None if way.bound is None else amount(way.bound),
        "proven": way.proven,
        "lines": [_line(order, line) for line in way_lines(order, way)],
    }


def _option(order: Order, option: Option) -> dict[str, Any]:
    return {
        "name": option.name,
        "cost": amount(option.cost),
        "arrives_in_days": option.arrives_in_days,
        "chance": float(option.chance),
        "without": [order.demands[gap].gap.name for gap in option.without],
    }


def _job(order: Order, number: int) -> dict[str, Any]:
    """What is set aside for a job: the part that it plays in the order."""
    aside: Counter[int] = Counter()
    for demand, card in zip(order.demands, order.cards, strict=True):
        if demand.job == number:
            aside += card.most_of
    return {
        "title": order.jobs[number].title,
        "pieces": [{**_part(order, line), "pieces": count} for line, count in sorted(aside.items())],
    }


def _level(level: LevelProof) -> dict[str, Any]:
    value = mm if level.name == "missing" else amount
    return {
        "name": level.name,
        "value": value(level.value),
        "bound": value(level.bound),
        "proven": level.proven,
        "proof": level.proof,
    }
