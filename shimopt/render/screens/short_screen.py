"""The plan in about ten lines: the answer, a row per gap, what asks for care, how far it is proven and what is next."""

from __future__ import annotations

from shimopt.planner import Decision
from shimopt.render.screens.layout import Line, Marks, Span, bold, folded, plain, section, spaced
from shimopt.render.screens.plan_table import gap_table, place_table
from shimopt.words.choice_words import choice_words, purchase_words
from shimopt.words.headline import headlines, start_words
from shimopt.words.short_notes import Note, about_words, again_notes, common_window, notes
from shimopt.words.short_words import in_order, marks_words, one_source, proof_words, source_words
from shimopt.words.speaker import Speaker, ended


def short_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """All lines of the screen."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    places, gaps = place_table(decision, say, width), gap_table(decision, say, width, marks)
    told = " ".join(text for text, _ in (*places, *gaps))
    key, chances = marks_words(decision, told), "%" in told
    return spaced(
        (
            _answer(decision, say, width, marks),
            places,
            [*gaps, *plain(" ".join(filter(None, (key, in_order(decision, say)))), width)],
            [line for note in notes(decision, say, chances=chances) for line in _told(note, width, marks)],
            section("Buy", purchase_words(decision, say), width),
            section("Choices", [choice_words(row, decision.job, say) for row in decision.choices], width),
        )
    ) + plain(proof_words(decision), width)


def _answer(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    lines = [line for words in headlines(decision, say) for line in bold(words, width)]
    for note in again_notes(decision, say):
        lines += _told(note, width, marks)
    about = f"{ended(decision.job.title)} {about_words(common_window(decision), say)}"
    lines += plain(f"{about} {source_words(one_source(decision, say))}".rstrip(), width)
    if start := start_words(decision.job):
        lines += plain(start, width)
    return lines


def _told(note: Note, width: int, marks: Marks) -> list[Line]:
    """A sentence behind its sign, its further lines under its first word."""
    signs = {
        "inside": (marks.inside, "inside"),
        "outside": (marks.outside, "outside"),
        "unproven": (marks.unproven, "unproven"),
        "again": (marks.outside, "outside"),
        "mind": ("!", "unproven"),
        "assumed": ("?", "unproven"),
        "do": (marks.step, "do"),
    }
    if note.kind not in signs:
        return plain(note.words, width, rest="  ")
    sign, role = signs[note.kind]
    first, *others = folded(note.words, width, f"{sign} ", " " * (len(sign) + 1))
    return [(first, (Span(0, len(sign), role),)), *((line, False) for line in others)]
