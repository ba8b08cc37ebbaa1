"""Why the plan is as it is, on a screen and as data: one account per gap."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons.account import Account
from shimopt.render.screens.layout import Line, bold, columns, padded, plain, section
from shimopt.words.headline import headline
from shimopt.words.reading_words import basis_text
from shimopt.words.reason_words import about_reason, reason_words
from shimopt.words.speaker import Speaker
from shimopt.words.why_words import rival_cells, rival_note, why_answers

__all__ = ["why_lines"]

_LABEL, _INDENT = 13, 6


def why_lines(decision: Decision, gaps: Sequence[str], unit: str, width: int) -> list[Line]:
    """The accounts of these gaps as lines, each with whether it is bold."""
    say = Speaker.of(decision.job, unit)
    lines: list[Line] = bold(headline(decision, say), width)
    for name in gaps:
        lines += [("", False), *_account(decision, decision.account(name), say, width)]
    about = set(decision.job.gap)
    # of gaps that several places move, or that held pieces, all is told there
    several = [gap for gap in decision.job.gaps if decision.account(gap.name).place is None]
    told = {place for gap in several for place, _ in gap.effects}
    names = {gap.name for gap in several}
    others = [r for r in decision.reasons if not (r.about in about or r.about in told or names & set(r.names))]
    if others and len(gaps) == len(about):
        lines += [
            ("", False),
            *section("Besides", [reason_words(r, about_reason(decision.job, r, say)) for r in others], width),
        ]
    return lines


def _account(decision: Decision, account: Account, say: Speaker, width: int) -> list[Line]:
    lines: list[Line] = bold(shown(account.gap.name), width)
    for about, sentences in why_answers(decision, account, say):
        for at, sentence in enumerate(sentences):
            first = padded(f"  {about}" if at == 0 else "", _LABEL + 2)
            lines += plain(sentence, width, first, " " * (_LABEL + 2))
        if about == "Shim" and len(account.rivals) > 1:
            lines += _table(account, say, width)
    return lines


def _table(account: Account, say: Speaker, width: int) -> list[Line]:
    head = ("  what suits", f"thickness, {say.unit}", f"leaves, {say.unit}{basis_text(account.gap)}", "which is")
    rows = columns([head, *rival_cells(account, say)], width - _INDENT, least_first=14)
    lines: list[Line] = [(" " * _INDENT + line, False) for row in rows for line in row if cell_len(line)]
    note = rival_note(account)
    return [*lines, *plain(note, width, " " * (_INDENT + 2))] if note else lines
