"""A groove or relief of the shaft under the part: the share of its width that is not carried."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.job.seat import Groove
from shimopt.parts import Part
from shimopt.seats.bore import allowed_play
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["over_groove", "share_over"]


def share_over(groove: Groove, start: Fraction, end: Fraction) -> Fraction:
    """The share of a piece from `start` to `end` (measured from the face) that stands over the groove."""
    over = max(Fraction(0), min(end, Fraction(groove.end)) - max(start, Fraction(groove.start)))
    return over / (end - start)


def over_groove(part: Part, seat: Seat, start: Fraction = Fraction(0)) -> Answer:
    """Whether the shaft under the part, `start` away from the face, is there to hold it.

    A part that stands wholly over a groove is held by the groove's smaller diameter alone: a stop where the play there
    is over what the seat allows. Else a caution where more of its width than the limit is not carried.
    """
    if seat.grooves is None:
        return Unknown("no_groove")
    end = start + part.thickness.best
    worst = max(seat.grooves, key=lambda groove: share_over(groove, start, end), default=None)
    if worst is None or not (share := share_over(worst, start, end)):
        return None
    lengths: dict[str, Fraction | int] = {
        "from": max(start, Fraction(worst.start)),
        "to": min(end, Fraction(worst.end)),
        "groove": worst.diameter.best,
    }
    numbers = {"share": share, "allowed_share": seat.limits.over_groove}
    if share == 1 and part.inner is not None and seat.shaft is not None:
        play = part.inner.high - worst.diameter.low
        if play > allowed_play(seat):
            return Broken(
                "stop", "drops_into_groove", {**lengths, "play": play, "allowed": allowed_play(seat)}, numbers=numbers
            )
    if share > seat.limits.over_groove:
        return Broken("caution", "stands_over_groove", lengths, numbers=numbers)
    return None
