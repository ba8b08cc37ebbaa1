"""Sentences that name a command of the terminal or a key of the job's file, as a page says them.

Who reads a page sees neither: a button does the same, or plain words say what the key does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from shimopt.words.bench_page_words import LABELS
from shimopt.words.bench_words import refused_words, said_words

_PAGE = "the job's page"
# what the terminal says, and by what it is done on a page: the label of a button, or words
_SAID = {
    re.compile(said): LABELS.get(here, here)
    for said, here in (
        (r" \(for today alone: shimopt plan JOB --buy\)", ""),
        (r" What the drawer lacks for that: shimopt plan JOB --buy\.", ""),
        (r"; --from-start passes over it", ""),
        (r"so many steps: `--steps 2000` looks further, and may settle it", "so many steps"),
        (r"`?shimopt order JOB`?(?! -)", "order"),
        (r"`?shimopt why JOB(?: GAP)?`?(?! -)|`?shimopt plan JOB --full`?", "why"),
        (r"`?shimopt sheet JOB`?(?! -)", "sheet"),
        (r"`?shimopt record JOB`?(?! -)", "record"),
        (r"`?shimopt hold JOB --free`?", "free"),
        (r"`?shimopt hold JOB`?(?! -)", "hold"),
        (r"`?shimopt plan JOB`?(?! -)", _PAGE),
    )
}


# words of the job's file and of the terminal, as a page has them; the last takes the marks off any other key
_PLAIN = {
    re.compile(said): here
    for said, here in (
        (r" See: shimopt (?:help \w+|fit JOB)\.", ""),
        (r"unless `final_reading` says otherwise", "unless the job says otherwise"),
        (r": see `catalogues`", ""),
        (r"give each a seat, or `parts`", "in the job, give each a seat, or name the parts for it"),
        (r"whether it is right and enough: (?=shimopt)", "at the computer, whether it is right and enough: "),
        (r"`([a-z_]+)`", r"\1"),
    )
}
# what is refused, and what mends it
_MENDED = {
    re.compile(said): here
    for said, here in (
        (r"add checked = true to (?:the gap|a gap|\S+ \S+|it)", f"tick “{LABELS['checked']}”"),
        (r'write it as "(?:.*=)?(.*)"', r"write it as “\1”"),
        (r"swap go and no_go", "swap them"),
        (r"give \{.*\}(?: or \{.*\})?", "give the blade that goes and the one that does not"),
        (r": no_go = \.\.\.", ""),
        (r"on_hand = 0, for", "none on hand, for"),
    )
}
_DIMENSION = re.compile(r'\{ name = "(.*?)", (?:add|take) = "?(.*?)"?(?:, .*)? \}')
_OF_A_GAP = re.compile(r'\w+\["(.*)"\]')


def by_buttons(told: Any) -> Any:
    """Whatever a page is made from, its sentences said so; what somebody typed into a form is not to be given here."""
    if isinstance(told, str):
        return _sentence(told) if any(mark in told for mark in ("shimopt ", "--from-start", "`")) else told
    if isinstance(told, dict):
        return {key: by_buttons(it) for key, it in told.items()}
    return [by_buttons(it) for it in told] if isinstance(told, list | tuple) else told


def _sentence(text: str) -> str:
    for said, here in _SAID.items():
        text = said.sub(f"“{here}”" if here and here != _PAGE else here, text)
    return _each(_PLAIN, text)


def _each(said: Mapping[re.Pattern[str], str], text: str) -> str:
    for pattern, here in said.items():
        text = pattern.sub(here, text)
    return text


def refused_here(error: Mapping[str, str], gap: str = "") -> dict[str, str]:
    """What is wrong with something that a page sent: said of its gap, for who reads it has not seen the job's file.

    Parameter: gap, the one that all of it is about; else the one that `where` names.
    """
    rule, remedy, value = error["rule"], _each(_MENDED, error["remedy"]), error["value"]
    # of an option of the terminal, the value names the gap
    gap = "" if gap.startswith("--") else gap
    if found := _OF_A_GAP.fullmatch(gap or error["where"]):
        gap = found[1]
    elif not gap and "=" in value:
        gap, _, value = value.rpartition("=")
    blades = dict(re.findall(r"(\w+) = (-?[\d.]+)", value)) if value.startswith("{") else {}
    dimension = _DIMENSION.fullmatch(value)
    typed = said_words(blades) if blades else " ".join(dimension.groups()) if dimension else value
    about = f"{rule} ({typed})" if typed and typed not in rule else rule
    text = refused_words(gap, about, remedy)
    return {**error, "rule": about, "remedy": remedy, "text": text, "gap": gap}
