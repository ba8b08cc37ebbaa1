"""A small linear program whose answer is sure: a lower bound that holds exactly, whatever the solver's floats were.

For any prices not above zero on rows `sum of terms <= limit`, every point of the box costs at least

    sum of price × limit  +  per variable its least priced cost within its ends

(weak duality). The prices come from a solver, rounded to fractions with small denominators; mostly that is the optimum
itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

__all__ = ["Bound", "Limit", "sure_least"]

_DENOMINATOR = 10**7


class Limit(NamedTuple):
    """`sum of terms <= limit`."""

    terms: Mapping[str, Fraction]
    limit: Fraction


Bound = tuple[Fraction, Fraction]


def sure_least(cost: Mapping[str, Fraction], limits: Sequence[Limit], box: Mapping[str, Bound]) -> Fraction:
    """A number that the least cost over the box under these limits is surely not below."""
    from shimopt.proof.highs import prices_of_rows  # loaded only where a question comes up that needs it

    at = {name: number for number, name in enumerate(box)}
    rows = [({at[name]: float(factor) for name, factor in row.terms.items()}, float(row.limit)) for row in limits]
    ends = [(float(low), float(high)) for low, high in box.values()]
    found = prices_of_rows([float(cost.get(name, 0)) for name in box], rows, ends)
    prices = [Fraction(0)] * len(limits)
    if found is not None:
        prices = [min(Fraction(0), Fraction(price).limit_denominator(_DENOMINATOR)) for price in found]
    priced = dict.fromkeys(box, Fraction(0)) | dict(cost)
    least = Fraction(0)
    for limit, price in zip(limits, prices, strict=True):
        least += price * limit.limit
        for name, factor in limit.terms.items():
            priced[name] -= price * factor
    return least + sum((min(priced[name] * end for end in ends) for name, ends in box.items()), Fraction(0))
