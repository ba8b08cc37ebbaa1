"""Places that balances or gaps tie, taken as one: a column for every combination of their options that is left.

What such a column comes to is worked out exactly, so that no helpers are needed, and relaxations mix whole choices of a
cluster: far tighter than rows that tie one place's columns to another's. Clusters then share nothing but the drawer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import prod

import numpy as np
import numpy.typing as npt

from shimopt.choose.combinations import Block, Combined
from shimopt.choose.whole_model import Aim, Helper, Model
from shimopt.proof.rows import Row
from shimopt.proof.sums import Wholes

__all__ = ["Joint", "joint_of"]

# beyond so many combinations there would be more to look at than is won
_MOST = 300_000
_MOST_LEFT = 100_000
# what only all places together come to
_OF_ALL = ("bought", "unpriced", "cost")


class Joint:
    """A model's choices with a group of columns for every cluster.

    `blocks` are the clusters with the combinations left; `groups` the numbers of their columns; `helpers` and `rows`
    what they share, purchases and stock; `levels` holds the terms of every level.
    """

    def __init__(self, model: Model, blocks: Sequence[Block], shares: Mapping[str, Sequence[Wholes]]) -> None:
        self.model, self.blocks = model, blocks
        starts = np.cumsum([0, *(len(block.columns) for block in blocks)]).tolist()
        self.groups = [range(a, b) for a, b in pairwise(starts)]
        self.helpers: Sequence[Helper] = model.helpers[: model.shared_helpers]
        self.first = starts[-1]
        self.rows = [Row(self.terms(row.terms), row.limit) for row in model.rows[: model.shared_rows]]
        self.levels = {level: _terms(np.concatenate(of)) for level, of in shares.items()}
        for level, terms in model.levels.items():
            if level not in self.levels:
                self.levels[level] = self.terms(terms)

    @property
    def sizes(self) -> Sequence[int]:
        """By column, how thick its stacks are together."""
        sizes = np.array(self.model.sizes, np.int64)
        return [size for block in self.blocks for size in sizes[block.columns].sum(axis=1).tolist()]

    def terms(self, terms: Mapping[int, int]) -> dict[int, int]:
        """Terms of the model's columns and purchases as terms of combinations."""
        many = len(self.model.columns)
        of_column = np.zeros(many, np.int64)
        for at, factor in terms.items():
            if at < many:
                of_column[at] = factor
        found = _terms(np.concatenate([of_column[block.columns].sum(axis=1) for block in self.blocks]))
        return found | {self.first + at - many: factor for at, factor in terms.items() if at >= many}

    def chosen(self, picked: Sequence[int]) -> tuple[int, ...]:
        """The model's columns that these combinations hold, one for each cluster."""
        found = [0] * len(self.model.groups)
        for block, group, at in zip(self.blocks, self.groups, picked, strict=True):
            for place, column in zip(block.groups, block.columns[at - group.start].tolist(), strict=True):
                found[place] = column
        return tuple(found)

    def picked(self, chosen: Sequence[int]) -> tuple[int, ...]:
        """The combinations that hold these columns of the model. Raises ValueError where there is none."""
        found = []
        for block, group in zip(self.blocks, self.groups, strict=True):
            here = (block.columns == [chosen[at] for at in block.groups]).all(axis=1)
            if not here.any():
                raise ValueError("no such combination")
            found.append(group.start + int(np.argmax(here)))
        return tuple(found)

    def left(self, alive: Sequence[Sequence[int]]) -> list[list[int]]:
        """By place, the model's columns that these combinations hold."""
        found: list[list[int]] = [[] for _ in self.model.groups]
        for block in self.blocks_left(alive):
            for place, columns in zip(block.groups, block.columns.T, strict=True):
                found[place] = np.unique(columns).tolist()
        return found

    def only(self, alive: Sequence[Sequence[int]], kept: Mapping[int, Sequence[int]]) -> list[list[int]]:
        """The combinations left that have some of these of the model's columns at these places."""
        found = []
        for block, group, columns in zip(self.blocks, self.groups, alive, strict=True):
            here = np.array(columns)
            for at, place in enumerate(block.groups):
                if place in kept:
                    here = here[np.isin(block.columns[here - group.start, at], kept[place])]
            found.append(here.tolist())
        return found

    def blocks_left(self, alive: Sequence[Sequence[int]]) -> list[Block]:
        """The clusters with these combinations only."""
        return [
            Block(block.groups, block.columns[np.array(columns) - group.start])
            for block, group, columns in zip(self.blocks, self.groups, alive, strict=True)
        ]


def joint_of(
    model: Model, alive: Sequence[Sequence[int]], held: Sequence[tuple[str, int]], aim: Aim, chosen: Sequence[int]
) -> Joint | None:
    """The combinations of the columns left; None where nothing is tied, or they are too many.

    Parameters: held, levels that may not be above these values; aim, the order of all levels and of places; chosen, a
    choice that keeps to what is held: its combinations are not left out.
    """
    clusters = model.clusters()
    if len(clusters) == len(model.groups) or sum(prod(len(alive[at]) for at in here) for here in clusters) > _MOST:
        return None
    blocks = [_block(model, here, alive) for here in clusters]
    names = [level for level in model.levels if level not in _OF_ALL]
    shares = {level: [Combined(model, b.groups, b.columns).values(level) for b in blocks] for level in names}
    if any(share.dtype == object for of in shares.values() for share in of):
        return None
    kept = [np.ones(len(block.columns), bool) for block in blocks]
    for level, value in held:
        if level in shares:
            least = [int(share[k].min()) for share, k in zip(shares[level], kept, strict=True)]
            room = value - sum(least)
            kept = [k & (share - low <= room) for share, low, k in zip(shares[level], least, kept, strict=True)]
    above = [level for level, _ in held if level in shares]
    levels = [level for level in aim.levels if level in shares and level not in above]
    for at, block in enumerate(blocks):
        alike, better = ([shares[level][at] for level in names] for names in (above, levels))
        ranks = _ranks(model, block, aim.places)
        kept[at] = _unbeaten(block.uses(model, _lines(model, block)), kept[at], alike, [*better, *ranks])
        kept[at] |= (block.columns == [chosen[group] for group in block.groups]).all(axis=1)
    if sum(int(k.sum()) for k in kept) > _MOST_LEFT:
        return None
    blocks = [Block(b.groups, b.columns[k]) for b, k in zip(blocks, kept, strict=True)]
    return Joint(model, blocks, {n: [s[k] for s, k in zip(of, kept, strict=True)] for n, of in shares.items()})


def _unbeaten(
    uses: Wholes, kept: npt.NDArray[np.bool_], above: Sequence[Wholes], better: Sequence[Wholes]
) -> npt.NDArray[np.bool_]:
    """Of combinations alike in what they take and in what they add to the levels held, the one that comes first.

    Nothing else ties them to other clusters: a choice with another of them is better with this one. Parameters: better,
    what they add to the levels to come, then how early their stacks come in natural order, one after another.
    """
    at = np.flatnonzero(kept)
    alike = np.column_stack([uses[at], *(share[at] for share in above)])
    order = np.lexsort([key[at] for key in reversed(better)] + list(alike.T[::-1]))
    first = np.ones(len(order), bool)
    first[1:] = (alike[order][1:] != alike[order][:-1]).any(axis=1)
    found = np.zeros(len(kept), bool)
    found[at[order[first]]] = True
    return found


def _ranks(model: Model, block: Block, places: Sequence[int]) -> list[Wholes]:
    """How early each combination's stacks come in natural order, first at the place that is settled first."""
    found = []
    for place in places:
        if place in block.groups:
            column = block.columns[:, block.groups.index(place)]
            options, which = np.unique(column, return_inverse=True)
            in_order = sorted(range(len(options)), key=lambda at: model.columns[int(options[at])].stack)
            found.append(np.argsort(in_order)[which.ravel()])
    return found


def _lines(model: Model, block: Block) -> list[int]:
    """The stock lines that some of these combinations take."""
    return sorted({i for c in np.unique(block.columns).tolist() for i in model.columns[c].stack})


def _block(model: Model, groups: Sequence[int], alive: Sequence[Sequence[int]]) -> Block:
    """All combinations for which there are pieces enough and that keep to what ties these groups."""
    columns = np.stack(np.meshgrid(*(alive[at] for at in groups), indexing="ij"), axis=-1).reshape(-1, len(groups))
    block = Block(tuple(groups), columns.astype(np.int64))
    lines = _lines(model, block)
    there = np.array([min(model.supply[i], 1 << 40) for i in lines], np.int64)
    fits = (block.uses(model, lines) <= there).all(axis=1) & _keeps_ties(model, block)
    return Block(block.groups, block.columns[fits])


def _keeps_ties(model: Model, block: Block) -> npt.NDArray[np.bool_]:
    here = set(block.groups)
    short = any(model.columns[model.groups[at][0]].share.get("short") for at in here)
    if not short and not any(here & set(groups) for groups in model.ties.equal):
        return np.ones(len(block.columns), bool)
    # all others as they are
    row = [group[0] for group in model.groups]
    keeps = []
    for columns in block.columns.tolist():
        for at, c in zip(block.groups, columns, strict=True):
            row[at] = c
        keeps.append(model.keeps_ties(row))
    return np.array(keeps, bool)


def _terms(shares: Wholes) -> dict[int, int]:
    at = np.flatnonzero(shares)
    return dict(zip(at.tolist(), shares[at].tolist(), strict=True))
