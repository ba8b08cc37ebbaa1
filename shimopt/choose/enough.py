"""Are the pieces enough for all? One of several sets of pieces for each gap, out of what there is: exactly answered.

Yes comes with what every gap gets. No is shown in one of two ways, both in whole numbers: everything was tried, or
pieces have prices at which the cheapest sets of all gaps together cost more than everything there is. For whoever
served all gaps would have paid at most that. Where the prices come from doesn't matter; a linear program suggests them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

__all__ = ["Answer", "Needs", "enough_for_all", "fewest_only", "too_dear"]

# a set of pieces: how many of which line
Needs = tuple[tuple[int, int], ...]

_FINE = 1 << 20  # parts of a price
_MOST_LOOKS = 20_000  # at sets, by plain trial: before prices are asked for, and after every branching
_MOST_BRANCHES = 100
_MOST_ROUNDS = 200
_NOTHING = 1e-7  # a relaxation's cost that is taken for nothing: then nothing is concluded from it


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


def enough_for_all(sets: Sequence[Sequence[Needs]], there: Mapping[int, int]) -> Answer:
    """Whether every gap can have one of its sets, pieces being used once.

    Parameters: sets, by gap, what would serve it; there, how many pieces there are by line.
    """
    return _Search(sets, there).answer(list(range(len(sets))), dict(there))


def too_dear(sets: Sequence[Sequence[Needs]], there: Mapping[int, int], prices: Mapping[int, int]) -> list[int]:
    """Gaps whose cheapest sets cost more than everything there is, the dearest first; empty where none do.

    Parameters: prices, whole numbers from 0 up by line.
    """
    all_there = sum(price * there.get(i, 0) for i, price in prices.items())
    least = [min(_price(needs, prices) for needs in choices) for choices in sets]
    total, clash = 0, []
    for at in sorted(range(len(sets)), key=lambda at: -least[at]):
        clash.append(at)
        total += least[at]
        if total > all_there:
            return clash
    return []


def _price(needs: Needs, prices: Mapping[int, int]) -> int:
    return sum(prices.get(i, 0) * n for i, n in needs)


class _TooLongError(Exception):
    """Plain trial would take too long."""


class _Search:
    """Plain trial first; where that takes too long prices, then a branch for every set of one gap."""

    def __init__(self, sets: Sequence[Sequence[Needs]], there: Mapping[int, int]) -> None:
        self.sets, self.branches = sets, _MOST_BRANCHES
        # sets that prices asked for once: later branches begin with them
        self.asked: set[tuple[int, Needs]] = set()
        # pieces that many ask for are given last
        wanted = Counter(i for choices in sets for needs in choices for i, _ in needs)
        self.dear = {i: wanted[i] * 1_000 // max(1, there[i]) for i in wanted}

    def answer(self, gaps: list[int], left: dict[int, int]) -> Answer:
        """The answer for these gaps and what is left."""
        fitting = {at: [s for s in self.sets[at] if all(n <= left[i] for i, n in s)] for at in gaps}
        for at, choices in fitting.items():
            if not choices:
                return Answer(False, clash=(at,))
            choices.sort(key=lambda needs: _price(needs, self.dear))
        try:
            given = _Trial(fitting, left).given()
        except _TooLongError:
            return self._priced(gaps, fitting, left)
        if given is None:
            return Answer(False, clash=tuple(gaps))
        return Answer(True, tuple(given[at] for at in gaps))

    def _priced(self, gaps: list[int], fitting: Mapping[int, list[Needs]], left: dict[int, int]) -> Answer:
        clash, shares = self._relaxed(gaps, fitting, left)
        if clash:
            return Answer(False, clash=tuple(clash))
        # where the relaxation is torn, along what it gives most of
        at = min(gaps, key=lambda at: (len(fitting[at]), at))
        others = [other for other in gaps if other != at]
        for needs in sorted(fitting[at], key=lambda needs: -shares.get((at, needs), 0.0)):
            self.branches -= 1
            if self.branches < 0:
                return Answer(None)
            found = self.answer(others, {i: n - dict(needs).get(i, 0) for i, n in left.items()})
            if found.enough:
                given = dict(zip(others, found.given, strict=True)) | {at: needs}
                return Answer(True, tuple(given[one] for one in gaps))
            if found.enough is None:
                return found
        return Answer(False, clash=tuple(gaps))

    def _relaxed(
        self, gaps: list[int], fitting: Mapping[int, list[Needs]], left: Mapping[int, int]
    ) -> tuple[list[int], Mapping[tuple[int, Needs], float]]:
        """Gaps for which prices show that it is not enough, or the share of each set where sets could be divided."""
        from shimopt.proof.highs import LinearProgram  # loaded only where a plain trial does not answer

        lines = sorted({i for choices in fitting.values() for needs in choices for i, _ in needs})
        row = {i: len(gaps) + at for at, i in enumerate(lines)}
        program = LinearProgram([1.0] * len(gaps) + [float(left[i]) for i in lines], equal=len(gaps))
        for at in range(len(gaps)):
            program.add_column({at: 1}, 1)
        columns: list[tuple[int, Needs]] = []
        new = {(gap, needs) for gap in gaps for needs in fitting[gap] if (gap, needs) in self.asked}
        new |= {(gap, fitting[gap][0]) for gap in gaps}
        choices = [fitting[gap] for gap in gaps]
        for _ in range(_MOST_ROUNDS):
            for gap, needs in sorted(new):
                program.add_column({gaps.index(gap): 1} | {row[i]: n for i, n in needs}, 0)
                columns.append((gap, needs))
            self.asked |= new
            least = program.least()
            if least is None:
                break
            if least.cost < _NOTHING:
                return [], dict(zip(columns, least.values[len(gaps) :], strict=True))
            prices = {i: max(0, round(-least.prices[row[i]] * _FINE)) for i in lines}
            if clash := too_dear(choices, left, prices):
                return [gaps[at] for at in clash], {}
            new = {(gap, min(fitting[gap], key=lambda needs: _price(needs, prices))) for gap in gaps} - set(columns)
            if not new:
                break
        return [], {}


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
