"""Stacks near a thickness, found in a moment: not all of them, and not always the nearest."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations_with_replacement

from shimopt.arithmetic.clearance import Stack

__all__ = ["NearSums"]

# so many beginnings of a stack are tried; of a longer list of sizes a few, evenly taken, begin stacks
_MOST_BEGINNINGS = 400


class NearSums:
    """The sizes of a seat, for stacks near a thickness.

    Parameters: sizes, by stock line, the thickness of a piece [ticks, above zero].
    """

    def __init__(self, sizes: Mapping[int, int]) -> None:
        self.lines = sorted(sizes, key=lambda line: (sizes[line], line))
        self.sizes = [sizes[line] for line in self.lines]

    def stacks(self, aim: int, left: Mapping[int, int], fewest: int, most: int) -> Iterator[Stack]:
        """A stack near `aim` [ticks] of each number of pieces from `fewest` to `most`; `left` is what may be used."""
        there = [at for at, line in enumerate(self.lines) if left[line] > 0]
        sizes = [self.sizes[at] for at in there]
        counts = [left[self.lines[at]] for at in there]
        for pieces in range(max(1, fewest), most + 1):
            found: tuple[int, Sequence[int]] | None = None
            for beginning in _beginnings(pieces - 1, counts):
                rest = aim - sum([sizes[at] for at in beginning])
                above = bisect_left(sizes, rest)
                # the next thicker and the next thinner piece that is left
                for beside in (range(above, len(sizes)), range(above - 1, -1, -1)):
                    at = next((at for at in beside if counts[at] > beginning.count(at)), None)
                    if at is not None and (found is None or abs(sizes[at] - rest) < found[0]):
                        found = abs(sizes[at] - rest), (*beginning, at)
            if found is not None:
                yield tuple(sorted(self.lines[there[at]] for at in found[1]))


def _beginnings(pieces: int, counts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    few = min(len(counts), int(_MOST_BEGINNINGS ** (1 / pieces)) if pieces else 1)
    begun = [n * len(counts) // few for n in range(few)] if few else []
    for beginning in combinations_with_replacement(begun, pieces) if begun else ():
        if all(beginning.count(at) <= counts[at] for at in beginning):
            yield beginning
