"""Why, gap by gap in a few lines: which gaps matter, what is told of them, and a line for the rest."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Account
from shimopt.seats.part_facts import BoreTooSmall
from shimopt.words.findings_list import cautions
from shimopt.words.speaker import Speaker, listed
from shimopt.words.why_words import Answer, unsuited_answers, why_answers

SETTLE = "Something has to be settled here before anything is changed: the first lines say what."

_IN_SHORT = {"Moved by", "So", "Not thinner", "Not thicker", "Read again"}


def short_answers(decision: Decision, account: Account, say: Speaker, unsettled: Collection[str]) -> list[Answer]:
    """What was read, what is done and why not otherwise; where the gap is not inside also what would change it."""
    wanted = _IN_SHORT | ({"Changes if"} if decision.outcome.gaps[account.gap.name].verdict != "inside" else set())
    # what does not go on cannot be fitted by mistake
    near = tuple(one for one in account.unsuited if not isinstance(one.finding.fact, BoreTooSmall))
    answers = why_answers(decision, account, say)
    # that what is too thin or thick is outside is told of what goes in afresh; a table shows it of all
    if account.place is None:
        beside = {"Not thinner": account.thinner, "Not thicker": account.thicker}
        wanted -= {about for about, rival in beside.items() if rival is not None and rival.verdict == "outside"}
    # of one place that moves it by its thickness the reason says what comes out, what goes in and what that makes it
    if [effect for _, effect in account.gap.effects] == [-1] and any(a.about == "So" and a.lines for a in answers):
        wanted -= {"Moved by"}
    return [
        Answer("Read", answers[0].lines[:1]),
        *first_answers(account.gap, unsettled),
        *mind_answers(cautions(decision, say, _about(account.gap))),
        *unsuited_answers(replace(account, unsuited=near), decision.job, say),
        *(answer for answer in answers if answer.about in wanted),
    ]


def first_answers(gap: Gap, unsettled: Collection[str]) -> list[Answer]:
    """That something has to be settled first, where it is one of those gaps."""
    return [Answer("First", [SETTLE])] if gap.name in unsettled else []


def mind_answers(told: list[str]) -> list[Answer]:
    """Cautions as an answer; nothing where there are none."""
    return [Answer("Mind", told)] if told else []


def _about(gap: Gap) -> set[str]:
    return {gap.name, *(place for place, _ in gap.effects)}


def rank_of(decision: Decision, gap: Gap, care: Collection[str]) -> int | None:
    """How early a gap is told: not inside, then what asks for care, then what changes; None for one left alone.

    `care` names gaps and places of which there are cautions, or something to be settled first.
    """
    ranks = {"outside": 0, "unproven": 1}
    if (found := decision.outcome.gaps[gap.name].verdict) in ranks:
        return ranks[found]
    if _about(gap) & {*care}:
        return 2
    return 3 if any(decision.changes.at[place].changed for place, _ in gap.effects) else None


def rest_words(told: int, alone: Sequence[str], more: int) -> str:
    """What is not told gap by gap: those left alone, how many more matter, and where all of it stands."""
    said = []
    if more:
        said.append(f"{more} more of {told + more} that are not inside or change.")
    if alone:
        said.append(f"{listed(alone, 8)} {'is' if len(alone) == 1 else 'are'} inside and left alone.")
    return " ".join([*said, "One gap with its numbers: shimopt why JOB GAP. All: --full"])
