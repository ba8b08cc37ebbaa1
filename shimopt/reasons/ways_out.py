"""What else would bring a gap inside that is left outside: each way is tried by plain arithmetic before it is told.

A piece more than is allowed, fewer than the seat takes, a piece that the seat keeps out, a thicker piece made thinner;
and where the seat takes no shims, by how much the dimension that sets the gap is off.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from shimopt.arithmetic import after_shimming, off_by
from shimopt.arithmetic.clearance import Stack, change_of
from shimopt.arithmetic.needed import aimed, needed, wanted
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.reasons.reason import Code, Length, Reason, Side
from shimopt.seats import Finding, least_left, to_make_thinner

__all__ = ["FewerPieces", "MadeThinner", "OneMorePiece", "ShimsNotAllowed", "StackDoesNotSuit", "restored", "ways_out"]

_MOST_STACKS = 500
# so many parts that the seat keeps out are tried beside others
_MOST_REFUSED = 10
# stacks with a part that the seat keeps out have so many pieces beside it
_MOST_BESIDE = 2


class ShimsNotAllowed(Reason, code=Code.SHIMS_NOT_ALLOWED):
    """Outside, and its seat takes no shims: the dimension that sets it is off by `least` to `most` (None: no end).

    With `sure` any reading of its bracket is inside then, else its best estimate is.
    """

    off: Length
    side: Side
    why: str
    least: Length
    most: Length | None
    sure: bool


class OneMorePiece(Reason, code=Code.ONE_MORE_PIECE):
    """`stack`, one piece more than the `pieces` allowed in the place, would make it `after`."""

    stack: Stack
    pieces: int
    after: Length


class FewerPieces(Reason, code=Code.FEWER_PIECES):
    """`stack` would make it `after`, but its seat takes at least `fewest` pieces."""

    stack: Stack
    fewest: int
    after: Length


class StackDoesNotSuit(Reason, code=Code.STACK_DOES_NOT_SUIT):
    """`stack` would serve by its thickness, but one of its pieces must not be fitted there: `findings`."""

    stack: Stack
    findings: tuple[Finding, ...]


class MadeThinner(Reason, code=Code.MADE_THINNER):
    """The one piece of `stack` would do, if it were made thinner: to `least` to `most`."""

    stack: Stack
    least: Length
    most: Length


def restored(gap: Gap, off: Fraction, why: str) -> ShimsNotAllowed:
    """By how much the dimension is off that sets a gap whose seat takes no shims."""
    read, window = gap.reading.bracket, gap.window
    loose = window.max is not None and read.best > window.max

    def change(low: Fraction, high: Fraction) -> tuple[Fraction, Fraction | None]:
        """How much less clearance brings low..high inside, where it is too much; how much more, where too little."""
        over = None if window.max is None else high - window.max
        under = None if window.min is None else window.min - low
        least, most = (over, under) if loose else (under, over)
        return least or Fraction(0), None if most is None else -most

    least, most = change(read.low, read.high)
    sure = most is None or least <= most
    if not sure:
        least, most = change(read.best, read.best)
    return ShimsNotAllowed(
        about=gap.name, off=off, side="over" if loose else "under", why=why, least=least, most=most, sure=sure
    )


def ways_out(
    job: Job, gap: Gap, place: Place, suits: Sequence[int], stopped: Mapping[int, Finding], left: Mapping[int, int]
) -> Iterator[Reason]:
    """The ways in which a gap that is left outside could come inside after all.

    Parameters: suits, the stock lines that may be fitted in the place; stopped, those that must not, each with why;
    left, how many pieces of each there are that no other place has.
    """
    trial = _Trial(job, gap, place, left)
    if one_more := trial.stack(suits, place.most_pieces + 1, fewest=place.most_pieces + 1):
        yield OneMorePiece(about=gap.name, stack=one_more, pieces=place.most_pieces, after=trial.after(one_more))
    if place.fewest_pieces > 1 and (fewer := trial.stack(suits, place.fewest_pieces - 1)):
        yield FewerPieces(about=gap.name, stack=fewer, fewest=place.fewest_pieces, after=trial.after(fewer))
    refused = [i for i in stopped if left[i] > 0 and not trial.serves((i,))][:_MOST_REFUSED]
    for i in refused:
        most = min(place.most_pieces, 1 + _MOST_BESIDE)
        if most > 1 and (stack := trial.stack((*suits, i), most, fewest=max(2, place.fewest_pieces), holding=i)):
            yield StackDoesNotSuit(about=gap.name, stack=stack, findings=(replace(stopped[i], place=place.name),))
            break
    yield from _thinner(job, gap, place, [i for i in suits if left[i] > 0])


def _thinner(job: Job, gap: Gap, place: Place, lines: Sequence[int]) -> Iterator[Reason]:
    span = needed(job, gap) or aimed(job, gap)
    if span is None or span.most is None or place.fewest_pieces > 1 or not place.most_pieces:
        return
    line = to_make_thinner(lines, job.stock, place.seat, Bracket.between(span.least, span.most))
    if line is not None:
        least = max(span.least, least_left(job.stock[line].part))
        yield MadeThinner(about=gap.name, stack=(line,), least=least, most=span.most)


class _Trial:
    """Looks for a stack that brings one gap inside, by its best estimate."""

    def __init__(self, job: Job, gap: Gap, place: Place, left: Mapping[int, int]) -> None:
        self.gap, self.place, self.stock, self.left, self.scale = gap, place, job.stock, left, Scale.of(job)
        least, most = wanted(job, gap)
        self.low = None if least is None else self.scale.least(least)
        self.high = None if most is None else self.scale.most(most)

    def stack(self, lines: Sequence[int], most: int, *, fewest: int = 1, holding: int | None = None) -> Stack | None:
        """The stack of fewest pieces that does, of these lines and with a piece of one; None where there is none."""
        sizes = [self.scale.ticks(_thick(self.stock, i)) for i in lines]
        counts = [self.left[i] for i in lines]
        try:
            found = stacks_between(sizes, counts, most, self.low, self.high, _MOST_STACKS, fewest=fewest)
        except TooManyError:
            return None
        named = [tuple(sorted(lines[k] for k in stack)) for stack in found]
        serving = [stack for stack in named if self.serves(stack) and (holding is None or holding in stack)]
        return min(serving, key=lambda stack: (len(stack), stack), default=None)

    def after(self, stack: Stack) -> Fraction:
        """What the gap would be with a stack, by its best estimate."""
        return after_shimming(self.gap, {self.place.name: change_of(self.place, stack, self.stock)}).best

    def serves(self, stack: Stack) -> bool:
        """Whether it would be inside."""
        return not off_by(self.after(stack), self.gap.window)


def _thick(stock: Sequence[StockLine], line: int) -> Fraction:
    return stock[line].part.thickness.best
