"""The bore of a part against the shaft it goes over, both ways."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.rule import Answer, Broken, Unknown

__all__ = ["allowed_play", "bore_against_shaft", "default_bore_play"]

_MM = 1_000_000


def default_bore_play(shaft: Fraction) -> int:
    """Largest allowed difference of bore and shaft where the seat names none [nm].

    Common practice, no source: stepped so that a ring bored D12 on a shaft to h9 still passes (ISO 286-1).
    """
    if shaft <= 50 * _MM:
        return 400_000
    return 600_000 if shaft <= 120 * _MM else 800_000


def allowed_play(seat: Seat) -> int:
    """Largest allowed difference of bore and shaft on this seat, whose shaft is known [nm]."""
    assert seat.shaft is not None
    return default_bore_play(seat.shaft.best) if seat.bore_play is None else seat.bore_play


def bore_against_shaft(part: Part, seat: Seat) -> Answer:
    """Whether the part goes on, and whether it is then held near enough to the middle.

    Too small: the least bore against the largest shaft; a ring that may not go on must not be planned for. Too large: a
    stop where even the least play is over the allowed one, a caution where the largest may be.
    """
    bore, shaft = part.inner, seat.shaft
    if shaft is None:
        return Unknown("no_shaft_diameter")
    if bore is None:
        return Unknown("no_bore")
    if bore.low < shaft.high:
        return Broken("stop", "bore_too_small", {"least_bore": bore.low, "largest_shaft": shaft.high})
    allowed = allowed_play(seat)
    least, most = bore.low - shaft.high, bore.high - shaft.low
    if most <= allowed:
        return None
    lengths: dict[str, Fraction | int] = {
        "bore": bore.best,
        "shaft": shaft.best,
        "least_play": least,
        "most_play": most,
        "allowed": allowed,
        "shift": most / 2,
    }
    if least > allowed:
        return Broken("stop", "bore_too_large", lengths)
    return Broken("caution", "bore_may_be_too_large", lengths)
