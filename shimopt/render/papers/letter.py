"""The content of the customer's letter as plain data; paper and page in a browser are both made from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from shimopt import __version__
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.render.pictures.chart_row import Form
from shimopt.render.pictures.gap_bars import Bar, job_bars, key_of
from shimopt.render.pictures.gaps_chart import ON_A_PHONE, ON_PAPER, charts
from shimopt.render.pictures.section_picture import pack_section_svg, small_section_svg
from shimopt.seats import fitting_order
from shimopt.seats.part_facts import BoreTooLarge, BoreTooSmall
from shimopt.words.assembly_words import state_words
from shimopt.words.digits import with_digits
from shimopt.words.even_words import balance_words
from shimopt.words.exact_words import exact_counts
from shimopt.words.first_words import blind_buts, with_buts
from shimopt.words.found_words import before_closing_words, found_first_both
from shimopt.words.letter_answer import answer_words, gap_status, warning_words
from shimopt.words.letter_next_words import gaps_by_need, watch_words
from shimopt.words.letter_table_words import measured_by, table_columns, table_rows, unit_sentence
from shimopt.words.letter_words import (
    PACK_WORDS,
    SECTION_WORDS,
    GapWords,
    all_gap_words,
    allowed_words,
    explanation,
    grounds,
    left_out_words,
    pack_words,
    refused_words,
    rule_words,
)
from shimopt.words.level_words import not_ruled_out
from shimopt.words.picture_words import BROKEN_BESIDE_A_TABLE
from shimopt.words.reading_words import limits_text
from shimopt.words.sheet_words import LETTER_CAUTIONS, LICENSED
from shimopt.words.shortfall_words import short_of
from shimopt.words.speaker import Speaker
from shimopt.words.standing import Standing


def letter_content(decision: Decision, unit: str, date: str) -> dict[str, Any]:
    """Everything that stands in the letter, in its order. `date` is ISO, with the offset where it has a time."""
    # figures are in one unit, and once it is said what another comes to
    say = with_digits(replace(Speaker.of(decision.job, unit, buys=decision.buy).in_one_unit, tags=False), decision)
    standing, state = Standing.of(decision), state_words(decision.job)
    job, gaps = decision.job, gaps_by_need(decision)
    bars = job_bars(decision, unit, tags=False, unknown=standing.untold)
    # a cover that was nipped without shims, and gets none, shows no clearance
    bare = [gap for gap in gaps if job.stood_bare(gap) and not any(decision.stacks.get(p, ()) for p, _ in gap.effects)]
    bars |= {gap.name: [] for gap in bare}
    words, on_paper = all_gap_words(decision, say, standing), _charts(decision, bars, say, ON_PAPER)
    is_broken = any('class="break"' in chart["svg"] for chart in on_paper)
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
        "explanation": [f"{rule_words(decision)} {allowed_words(decision, say)}", explanation(job, say)],
        "charts": on_paper,
        "phone": _charts(decision, bars, say, ON_A_PHONE),
        "key": f"{key_of(job, bars)}{f' {BROKEN_BESIDE_A_TABLE}' if is_broken else ''}",
        "columns": table_columns(decision),
        "gaps": [
            {"status": gap_status(decision, gap, standing), **_gap(decision, gap, row, words[gap.name])}
            for gap, row in zip(gaps, table_rows(decision, gaps, say, standing), strict=True)
        ],
        "units": f"{unit_sentence(say)} {measured_by(job)}".rstrip(),
        "reason": _telling(decision, words, say, standing),
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


def _charts(decision: Decision, bars: Mapping[str, list[Bar]], say: Speaker, form: Form) -> list[dict[str, str]]:
    """The chart of all gaps, and the same in words."""
    return [
        {"svg": one.svg, "alt": "; ".join(_picture_text(gap, bars[gap.name], say) for gap in one.gaps)}
        for one in charts(decision.job.title, gaps_by_need(decision), bars, say.unit, form)
    ]


def _gap(decision: Decision, gap: Gap, row: list[str], words: GapWords) -> dict[str, Any]:
    """A row of the table; and sentences where the row does not tell all."""
    return {
        "name": shown(gap.name),
        "verdict": decision.outcome.gaps[gap.name].verdict,
        "row": row,
        "sentences": [] if words.plain else words.sentences,
    }


def _answer(decision: Decision, say: Speaker) -> tuple[str, ...]:
    """What was found outside comes before what is to be done about it."""
    buts = [*blind_buts(decision), *before_closing_words(decision), *short_of(decision, say)]
    answer = with_buts(answer_words(decision, say), buts)
    return found_first_both(decision, say), answer, not_ruled_out(decision.levels, say)


def _telling(
    decision: Decision, words: Mapping[str, GapWords], say: Speaker, standing: Standing
) -> list[dict[str, str]]:
    """One part drawn on its seat in section, and why; none where there is nothing to draw.

    The first shim that is thick enough and whose bore does not suit, else the first pack that several gaps hang on.
    """
    stock = decision.job.stock
    for gap in gaps_by_need(decision):
        refused = words[gap.name].described
        if refused is None or gap.seat is None or not isinstance(refused.finding.fact, (BoreTooLarge, BoreTooSmall)):
            continue
        if svg := small_section_svg(stock[refused.line].part, gap.seat, refused.finding.grade):
            small = isinstance(refused.finding.fact, BoreTooSmall)
            # why stands above, where the gap's own sentences say it
            told = not words[gap.name].plain
            why = left_out_words(gap) if told else refused_words(refused.finding, gap, say)
            return [{"svg": svg, "caption": SECTION_WORDS[small], "words": why}]
    # the most pieces tell most
    for change in sorted(decision.changes, key=lambda one: -len(decision.stacks.get(one.place, ()))):
        seat, stack = decision.job.place[change.place].seat, decision.stacks.get(change.place, ())
        waits = any(gap.name in standing.waits for gap in decision.job.moved_by[change.place])
        if waits or seat is None or not change.into or len(stack) < 2 or len(decision.job.moved_by[change.place]) < 2:
            continue
        pack = [stock[i].part for i in fitting_order(stack, stock, seat)]
        if svg := pack_section_svg(pack, seat):
            return [{"svg": svg, "caption": PACK_WORDS, "words": pack_words(decision, change.place, say)}]
    return []


def _picture_text(gap: Gap, bars: list[Bar], say: Speaker) -> str:
    """The picture in words, for those who cannot see it."""
    said = [
        f"{f'{bar.note}, ' if bar.note else ''}{bar.label} {say.clearance(bar.bracket.low, bar.bracket.high)}"
        f"{f' with {bar.shims} in' if bar.shims else ''}"
        for bar in bars
    ]
    return f"{shown(gap.name)}: {', '.join(said)}; allowed {limits_text(gap.window, say)}"
