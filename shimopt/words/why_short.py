"""Why, gap by gap in a few lines: which gaps matter, what is told of them, and a line for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.account import Account
from shimopt.seats.part_facts import BoreTooSmall
from shimopt.words.speaker import Speaker, listed
from shimopt.words.why_words import Answer, unsuited_answers, why_answers

__all__ = ["matters", "rest_words", "short_answers"]

_IN_SHORT = {"Moved by", "So", "Not thinner", "Not thicker"}


def short_answers(decision: Decision, account: Account, say: Speaker) -> list[Answer]:
    """What was read, what is done and why not otherwise; where the gap is not inside also what would change it."""
    wanted = _IN_SHORT | ({"Changes if"} if decision.outcome.gaps[account.gap.name].verdict != "inside" else set())
    # what does not go on cannot be fitted by mistake
    near = tuple(one for one in account.unsuited if not isinstance(one.finding.fact, BoreTooSmall))
    answers = why_answers(decision, account, say)
    return [
        Answer("Read", answers[0].lines[:1]),
        *unsuited_answers(replace(account, unsuited=near), decision.job, say),
        *(answer for answer in answers if answer.about in wanted),
    ]


def matters(decision: Decision, gap: Gap) -> bool:
    """Whether a gap is not inside, or anything is done at a place that moves it."""
    found = decision.outcome.gaps[gap.name].verdict
    return found != "inside" or any(decision.changes.at[place].changed for place, _ in gap.effects)


def rest_words(told: int, alone: Sequence[str], more: int) -> str:
    """What is not told gap by gap: those left alone, how many more matter, and where all of it stands."""
    said = []
    if more:
        said.append(f"{more} more of {told + more} that are not inside or change.")
    if alone:
        said.append(f"{listed(alone, 8)} {'is' if len(alone) == 1 else 'are'} inside and left alone.")
    return " ".join([*said, "One gap with its numbers: shimopt why JOB GAP. All: --full"])
