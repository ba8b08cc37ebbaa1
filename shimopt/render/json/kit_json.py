"""The drawer to keep as JSON: keys are only ever added."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from shimopt.learning.kit_budget import Budget
from shimopt.render.json.results_json import mm
from shimopt.words.kit_words import KitAnswer


def kit_object(answer: KitAnswer) -> dict[str, Any]:
    """`kit`, what is `served` of `jobs` and the `bound` of that, what to `buy`, and what other drawers would serve."""
    found = answer.found
    return {
        "format": 1,
        "lengths_in": "mm",
        "jobs": found.jobs,
        "budget": _budget(found.budget),
        "kit": [{"part": line.line.part.name, "pieces": line.pieces} for line in answer.lines if line.pieces],
        "rows": [
            {
                "part": row.part.name,
                "thickness": mm(row.part.thickness.best),
                "measured": row.part.measured,
                "pieces": pieces,
                "on_hand": there,
            }
            for line in answer.lines
            for row, pieces, there in line.rows
            if pieces or there
        ],
        "taken_as_exact": {"part_sizes": {"count": answer.exact, "of": len(answer.parts)}},
        "served": round(found.served, 6),
        "give_or_take": round(found.error, 6),
        "bound": round(found.bound, 6),
        "bound_exact": found.exact,
        "by_use": round(found.by_use, 6),
        "equal_counts": round(found.equally, 6),
        "gain": round(found.gain, 6),
        "buy": [
            {
                "part": line.line.part.name,
                "packs": line.packs,
                "pieces": line.brought,
                "supplier": line.offer.supplier if line.offer else "",
                "cost": _number(line.cost),
            }
            for line in answer.lines
            if line.packs
        ],
        "currency": answer.currency,
        "postage": {supplier: _number(cost) for supplier, cost in answer.postage.items()},
        "readings": sum(need.not_counted is None for need in found.needs),
        "need_nothing": sum(need.needs_nothing for need in found.needs),
        "never_served": [need.name for need in found.never],
        "not_counted": [
            {"name": need.name, "why": str(need.not_counted)} for need in found.needs if need.not_counted is not None
        ],
        "curve": [{"budget": _budget(budget), "served": round(served, 6)} for budget, served in found.curve],
        "other_sizes": {
            "finer": {"sizes": [mm(size) for size in answer.finer.sizes], "more_served": round(answer.finer.more, 6)},
            "thicker": {"sizes": [mm(size) for size in answer.wider.sizes], "more_served": round(answer.wider.more, 6)},
        },
    }


def _budget(budget: Budget) -> dict[str, Any]:
    return {"pieces": budget.pieces, "money": _number(budget.money)}


def _number(amount: Decimal | None) -> float | None:
    return None if amount is None else float(amount)
