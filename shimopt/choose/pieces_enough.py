"""Are the pieces enough for all? One of several sets of pieces for each gap, out of what there is: exactly answered.

Yes comes with what every gap gets. No is shown in whole numbers: everything was tried, or pieces have prices at which
the cheapest sets of all gaps together cost more than everything there is (whoever served all gaps would have paid at
most that), or branch and bound came to an end whose every bound holds exactly. The same gaps are asked about again and
again, some at a time: the model is made once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from shimopt.choose.serving import Serving

# a set of pieces: how many of which line
Needs = tuple[tuple[int, int], ...]

# looks at sets, by plain trial, before solvers are loaded and asked
_MOST_LOOKS = 2_000


class Answer(NamedTuple):
    """Whether it is enough (None: not settled).

    `given` holds each gap's set where it is, `clash` gaps (by number) for which it is not enough where it isn't.
    """

    enough: bool | None
    given: tuple[Needs, ...] = ()
    clash: tuple[int, ...] = ()


def fewest_only(sets: Sequence[Needs]) -> list[Needs]:
    """The sets that hold no other set: whoever has another has that one too."""
    kept: list[Needs] = []
    for needs in sorted(set(sets), key=lambda one: (sum(n for _, n in one), one)):
        have = dict(needs)
        if not any(all(have.get(i, 0) >= n for i, n in less) for less in kept):
            kept.append(needs)
    return kept


class _TooLongError(Exception):
    """Plain trial would take too long."""


class Enough:
    """Asked whether some of the gaps can each have one of their sets: plain trial first, then prices and branching.

    Parameters: sets, by gap, what would serve it; there, how many pieces there are by line.
    """

    def __init__(self, sets: Sequence[Sequence[Needs]], there: Mapping[int, int]) -> None:
        self.there = dict(there)
        wanted = Counter(i for choices in sets for needs in choices for i, _ in needs)
        # pieces that many ask for are given last
        dear = {i: wanted[i] * 1_000 // max(1, there[i]) for i in wanted}
        self.sets = [
            sorted(
                (needs for needs in choices if all(n <= there[i] for i, n in needs)),
                key=lambda needs: sum(dear[i] * n for i, n in needs),
            )
            for choices in sets
        ]
        self._serving: Serving | None = None

    def for_all(self, gaps: Sequence[int]) -> Answer:
        """Whether all of these gaps can."""
        for at in gaps:
            if not self.sets[at]:
                return Answer(False, clash=(at,))
        try:
            given = _Trial({at: self.sets[at] for at in gaps}, self.there).given()
        except _TooLongError:
            return self._priced(gaps)
        if given is None:
            return Answer(False, clash=tuple(gaps))
        return Answer(True, tuple(given[at] for at in gaps))

    def _priced(self, gaps: Sequence[int]) -> Answer:
        # loaded only where a plain trial does not answer
        from shimopt.choose.serving import Serving

        if self._serving is None:
            self._serving = Serving(self.sets, self.there)
        found = self._serving.for_all(gaps)
        return Answer(found.enough, tuple(self.sets[at][n] for at, n in found.given), found.clash)


class _Trial:
    """Every gap one of its sets, the gap with the fewest that are left first.

    Pieces are counted in the fields of one whole number, a field for each line with a bit above it that stays set as
    long as there is enough: one subtraction tells whether a set fits.
    """

    def __init__(self, fitting: Mapping[int, list[Needs]], left: Mapping[int, int]) -> None:
        width = max(left.values(), default=0).bit_length() + 1
        field = {i: width * at for at, i in enumerate(left)}
        self.above = sum(1 << (at + width - 1) for at in field.values())
        self.left = self.above + sum(n << field[i] for i, n in left.items())
        self.sets = fitting
        self.looks = _MOST_LOOKS
        self.found: dict[int, int] = {}
        self.taking = {at: [sum(n << field[i] for i, n in needs) for needs in s] for at, s in fitting.items()}

    def given(self) -> dict[int, Needs] | None:
        """What every gap gets; None: it is not enough. Raises _TooLongError."""
        if not self._serve(self.left, self.taking):
            return None
        return {at: self.sets[at][self.taking[at].index(taken)] for at, taken in self.found.items()}

    def _serve(self, left: int, taking: Mapping[int, list[int]]) -> bool:
        if not taking:
            return True
        above, fitting = self.above, {}
        for at, choices in taking.items():
            fitting[at] = [taken for taken in choices if (left - taken) & above == above]
            self.looks -= len(choices)
            if not fitting[at]:
                return False
        if self.looks < 0:
            raise _TooLongError
        first = min(fitting, key=lambda at: len(fitting[at]))
        choices = fitting.pop(first)
        for taken in choices:
            self.found[first] = taken
            if self._serve(left - taken, fitting):
                return True
        return False
