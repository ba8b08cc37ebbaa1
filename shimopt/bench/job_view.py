"""A job with its answer as plain data, for its page: it says what the short screen says, in the same words."""

from __future__ import annotations

from typing import Any

from shimopt.arithmetic.clearance import Verdict
from shimopt.bench.gap_cards import Cards, Strips
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.bench_page_words import SIGNS, counted_words, proven_words
from shimopt.words.choice_words import purchase_words
from shimopt.words.first_words import open_gaps
from shimopt.words.headline import headlines, start_words
from shimopt.words.letter_answer import stands_outside
from shimopt.words.short_notes import about_words, again_notes, common_window, notes
from shimopt.words.short_words import in_order, marks_words, source_words


def job_data(decision: Decision, stage: str, strips: Strips | None = None) -> dict[str, Any]:
    """The answer, a card per gap, the places, what asks for care and what is next.

    At the stage "plan" no reasons are known yet: then stacks and clearances stand there, and what speaks against them
    follows. Parameter: strips, those of this plan that were drawn before; what is drawn now is put among them.
    """
    job, cards, whole = decision.job, Cards.of(decision, strips), stage == "reasons"
    say = cards.say
    gaps, places = [cards.gap(n, gap) for n, gap in enumerate(job.gaps, 1)], cards.places()
    work = " ".join(row["text"] for one in (*gaps, *places) for row in one["work"])
    chances = any(str(gap["beside"]).endswith("%") for gap in gaps)
    return {
        "title": shown(job.title),
        "unit": job.unit,
        "whole": whole,
        "verdict": verdict_of(decision),
        "answer": headlines(decision, say) if whole else [counted_words(decision)],
        "again": [note.words for note in again_notes(decision, say)],
        "about": " ".join(
            filter(
                None,
                (
                    about_words(common_window(decision), say),
                    source_words(cards.source),
                    start_words(job),
                    marks_words(decision, work),
                    in_order(decision, say),
                ),
            )
        ),
        "one_window": common_window(decision) is not None,
        "gaps": gaps,
        "places": places,
        "notes": [
            {"kind": note.kind, "sign": SIGNS[note.kind], "words": note.words.removeprefix("* ")}
            for note in notes(decision, say, chances=chances)
        ]
        if whole
        else [],
        "buy": purchase_words(decision, say),
        "proof": proven_words(decision),
    }


def verdict_of(decision: Decision) -> Verdict:
    """How the whole job stands: inside only where every gap is, and nothing has to be settled first.

    It is outside too as long as a gap stands so that was fitted, whatever would bring it inside.
    """
    found = decision.outcome
    if stands_outside(decision) or any(gap.verdict == "outside" for gap in found.gaps.values()):
        return "outside"
    sure = found.doable and all(gap.verdict == "inside" for gap in found.gaps.values())
    return "inside" if sure and not open_gaps(decision) else "unproven"
