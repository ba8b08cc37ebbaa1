"""One reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.seats import Finding

__all__ = ["Reason"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is as it is.

    `about` names the gap, place or balance; `code` the kind of reason; `lengths` the numbers [nm], `names` the gaps or
    parts that take part, `stack` a stack that the reason speaks of, `nearest` the nearest that could be made instead,
    `texts` whatever else the sentence needs, `findings` what was found about the parts that it names.
    """

    about: str
    code: str
    lengths: Mapping[str, Fraction | int] = field(default_factory=dict)
    names: tuple[str, ...] = ()
    stack: Stack = ()
    texts: Mapping[str, str] = field(default_factory=dict)
    nearest: Stack = ()
    findings: tuple[Finding, ...] = ()
