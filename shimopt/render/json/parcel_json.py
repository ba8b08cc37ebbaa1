"""A parcel as one JSON object. Lengths in mm, exact to the nanometre; keys are only ever added."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shimopt.receiving import Held, Lost, Parcel
from shimopt.render.json.order_json import readings_object
from shimopt.render.json.results_json import amount, bracket_object, finding_object, mm
from shimopt.words.order_limits_words import unanswered_words
from shimopt.words.parcel_words import again_words, lost_words, parcel_headline
from shimopt.words.speaker import Speaker


def parcel_object(parcel: Parcel, accepted: Sequence[Mapping[str, str]] | None) -> dict[str, Any]:
    """The whole answer; `accepted` are the rows put into the drawer, None where nothing was to be put there."""
    say = Speaker(parcel.jobs[0].unit, parcel.stock)
    return {
        "format": 1,
        "title": " + ".join(job.title for job in parcel.jobs),
        "lengths_in": "mm",
        "answer": parcel_headline(parcel),
        "ordered_by": parcel.asked.file or None,
        "complete": parcel.complete,
        "enough": parcel.enough,
        "whole": parcel.whole,
        "card_holds": parcel.card_holds,
        "gone_from_drawer": dict(parcel.gone),
        "ordered": [_asked(parcel, number) for number in range(len(parcel.asked.lines))],
        "pieces": [_held(parcel, one, say) for one in parcel.held],
        "not_served": [_lost(parcel, lost, say) for lost in parcel.lost],
        "not_served_together": [
            {
                "job": parcel.now.jobs[one.table.job].title,
                "readings": readings_object(one.table, one.open.readings),
                "chance": float(one.open.chance),
            }
            for one in parcel.together
        ],
        "not_answered": [
            {"gap": left.gap.name, "job": parcel.now.jobs[left.job].title, "words": unanswered_words(parcel.now, left)}
            for left in parcel.left
        ],
        "again": _again(parcel),
        "not_read": list(parcel.not_read),
        "accepted": None if accepted is None else [dict(row) for row in accepted],
    }


def _asked(parcel: Parcel, number: int) -> dict[str, Any]:
    line, found = parcel.asked.lines[number], parcel.came_of(number)
    return {
        "supplier": line.supplier,
        "part": parcel.stock[line.part].part.name,
        "pieces": line.pieces,
        "as_ordered": found["as ordered"],
        "stand_in": found["stands in"],
        "wrong": found["wrong"],
        "missing": found["missing"],
    }


def _held(parcel: Parcel, one: Held, say: Speaker) -> dict[str, Any]:
    piece = one.checked.piece
    findings = {id(f): f for answer in one.checked.seats.values() for f in answer.findings}
    return {
        "part": piece.part.name,
        "piece": piece.part.piece,
        "row": piece.row,
        "pieces": one.pieces,
        "kind": one.kind,
        "ordered_as": None if one.line is None else parcel.stock[parcel.asked.lines[one.line].part].part.name,
        "measured": bracket_object(piece.part.thickness) if piece.spots else None,
        "as_labelled": one.checked.as_labelled,
        "seats": {name: answer.verdict for name, answer in one.checked.seats.items() if name},
        "fits": one.fits,
        "there_already": (piece.part.name, piece.part.piece) in parcel.there_already,
        "findings": [finding_object(finding, say) for finding in findings.values()],
    }


def _lost(parcel: Parcel, lost: Lost, say: Speaker) -> dict[str, Any]:
    demand = parcel.now.demands[lost.gap]
    return {
        "gap": demand.gap.name,
        "job": parcel.now.jobs[demand.job].title,
        "from": mm(lost.start),
        "to": mm(lost.end),
        "chance": float(lost.chance),
        "words": lost_words(parcel, lost, say),
    }


def _again(parcel: Parcel) -> dict[str, Any] | None:
    """The order that would make it enough; None where it is."""
    if parcel.again is None:
        return None
    order = parcel.again.order
    return {
        "whole": parcel.again.whole,
        "lines": [
            {
                "supplier": line.supplier,
                "part": order.stock[line.part].part.name,
                "packs": line.packs,
                "pieces": line.pieces,
                "cost": amount(line.cost),
            }
            for line in order.lines
        ],
        "cost": amount(order.cost),
        "currency": order.market.currency or None,
        "words": again_words(parcel),
    }
