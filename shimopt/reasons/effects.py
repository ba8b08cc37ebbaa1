"""Where the figures of effects come from, and where a stated figure and a computed one differ."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from shimopt.job import EffectSource, Job
from shimopt.seats import Finding

__all__ = ["effect_findings"]


def effect_findings(job: Job) -> list[Finding]:
    """A note for every effect that is computed or that names its source, in job order."""
    return [found for gap in job.gaps for source in gap.effect_sources for found in _findings(gap.name, source)]


def _findings(gap: str, source: EffectSource) -> Iterator[Finding]:
    texts = {"place": source.place, "effect": _plain(source.effect), "source": source.source, "gap": gap}
    if source.teeth is not None and source.angle is not None:
        pinion, wheel = source.teeth
        texts |= {"teeth": f"{pinion} and {wheel}", "angle": _plain(source.angle), "on": source.on}
    if source.low is not None and source.high is not None:
        texts |= {"low": _plain(source.low), "high": _plain(source.high)}
    if source.kind == "figure" and source.geometry is not None:
        texts["computed"] = _plain(source.geometry)
        texts["by"] = "geometry" if source.teeth is not None else "two readings"
        if source.effect != source.geometry:
            differs = abs(source.effect / source.geometry - 1) * 100 if source.geometry else Fraction(0)
            texts["percent"] = f"{float(differs):.2g}"
    yield Finding(gap, "", "note", f"effect_from_{source.kind}", {}, texts)


def _plain(number: Fraction) -> str:
    """An effect as people read it: a decimal where it is one, else a fraction."""
    rounded = round(number, 6)
    if rounded != number:
        return f"{number.numerator}/{number.denominator}"
    return f"{Decimal(number.numerator) / Decimal(number.denominator):f}"
