"""What the shaft asks of a part: bore against shaft, both ways; a groove under it; the fillet under the bore's edge.

A fillet of radius r rises above the face at every distance below r from the shaft. A part whose edge is broken by c and
which lies p away from the shaft begins at p + c: it seats if p + c >= r. Where it does not, it is lifted by
h = r - sqrt(r² - (r - p - c)²).
"""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

from shimopt.job import Seat
from shimopt.job.seat import Groove
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.seats import part_facts as facts
from shimopt.seats.finding import Answer, Broken, Lack, Unknown

_MM = 1_000_000


def default_bore_play(shaft: Fraction) -> int:
    """Largest allowed difference of bore and shaft where the seat names none [nm].

    Common practice, no source: stepped so that a ring bored D12 on a shaft to h9 still passes (ISO 286-1).
    """
    if shaft <= 50 * _MM:
        return 400_000
    return 600_000 if shaft <= 120 * _MM else 800_000


def allowed_play(seat: Seat, shaft: Bracket) -> int:
    """Largest allowed difference of bore and shaft on this seat [nm]."""
    return default_bore_play(shaft.best) if seat.bore_play is None else seat.bore_play


def bore_against_shaft(part: Part, seat: Seat) -> Answer:
    """Whether the part goes on, and whether it is then held near enough to the middle.

    Too small: the least bore against the largest shaft; a ring that may not go on must not be planned for. Too large: a
    stop where even the least play is over the allowed one, a caution where the largest may be.
    """
    bore, shaft = part.inner, seat.shaft
    if shaft is None:
        return Unknown(Lack.NO_SHAFT_DIAMETER)
    if bore is None:
        return Unknown(Lack.NO_BORE)
    if bore.low < shaft.high:
        return Broken("stop", facts.BoreTooSmall(least_bore=bore.low, largest_shaft=shaft.high))
    allowed = allowed_play(seat, shaft)
    least, most = bore.low - shaft.high, bore.high - shaft.low
    if most <= allowed:
        return None
    surely = least > allowed
    fact = (facts.BoreTooLarge if surely else facts.BoreMayBeTooLarge)(
        bore=bore.best, shaft=shaft.best, least_play=least, most_play=most, allowed=allowed, shift=most / 2
    )
    return Broken("stop" if surely else "caution", fact)


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
        return Unknown(Lack.NO_GROOVE)
    end = start + part.thickness.best
    worst = max(seat.grooves, key=lambda groove: share_over(groove, start, end), default=None)
    if worst is None or not (share := share_over(worst, start, end)):
        return None
    first, last = max(start, Fraction(worst.start)), min(end, Fraction(worst.end))
    groove, allowed_share = worst.diameter, seat.limits.over_groove
    if share == 1 and part.inner is not None and seat.shaft is not None:
        play, allowed = part.inner.high - groove.low, allowed_play(seat, seat.shaft)
        if play > allowed:
            drops = facts.DropsIntoGroove(
                start=first,
                end=last,
                groove=groove.best,
                share=share,
                allowed_share=allowed_share,
                play=play,
                allowed=allowed,
            )
            return Broken("stop", drops)
    if share > allowed_share:
        stands = facts.StandsOverGroove(
            start=first, end=last, groove=groove.best, share=share, allowed_share=allowed_share
        )
        return Broken("caution", stands)
    return None


def lift(radius: int, away: Fraction) -> int:
    """How far a part that begins `away` from the shaft is lifted off the face by a fillet [nm], rounded down."""
    if away >= radius:
        return 0
    into = radius - away
    return radius - isqrt(int(radius * radius - into * into))


def clears_fillet(part: Part, seat: Seat) -> Answer:
    """A stop where the part stands on the fillet even when centred, a caution where it does so at full shift."""
    if seat.fillet is None:
        return Unknown(Lack.NO_FILLET)
    if seat.fillet == 0:
        return None
    if part.edge is None:
        return Unknown(Lack.NO_EDGE)
    if part.edge >= seat.fillet:
        return None
    touching = lift(seat.fillet, Fraction(part.edge))
    if part.inner is not None and seat.shaft is not None:
        centred = max(Fraction(0), (part.inner.best - seat.shaft.best) / 2) + part.edge
        if centred < seat.fillet:
            lifted = lift(seat.fillet, centred)
            return Broken("stop", facts.StandsOnFillet(fillet=seat.fillet, edge=part.edge, lift=lifted))
    return Broken("caution", facts.MayStandOnFillet(fillet=seat.fillet, edge=part.edge, lift=touching))
