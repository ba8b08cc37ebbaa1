"""What the levels are called, and what a better plan would be better by: said where one is not ruled out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from shimopt.job.levels import Level
from shimopt.proof.proven import Proof
from shimopt.words.speaker import Speaker, listed, number_word, plural

if TYPE_CHECKING:
    from shimopt.choose import LevelResult


@dataclass(frozen=True, slots=True)
class LevelWords:
    """A level in words: its name, how a plan is better at it ("{} nearer"), its noun if counted, how one is worse."""

    called: str
    better: str
    noun: str = ""
    worse: str = "comes to {} more"


LEVEL_WORDS = {
    "outside": LevelWords("gaps outside", "{} more inside", "gap", "leaves {} more outside"),
    "miss": LevelWords("distance outside the windows", "{} nearer", worse="leaves gaps {} further outside"),
    "unproven": LevelWords(
        "gaps not surely inside", "{} more surely inside", "gap", "leaves {} more not surely inside"
    ),
    "doubt": LevelWords(
        "reach out of the windows", "{} less out of the windows at worst", worse="could be out by {} more at worst"
    ),
    "excess": LevelWords(
        "unevenness over what is asked", "{} nearer to as even as asked", worse="leaves {among} {} too uneven"
    ),
    "bought": LevelWords("pieces to buy", "{} fewer to buy", "piece", "takes {} more to buy"),
    "opened": LevelWords("places changed", "{} fewer to change", "place", "changes {} more"),
    "pieces": LevelWords("pieces fitted", "{} fewer", "piece", "needs {} more"),
    "cautions": LevelWords(
        "pieces that ask for care", "{} fewer that ask for care", "piece", "takes {} more that asks for care"
    ),
    "spread": LevelWords("unevenness", "{} more even", worse="leaves {among} {} less even"),
    "target": LevelWords(
        "distance from the targets", "{} nearer to the targets", worse="is {} further from the targets"
    ),
    "cost": LevelWords("cost", "{} cheaper", worse="costs {} more"),
}


def level_amount(level: Level, amount: Fraction, say: Speaker) -> str:
    """A level's value, or a difference of two, with its unit or noun."""
    match level.measure:
        case "length":
            return say(amount)
        case "money":
            return say.money(amount)
    return plural(amount, LEVEL_WORDS[level].noun)


def worse_by(level: Level, value: Fraction, planned: Fraction, among: Sequence[str], say: Speaker) -> str:
    """What a plan is worse by at a level: `needs one piece more`, `leaves the frame 1.5 thou too uneven`.

    Parameter: among, the balances that it may leave uneven.
    """
    by = value if level == Level.EXCESS else value - planned
    amount = f"{number_word(int(by))} {_noun(level, by)}" if level.measure == "count" else level_amount(level, by, say)
    return LEVEL_WORDS[level].worse.format(amount, among=listed(among) or "the gaps")


def _noun(level: Level, count: Fraction) -> str:
    noun = LEVEL_WORDS[level].noun
    return noun if count == 1 else f"{noun}s"


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


def so_far_words(levels: Sequence[LevelResult], say: Speaker) -> str:
    """What a plan that nobody waits for comes to: `Best so far: 3 gaps outside (at least 2), ...`, and what is open."""
    told = []
    for level in levels:
        of = Level(level.name)
        if level.value or level.bound:
            least = (
                f" (at least {level_amount(of, level.bound, say)})"
                if level.bound is not None and not level.proven
                else ""
            )
            told.append(f"{LEVEL_WORDS[of].called}: {level_amount(of, level.value, say)}{least}")
    return " ".join(filter(None, (f"Best so far: {', '.join(told) or 'nothing to do'}.", not_ruled_out(levels, say))))
