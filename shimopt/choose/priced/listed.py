"""Clusters with equal packs, taken as one: an option of theirs is a combination of stacks of all their places.

What a combination comes to at every level, those of its balances among them, is worked out as the whole way does. So
prices know such a cluster as they know a single place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from math import prod

import numpy as np

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import PlaceOptions, Scale, TooManyError, Usable, coupled_options, place_options
from shimopt.choose.combinations import Combined
from shimopt.choose.equal_packs import blocks_of, keeping_ties
from shimopt.choose.model_rows import build_model
from shimopt.choose.priced.tables import OF_GAPS, OF_ROWS, Ints
from shimopt.job import Balance, Job
from shimopt.job.model import splits_not_stated
from shimopt.proof.exact_bounds import Wholes
from shimopt.seats import Screening

# of a cluster with so many combinations, or so many options of one place, this way knows nothing
_MOST_COMBINATIONS, _MOST_STACKS = 60_000, 4_000


@dataclass(frozen=True)
class Listed:
    """A cluster's combinations: `places` by number in the job, `options` what each could have by itself.

    By combination, first to leave all as it is: `stacks`, one for each place; its shares of OF_GAPS and of OF_ROWS.
    """

    places: tuple[int, ...]
    options: tuple[PlaceOptions, ...]
    stacks: tuple[tuple[Stack, ...], ...]
    of_gaps: Ints
    of_rows: Ints

    @cached_property
    def number(self) -> Mapping[tuple[Stack, ...], int]:
        """Combinations by their stacks."""
        return {stacks: number for number, stacks in enumerate(self.stacks)}

    def with_stacks(self, kept: Sequence[int]) -> dict[int, PlaceOptions]:
        """By place, numbered as in the job, its own options that stand in one of these combinations."""
        found = {}
        for at, place, options in zip(count(), self.places, self.options, strict=False):
            stacks = {self.stacks[number][at] for number in kept}
            mine = tuple(option for option in options.options if option.stack in stacks)
            found[place] = replace(options, options=mine)
        return found


def can_be_listed(job: Job) -> bool:
    """Whether a job's places each move one gap alone but for equal packs."""
    packs = {name for names in job.equal for name in names}
    own = all(len(gap.effects) == 1 for gap in job.gaps) and all(len(gaps) == 1 for gaps in job.moved_by.values())
    plain = not any(job.place[name].fewest_pieces for name in packs) and not splits_not_stated(job)
    return own and (plain or not packs)


def listed_cluster(
    job: Job,
    scale: Scale,
    screening: Screening,
    supply: Mapping[int, int],
    places: Sequence[int],
    balances: Sequence[Balance],
) -> Listed | None:
    """All combinations of a cluster that keep its packs equal; None where they are too many.

    Parameters: places, by number, with the balances of their gaps.
    """
    names = [job.places[at].name for at in places]
    gaps = tuple(gap for name in names for gap in job.moved_by[name])
    equal = tuple(tied for tied in job.equal if set(tied) <= set(names))
    of = replace(job, places=tuple(job.places[at] for at in places), gaps=gaps, balances=tuple(balances), equal=equal)
    alone = {place: job.gap[gap] for gap, place in of.alone.items()}
    counts = [supply[i] for i in range(len(job.stock))]
    options = []
    for place in of.places:
        usable = Usable(
            screening.suits[place.name], counts, screening.cautions[place.name], place.most_pieces, _MOST_STACKS
        )
        try:
            options.append(
                place_options(job, scale, place, alone[place.name], usable)
                if place.name in alone
                else coupled_options(of, scale, place, usable, None)
            )
        except TooManyError:
            return None
    model = build_model(of, scale, options, supply)
    blocks = blocks_of(model, model.groups)
    if prod(len(block.columns) for block in blocks) > _MOST_COMBINATIONS:
        return None
    groups = tuple(at for block in blocks for at in block.groups)
    columns = _all_of([block.columns for block in blocks])[:, np.argsort(groups)]
    columns = columns[_there(columns, [one.stack for one in model.columns], supply)]
    columns = columns[keeping_ties(model, range(len(places)), columns)]
    # to leave all as it is comes first, as with a single place
    stays = (columns == [group.start for group in model.groups]).all(axis=1)
    columns = columns[np.argsort(~stays, kind="stable")]
    shares = Combined(model, range(len(places)), columns).all_values([*OF_GAPS, *OF_ROWS])
    if not stays.any() or any(of_level.dtype == object for of_level in shares.values()):
        return None
    return Listed(
        tuple(places),
        tuple(options),
        tuple(tuple(model.columns[c].stack for c in row) for row in columns.tolist()),
        np.stack([shares[level] for level in OF_GAPS], axis=1),
        np.stack([shares[level] for level in OF_ROWS], axis=1),
    )


def _all_of(blocks: Sequence[Wholes]) -> Wholes:
    """Every row of each block beside every row of the others."""
    at = np.indices([len(block) for block in blocks]).reshape(len(blocks), -1)
    return np.concatenate([block[which] for block, which in zip(blocks, at, strict=True)], axis=1)


def _there(columns: Wholes, stacks: Sequence[Stack], supply: Mapping[int, int]) -> Wholes:
    """The combinations that take no more of any line than there is of it in all."""
    takes = [sum((Counter(stacks[c]) for c in row), Counter[int]()) for row in columns.tolist()]
    return np.array([all(n <= supply[i] for i, n in taken.items()) for taken in takes], dtype=bool)
