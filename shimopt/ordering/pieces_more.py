"""What pieces more of one size are worth to the gaps of an order, as chances of their final readings.

Two worths, the first first: the chance that the cards' rows ask for more of the size than there are; then the chance
that a reading can be served by another stack, for which nothing but this size is missing, and the chance that a row
uses the size, so that a piece more is a spare, both added up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, product

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.cards import Card
from shimopt.ordering.coverage import Candidate, Coverage
from shimopt.ordering.unserved_readings import chance_between
from shimopt.ordering.worth import chance_within

# chances are compared in such whole parts, so that every machine fills an order alike
_PARTS = 10**6
# what as many pieces again are worth beside the first
_AGAIN = 1_000
# of one size no more are thought of
_MOST_PIECES = 20

# how much each of the two is worth, in parts
Worth = tuple[int, int]
# by stock line and how many more of it a gap would have to have
ByMore = dict[int, dict[int, list[Candidate]]]


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap that a piece more may serve, and the pieces it can have.

    `rows` are those of its card if it could have all that is there: how likely each is, and what it fits. Gaps whose
    places act together are one of these, of which only the rows are known.
    """

    coverage: Coverage | None
    rows: Sequence[tuple[float, Stack]]
    has: Mapping[int, int]


def card_rows(coverage: Coverage, card: Card | None) -> list[tuple[float, Stack]]:
    """How likely each row of a gap's card is, and what it fits."""
    bands = card.bands if card else ()
    return [(float(chance_between(coverage.demand, band.start, band.end)), band.stack) for band in bands]


class PiecesMore:
    """What pieces more may do for these gaps.

    Parameter: there, how many pieces of each stock line all gaps together can have without them.
    """

    def __init__(self, gaps: Sequence[Gap], there: Mapping[int, int], scale: Scale) -> None:
        self._gaps, self._there, self._scale = gaps, there, scale
        self._by_more = [_by_more(gap) for gap in gaps]

    def worths(self, line: int, had: int) -> list[Worth]:
        """What no piece more of a line, one, two and so on are worth, up to the last that adds to any worth.

        Parameter: had, how many more there are already.
        """
        short = _short(self._gaps, line, self._there.get(line, 0) + had)
        useful = _beyond(self._useful(line), had)
        spares = _beyond(_spares(self._gaps, line, self._there.get(line, 0)), had)
        pieces = range(max(map(len, (short, useful, spares))))
        found = [(_at(short, n), _at(useful, n) + _at(spares, n)) for n in pieces]
        found = found[: found.index(found[-1]) + 1]
        # as many again are better than money given away, and worth next to nothing beside any of the first; what then
        # still can be had for it is a piece in the drawer
        one, other = found[-1]
        found += [(one, other + max(1, (short + more) // _AGAIN)) for short, more in found[1:]]
        one, other = found[-1]
        # each of these is worth a little less than the one before, so that no one size gets all of them
        beyond = accumulate(range(_MOST_PIECES, 0, -1))
        return [*found, *((one, other + n) for n in beyond if len(found) > 1)]

    def serves(self, line: int, pieces: int) -> dict[int, Candidate]:
        """By gap, the stack that serves most readings with up to so many more; else the row that they are spares of."""
        found = {}
        for number, (gap, own) in enumerate(zip(self._gaps, self._by_more, strict=True)):
            some = [one for count, stacks in own.get(line, {}).items() if count <= pieces for one in stacks]
            rows = {stack for _, stack in gap.rows}
            listed = gap.coverage.candidates if gap.coverage else ()
            some = some or [one for one in listed if line in one.stack and one.stack in rows]
            if some:
                found[number] = min(some, key=lambda one: (one.start - one.end, len(one.stack), one.stack))
        return found

    def most_useful(self, line: int) -> int:
        """How many pieces more rows or other stacks of all gaps ask for at most, beyond what there is."""
        short = _short(self._gaps, line, self._there.get(line, 0))
        return max(len(short) - 1, sum(max(own.get(line, {0: []})) for own in self._by_more))

    def _useful(self, line: int) -> list[int]:
        """What no piece more, one, two and so on are worth, each to the gap that makes most of it.

        To a gap they are worth the chances of the readings that stacks with one more serve, with two more and so on.
        """
        total = [0]
        for gap, own in zip(self._gaps, self._by_more, strict=True):
            by_pieces = own.get(line, {})
            chances = [0] * (max(by_pieces, default=0) + 1)
            for pieces, some in by_pieces.items():
                stretches = [(one.start, one.end) for one in some]
                if gap.coverage:
                    chances[pieces] = _part(chance_within(gap.coverage.demand, stretches, self._scale))
            worth = list(accumulate(chances))
            total = [
                max(total[n - k] + worth[k] for k in range(len(worth)) if 0 <= n - k < len(total))
                for n in range(min(len(total) + len(worth) - 1, _MOST_PIECES + 1))
            ]
        return total


def _by_more(gap: Gap) -> ByMore:
    """The stacks that need more pieces of one line, and nothing else, than the gap can have."""
    found: ByMore = {}
    for candidate in gap.coverage.candidates if gap.coverage else ():
        more = {i: n - gap.has.get(i, 0) for i, n in Counter(candidate.scarce).items() if n > gap.has.get(i, 0)}
        if len(more) == 1:
            ((line, pieces),) = more.items()
            found.setdefault(line, {}).setdefault(pieces, []).append(candidate)
    return found


def _short(gaps: Sequence[Gap], line: int, there: int) -> list[int]:
    """What no piece more, one, two and so on are worth: the chances that all rows together take more than are there."""
    wanted = {0: 1.0}
    for gap in gaps:
        after: dict[int, float] = {}
        for (one, chance), (other, own) in product(wanted.items(), _taken(gap, line).items()):
            after[one + other] = after.get(one + other, 0.0) + chance * own
        wanted = after
    missing = range(there, max(wanted))
    chances = (_part(sum(chance for count, chance in wanted.items() if count > have)) for have in missing)
    return list(accumulate(chances, initial=0))


def _taken(gap: Gap, line: int) -> dict[int, float]:
    """The chance that the row for the final reading takes so many pieces of a line."""
    told: dict[int, float] = {}
    for chance, stack in gap.rows:
        if count := stack.count(line):
            told[count] = told.get(count, 0.0) + chance
    return {0: max(0.0, 1 - sum(told.values())), **told}


def _part(chance: Fraction | float) -> int:
    return round(float(chance) * _PARTS)


def _spares(gaps: Sequence[Gap], line: int, there: int) -> list[int]:
    """What no spare, one, two and so on are worth, as the chances that rows use so many, the likeliest first.

    What is there beyond all that rows use at once are spares already.
    """
    chances, most = [], 0
    for gap in gaps:
        taken = _taken(gap, line)
        most += max(taken)
        chances += [_part(sum(p for count, p in taken.items() if count >= n)) for n in range(1, max(taken) + 1)]
    return _beyond(list(accumulate(sorted(chances, reverse=True), initial=0)), max(0, there - most))


def _beyond(worths: Sequence[int], more: int) -> list[int]:
    """The same where so many pieces more are there already."""
    start = min(more, len(worths) - 1)
    return [worth - worths[start] for worth in worths[start:]]


def _at(worths: Sequence[int], pieces: int) -> int:
    """What so many are worth: beyond the last no more."""
    return worths[min(pieces, len(worths) - 1)]
