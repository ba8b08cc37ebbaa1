"""The order as a flat whole-number model in scipy's HiGHS: one column per gap and stack, every stretch covered."""

from __future__ import annotations

from collections import Counter, defaultdict
from fractions import Fraction
from itertools import combinations_with_replacement

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from shimopt.job import Job
from tests.order_brute_force import every_corner_inside, readings

__all__ = ["cheapest_whole_cover"]


def cheapest_whole_cover(job: Job) -> Fraction | None:
    """The least cost at which every gap is wholly covered; None where that cannot be. All offers need a price."""
    names: list[object] = []
    rows: list[tuple[dict[object, float], float]] = []  # sum >= limit
    cost: dict[object, float] = {}
    ever = sum(place.most_pieces for place in job.places)
    takes: defaultdict[int, list[object]] = defaultdict(list)
    for gap, place in enumerate(job.places):
        stacks = [
            s
            for n in range(place.most_pieces + 1)
            for s in combinations_with_replacement(range(len(job.stock)), n)
            if not s or place.seat is None or place.seat.shims_allowed
        ]
        points = readings(job, gap)
        middles = points[1::2] or points
        serving: dict[object, list[int]] = {}
        for stack in stacks:
            serves = [n for n, at in enumerate(middles) if every_corner_inside(job, gap, at, stack)]
            if serves:
                serving["fit", gap, stack] = serves
        for n in range(len(middles)):
            rows.append(({key: 1.0 for key, serves in serving.items() if n in serves}, 1.0))
        for line in range(len(job.stock)):
            aside = ("aside", gap, line)
            takes[line].append(aside)
            for key in serving:
                count = Counter(key[2])[line]  # type: ignore[index]
                if count:
                    rows.append(({aside: 1.0, key: -float(count)}, 0.0))
        names += serving
    for line, entry in enumerate(job.stock):
        row: dict[object, float] = dict.fromkeys(takes[line], -1.0)
        for n, offer in enumerate(entry.offers):
            packs, used = ("packs", line, n), ("used", offer.supplier)
            row[packs] = float(offer.pack)
            rows.append(({used: float(ever), packs: -1.0}, 0.0))
        rows.append((row, -float(entry.on_hand)))
    for supplier in job.suppliers:
        used, top_up = ("used", supplier.name), ("top up", supplier.name)
        cost[used], cost[top_up] = float(supplier.postage), 1.0
        goods: dict[object, float] = {top_up: 1.0, used: -float(supplier.smallest_order)}
        for line, entry in enumerate(job.stock):
            for n, offer in enumerate(entry.offers):
                if offer.supplier == supplier.name:
                    assert offer.price is not None
                    cost["packs", line, n] = goods["packs", line, n] = float(offer.price)
        rows.append((goods, 0.0))
    every = list(dict.fromkeys([*names, *(key for row, _ in rows for key in row), *cost]))
    at = {key: n for n, key in enumerate(every)}
    matrix = np.zeros((len(rows), len(every)))
    for n, (terms, _) in enumerate(rows):
        for key, factor in terms.items():
            matrix[n, at[key]] = factor
    whole = np.array([0 if isinstance(key, tuple) and key[0] == "top up" else 1 for key in every])
    highs = np.array([1.0 if isinstance(key, tuple) and key[0] in ("fit", "used") else np.inf for key in every])
    found = milp(
        np.array([cost.get(key, 0.0) for key in every]),
        integrality=whole,
        bounds=Bounds(0, highs),
        constraints=[LinearConstraint(matrix, [limit for _, limit in rows], np.inf)],
    )
    return None if found.status == 2 else Fraction(round(found.fun * 100), 100)
