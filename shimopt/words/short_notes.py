"""What a short plan says beside its table, each sentence with its kind: screen and page set a sign before it.

Where a screen has no room for all, the lightest go first, and how many they are is said.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.words.change_words import stays_out_words
from shimopt.words.findings_list import brief_cautions, near_misses
from shimopt.words.first_words import suspect_words
from shimopt.words.last_steps import ONLY_THEN
from shimopt.words.letter_answer import stands_tight_words
from shimopt.words.next_steps import next_steps, steps_said_above, surer_steps
from shimopt.words.reading_words import LIKELY_NOTE, limits_text, source_text
from shimopt.words.reason_words import scarce_words
from shimopt.words.short_words import assumed_words, balance_words, makers_words
from shimopt.words.size_words import worn_places
from shimopt.words.speaker import Speaker, begun, ended

# met or not, or nobody knows; read again first; look out; assumed; what a star means; to be done; how much is left out
Kind = Literal["inside", "outside", "unproven", "again", "mind", "assumed", "star", "do", "more"]

_MOST = 6
_UNITS = {"in": "inches"}


# what is left out first where there is no room; what is grave never is
GRAVE, STAR, ASSUMED, MET, SURER, SAID_ABOVE, NEAR = range(7)


READ_WHOLE = "Before anything is fitted, read all of this: shimopt plan JOB --full"


class Note(NamedTuple):
    """A sentence, its kind, how soon it may be left out, and the end of it that is not."""

    kind: Kind
    words: str
    light: int = GRAVE
    always: str = ""


def again_notes(decision: Decision, say: Speaker) -> list[Note]:
    """What has to be read again first, and what can seize until it is seen to."""
    return [Note("again", words) for words in (*suspect_words(decision, say), *stands_tight_words(decision))]


def notes(decision: Decision, say: Speaker, *, chances: bool) -> list[Note]:
    """What balances, what asks for care, what is assumed, what to do next.

    Parameter: chances, whether per cents stand in the table above.
    """
    met: dict[bool | None, Kind] = {True: "inside", False: "outside", None: "unproven"}
    apart = {True: MET, False: GRAVE, None: GRAVE if decision.outcome.doable else MET}
    said = [Note(met[how], words, apart[how]) for how, words in balance_words(decision, say)[:_MOST]]
    said += [Note("mind", f"{words}.") for words in stays_out_words(decision, say)]
    said += [Note("mind", words) for words in _few(worn_places(decision.job, say))]
    said += [Note("mind", words, SAID_ABOVE if light else GRAVE) for words, light in brief_cautions(decision, say)]
    said += [Note("mind", words, NEAR) for words in _few(near_misses(decision, say))]
    if any(gap.reading.basis != "worst case" and not gap.reading.bracket.exact for gap in decision.job.gaps):
        said.append(Note("star", LIKELY_NOTE, STAR))
    assumed, makers = assumed_words(decision, chances=chances), makers_words(decision)
    if assumed or makers:
        said.append(
            Note("assumed" if assumed else "mind", f"{assumed} {makers}".strip(), ASSUMED if assumed else GRAVE, makers)
        )
    said += [Note("do", scarce_words(one, say), SURER) for one in decision.scarce]
    lighter = {
        **dict.fromkeys(surer_steps(decision, say), SURER),
        **dict.fromkeys(steps_said_above(decision), SAID_ABOVE),
    }
    return [*said, *(Note("do", words, lighter.get(words, GRAVE)) for words in next_steps(decision, say, whole=False))]


def within(
    told: Sequence[Note],
    room: int,
    lines: Callable[[Note], int],
    left_out: int = 0,
    *,
    cut: bool = False,
    short: bool = False,
) -> list[Note]:
    """As many notes as have room in so many lines, and how many more there are; the grave ones always.

    Parameters: left_out, how much is left out of the table above; cut, whether cautions are cut short; short, whether
    so much has to be found out first that of the grave ones too only as many are told as have room.
    """
    kept = list(told)
    # cautions before steps, and steps before how alike gaps come out
    rank = {"mind": 0, "assumed": 0, "do": 1}
    light = [note for note in told if note.light or short]
    light.sort(key=lambda note: (-note.light, not note.light and rank.get(note.kind, 2), -told.index(note)))
    while light and sum(map(lines, kept)) + bool(left_out or cut) > room:
        out = light.pop(0)
        at = kept.index(out)
        kept[at : at + 1] = [Note("mind", out.always)] if out.always else []
        left_out += 1
    kept = _after_what(kept)
    return [*kept, Note("more", more_words(left_out, cut=cut))] if left_out or cut else kept


def _after_what(kept: Sequence[Note]) -> list[Note]:
    """The same, where the step before `Only then` had no room: what it waits for stands in the first lines."""
    at = next((n for n, note in enumerate(kept) if note.kind == "do"), None)
    if at is None or not kept[at].words.startswith(ONLY_THEN):
        return [*kept]
    words = f"Once what stands first is settled: {kept[at].words.removeprefix(ONLY_THEN)}"
    return [*kept[:at], kept[at]._replace(words=words), *kept[at + 1 :]]


def more_words(count: int, *, cut: bool = False) -> str:
    """That so much more is told elsewhere, and what is cut short."""
    what = filter(None, (f"{count} more" if count else "", "what is cut short (…)" if cut else ""))
    return f"{begun(' and '.join(what))}: shimopt plan JOB --full"


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
    return [*texts[:_MOST], more_words(more)] if more > 0 else texts
