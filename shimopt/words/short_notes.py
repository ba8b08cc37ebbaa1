"""What a short plan says beside its table, each sentence with its kind: screen and page set a sign before it."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.words.change_words import stays_out_words
from shimopt.words.findings_list import brief_cautions, near_misses
from shimopt.words.first_words import suspect_words
from shimopt.words.next_steps import next_steps
from shimopt.words.reading_words import LIKELY_NOTE, limits_text, source_text
from shimopt.words.reason_words import scarce_words
from shimopt.words.short_words import assumed_words, balance_words, makers_words
from shimopt.words.size_words import worn_places
from shimopt.words.speaker import Speaker, ended

# met or not, or nobody knows; read again first; look out; assumed; what a star means; to be done
Kind = Literal["inside", "outside", "unproven", "again", "mind", "assumed", "star", "do"]

_MOST = 6
_UNITS = {"in": "inches"}


class Note(NamedTuple):
    """A sentence and its kind."""

    kind: Kind
    words: str


def again_notes(decision: Decision, say: Speaker) -> list[Note]:
    """What has to be read again first."""
    return [Note("again", words) for words in suspect_words(decision, say)]


def notes(decision: Decision, say: Speaker, *, chances: bool) -> list[Note]:
    """What balances, what asks for care, what is assumed, what to do next.

    Parameter: chances, whether per cents stand in the table above.
    """
    met: dict[bool | None, Kind] = {True: "inside", False: "outside", None: "unproven"}
    said = [Note(met[how], words) for how, words in balance_words(decision, say)[:_MOST]]
    said += [Note("mind", f"{words}.") for words in stays_out_words(decision, say)]
    said += [Note("mind", words) for words in _few(worn_places(decision.job, say))]
    said += [Note("mind", words) for words in [*brief_cautions(decision, say), *_few(near_misses(decision, say))]]
    if any(gap.reading.basis != "worst case" and not gap.reading.bracket.exact for gap in decision.job.gaps):
        said.append(Note("star", LIKELY_NOTE))
    assumed, makers = assumed_words(decision, chances=chances), makers_words(decision)
    if assumed or makers:
        said.append(Note("assumed" if assumed else "mind", f"{assumed} {makers}".strip()))
    steps = (*(scarce_words(one, say) for one in decision.scarce), *next_steps(decision, say, whole=False))
    return [*said, *(Note("do", words) for words in steps)]


def about_words(allowed: Gap | None, say: Speaker) -> str:
    """In which unit all is said, and what is allowed where all gaps have the window of this one."""
    about = f"In {_UNITS.get(say.unit, say.unit)}."
    return f"{about} {allowed_words(allowed, say)}" if allowed is not None else about


def allowed_words(gap: Gap, say: Speaker) -> str:
    """`Allowed 4 to 12 (works drawings 1931, sheet 7).`"""
    source = ended(source_text(gap)).removesuffix(".")
    return f"Allowed {limits_text(gap.window, say.about(gap).bare)} ({source})."


def common_window(decision: Decision) -> Gap | None:
    """A gap whose window is that of all others too, with the same source; None where windows differ."""
    first, *others = decision.job.gaps
    same = all((g.window, source_text(g)) == (first.window, source_text(first)) for g in others)
    return first if same else None


def _few(texts: list[str]) -> list[str]:
    more = len(texts) - _MOST
    return [*texts[:_MOST], f"{more} more: shimopt plan JOB --full"] if more > 0 else texts
