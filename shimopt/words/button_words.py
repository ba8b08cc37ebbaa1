"""Sentences that name a command of the terminal, as a page says them on which a button or a page does the same."""

from __future__ import annotations

import re
from typing import Any

from shimopt.words.bench_page_words import LABELS

_PAGE = "the job's page"
# what the terminal says, and by what it is done on a page: the label of a button, or words
_SAID = {
    re.compile(said): LABELS.get(here, here)
    for said, here in (
        (r" \(for today alone: shimopt plan JOB --buy\)", ""),
        (r"; --from-start passes over it", ""),
        (r"`?shimopt order JOB`?(?! -)", "order"),
        (r"`?shimopt why JOB(?: GAP)?`?(?! -)|`?shimopt plan JOB --full`?", "why"),
        (r"`?shimopt sheet JOB`?(?! -)", "sheet"),
        (r"`?shimopt record JOB`?(?! -)", "record"),
        (r"`?shimopt hold JOB --free`?", "free"),
        (r"`?shimopt hold JOB`?(?! -)", "hold"),
        (r"`?shimopt plan JOB`?(?! -)", _PAGE),
    )
}


def by_buttons(told: Any) -> Any:
    """Whatever a page is made from, its sentences said so; what somebody typed into a form is not to be given here."""
    if isinstance(told, str):
        return _sentence(told) if "shimopt " in told or "--from-start" in told else told
    if isinstance(told, dict):
        return {key: by_buttons(it) for key, it in told.items()}
    return [by_buttons(it) for it in told] if isinstance(told, list | tuple) else told


def _sentence(text: str) -> str:
    for said, here in _SAID.items():
        text = said.sub(f"“{here}”" if here and here != _PAGE else here, text)
    return text
