"""The options of a place that does not move one gap alone: what is in it, and every stack that could matter."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, stays
from shimopt.candidates.options import Changes, Option, PlaceOptions, place_shares
from shimopt.candidates.scale import Scale
from shimopt.candidates.sorted_sums import stacks_between
from shimopt.job import Job, Place

__all__ = ["coupled_options"]


def coupled_options(
    job: Job,
    scale: Scale,
    place: Place,
    usable: Sequence[int],
    counts: Sequence[int],
    cautions: frozenset[int],
    within: tuple[int, int] | None,
    most: int,
    cap: int | None = None,
) -> PlaceOptions:
    """What is in, and every stack of the place's fewest to `most` pieces.

    Parameters: usable, indices of the stock lines that suit; counts, how many of each may be used here; within, the
    least and the most thickness of a stack that can matter [ticks], None for all. Raises TooManyError beyond `cap`.

    To stay with fewer pieces than the place asks for is `short`, unless it stays because its gaps are inside.
    """
    sizes = [scale.ticks(job.stock[i].part.thickness.best) for i in usable]
    low, high = within or (0, None)
    stacks: list[Stack] = []
    kept = stays(job, place)
    if not kept:
        stacks = stacks_between(
            sizes, [counts[i] for i in usable], min(most, place.most_pieces), low, high, cap, fewest=place.fewest_pieces
        )
        if place.installed and not place.fewest_pieces and low <= 0:
            stacks.append(())
    changes = Changes(job, scale, place, Fraction(1))

    def option(stack: Stack) -> Option:
        short = int(stack == place.installed and len(stack) < place.fewest_pieces and not kept)
        shares = {"short": short, **place_shares(place, stack, cautions)}
        return Option(stack, 0, False, shares, changes.by(stack))

    named = sorted({tuple(usable[k] for k in stack) for stack in stacks} - {place.installed})
    return PlaceOptions(place.name, "", tuple(option(stack) for stack in [place.installed, *named]))
