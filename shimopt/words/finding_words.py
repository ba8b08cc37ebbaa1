"""Findings in words. A sentence does not repeat the place or part that the finding names."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from shimopt.errors import shown
from shimopt.lengths import spelled
from shimopt.seats import Finding
from shimopt.words.fit_words import FIT_WORDS, fit_words, not_checked_words
from shimopt.words.speaker import Speaker

__all__ = ["effect_words", "finding_words"]

_HOW = {
    "ten times too large": "a decimal point may have slipped",
    "a zero too many": "a decimal point may have slipped",
}


def finding_words(finding: Finding, say: Speaker) -> str:
    """The finding as one sentence."""

    def told(key: str) -> str:
        return say(finding.lengths.get(key, Fraction(0)))

    texts = finding.texts
    if finding.code in FIT_WORDS:
        return fit_words(finding, say)
    match finding.code:
        case "not_checked":
            return not_checked_words(texts)
        case "shims_not_allowed":
            return f"this seat takes no shims: {shown(texts['why'])}"
        case "spots_tilted":
            return (
                f"the spots differ by {told('apart')} more than their brackets allow: the face is tilted or dirty; "
                "clean it, seat it and read it again"
            )
        case "no_preload_assumed":
            return f"the thinnest blade did not go: read as 0 to {told('high')}, assuming there is no preload"
        case "cover_free_assumed":
            return (
                f"the thinnest blade did not go: read as 0 to {told('high')}, assuming that the cover does not rest "
                "on the case yet"
            )
        case "few_pulls":
            pulls = "one pull" if texts["pulls"] == "1" else f"{texts['pulls']} pulls"
            return (
                f"{pulls} on the indicator say nothing about how well it repeats: push and pull at least "
                f"{texts['fewest']} times"
            )
        case "reading_suspect":
            return _suspect(finding, say)
        case "reading_far_off":
            return (
                f"reads {told('reading')}, far from {_compared(finding, say)}: "
                "measure it again before anything is fitted"
            )
        case "column_not_read":
            return f"column {shown(texts['column'])} of {shown(texts['file'])} is not one that shimopt reads"
    if finding.code == "decided_by_brackets":
        return (
            "several gaps or places act together here: the whole brackets decide, not the chance that the job asks for"
        )
    if finding.code.startswith("effect_from_"):
        return effect_words(finding.code, texts)
    raise KeyError(finding.code)


def _compared(finding: Finding, say: Speaker) -> str:
    usual = say(finding.lengths["usual"])
    return f"its neighbours (about {usual})" if finding.texts["against"] == "neighbours" else f"its window ({usual})"


def _suspect(finding: Finding, say: Speaker) -> str:
    reading, meant, how = finding.lengths["reading"], finding.lengths["meant"], finding.texts["how"]
    ratio = Fraction(reading) / finding.lengths["usual"]
    times = f"{float(ratio):.0f} times" if ratio > 1 else f"a {_ordinal(1 / ratio)} of"
    start = f"reads {say(reading)}, {times} {_compared(finding, say)}"
    if how in _HOW:
        return f"{start}: {_HOW[how]}; was {say(meant)} meant? Measure it again"
    return f"{start}: was {spelled(meant, how)} ({say(meant)}) meant? Measure it again"


def _ordinal(number: Fraction) -> str:
    return f"{float(number):.0f}th"


def effect_words(code: str, texts: Mapping[str, str]) -> str:
    """The note as one sentence without its full stop."""
    start = f"effect of {shown(texts['place'])} on {shown(texts['gap'])}: {texts['effect']}"
    source = f", from {shown(texts['source'])}" if texts.get("source") else ""
    match code:
        case "effect_from_bevel":
            return (
                f"{start}, from bevel geometry ({texts['teeth']} teeth, {texts['angle']} degrees, shafts at right "
                f"angles, shim on the {texts['on']}){source}"
            )
        case "effect_from_trial":
            return (
                f"{start}, from two readings with different packs, which allow {texts['low']} to {texts['high']}; "
                f"the brackets above take it as exact{source}"
            )
    if "percent" in texts:
        return f"{start}, as stated{source}; {texts['by']} would give {texts['computed']}, {texts['percent']} % off"
    return f"{start}, as stated{source}" + (f"; {texts['by']} agrees" if "computed" in texts else "")
