"""Of choices side by side those that no other beats: none takes as little of all that is shared and comes before."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from shimopt.proof.exact_bounds import Wholes

# so many comparisons find most of those that are beaten
_MOST_COMPARED = 5_000_000
_BITS = 62


def unbeaten(uses: Wholes, shares: Sequence[Wholes]) -> npt.NDArray[np.bool_]:
    """The combinations that no other one beats which takes no piece that they do not take, and comes first.

    Nothing but the drawer ties clusters: a plan with one that is beaten is no worse with the other in its place, level
    after level. Parameters: uses, how many pieces of each line that can run out they take; shares, what they add to
    each level in turn, then how early their stacks come in natural order.
    """
    words = _packed(uses)
    order = np.lexsort(_digits(shares)[::-1])
    # of those that take the same the first
    alike = np.lexsort([word[order] for word, _ in words])
    new = np.ones(len(order), bool)
    new[1:] = np.logical_or.reduce([np.diff(word[order[alike]]) != 0 for word, _ in words])
    left = order[np.sort(alike[new])]
    waiting = [(word[left], guards) for word, guards in words]
    kept, looks = list[int](), 0
    while len(left) and looks < _MOST_COMPARED:
        kept.append(int(left[0]))
        looks += len(left)
        unbeaten = np.zeros(len(left), bool)
        for word, guards in waiting:
            unbeaten |= ((word | guards) - word[0]) & guards != guards
        left, waiting = left[unbeaten], [(word[unbeaten], guards) for word, guards in waiting]
    found = np.zeros(len(uses), bool)
    found[kept] = found[left] = True
    return found


def _digits(shares: Sequence[Wholes]) -> list[Wholes]:
    """Numbers that are in order where the shares are, as few as will do: each takes up as many as find room."""
    found, size = list[Wholes](), 1 << _BITS
    for share in shares:
        least, most = int(share.min(initial=0)), int(share.max(initial=0))
        size *= most - least + 1
        if size < 1 << _BITS:
            found[-1] = found[-1] * (most - least + 1) + (share - least)
        else:
            found.append(share - least)
            size = most - least + 1
    return found


def _packed(uses: Wholes) -> list[tuple[Wholes, int]]:
    """Counts of lines side by side in words, each below a guard bit of its own, and the guards of each word.

    A guard stays where another word's counts are taken off and none of them is more.
    """
    found, word, guards, at = list[tuple[Wholes, int]](), np.zeros(len(uses), np.int64), 0, 0
    for counts in uses.T:
        width = int(counts.max(initial=0)).bit_length()
        if at + width + 1 > _BITS:
            found.append((word, guards))
            word, guards, at = np.zeros(len(uses), np.int64), 0, 0
        word = word | counts << at
        guards |= 1 << at + width
        at += width + 1
    return [*found, (word, guards)]
