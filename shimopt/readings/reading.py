"""A reading: the bracket in which a gap lies, how it was got, and what had to be assumed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.lengths import Bracket

__all__ = ["Reading", "ReadingError"]


class ReadingError(ValueError):
    """A reading that cannot be; `rule` and `remedy` as in a problem."""

    def __init__(self, rule: str, remedy: str) -> None:
        self.rule = rule
        self.remedy = remedy
        super().__init__(f"{rule}. {remedy}")


@dataclass(frozen=True, slots=True)
class Reading:
    """A gap's bracket [nm, exact].

    `kind` says which instrument or form it came from ("value", "feeler", "table"); `basis` whether the bracket is a
    hard bound ("worst case"); `no_preload_assumed` that its low end is zero only because preload was ruled out by
    assumption; `tilt` how far apart spots lie that should agree, 0 where they do [nm].
    """

    bracket: Bracket
    kind: str
    basis: str = "worst case"
    no_preload_assumed: bool = False
    tilt: Fraction = Fraction(0)

    @property
    def taken_as_exact(self) -> bool:
        """Whether a single number without any tolerance was given."""
        return self.bracket.exact
