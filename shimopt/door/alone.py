"""One gap alone, asked again and again, as a page on the bench asks while a feeler is read."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import TooManyError
from shimopt.choose.single_gap import SeatStacks, not_answered
from shimopt.door.given import JobLike, known, loaded
from shimopt.errors import InputError, RefusedError
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket, length_of
from shimopt.seats import screen
from shimopt.words.one_gap_words import why_not_alone

# a number in the job's unit, or text that carries its own
LengthLike = int | float | Decimal | str


@dataclass(frozen=True, repr=False)
class OneGap:
    """One gap with all stacks of its seat, listed once; `why_not` says why it is not answered here, None where it is.

    An answer takes the whole drawer for this gap alone, buys nothing, and is what a plan of a job of it alone chooses.
    """

    job: Job
    gap: Gap
    why_not: str | None
    seat: SeatStacks | None

    def best(self, low: LengthLike | None = None, high: LengthLike | None = None) -> Stack | None:
        """The pieces that go in, as indices of `job.stock`; none where it stays as it is, None where `why_not` says so.

        Parameters: low, what the gap reads at least; high, at most (low if not given); as the job reads it if neither
        is. A bare number is in the job's unit. Raises InputError.
        """
        if self.seat is None:
            return None
        reading = self.gap.reading.bracket if low is None else self._read(low, low if high is None else high)
        return self.seat.best(reading, self.gap.window)

    def _read(self, low: LengthLike, high: LengthLike) -> Bracket:
        least, most = self._length("low", low), self._length("high", high)
        if least > most:
            raise InputError.at("", "low is above high", "swap them", where="low", value=str(low))
        return Bracket.between(least, most)

    def _length(self, name: str, given: LengthLike) -> int:
        try:
            # a float counts as its shortest text
            return length_of(Decimal(repr(given)) if isinstance(given, float) else given, self.job.unit)
        except RefusedError as error:
            raise InputError.at("", error.rule, error.remedy, where=name, value=str(given)) from error

    def __repr__(self) -> str:
        """One line: which gap, and whether it is answered."""
        return f"<OneGap {self.gap.name!r}: {self.why_not or 'answered from its seat alone'}>"


def one_gap(job: JobLike, gap: str) -> OneGap:
    """List all stacks of one gap's seat, so that each reading of it is answered within a tenth of a millisecond.

    Parameters: job, a Job, the path of a job file or its folder, or a mapping with the keys of one; gap, its name.
    Raises InputError.

    >>> import shimopt
    >>> end = shimopt.one_gap("demo_data/fulling-mill", "north end")
    >>> [end.job.stock[i].part.name for i in end.best("0.50 mm", "0.55 mm")]
    ['S-10']
    """
    of = loaded(job)
    asked = of.gap[known(gap, of.gap, "gap", "gap")]
    why_not = not_answered(of, asked)
    try:
        seat = SeatStacks.of(of, screen(of), asked)
    except TooManyError:
        return OneGap(of, asked, why_not_alone("too many"), None)
    return OneGap(of, asked, None if why_not is None else why_not_alone(why_not), seat)
