"""What the levels are called, and what a better plan would be better by: said where one is not ruled out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from shimopt.job.levels import Level
from shimopt.proof.proven import Proof
from shimopt.words.speaker import Speaker, plural

if TYPE_CHECKING:
    from shimopt.choose import LevelResult

__all__ = ["LEVEL_WORDS", "level_amount", "not_ruled_out"]


@dataclass(frozen=True, slots=True)
class LevelWords:
    """A level's name in words, how a plan is better at it ("{} nearer"), and the noun of what is counted."""

    called: str
    better: str
    noun: str = ""


LEVEL_WORDS = {
    "outside": LevelWords("gaps outside", "{} more inside", "gap"),
    "miss": LevelWords("distance outside the windows", "{} nearer"),
    "unproven": LevelWords("gaps not surely inside", "{} more surely inside", "gap"),
    "doubt": LevelWords("reach out of the windows", "{} less out of the windows at worst"),
    "excess": LevelWords("unevenness over what is asked", "{} nearer to as even as asked"),
    "bought": LevelWords("pieces to buy", "{} fewer to buy", "piece"),
    "opened": LevelWords("places opened", "{} fewer to open", "place"),
    "pieces": LevelWords("pieces fitted", "{} fewer", "piece"),
    "cautions": LevelWords("pieces that ask for care", "{} fewer that ask for care", "piece"),
    "spread": LevelWords("unevenness", "{} more even"),
    "target": LevelWords("distance from the targets", "{} nearer to the targets"),
    "cost": LevelWords("cost", "{} cheaper"),
}


def level_amount(level: Level, amount: Fraction, say: Speaker) -> str:
    """A level's value, or a difference of two, with its unit or noun."""
    match level.measure:
        case "length":
            return say(amount)
        case "money":
            return say.money(amount)
    return plural(amount, LEVEL_WORDS[level].noun)


def not_ruled_out(levels: Sequence[LevelResult], say: Speaker) -> str:
    """That a better plan is not ruled out, and by how much it could be better; empty where the plan is proven best.

    The first level that is not proven is told: below it nothing can be said that would hold.
    """
    first = next((level for level in levels if not level.proven), None)
    if first is None:
        return ""
    by_whom = ", by one solver" if first.proof == Proof.ONE_SOLVER else ""
    said = f"Best found{by_whom}; a better one is not ruled out"
    level, by = Level(first.name), Fraction(0) if first.bound is None else first.value - first.bound
    if level.measure == "count":
        by = Fraction(int(by))  # of whole pieces there is no half
    if by <= 0:
        return f"{said}."
    return f"{said}: at most {LEVEL_WORDS[level].better.format(level_amount(level, by, say))}."
