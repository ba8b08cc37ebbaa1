"""The content of the customer's letter as plain data; paper and page in a browser are both made from it."""

from __future__ import annotations

from typing import Any

from shimopt import __version__
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.reasons.account import Unsuited
from shimopt.render.pictures.bars import Bar, job_bars
from shimopt.render.pictures.gap_picture import bars_svg
from shimopt.render.pictures.scales import common_ranges
from shimopt.render.pictures.section import small_section_svg
from shimopt.words.assembly_words import state_words
from shimopt.words.digits import with_digits
from shimopt.words.exact_words import exact_counts
from shimopt.words.found_words import found_first_both
from shimopt.words.letter_answer import answer_words, gap_status, gaps_by_need, warning_words, watch_words
from shimopt.words.letter_words import (
    all_gap_words,
    allowed_words,
    balance_words,
    explanation,
    grounds,
    rule_words,
)
from shimopt.words.level_words import not_ruled_out
from shimopt.words.picture_words import PICTURE_KEY
from shimopt.words.reading_words import limits_text
from shimopt.words.sheet_words import LETTER_CAUTIONS, LICENSED
from shimopt.words.speaker import Speaker

__all__ = ["letter_content"]


def letter_content(decision: Decision, unit: str, date: str) -> dict[str, Any]:
    """Everything that stands in the letter, in its order. `date` is ISO, with the offset where it has a time."""
    say = with_digits(Speaker.of(decision.job, unit), decision)
    job, bars = decision.job, job_bars(decision, unit)
    ranges = common_ranges(job, bars)
    words = all_gap_words(decision, say)
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
        "gaps": [
            {
                "name": shown(gap.name),
                "status": gap_status(decision, gap),
                "verdict": decision.outcome.gaps[gap.name].verdict,
                "sentences": words[gap.name].sentences,
                "picture": bars_svg(gap.name, gap.window, bars[gap.name], ranges[gap.name], unit),
                "sections": _sections(decision, gap, words[gap.name].described, say),
                "alt": picture_text(gap.name, bars[gap.name], limits_text(gap.window, say), say),
            }
            for gap in gaps_by_need(decision)
        ],
        "key": PICTURE_KEY,
        "measured": _measured_heading(job) if (state := state_words(job)) else "",
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


def _measured_heading(job: Job) -> str:
    return "How it was measured the first time" if job.records else "How it was measured"


def _answer(decision: Decision, say: Speaker) -> tuple[str, ...]:
    """What was found outside comes before what is to be done about it."""
    return found_first_both(decision, say), answer_words(decision), not_ruled_out(decision.levels, say)


def _sections(decision: Decision, gap: Gap, refused: Unsuited | None, say: Speaker) -> list[dict[str, str]]:
    """The refused part that the gap's sentences describe, drawn on its seat in section."""
    if refused is None or gap.seat is None:
        return []
    part = decision.job.stock[refused.line].part
    svg = small_section_svg(part, gap.seat, refused.finding.grade)
    name = say.part(refused.line)
    if refused.finding.code == "bore_too_small":
        said = f"{name} at the shaft, cut open: dark red is where both would have to be"
    else:
        said = f"{name} on the shaft, cut open: held in the middle, and as it would lie"
    return [{"svg": svg, "alt": said, "caption": f"{said}."}] if svg else []


def picture_text(name: str, bars: list[Bar], allowed: str, say: Speaker) -> str:
    """The picture in words, for those who cannot see it."""
    said = [
        f"{bar.label} {say.clearance(bar.bracket.low, bar.bracket.high)}{f' with {bar.shims} in' if bar.shims else ''}"
        for bar in bars
    ]
    return f"{shown(name)}: {', '.join(said)}; allowed {allowed}"
