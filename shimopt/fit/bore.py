"""The bore of a part against the shaft it goes over, both ways."""

from __future__ import annotations

from fractions import Fraction

from shimopt.fit.finding import Grade
from shimopt.job import Seat
from shimopt.parts import Part

__all__ = ["bore_against_shaft", "default_bore_play"]

_MM = 1_000_000


def default_bore_play(shaft: Fraction) -> int:
    """Largest allowed difference of bore and shaft where the seat names none [nm].

    Common practice, no source: stepped so that a ring bored D12 on a shaft to h9 still passes (ISO 286-1).
    """
    if shaft <= 50 * _MM:
        return 400_000
    return 600_000 if shaft <= 120 * _MM else 800_000


def bore_against_shaft(part: Part, seat: Seat) -> tuple[Grade, str, dict[str, Fraction | int]] | None:
    """Grade, code and numbers where the bore does not suit the shaft; None where it does.

    Too small: the least bore against the largest shaft; a ring that may not go on must not be planned for. Too large: a
    stop where even the least play is over the allowed one, a caution where the largest may be. Both diameters must be
    known (see `missing_dimension`).
    """
    bore, shaft = part.inner, seat.shaft
    if bore is None or shaft is None:
        return None
    if bore.low < shaft.high:
        return "stop", "bore_too_small", {"least_bore": bore.low, "largest_shaft": shaft.high}
    allowed = default_bore_play(shaft.best) if seat.bore_play is None else seat.bore_play
    least, most = bore.low - shaft.high, bore.high - shaft.low
    if most <= allowed:
        return None
    numbers: dict[str, Fraction | int] = {"bore": bore.best, "shaft": shaft.best, "least_play": least, "most_play": most,
                                          "allowed": allowed}  # fmt: skip
    if least > allowed:
        return "stop", "bore_too_large", numbers
    return "caution", "bore_may_be_too_large", numbers


def missing_dimension(part: Part, seat: Seat | None) -> str | None:
    """Which dimension is missing for the rule, as a code; None where the rule can be checked."""
    if seat is None:
        return "no_seat"
    if seat.shaft is None:
        return "no_shaft_diameter"
    return "no_bore" if part.inner is None else None
