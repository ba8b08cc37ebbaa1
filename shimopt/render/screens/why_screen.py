"""Why the plan is as it is, on a screen: one account per gap, or the gaps that matter in a few lines each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Account, told_by_places
from shimopt.render.screens.laid_table import Cell, Row, table
from shimopt.render.screens.layout import Line, bold, padded, plain, section
from shimopt.words.findings_list import cared_for, cautions, planned_cautions
from shimopt.words.first_words import open_gaps, suspect_words
from shimopt.words.headline import headline, headlines, worked_on
from shimopt.words.reading_words import basis_text
from shimopt.words.reading_worth_words import asked_words, worth_words
from shimopt.words.reason_words import about_reason, reason_words
from shimopt.words.speaker import Speaker
from shimopt.words.why_short import (
    TABLE,
    TABLED,
    first_answers,
    mind_answers,
    rank_of,
    rest_words,
    short_answers,
    telling,
)
from shimopt.words.why_words import RIVAL_HEADS, Answer, rival_cells, rival_note, why_answers

# what an order would save is seldom asked for
if TYPE_CHECKING:
    from shimopt.ordering.reading_worth import ReadingWorth

_LABEL, _INDENT, _NARROW = 13, 6, 60
_MOST = 8
_USUAL, _ONE_SCREEN = 80, 25


def why_lines(
    decision: Decision, gaps: Sequence[str], unit: str, width: int, worths: Sequence[ReadingWorth] = ()
) -> list[Line]:
    """The accounts of these gaps as lines, each with whether it is bold.

    Parameter: worths, what one more reading is worth, of gaps of which that was worked out.
    """
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    unsettled = open_gaps(decision)
    lines: list[Line] = [*bold(headline(decision, say), width), *_worked_on(decision, width)]
    for name in gaps:
        again = [words for worth in worths if worth.gap == name for words in worth_words(worth, say)]
        if len(gaps) == 1 and not worths:
            again = asked_words(decision, name, say)
        lines += [("", False), *_account(decision, name, say, unsettled, width, again or None)]
    return [*lines, *_besides(decision, say, width)] if len(gaps) == len(decision.job.gaps) else lines


def _worked_on(decision: Decision, width: int) -> list[Line]:
    """What was done otherwise than by shims: what a gap reads since has that in it."""
    done = worked_on(decision.job)
    return plain(f"Done at the last visit: {done}", width) if done else []


def gap_why_lines(
    decision: Decision, name: str, unit: str, width: int, worths: Sequence[ReadingWorth] = ()
) -> list[Line]:
    """The account of one gap on one screen of 80 columns: what decides first; what is lightest is left out for room."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    wide, account = max(width, _USUAL), decision.account(name)
    again = [words for worth in worths for words in worth_words(worth, say)] or asked_words(decision, name, say)
    mind = planned_cautions(decision, say, [place for place, _ in account.gap.effects])
    told = telling(decision, account, say, why_answers(decision, account, say, again or None), asked=bool(worths))
    first = [*first_answers(account.gap, open_gaps(decision)), *mind_answers(mind)]
    blocks = [*((0, answer) for answer in first), *told]
    head = headline(decision, say)

    def lines(blocks: Sequence[tuple[int, Answer]], width: int, *, cut: bool) -> list[Line]:
        made = [*bold(head, width), *_worked_on(decision, width), ("", False), *bold(shown(name), width)]
        for _, answer in blocks:
            tabled = answer.about == TABLE
            made += _table(decision, account, say, width, cut=cut) if tabled else _answers([answer], width)
        return made

    # what is asked for has its own length
    most = _ONE_SCREEN + sum(len(_answers([Answer("", [words])], wide)) for words in again) * bool(worths)
    cut = len(lines(blocks, wide, cut=False)) > most
    left = sorted((weight for weight, _ in blocks if weight), reverse=True)
    while left and len(lines(blocks, wide, cut=cut)) >= most:
        heaviest = left.pop(0)
        blocks.remove(next(one for one in reversed(blocks) if one[0] == heaviest))
        cut = True
    made = lines(blocks, width, cut=cut)
    return [*made, *plain("More: shimopt why JOB GAP --full", width)] if cut else made


def short_why_lines(decision: Decision, unit: str, width: int) -> list[Line]:
    """The gaps that matter, worst first, each in a few lines; a line for the rest."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    unsettled = open_gaps(decision)
    care = cared_for(decision, say) | unsettled
    ranks = {gap.name: rank_of(decision, gap, care) for gap in decision.job.gaps}
    telling = [gap for gap in decision.job.gaps if ranks[gap.name] is not None]
    telling.sort(key=lambda gap: ranks[gap.name] or 0)
    lines = [
        line for words in (*headlines(decision, say), *suspect_words(decision, say)) for line in bold(words, width)
    ]
    lines += _worked_on(decision, width)
    told: set[str] = set()
    for gap in telling[:_MOST]:
        account = decision.account(gap.name)
        lines += [("", False), *bold(shown(gap.name), width)]
        lines += _answers(short_answers(decision, account, say, unsettled), width)
        told |= {gap.name, *(place for place, _ in gap.effects)}
    if mind := cautions(decision, say, care - told | {""}):
        lines += [("", False), *section("Mind", mind, width)]
    alone = [name for name, rank in ranks.items() if rank is None]
    rest = rest_words(min(_MOST, len(telling)), alone, max(0, len(telling) - _MOST))
    return [*lines, *_besides(decision, say, width), ("", False), *plain(rest, width)]


def _besides(decision: Decision, say: Speaker, width: int) -> list[Line]:
    """What is told of no gap: of balances, of what is bought."""
    about = set(decision.job.gap)
    # of gaps that several places move, or that held pieces, all is told there
    names = told_by_places(decision.job)
    told = {place for name in names for place, _ in decision.job.gap[name].effects}
    others = [r for r in decision.reasons if not (r.about in about or r.about in told or names & set(r.names))]
    told_here = section("Besides", [reason_words(r, about_reason(decision.job, r, say)) for r in others], width)
    return [("", False), *told_here] if others else []


def _account(
    decision: Decision,
    name: str,
    say: Speaker,
    unsettled: Collection[str],
    width: int,
    again: Sequence[str] | None,
) -> list[Line]:
    account = decision.account(name)
    lines: list[Line] = bold(shown(account.gap.name), width)
    mind = planned_cautions(decision, say, [place for place, _ in account.gap.effects])
    read, *others = why_answers(decision, account, say, again)
    beside = {"Not thinner": account.thinner, "Not thicker": account.thicker}
    tabled = False
    for answer in (read, *first_answers(account.gap, unsettled), *mind_answers(mind), *others):
        rival = beside.get(answer.about)
        if tabled and rival is not None and rival.verdict == "outside":
            # its row says so
            continue
        lines += _answers([answer], width)
        if answer.about in TABLED and len(account.rivals) > 1:
            lines += _table(decision, account, say, width)
            tabled = True
    return lines


def _answers(answers: Sequence[Answer], width: int) -> list[Line]:
    lines: list[Line] = []
    for about, sentences in answers:
        for at, sentence in enumerate(sentences):
            first, rest = padded(f"  {about}" if at == 0 else "", _LABEL + 2), " " * (_LABEL + 2)
            if width < _NARROW:
                first, rest = f"  {about}: " if at == 0 else "    ", "    "
            lines += plain(sentence, width, first, rest)
    return lines


def _table(decision: Decision, account: Account, say: Speaker, width: int, *, cut: bool = False) -> list[Line]:
    if len(account.rivals) < 2:
        return []
    was_in = decision.job.place[account.gap.effects[0][0]].installed
    unit = f", {say.unit}" if width >= _NARROW else ""
    suits, thick, leaves, becomes = RIVAL_HEADS
    heads = (f"  {suits}", f"{thick}{unit}", f"{leaves}{unit}{basis_text(account.gap)}", becomes)
    head = Row(tuple(Cell(text, whole=at in (1, 2)) for at, text in enumerate(heads)))
    rows = [
        Row((*(Cell(text) for text in cells), Cell(becomes, says_all=True)))
        for *cells, becomes in rival_cells(account, say, was_in, cut=cut)
    ]
    lines: list[Line] = [(" " * _INDENT + text, False) for text, _ in table(head, rows, width - _INDENT)]
    note = rival_note(account, was_in)
    return [*lines, *plain(note, width, " " * (_INDENT + 2), " " * (_INDENT + 4))]
