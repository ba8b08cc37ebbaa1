"""The bench card as plain text: what its page says, in the same order, for whoever has no printer for pages."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.cells import cell_len

from shimopt.render.screens.layout import folded, padded

_WIDTH = 80  # characters


def card_text(content: dict[str, Any]) -> str:
    """The page's content, as `card_content` gives it, in lines of 80 characters."""
    return "".join(f"{line}\n" for line in _lines(content))


def _lines(content: dict[str, Any]) -> Iterator[str]:
    head = ", ".join(filter(None, ("Bench card", content["shop"], content["date"])))
    for text in (head, content["title"], content["machine"], content["units"], content["answer"]):
        yield from folded(text, _WIDTH) if text else ()
    yield from ("", content["doing"])
    yield from folded(" ".join(content["rules"]), _WIDTH) if content["rules"] else ()
    for card in content["cards"]:
        yield from ("", *folded(f"{card['name']}: allowed {card['allowed']}, read {card['how']}", _WIDTH, "  ", "    "))
        for line in card["over"]:
            yield from folded(line, _WIDTH, "    ", "      ")
        yield from _rows(card["rows"])
        for note in card["notes"]:
            yield from folded(note, _WIDTH, "    ", "      ")
    for part in (content["told"], content["cautions"]):
        yield from ("", *(line for text in part for line in folded(text, _WIDTH))) if part else ()
    yield from ("", *(f"{label}: {'_' * 40}" for label in content["sign"]))


def _rows(rows: list[dict[str, Any]]) -> Iterator[str]:
    """Reading and stack side by side; of what is read at several gaps, the stacks below."""
    widest = max((cell_len(row["read"]) for row in rows), default=0)
    for row in rows:
        if widest < _WIDTH // 2:
            fit = f"{row['fit']}{', then {}'.format(row['then']) if row['then'] else ''}"
            yield from folded(fit, _WIDTH, f"    {padded(row['read'], widest)}  ", " " * (widest + 6))
            continue
        yield from folded(row["read"], _WIDTH, "    ", "      ")
        yield from folded(row["fit"], _WIDTH, "      ", "        ")
        yield from folded(f"then {row['then']}", _WIDTH, "      ", "        ") if row["then"] else ()
