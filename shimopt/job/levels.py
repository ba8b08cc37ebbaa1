"""What a plan is judged by: the levels, in their fixed order; lower is better, each proven before the next."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal, Self

Measure = Literal["count", "length", "money"]
Of = Literal["gap", "stack", "balance", "purchase"]


class Level(StrEnum):
    """A level is its name (`Level.MISS == "miss"`), and knows what it measures and of what.

    `measure` is "count", "length" [nm] or "money"; `of` says what adds to it: every gap, every stack, every balance, or
    what is bought. The order of the members is the order in which levels are looked at where a job says no other.

    >>> [str(level) for level in Level if level.of == "balance"]
    ['excess', 'spread']
    """

    measure: Measure
    of: Of

    # the defaults are for `Level("miss")`, which looks a level up by its name alone
    def __new__(cls, name: str, measure: Measure = "count", of: Of = "gap") -> Self:
        """A text that carries what it measures."""
        level = str.__new__(cls, name)
        level._value_ = name
        level.measure, level.of = measure, of
        return level

    OUTSIDE = "outside", "count", "gap"
    MISS = "miss", "length", "gap"
    UNPROVEN = "unproven", "count", "gap"
    DOUBT = "doubt", "length", "gap"
    EXCESS = "excess", "length", "balance"
    BOUGHT = "bought", "count", "purchase"
    OPENED = "opened", "count", "stack"
    PIECES = "pieces", "count", "stack"
    CAUTIONS = "cautions", "count", "stack"
    SPREAD = "spread", "length", "balance"
    TARGET = "target", "length", "gap"
    COST = "cost", "money", "purchase"

    @property
    def is_length(self) -> bool:
        """Whether its values are lengths [nm]."""
        return self.measure == "length"


# what else a model brings down (pieces short, a split) is none of them
LENGTH_LEVELS = frozenset(level for level in Level if level.is_length)
