"""The plan in about ten lines: the answer, a row per gap, what asks for care, how far it is proven and what is next."""

from __future__ import annotations

from shimopt.planner import Decision
from shimopt.render.screens.layout import Line, Marks, Span, bold, folded, plain, section, spaced
from shimopt.render.screens.plan_table import common_window, gap_table, place_table
from shimopt.words.change_words import stays_out_words
from shimopt.words.choice_words import choice_words, purchase_words
from shimopt.words.findings_list import cautions, near_misses
from shimopt.words.first_words import suspect_words
from shimopt.words.headline import headlines, start_words
from shimopt.words.next_steps import next_steps
from shimopt.words.reading_words import LIKELY_NOTE, limits_text, source_text
from shimopt.words.reason_words import scarce_words
from shimopt.words.short_words import (
    assumed_words,
    balance_words,
    in_order,
    marks_words,
    one_source,
    proof_words,
    source_words,
)
from shimopt.words.speaker import Speaker, ended

_MOST = 6
_UNITS = {"in": "inches"}


def short_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """All lines of the screen."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    places, gaps = place_table(decision, say, width), gap_table(decision, say, width, marks)
    key = marks_words(decision, " ".join(text for text, _ in (*places, *gaps)))
    return spaced(
        (
            _answer(decision, say, width, marks),
            places,
            [*gaps, *plain(" ".join(filter(None, (key, in_order(decision, say)))), width)],
            _notes(decision, say, width, marks),
            section("Buy", purchase_words(decision, say), width),
            section("Choices", [choice_words(row, decision.job, say) for row in decision.choices], width),
        )
    ) + plain(proof_words(decision), width)


def _answer(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    lines = [line for words in headlines(decision, say) for line in bold(words, width)]
    for words in suspect_words(decision, say):
        lines += _signed(marks.outside, words, width, "outside")
    allowed = common_window(decision)
    about = f"{ended(decision.job.title)} In {_UNITS.get(say.unit, say.unit)}."
    if allowed is not None:
        limits = limits_text(allowed.window, say.about(allowed).bare)
        about += f" Allowed {limits} ({ended(source_text(allowed)).removesuffix('.')})."
    lines += plain(f"{about} {source_words(one_source(decision, say))}".rstrip(), width)
    if start := start_words(decision.job):
        lines += plain(start, width)
    return lines


def _notes(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    """What balances, what asks for care, what is assumed, what to do next: each behind its sign."""
    lines: list[Line] = []
    for met, words in balance_words(decision, say)[:_MOST]:
        sign = {True: marks.inside, False: marks.outside, None: marks.unproven}[met]
        lines += _signed(sign, words, width, {True: "inside", False: "outside", None: "unproven"}[met])
    for words in stays_out_words(decision, say):
        lines += _signed("!", f"{words}.", width, "unproven")
    for words in [*cautions(decision, say), *_few(near_misses(decision, say))]:
        lines += _signed("!", words, width, "unproven")
    if any(gap.reading.basis != "worst case" and not gap.reading.bracket.exact for gap in decision.job.gaps):
        lines += plain(LIKELY_NOTE, width, rest="  ")
    if assumed := assumed_words(decision):
        lines += _signed("?", assumed, width, "unproven")
    for words in (*(scarce_words(one, say) for one in decision.scarce), *next_steps(decision, say, whole=False)):
        lines += _signed(marks.step, words, width, "do")
    return lines


def _few(texts: list[str]) -> list[str]:
    more = len(texts) - _MOST
    return [*texts[:_MOST], f"{more} more: shimopt plan JOB --full"] if more > 0 else texts


def _signed(sign: str, words: str, width: int, role: str) -> list[Line]:
    """A sentence behind a sign, its further lines under its first word."""
    first, *others = folded(words, width, f"{sign} ", " " * (len(sign) + 1))
    return [(first, (Span(0, len(sign), role),)), *((line, False) for line in others)]
