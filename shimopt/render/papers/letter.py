"""The content of the customer's letter as plain data; paper and page in a browser are both made from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from shimopt import __version__
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.render.pictures.bars import Bar, any_found, job_bars
from shimopt.render.pictures.gaps_chart import charts
from shimopt.render.pictures.section import small_section_svg
from shimopt.words.assembly_words import state_words
from shimopt.words.digits import with_digits
from shimopt.words.exact_words import exact_counts
from shimopt.words.first_words import blind_buts, with_buts
from shimopt.words.found_words import found_first_both
from shimopt.words.letter_answer import answer_words, gap_status, gaps_by_need, warning_words, watch_words
from shimopt.words.letter_table_words import table_columns, table_row, unit_sentence
from shimopt.words.letter_words import (
    SECTION_WORDS,
    GapWords,
    all_gap_words,
    allowed_words,
    balance_words,
    explanation,
    grounds,
    refused_words,
    rule_words,
)
from shimopt.words.level_words import not_ruled_out
from shimopt.words.picture_words import picture_key
from shimopt.words.reading_words import limits_text
from shimopt.words.sheet_words import LETTER_CAUTIONS, LICENSED
from shimopt.words.speaker import Speaker

__all__ = ["letter_content"]


def letter_content(decision: Decision, unit: str, date: str) -> dict[str, Any]:
    """Everything that stands in the letter, in its order. `date` is ISO, with the offset where it has a time."""
    # figures are in one unit, and once it is said what another comes to
    say = with_digits(replace(Speaker.of(decision.job, unit, buys=decision.buy).in_one_unit, tags=False), decision)
    job, bars, gaps = decision.job, job_bars(decision, unit, tags=False), gaps_by_need(decision)
    words = all_gap_words(decision, say)
    state = state_words(job)
    return {
        "kind": "letter",
        "title": shown(job.title),
        "date": date,
        "shop": shown(job.about.get("shop", ""), 400),
        "head": [
            {"label": label, "text": shown(job.about[key], 400)}
            for key, label in (("machine", "Machine"), ("owner", "Owner"), ("customer", "For"))
            if key in job.about
        ],
        "warnings": warning_words(decision, say),
        "answer": " ".join(filter(None, _answer(decision, say))),
        "explanation": [f"{rule_words(decision)} {allowed_words(decision, say)}", explanation(say)],
        "charts": [
            {"svg": one.svg, "alt": "; ".join(_picture_text(gap, bars[gap.name], say) for gap in one.gaps)}
            for one in charts(job.title, gaps, bars, unit)
        ],
        "key": picture_key(found=any_found(bars)),
        "columns": table_columns(decision),
        "gaps": [_gap(decision, gap, words[gap.name], say) for gap in gaps],
        "units": unit_sentence(say),
        "reason": _telling(decision, words, say),
        "measured": "" if not state else f"How it was measured{' the first time' if job.records else ''}",
        "state": state,
        "balances": balance_words(decision, say),
        "watch": watch_words(decision, say),
        "grounds": grounds(decision, exact_counts(decision)),
        "notes": shown(job.about["notes"], 2000) if "notes" in job.about else "",
        "licensed": LICENSED,
        "cautions": list(LETTER_CAUTIONS),
        "sign": ["Done by", "Licensed person, where the law asks for one"],
        "made": f"shimopt {__version__}" + ("" if decision.proven else "; the choice is not proven to be the best"),
    }


def _gap(decision: Decision, gap: Gap, words: GapWords, say: Speaker) -> dict[str, Any]:
    """A row of the table; and sentences where the row does not tell all."""
    return {
        "name": shown(gap.name),
        "status": gap_status(decision, gap),
        "verdict": decision.outcome.gaps[gap.name].verdict,
        "row": table_row(decision, gap, say),
        "sentences": [] if words.plain else words.sentences,
    }


def _answer(decision: Decision, say: Speaker) -> tuple[str, ...]:
    """What was found outside comes before what is to be done about it."""
    answer = with_buts(answer_words(decision, say), blind_buts(decision))
    return found_first_both(decision, say), answer, not_ruled_out(decision.levels, say)


def _telling(decision: Decision, words: Mapping[str, GapWords], say: Speaker) -> list[dict[str, str]]:
    """The first shim that is thick enough but does not suit: why, and drawn on its seat in section. None or one."""
    for gap in gaps_by_need(decision):
        refused = words[gap.name].described
        if refused is None or gap.seat is None:
            continue
        svg = small_section_svg(decision.job.stock[refused.line].part, gap.seat, refused.finding.grade)
        if svg:
            small = refused.finding.code == "bore_too_small"
            return [{"svg": svg, "caption": SECTION_WORDS[small], "words": refused_words(refused.finding, gap, say)}]
    return []


def _picture_text(gap: Gap, bars: list[Bar], say: Speaker) -> str:
    """The picture in words, for those who cannot see it."""
    said = [
        f"{f'{bar.note}, ' if bar.note else ''}{bar.label} {say.clearance(bar.bracket.low, bar.bracket.high)}"
        f"{f' with {bar.shims} in' if bar.shims else ''}"
        for bar in bars
    ]
    return f"{shown(gap.name)}: {', '.join(said)}; allowed {limits_text(gap.window, say)}"
