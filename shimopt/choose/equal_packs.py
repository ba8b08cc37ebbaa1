"""Places one by one, but those of equal packs together: a pack of one goes with the like pieces in the others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from itertools import product

import numpy as np
import numpy.typing as npt

from shimopt.choose.combinations import Block, Combined
from shimopt.choose.whole_model import Model
from shimopt.proof.exact_bounds import Wholes


def blocks_of(model: Model, alive: Sequence[Sequence[int]], groups: Sequence[int] | None = None) -> list[Block]:
    """Every group by itself, with these columns, but those of equal packs together: each pack of one with its like.

    Parameter: groups, their numbers where they are not all.
    """
    left = dict(zip(range(len(alive)) if groups is None else groups, alive, strict=True))
    found = list[Block]()
    for tied in model.ties.equal:
        if left.keys() >= set(tied):
            found.append(_alike(model, tied, [left.pop(at) for at in tied]))
    return found + [Block((at,), np.array(columns, np.int64)[:, None]) for at, columns in left.items()]


def _alike(model: Model, groups: tuple[int, ...], alive: Sequence[Sequence[int]]) -> Block:
    """What equal packs may hold together: the like pieces, or all what is in them now."""
    packs = [defaultdict[tuple[tuple[str, Fraction], ...], list[int]](list) for _ in groups]
    for by_pieces, columns in zip(packs, alive, strict=True):
        for column in columns:
            by_pieces[model.pieces(column)].append(column)
    rows = {row for pieces in packs[0] for row in product(*(by_pieces.get(pieces, ()) for by_pieces in packs))}
    stay = tuple(model.groups[at].start for at in groups)
    if all(column in columns for column, columns in zip(stay, alive, strict=True)):
        rows.add(stay)
    return Block(groups, np.array(sorted(rows), np.int64).reshape(len(rows), len(groups)))


def keeping_ties(model: Model, groups: Sequence[int], columns: Wholes) -> npt.NDArray[np.bool_]:
    """Which combinations of columns of these groups, of whole clusters, keep to all that groups share besides gaps and
    stock.
    """
    at, keeps = {group: number for number, group in enumerate(groups)}, Combined(model, groups, columns).worth_it()
    first = np.array([group.start for group in model.groups], np.int64)
    for tied in model.ties.equal:
        if at.keys() >= set(tied):
            here = columns[:, [at[group] for group in tied]]
            options, which = np.unique(here, return_inverse=True)
            numbers: dict[tuple[tuple[str, Fraction], ...], int] = {}
            packs = np.array([numbers.setdefault(model.pieces(c), len(numbers)) for c in options.tolist()], np.int64)
            packs = packs[which].reshape(here.shape)
            keeps &= (packs == packs[:, :1]).all(axis=1) | (here == first[list(tied)]).all(axis=1)
    for tied in model.ties.together:
        stays = [model.columns[first[group]] for group in tied]
        if at.keys() >= set(tied) and any(option.share.get("short") for option in stays):
            here = columns[:, [at[group] for group in tied]]
            short = np.array([bool(option.share.get("short")) for option in model.columns])
            keeps &= ~short[here].any(axis=1) | (here == first[list(tied)]).all(axis=1)
    return keeps
