"""What a shop's history tells as JSON: keys are only ever added."""

from __future__ import annotations

from typing import Any

from shimopt.learning.gauge_pairs import GaugeKnown
from shimopt.learning.history import History
from shimopt.learning.supplier_sizes import SizeOf, Spread
from shimopt.render.json.results_json import mm


def history_object(history: History) -> dict[str, Any]:
    """`suppliers` with their sizes, `gauges`, and what named neither."""
    return {
        "format": 1,
        "lengths_in": "mm",
        "suppliers": [_size(size) for size in history.sizes],
        "gauges": [_gauge(gauge) for gauge in history.gauges],
        "left_out": {
            "pieces": [piece.name for piece in history.nameless],
            "unmarked": [piece.name for piece in history.unmarked],
            "readings": [one.pair.name for one in history.nameless_pairs],
        },
    }


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
