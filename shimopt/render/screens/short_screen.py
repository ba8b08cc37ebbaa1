"""The plan in about ten lines: the answer, a row per gap, what asks for care, how far it is proven and what is next.

Up to five gaps take 25 lines at most at 80 columns, others 60: what is lightest is left out, and said to be.
"""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

from shimopt.planner import Decision
from shimopt.render.screens.layout import Line, Marks, Span, bold, folded, plain, section, spaced
from shimopt.render.screens.plan_table import gap_table, place_table, rows_without
from shimopt.words.choice_words import choice_words, purchase_words
from shimopt.words.headline import headlines, start_words
from shimopt.words.short_notes import READ_WHOLE, Note, about_words, again_notes, common_window, notes, within
from shimopt.words.short_words import in_order, marks_words, one_source, proof_words, source_words
from shimopt.words.speaker import Speaker, ended

_FEW, _LINES_OF_FEW, _LINES = 5, 25, 60
_MOST_OF_ANSWER = 3
_USUAL = 80


class _Room(NamedTuple):
    """What is done to find room: `brief` tables, no empty lines, cautions `cut` to a line each and no title.

    At last `short`: what has to be found out before anything is fitted takes a line each too, and stands for the rest.
    """

    brief: bool = False
    tight: bool = False
    cut: bool = False
    short: bool = False


_ROOMS = tuple(_Room(*(number < steps for number in range(4))) for steps in range(5))


def short_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """All lines of the screen."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    most = _LINES_OF_FEW if len(decision.job.gaps) <= _FEW else _LINES
    # as much is left out of a narrow screen as of one of 80 columns
    wide = max(width, _USUAL)
    for by in _ROOMS:
        upper = _upper(decision, say, wide, marks, by)
        told = notes(decision, say, chances=_chances(upper))
        room = most - len(_below_each_other(upper, by)) - 1 - (not by.tight)
        lines = partial(_lines, width=wide, marks=marks, by=by)
        without = rows_without(decision, say) * by.brief + (by.short and bool(in_order(decision, say)))
        kept = within(told, room, lines, without, cut=by.cut, short=by.short)
        if sum(map(lines, kept)) <= room:
            break
    sections = [
        *(upper if wide == width else _upper(decision, say, width, marks, by)),
        [line for note in kept for line in _told(note, width, marks, by)],
        section("Buy", purchase_words(decision, say), width),
        section("Choices", [choice_words(row, decision.job, say) for row in decision.choices], width),
    ]
    return _below_each_other(sections, by) + plain(proof_words(decision), width)


def _below_each_other(sections: list[list[Line]], by: _Room) -> list[Line]:
    return [line for lines in sections for line in lines] if by.tight else spaced(sections)


def _upper(decision: Decision, say: Speaker, width: int, marks: Marks, by: _Room) -> list[list[Line]]:
    """The answer and the tables."""
    gaps = gap_table(decision, say, width, marks, brief=by.brief)
    places = place_table(decision, say, width, brief=by.brief)
    key = marks_words(decision, " ".join(text for text, _ in (*places, *gaps)))
    below = plain(" ".join(filter(None, (key, "" if by.short else in_order(decision, say)))), width)
    return [_answer(decision, say, width, marks, by), places, [*gaps, *below]]


def _chances(upper: list[list[Line]]) -> bool:
    """Whether per cents stand in the tables."""
    return any("%" in text for lines in upper[1:] for text, _ in lines)


def _answer(decision: Decision, say: Speaker, width: int, marks: Marks, by: _Room) -> list[Line]:
    *first, last = headlines(decision, say)
    if by.short:
        wide = max(width, _USUAL)
        first, last = [_begun(words, wide, 1) for words in first], _begun(last, wide, _MOST_OF_ANSWER)
        first += [READ_WHOLE] * any(words.endswith("…") for words in (*first, last))
    lines = [line for words in (*first, last) for line in bold(words, width)]
    for note in again_notes(decision, say):
        lines += _told(note, width, marks, by)
    title = "" if by.cut else ended(decision.job.title)
    about = f"{title} {about_words(common_window(decision), say)}"
    lines += plain(f"{about} {source_words(one_source(decision, say))}".strip(), width)
    if start := start_words(decision.job):
        lines += plain(start, width)
    return lines


def _begun(words: str, width: int, most: int) -> str:
    """As much of a sentence as stands in so many lines."""
    lines = folded(words, width)
    return words if len(lines) <= most else f"{' '.join(folded(words, width - 2)[:most])} …"


def _lines(note: Note, width: int, marks: Marks, by: _Room) -> int:
    return len(_told(note, width, marks, by))


def _told(note: Note, width: int, marks: Marks, by: _Room) -> list[Line]:
    """A sentence behind its sign, its further lines under its first word; a caution in one line where it is cut."""
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
    # what was probably meant, a question, is never cut
    if by.cut and others and (by.short or sign != marks.step) and not note.words.endswith("?"):
        first, others = f"{folded(note.words, width - 2, f'{sign} ')[0]} …", []
    return [(first, (Span(0, len(sign), role),)), *((line, False) for line in others)]
