"""Where an effect's figure comes from, in words."""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.errors import shown

__all__ = ["effect_words"]


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
