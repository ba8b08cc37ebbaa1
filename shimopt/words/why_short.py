"""Why, gap by gap in a few lines: which gaps matter, what is told of them, and a line for the rest."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Account
from shimopt.reasons.job_facts import NotAsPredicted
from shimopt.seats.part_facts import BoreTooSmall
from shimopt.words.finding_words import finding_words
from shimopt.words.findings_list import cautions
from shimopt.words.found_words import told_as_found
from shimopt.words.reading_words import reading_words
from shimopt.words.speaker import Speaker, begun, listed
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


TABLE = "Table"
TABLED = ("Shim", "Moved by")  # what the table of stacks stands below
# how soon an answer about one gap gives way to others; what is not named here never does
_LIGHT = {
    "Gain, cost": 9,
    "Seat": 8,
    "Gauge": 6,
    "Shim": 5,
    "Changes if": 4,
    "Stop": 3,
    "Not thicker": 2,
    "Not thinner": 2,
    "Read again": 2,
    "Hot": 1,
    "Moved by": 1,
}
_TERMS, _BESIDE = 7, 8


def telling(
    decision: Decision, account: Account, say: Speaker, answers: Sequence[Answer], *, asked: bool
) -> list[tuple[int, Answer]]:
    """The answers about one gap, what decides first, each with how soon it gives way to others (0: never).

    Of a table of stacks only where it stands, as an answer without lines. Parameter: asked, whether somebody asked what
    one more reading saves.
    """
    read, *others = answers
    say = say.about(account.gap)
    own = [one for one in decision.findings if one.place == account.gap.name]
    # what the first lines say of what was found after fitting
    above = account.gap.name in told_as_found(decision)
    own = [one for one in own if one.grade == "note" or (above and isinstance(one.fact, NotAsPredicted))]
    light = {line.strip() for line in reading_words(account.gap, say)} | {begun(finding_words(one, say)) for one in own}
    made_of = [line for line in read.lines[1:] if line.removesuffix(".") in light]
    # whose it is stands above
    named = f"{shown(account.gap.name)}: "
    first = [answer for answer in others if answer.about == "So"]
    told = [(0, Answer("So", [begun(line.removeprefix(named)) for line in answer.lines])) for answer in first]
    told.append((0, Answer("Read", [line for line in read.lines if line not in made_of])))
    told += [(_TERMS, Answer("Made of", made_of))] if made_of else []
    beside = {"Not thinner": account.thinner, "Not thicker": account.thicker}
    for answer in others:
        rival = beside.get(answer.about)
        # its row in the table says what is outside
        if answer in first or (rival is not None and rival.verdict == "outside" and len(account.rivals) > 1):
            continue
        weight = _LIGHT.get(answer.about, 0)
        if decision.outcome.gaps[account.gap.name].verdict != "inside":
            weight = {"Gauge": _LIGHT["Stop"], "Changes if": _LIGHT["Hot"]}.get(answer.about, weight)
        if answer.about == "Moved by" and [effect for _, effect in account.gap.effects] in ([1], [-1]):
            weight = _BESIDE
        if answer.about == "Read again" and asked:
            told.append((0, answer))
        elif answer.about == "Read again":
            told += [(weight, Answer(answer.about, answer.lines[:1])), (_BESIDE, Answer("", answer.lines[1:]))]
        elif answer.about == "Shim":
            # how its ends come about gives way, what is wanted does not
            told += [(weight, Answer("Shim", answer.lines[:-1])), (0, Answer("Wanted", answer.lines[-1:]))]
        else:
            told.append((weight, answer))
        told += [(0, Answer(TABLE, []))] if answer.about in TABLED else []
    return told


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
