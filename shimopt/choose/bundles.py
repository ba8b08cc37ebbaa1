"""Options of a place that change its thickness alike, as one yes-or-no variable: what gaps see of them.

Where places act together a place has dozens of stacks of every thickness. A search that settles the thickness first,
and only then which pieces make it, has far less to try than one that looks at every stack by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shimopt.choose.model import Model

__all__ = ["bundles_of", "in_bundles"]

# a variable of its own is worth it where it stands for so many options on average
_WORTH = 2


def bundles_of(model: Model, alive: Sequence[Sequence[int]]) -> list[list[int]]:
    """Options of one place that change its thickness alike, of places where that sums up enough of them."""
    found: list[list[int]] = []
    for group in alive:
        alike: dict[object, list[int]] = {}
        for column in group:
            alike.setdefault(model.columns[column].change, []).append(column)
        if None not in alike and len(group) >= _WORTH * len(alike):
            found += alike.values()
    return found


def in_bundles(terms: Mapping[int, int], bundles: Sequence[Sequence[int]], first: int) -> dict[int, int]:
    """A row's terms with the bundles (variables numbered from `first`) in place of options that it treats alike."""
    left = dict(terms)
    for number, bundle in enumerate(bundles, start=first):
        factors = {terms.get(column, 0) for column in bundle}
        if len(factors) == 1:
            for column in bundle:
                left.pop(column, None)
            if factor := factors.pop():
                left[number] = factor
    return left
