"""Places that balances or gaps tie, taken as one: a column for every combination of their options that is left.

What such a column comes to is worked out exactly, so that no helpers are needed, and relaxations mix whole choices of a
cluster: far tighter than rows that tie one place's columns to another's. Clusters then share nothing but the drawer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, product
from math import prod

import numpy as np
import numpy.typing as npt

from shimopt.choose.beginnings import Limits
from shimopt.choose.combinations import OF_ALL, Block, Combined
from shimopt.choose.equal_packs import blocks_of, keeping_ties
from shimopt.choose.place_by_place import kept_combinations
from shimopt.choose.unbeaten import unbeaten
from shimopt.choose.whole_model import Aim, Helper, Model
from shimopt.proof.exact_bounds import Wholes
from shimopt.proof.layers import TooManyLeftError
from shimopt.proof.rows import Row

# beyond so many combinations there would be more to look at than is won
_MOST = 300_000
# so few are listed as they stand: to rule some out would be more work
_FEW = 64
_MOST_LISTED, _MOST_LEFT = 3_000_000, 200_000


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
            for place, columns in zip(block.groups, block.columns.T.tolist(), strict=True):
                found[place] = sorted({*columns})
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
    model: Model,
    alive: Sequence[Sequence[int]],
    limits: Mapping[str, int],
    aim: Aim,
    chosen: Sequence[int],
    listed: Sequence[Block] | None = None,
) -> Joint:
    """The combinations of the columns left. Raises TooManyLeftError.

    Parameters: limits, values that levels may not be above, in the order in which they were set; aim, the order of all
    levels and of places; chosen, a choice that keeps to the limits: its combinations are not left out; listed, by
    cluster, all that can matter.
    """
    clusters = model.clusters()
    # of places that act together one large block would tell bounds less than many small ones
    if listed is None and max(map(len, clusters), default=0) == 1:
        clusters = _settled_as_one(clusters, alive)
    names = [level for level in aim.levels if level in model.levels and level not in OF_ALL]
    limited = [level for level in names if level in limits]
    out_of_turn = _out_of_turn(limits, names)
    blocks, shares = list[Block](), list[dict[str, Wholes]]()
    # those that can run out, or of which some would have to be bought
    there = {i: min(most, model.job.there[i]) for i, most in model.supply.items()}
    lines = [i for i, most in model.most_taken(alive) if most > there[i]]
    least = [[_least_of_options(model, here, alive, level) for level in limited] for here in clusters]
    rooms, many = _Rooms({level: limits[level] for level in limited}, least), 0
    for at, here in enumerate(clusters):
        room = rooms.of(at)
        block = _kept(model, here, alive, room) if listed is None else listed[at]
        block = Block(block.groups, block.columns[keeping_ties(model, block.groups, block.columns)])
        share = Combined(model, block.groups, block.columns).all_values(names)
        if any(of.dtype == object for of in share.values()):
            raise TooManyLeftError
        blocks.append(block)
        shares.append(share)
        _only(blocks, shares, at, _within(share, room))
        rooms.now(at, [int(shares[at][level].min()) for level in limited])
        many += len(blocks[at].columns)
        if many > _MOST_LISTED:
            raise TooManyLeftError
    for at, (block, share) in enumerate(zip(blocks, shares, strict=True)):
        if len(block.columns) == 1:
            continue
        within = np.flatnonzero(_within(share, rooms.of(at)))
        ranks = [rank[within] for rank in _ranks(model, block, aim.places)]
        kept = np.zeros(len(block.columns), bool)
        # what is held out of its turn runs out as a line of stock does
        uses = np.column_stack([block.uses(model, lines), *(share[level] for level in out_of_turn)])
        kept[within] = unbeaten(uses[within], [*(of[within] for of in share.values()), *ranks])
        _only(blocks, shares, at, kept | (block.columns == [chosen[group] for group in block.groups]).all(axis=1))
    if sum(len(block.columns) for block in blocks) > _MOST_LEFT:
        raise TooManyLeftError
    return Joint(model, blocks, {level: [of[level] for of in shares] for level in names})


def _settled_as_one(clusters: Sequence[list[int]], alive: Sequence[Sequence[int]]) -> list[list[int]]:
    """The clusters, all of which one combination is left taken as one: to look at each would be most of the work."""
    open_ones = [here for here in clusters if any(len(alive[at]) > 1 for at in here)]
    settled = sorted({*range(len(alive))}.difference(*open_ones))
    return [*open_ones, settled] if settled else open_ones


def _out_of_turn(limits: Mapping[str, int], order: Sequence[str]) -> list[str]:
    """Levels that were limited before all that stand above them: what is better above may break these limits."""
    held = [level for level in limits if level in order]
    return [level for at, level in enumerate(held) if not set(order[: order.index(level)]) <= set(held[:at])]


class _Rooms:
    """What levels may come to in one cluster when all others come to their least."""

    def __init__(self, limits: Mapping[str, int], least: list[list[int]]) -> None:
        self.limits, self.least = limits, least
        self.sums = [sum(of) for of in zip(*least, strict=True)]

    def of(self, at: int) -> dict[str, int]:
        """By level."""
        named = zip(self.limits.items(), self.sums, self.least[at], strict=True)
        return {level: most - total + own for (level, most), total, own in named}

    def now(self, at: int, least: list[int]) -> None:
        """From here on a cluster comes to so much at least."""
        self.sums = [total - old + new for total, old, new in zip(self.sums, self.least[at], least, strict=True)]
        self.least[at] = least


def _within(share: Mapping[str, Wholes], room: Mapping[str, int]) -> npt.NDArray[np.bool_]:
    """Which combinations come to no more than there is room for."""
    found = [share[level] <= most for level, most in room.items()]
    return np.logical_and.reduce(found) if found else np.ones(len(next(iter(share.values()))), bool)


def _only(blocks: list[Block], shares: list[dict[str, Wholes]], at: int, kept: npt.NDArray[np.bool_]) -> None:
    blocks[at] = Block(blocks[at].groups, blocks[at].columns[kept])
    shares[at] = {level: of[kept] for level, of in shares[at].items()}


def _least_of_options(model: Model, groups: Sequence[int], alive: Sequence[Sequence[int]], level: str) -> int:
    """What these groups come to at least at a level, gaps and balances that tie them left aside."""
    return sum(min(model.columns[c].share.get(level, 0) for c in alive[at]) for at in groups)


def _kept(
    model: Model,
    groups: Sequence[int],
    alive: Sequence[Sequence[int]],
    limits: Mapping[str, int],
) -> Block:
    """The combinations of a cluster within limits. Raises TooManyLeftError."""
    here = [alive[at] for at in groups]
    if len(groups) == 1 or prod(map(len, here)) <= _FEW:
        return Block(tuple(groups), np.array([*product(*here)], np.int64))
    return kept_combinations(model, blocks_of(model, here, groups), Limits(limits), _MOST)


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


def _terms(shares: Wholes) -> dict[int, int]:
    at = np.flatnonzero(shares)
    return dict(zip(at.tolist(), shares[at].tolist(), strict=True))
