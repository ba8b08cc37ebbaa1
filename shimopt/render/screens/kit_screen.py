"""The drawer to keep on a terminal: what it serves, what to keep and to buy, and what other budgets would serve."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.learning.kit_budget import Budget
from shimopt.render.screens.layout import Line, bold, columns, plain
from shimopt.words.kit_words import (
    KitAnswer,
    buying_lines,
    cost_words,
    headline,
    kept_lines,
    never_lines,
    packs_words,
    sizes_lines,
    standing_lines,
)
from shimopt.words.speaker import Speaker, plural

_BAR = 30


def kit_lines_shown(answer: KitAnswer, unit: str, width: int) -> list[Line]:
    """The screen."""
    say = Speaker(unit)
    lines: list[Line] = bold(headline(answer), width)
    for text in standing_lines(answer):
        lines += plain(text, width)
    rows = [("part", "thick", "keep", "on hand", "buy", "cost")]
    for line in answer.lines:
        part = line.line.part
        thick = say(part.thickness.best if part.marked is None else part.marked)
        bought = packs_words(line), cost_words(line, answer.currency)
        rows.append((shown(part.name), thick, str(line.pieces), str(line.on_hand), *bought))
    if answer.lines:
        head, *blocks = columns(rows, width)
        lines += [("", False), *((text, True) for text in head)]
        lines += [(text, False) for block in blocks for text in block]
    lines.append(("", False))
    for text in (*kept_lines(answer, say), *buying_lines(answer), *never_lines(answer), *sizes_lines(answer, say)):
        lines += plain(text, width)
    of_jobs = plural(answer.found.jobs, "job")
    lines += [("", False), (f"What other budgets would serve, of {of_jobs}", True)]
    return lines + [(text, False) for text in _curve(answer)]


def _curve(answer: KitAnswer) -> list[str]:
    jobs = answer.found.jobs
    told = [(budget_words(budget, answer.currency), served) for budget, served in answer.found.curve]
    wide = max(len(text) for text, _ in told)
    return [f"  {text:>{wide}}  {served:6.2f}  {'─' * round(_BAR * served / jobs)}" for text, served in told]


def budget_words(budget: Budget, currency: str) -> str:
    """A budget in words."""
    return f"{budget.money:,.2f} {currency}".strip() if budget.pieces is None else plural(budget.pieces, "piece")
