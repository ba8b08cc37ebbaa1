"""All combinations of some places that keep to limits, built up place after place in whole numbers.

What the places still to come can add to each gap at least and at most is known: a beginning that must come to more at
a level than it may, whatever comes, or for which there are no pieces, goes at once (`beginnings`). No relaxation is
asked, and nothing that keeps to the limits is left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shimopt.choose.beginnings import Added, Beginnings, Limits
from shimopt.choose.combinations import Block, Combined
from shimopt.choose.coupling import Linked
from shimopt.choose.whole_model import Model
from shimopt.proof.exact_bounds import Wholes
from shimopt.proof.layers import TooManyLeftError, first_of_alike

# so many times as many beginnings may there be before alike ones are merged
_AT_ONCE = 20


def kept_combinations(
    model: Model,
    blocks: Sequence[Block],
    limits: Limits,
    most: int | None = None,
    lines: Sequence[int] | None = None,
) -> Block:
    """The combinations of a row of each block for which there are pieces, less those that surely break a limit.

    Limits of balances and of purchases rule nothing out. Parameters: most, how many may be kept; TooManyLeftError is
    raised beyond that.
    """
    here = {group for block in blocks for group in block.groups}
    gaps = [gap for gap in model.linked.values() if here.issuperset(gap.groups)]
    blocks = _in_order(blocks, gaps)
    lines = scarce_lines(model, blocks) if lines is None else lines
    limits = Limits(_that_matter(model, limits.levels), limits.priced)
    judged = Beginnings(limits, [min(model.supply[i], 1 << 40) for i in lines], [gap.judge for gap in gaps])
    added = judged.narrowed([_added(model, block, lines, gaps, judged) for block in blocks])
    steps, sums, chosen = list[tuple[Wholes, Wholes]](), judged.begun, set[int]()
    for at, mine in enumerate(added):
        if at:
            sums = judged.with_rows(sums, added[at - 1], steps[-1])
            chosen.update(blocks[at - 1].groups)
            judged.settle(sums, [gap for gap in judged.open if chosen >= gaps[gap].movers])
        steps.append(judged.go_on(sums, mine, added[at + 1 :], most))
    return _traced(blocks, added, steps, np.arange(len(steps[-1][0])))


def scarce_lines(model: Model, blocks: Sequence[Block]) -> list[int]:
    """The stock lines that can run out."""
    of_groups = (np.unique(columns).tolist() for block in blocks for columns in block.columns.T)
    return [i for i, most in model.most_taken(of_groups) if most > model.supply[i]]


def least_with_pieces_enough(
    model: Model, blocks: Sequence[Block], levels: Mapping[str, int], name: str, most: int
) -> tuple[int, Block] | None:
    """What a level comes to at least within limits of `levels` were there pieces enough, and a combination of rows.

    Beginnings alike in all that is still open and in what they come to count once. None where nothing keeps to the
    limits; TooManyLeftError is raised where more than `most` beginnings stay, or the level cannot be told.
    """
    gaps = list(model.linked.values())
    blocks = _in_order(blocks, gaps)
    judged = Beginnings(Limits(_that_matter(model, levels)), [], [gap.judge for gap in gaps])
    if name not in judged.levels:
        raise TooManyLeftError
    added = judged.narrowed([_added(model, block, [], gaps, judged) for block in blocks])
    added = [mine.only(np.sort(first_of_alike(mine.amounts.T, mine.amounts.T[:, :1]))) for mine in added]
    sums, steps, settled = judged.begun, list[tuple[Wholes, Wholes]](), set[int]()
    for at, (block, mine) in enumerate(zip(blocks, added, strict=True)):
        old, new = judged.go_on(sums, mine, added[at + 1 :], _AT_ONCE * most)
        settled.update(block.groups)
        sums = judged.with_rows(sums, mine, (old, new))
        judged.settle(sums, [gap for gap in judged.open if settled >= gaps[gap].movers])
        first = first_of_alike(sums.T, sums.T[:, :1])
        if len(first) > most:
            raise TooManyLeftError
        sums = sums[:, first]
        steps.append((old[first], new[first]))
    if not sums.shape[1]:
        return None
    of_level = sums[judged.first_level + judged.levels.index(name)]
    return int(of_level.min()), _traced(blocks, added, steps, np.array([of_level.argmin()]))


def _that_matter(model: Model, levels: Mapping[str, int]) -> dict[str, int]:
    """Limits of levels; what is nothing whatever is chosen rules nothing out."""
    return {level: most for level, most in levels.items() if model.levels.get(level)}


def _traced(
    blocks: Sequence[Block], added: Sequence[Added], steps: Sequence[tuple[Wholes, Wholes]], which: Wholes
) -> Block:
    """The combinations that some of the last beginnings are."""
    columns = list[Wholes]()
    for block, mine, (old, new) in zip(reversed(blocks), reversed(added), reversed(steps), strict=True):
        columns.append(block.columns[mine.rows[new[which]]])
        which = old[which]
    groups = [group for block in reversed(blocks) for group in block.groups]
    return Block(tuple(sorted(groups)), np.column_stack(columns)[:, np.argsort(groups)])


def _added(model: Model, block: Block, lines: Sequence[int], gaps: Sequence[Linked], judged: Beginnings) -> Added:
    """What the rows of a block add to all that beginnings are judged by, thin ones first where they are one place's."""
    own = Combined(model, block.groups, block.columns)
    amounts = [
        *block.uses(model, lines).T,
        *(priced.cost[block.columns].sum(axis=1) for priced in judged.limits.priced),
    ]
    amounts += [own.of_options(level) for level in judged.levels]
    amounts += [own.moved(gap, end) for gap in gaps for end in judged.ends]
    changes = [model.columns[c].change for c in block.columns[:, 0].tolist()] if len(block.groups) == 1 else []
    known = [change[1] for change in changes if change is not None]
    sizes = np.array(known, object) if len(known) == len(block.columns) else None
    return Added.of(amounts, len(block.columns), sizes)


def _in_order(blocks: Sequence[Block], gaps: Sequence[Linked]) -> list[Block]:
    """Blocks so that gaps are soon settled: next always one of the smallest of those that settle most of them."""
    found, left, settled = list[Block](), list(blocks), set[int]()
    while left:
        first = min(left, key=lambda block: (-_settled(gaps, settled.union(block.groups)), len(block.columns)))
        found.append(first)
        left = [block for block in left if block is not first]
        settled.update(first.groups)
    return found


def _settled(gaps: Sequence[Linked], groups: set[int]) -> float:
    """How many of the gaps these groups settle, part by part."""
    return sum(len(groups.intersection(gap.movers)) / len(gap.movers) for gap in gaps if gap.movers)
