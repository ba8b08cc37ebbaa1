"""hypothesis strategies of texts and files: TOML values of any kind, and good files spoilt at random."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

__all__ = ["as_toml", "spoilt_bytes", "spoilt_text", "toml_values"]

ODD_NUMBERS = [Decimal(text) for text in ("nan", "inf", "-inf", "1e400", "-0.0", "1e-40", "0.1", "17.5", "1e12")]
ODD_TEXTS = [
    "",
    " ",
    "none",
    "0.35 mm",
    "17 thou ± 1 thou",
    "1,2 mm",
    "5/64 in",
    "1/0 mm",
    "\x1b[31m",
    "\x00",
    "\u202e",
    "plain end",
    "upper 1",
    "drawer.csv",
    "..",
    "/dev/null",
    "x" * 3000,
    "9" * 90,
    "±",
    "1e999 mm",
]
ODD_CELLS = [
    "",
    "0",
    "-1",
    "nan",
    "1e400",
    "1/3",
    "0,1",
    "1.5",
    "none",
    "0.1",
    "999999999",
    "+0/-0.05",
    "±",
    "A",
    '"',
    "\x1b",
    "1e-9",
    "10",
    "0.000001",
    "±0.1",
    "\x00",
    "=1/8",
    "2026-03-05",
    "×",
    "9" * 100,
    "1e20",
    "1000000",
]


def toml_values() -> st.SearchStrategy[Any]:
    """A value as TOML can hold it, numbers with a point as exact decimals."""
    plain = st.one_of(
        st.booleans(),
        st.integers(-(10**20), 10**20),
        st.integers(-5, 60),
        st.sampled_from(ODD_NUMBERS),
        st.decimals(-1000, 1000, places=3),
        st.sampled_from(ODD_TEXTS),
        st.text(max_size=12),
        st.dates(),
        st.just(datetime.time(8, 30)),
    )
    keys = st.sampled_from(["go", "no_go", "snug", "step", "min", "max", "source", "name", "upper 1", "int", "[[a"])
    return st.recursive(
        plain, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=4), max_leaves=6
    )


def as_toml(value: Any) -> str:
    """The value as TOML text."""
    match value:
        case bool():
            return "true" if value else "false"
        case Decimal():
            return str(value).lower().replace("infinity", "inf") if not value.is_finite() else _point(value)
        case str():
            return '"' + "".join(ch if ch.isalnum() and ch.isascii() else f"\\U{ord(ch):08x}" for ch in value) + '"'
        case list():
            return "[" + ", ".join(map(as_toml, value)) + "]"
        case dict():
            return "{ " + ", ".join(f"{as_toml(key)} = {as_toml(inner)}" for key, inner in value.items()) + " }"
        case _:
            return str(value)


def _point(value: Decimal) -> str:
    text = str(value).lower()
    return text if "." in text or "e" in text else f"{text}.0"


@st.composite
def spoilt_bytes(draw: st.DrawFn, good: bytes) -> bytes:
    """A good file with a few bytes changed, put in, or taken out."""
    spoilt = bytearray(good)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(0, len(spoilt) - 1)))
        match draw(st.sampled_from(["change", "put in", "take out", "cut off"])):
            case "change":
                spoilt[at : at + 1] = bytes([draw(st.integers(0, 255))])
            case "put in":
                spoilt[at:at] = draw(st.binary(min_size=1, max_size=4))
            case "take out":
                del spoilt[at : at + draw(st.integers(1, 8))]
            case _:
                del spoilt[-draw(st.integers(1, 8)) :]
    return bytes(spoilt)


@st.composite
def spoilt_text(draw: st.DrawFn, good: str, separators: str) -> str:
    """A good text with a few of its words swapped, doubled, left out, or replaced by odd ones."""
    words = _words(good, separators)
    for _ in range(draw(st.integers(1, 4))):
        at, other = (draw(st.integers(0, len(words) - 1)) for _ in range(2))
        match draw(st.sampled_from(["swap", "double", "leave out", "replace"])):
            case "swap":
                words[at], words[other] = words[other], words[at]
            case "double":
                words.insert(at, words[other])
            case "leave out":
                words[at] = ""
            case _:
                words[at] = draw(st.sampled_from(ODD_CELLS))
    return "".join(words)


def _words(text: str, separators: str) -> list[str]:
    """The text cut into words and the separators between them, nothing lost."""
    words = [""]
    for ch in text:
        if ch in separators:
            words += [ch, ""]
        else:
            words[-1] += ch
    return words
