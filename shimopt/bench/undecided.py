"""What a job shows while benches read a gap of it differently: no answer, but which gap has to be settled first."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from shimopt.errors import shown
from shimopt.words.bench_page_words import SIGNS
from shimopt.words.bench_words import CHOOSE, CHOOSE_ONE, choose_first_words


def undecided(data: dict[str, Any], gaps: Collection[str]) -> dict[str, Any]:
    """A job's answer as `job_data` makes it; where readings of gaps differ, it tells nobody to fit by one of them."""
    if not gaps:
        return data
    names = {shown(gap) for gap in gaps}
    cards = [_to_choose(card) if card["name"] in names else card for card in data["gaps"]]
    answer = {"verdict": "unproven", "answer": [choose_first_words(gap) for gap in gaps], "gaps": cards}
    return data | answer | {"notes": [note for note in data["notes"] if note["kind"] != "do"], "buy": [], "proof": ""}


def undecided_row(row: dict[str, Any], gaps: Collection[str]) -> dict[str, Any]:
    """Its row in the list of jobs, likewise."""
    return row | {"verdict": "unproven", "answer": " ".join(map(choose_first_words, gaps))} if gaps else row


def _to_choose(card: dict[str, Any]) -> dict[str, Any]:
    sure = {"verdict": "unproven", "sign": SIGNS["unproven"], "word": CHOOSE, "beside": CHOOSE}
    return card | sure | {"own": True, "work": [{"label": "", "text": CHOOSE_ONE}], "changed": False, "strip": ""}
