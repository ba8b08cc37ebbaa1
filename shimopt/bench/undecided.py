"""What a job shows while its plan does not know what was read: no answer, but what has to be settled first.

Benches read a gap of it differently, and nobody has chosen; or a reading cannot be written into its file.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from shimopt.bench.readings_book import GapBook, ReadingsBook
from shimopt.bench.readings_log import entries_of
from shimopt.errors import Problem, shown
from shimopt.words.bench_page_words import SIGNS
from shimopt.words.bench_words import (
    CHOOSE,
    CHOOSE_ONE,
    EARLIER,
    FIT_NOTHING_YET,
    NOT_PLANNED,
    WAITS,
    choose_first_words,
    differ_words,
    not_planned_words,
    said_words,
)


def differing_in(logs: Iterable[tuple[Path, str]]) -> list[Problem]:
    """Each gap of a job that benches read differently, by the logs of readings that are kept of it under its id."""
    found = list[Problem]()
    for log, job in logs:
        books: Mapping[str, GapBook] = {}
        # what somebody else keeps from us is none of ours
        with suppress(OSError):
            books = ReadingsBook(entries_of(log.read_bytes())[0]).of_job(job)
        found += [Problem("", gap, "", *differ_words(_said(book))) for gap, book in books.items() if book.differs]
    return found


def _said(book: GapBook) -> list[str]:
    read = [said_words(one.said.to_dict()) for one in sorted(book.by_bench.values(), key=lambda one: one.seq)]
    return list(dict.fromkeys(read if book.in_file is None else [*read, said_words(book.in_file)]))


def undecided(data: dict[str, Any], gaps: Collection[str]) -> dict[str, Any]:
    """A job's answer as `job_data` makes it; where readings of gaps differ, it tells nobody to fit by one of them."""
    if not gaps:
        return data
    answer = {"verdict": "unproven", "answer": [choose_first_words(gap) for gap in gaps]}
    return _waiting(data, {shown(gap): (CHOOSE, CHOOSE_ONE) for gap in gaps}) | answer


def not_planned(data: dict[str, Any], waiting: Collection[Problem], why: Collection[str]) -> dict[str, Any]:
    """A job's answer while readings of it cannot be written: which, and why, in place of an answer by earlier ones."""
    if not waiting:
        return data
    answer = {"verdict": "unproven", "answer": [*map(not_planned_words, waiting), *why]}
    return _waiting(data, {shown(one.where): (EARLIER, NOT_PLANNED) for one in waiting}) | answer


def not_planned_row(row: dict[str, Any], waiting: Collection[Problem]) -> dict[str, Any]:
    """Its row in the list of jobs, likewise."""
    return row | {"verdict": "unproven", "answer": " ".join(map(not_planned_words, waiting))} if waiting else row


def undecided_row(row: dict[str, Any], gaps: Collection[str]) -> dict[str, Any]:
    """Its row in the list of jobs, likewise."""
    return row | {"verdict": "unproven", "answer": " ".join(map(choose_first_words, gaps))} if gaps else row


def _waiting(data: dict[str, Any], why: Mapping[str, tuple[str, str]]) -> dict[str, Any]:
    """Its cards: of the gaps that it waits for why, and of no other what would be fitted, for pieces are shared."""
    cards = [_waits(card, *why.get(card["name"], (WAITS, FIT_NOTHING_YET))) for card in data["gaps"]]
    work = {"work": [{"label": "", "text": FIT_NOTHING_YET}], "changed": False}
    notes = [note for note in data["notes"] if note["kind"] != "do"]
    places = [place | work for place in data["places"]]
    return data | {"gaps": cards, "places": places, "about": "", "notes": notes, "buy": [], "proof": ""}


def _waits(card: dict[str, Any], word: str, text: str) -> dict[str, Any]:
    sure = {"verdict": "unproven", "sign": SIGNS["unproven"], "word": word, "beside": word, "under": ""}
    return card | sure | {"own": True, "work": [{"label": "", "text": text}], "changed": False, "strip": ""}
