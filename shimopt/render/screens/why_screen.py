"""Why the plan is as it is, on a screen and as data: one account per gap."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons.account import Account
from shimopt.render.screens.layout import Line, columns, folded, padded
from shimopt.words.headline import headline
from shimopt.words.reason_words import reason_words
from shimopt.words.speaker import Speaker
from shimopt.words.why_words import rival_cells, rival_note, why_answers

__all__ = ["why_lines"]

_LABEL, _INDENT = 13, 6


def why_lines(decision: Decision, gaps: Sequence[str], unit: str, width: int) -> list[Line]:
    """The accounts of these gaps as lines, each with whether it is bold."""
    say = Speaker(unit, decision.job.stock)
    lines: list[Line] = [(line, True) for line in folded(headline(decision, say), width)]
    for name in gaps:
        lines += [("", False), *_account(decision, decision.account(name), say, width)]
    about = set(decision.job.gap)
    others = [reason for reason in decision.reasons if reason.about not in about]
    if others and len(gaps) == len(about):
        lines += [("", False), ("Besides", True)]
        lines += [(line, False) for reason in others for line in folded(reason_words(reason, say), width, "  ", "    ")]
    return lines


def _account(decision: Decision, account: Account, say: Speaker, width: int) -> list[Line]:
    lines: list[Line] = [(line, True) for line in folded(shown(account.gap.name), width)]
    for about, sentences in why_answers(decision, account, say):
        for at, sentence in enumerate(sentences):
            first = padded(f"  {about}" if at == 0 else "", _LABEL + 2)
            lines += [(line, False) for line in folded(sentence, width, first, " " * (_LABEL + 2))]
        if about == "Shim" and len(account.rivals) > 1:
            lines += _table(account, say, width)
    return lines


def _table(account: Account, say: Speaker, width: int) -> list[Line]:
    head = ("  what suits", f"thickness, {say.unit}", f"leaves, {say.unit}", "which is")
    rows = columns([head, *rival_cells(account, say)], width - _INDENT, least_first=14)
    lines = [" " * _INDENT + line for row in rows for line in row if cell_len(line)]
    note = rival_note(account)
    return [(line, False) for line in [*lines, *(folded(note, width, " " * (_INDENT + 2)) if note else [])]]
