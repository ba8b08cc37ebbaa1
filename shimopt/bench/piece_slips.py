"""A measured piece that is of another order than all pieces of its drawer, as one typed in another unit is."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Job
from shimopt.lengths import other_units, spelled
from shimopt.words.bench_words import piece_slip_words

# units are 25.4 times apart or more: who measures a piece that is thrice the thickest, or a third of the thinnest, is
# asked once where another unit explains it
_NEAR = 3


def piece_slip(job: Job, thickness: Fraction, typed: tuple[str, str]) -> tuple[str, str] | None:
    """What the same digits would be in the unit in which they come among the pieces at hand, and what to do about it.

    None where it is near to them, or no other unit explains it. Parameters: thickness [nm]; its digits, and their unit.
    """
    known = [line.part.thickness.best for line in job.stock]
    if not known or min(known) / _NEAR < thickness < _NEAR * max(known):
        return None
    meant = [
        (unit != job.unit, nm, unit)
        for nm, unit in other_units(thickness, typed[1])
        if min(known) / _NEAR <= nm <= _NEAR * max(known)
    ]
    if not meant:
        return None
    _, nm, unit = min(meant)
    return piece_slip_words(" ".join(typed), spelled(nm, unit), job.unit)
