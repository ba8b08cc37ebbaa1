"""What a shop's history tells as JSON: keys are only ever added."""

from __future__ import annotations

from typing import Any

from shimopt.learning.gauge_pairs import GaugeKnown
from shimopt.learning.history import History
from shimopt.learning.supplier_sizes import SizeOf, Spread
from shimopt.learning.visits import Needs, Outcomes, outcomes_by
from shimopt.learning.wear import Estimate, Wear
from shimopt.render.json.results_json import mm


def history_object(history: History) -> dict[str, Any]:
    """`suppliers` with their sizes, `gauges`, and what named neither."""
    return {
        "format": 1,
        "lengths_in": "mm",
        "suppliers": [_size(size) for size in history.sizes],
        "gauges": [_gauge(gauge) for gauge in history.gauges],
        "seats": [_outcomes(one) for one in outcomes_by(history.visits, lambda visit: (visit.seat,))],
        "machines": [_outcomes(one) for one in outcomes_by(history.visits, lambda visit: (visit.machine,))],
        "by_gauge": [_outcomes(one) for one in outcomes_by(history.visits, lambda visit: (visit.gauge,))],
        "by_supplier": [_outcomes(one) for one in outcomes_by(history.visits, lambda visit: visit.suppliers)],
        "wear": [_wear(needs, wear) for needs, wear in history.wear],
        "left_out": {
            "pieces": [piece.name for piece in history.nameless],
            "unmarked": [piece.name for piece in history.unmarked],
            "readings": [one.pair.name for one in history.nameless_pairs],
            "records": list(dict.fromkeys(f"{visit.job}, {visit.date}" for visit in history.visits if visit.no_day)),
        },
    }


# a table of all visits, as CSV or parquet: its columns
VISIT_COLUMNS = (
    *("machine", "job", "gap", "seat", "date", "gauge", "predicted_low_mm", "predicted_high_mm", "found_low_mm"),
    *("found_high_mm", "min_mm", "max_mm", "fitted", "as_predicted", "outside_mm", "opened_again"),
    "suppliers",
)


def visit_rows(history: History) -> list[dict[str, Any]]:
    """Every gap in every record, a row each; what nobody read is empty."""
    rows = []
    for visit in history.visits:
        found = visit.found
        cells = (
            *(visit.machine, visit.job, visit.gap, visit.seat, visit.date, visit.gauge),
            *(mm(visit.predicted.low), mm(visit.predicted.high)),
            *(None if found is None else mm(found.low), None if found is None else mm(found.high)),
            *(mm(visit.window.min), mm(visit.window.max)),
            *(str(visit.fitted).lower(), "" if found is None else str(visit.as_predicted).lower()),
            *(None if found is None else mm(visit.outside), visit.again),
            "; ".join(visit.suppliers),
        )
        rows.append(dict(zip(VISIT_COLUMNS, cells, strict=True)))
    return rows


def _size(size: SizeOf) -> dict[str, Any]:
    return {
        "supplier": size.supplier,
        "marked": mm(size.marked),
        "printed": {"low": mm(size.printed.low), "high": mm(size.printed.high)},
        "pieces": len(size.pieces),
        "set_aside": [{"name": piece.name, "measured": mm(piece.thickness)} for piece in size.aside],
        "mean": _spread(size.mean),
        "runs_off": mm(size.runs_off),
        "next_lot": _spread(size.next_lot),
        "closer_than_printed": size.knows_next_lot,
        "lot_deviation": mm(size.lot_spread),
        "piece_deviation": mm(size.piece_spread),
        "more_lots": size.more_lots,
        "lots": [
            {
                "lot": lot,
                "pieces": count,
                "next_piece": _spread(size.of_lot.get(lot)),
                "closer_than_printed": size.knows(lot),
                "more_pieces": size.more_of_lot.get(lot),
            }
            for lot, count in sorted(size.lots.items())
        ],
    }


def _spread(known: Spread | None) -> dict[str, Any] | None:
    if known is None:
        return None
    ends = {"low": mm(known.low), "best": mm(known.mean), "high": mm(known.high)}
    return {**ends, "standard_deviation": mm(known.deviation)}


def _gauge(gauge: GaugeKnown) -> dict[str, Any]:
    known = gauge.known
    return {
        "gauge": gauge.gauge,
        "pairs": known.pairs,
        "read_the_same": known.same,
        "of_records": gauge.recorded,
        "standard_deviation": mm(round(known.middle)) if gauge.enough else None,
        "low": mm(round(known.low)) if known.shows else None,
        "high": mm(round(known.high)),
        "slips": [pair.name for pair in known.wild],
    }


def _outcomes(outcomes: Outcomes) -> dict[str, Any]:
    read = outcomes.read
    return {
        "name": outcomes.name,
        "fitted": len(outcomes.fitted),
        "read": len(read),
        "as_predicted": sum(bool(visit.as_predicted) for visit in read),
        "found_larger": _estimate(outcomes.off),
        "slips": [{"job": visit.job, "gap": visit.gap, "date": visit.date} for visit in read if visit.slipped],
        "far_off": [{"job": visit.job, "gap": visit.gap, "date": visit.date} for visit in outcomes.far],
        "came_back": [
            {
                "machine": visit.machine,
                "gap": visit.gap,
                "date": visit.date,
                "outside": mm(visit.outside),
                "opened_again": visit.again or None,
                "outside_later": None if visit.later is None else {"date": visit.later[0], "by": mm(visit.later[1])},
            }
            for visit in outcomes.came_back
        ],
    }


def _wear(needs: Needs, wear: Wear) -> dict[str, Any]:
    return {
        "machine": needs.machine,
        "gap": needs.gap,
        "place": needs.place,
        "readings": [{"date": reading.date, "without_shims": mm(reading.value)} for reading in wear.readings],
        "a_year": _estimate(wear.a_year),
        "shows": wear.shows,
        "scatters": wear.scatters,
        "next_date": wear.next_date,
        "next": _estimate(wear.next),
        "target": mm(needs.window.target),
        "held": mm(needs.held),
        "left_out": [{"date": day, "why": why.name.lower()} for day, why in needs.left_out],
    }


def _estimate(known: Estimate | None) -> dict[str, Any] | None:
    if known is None:
        return None
    return {"low": mm(round(known.low)), "best": mm(round(known.best)), "high": mm(round(known.high))}
