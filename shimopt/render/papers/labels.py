"""Labels for the tins of a drawer: name, size, where it lies, and a QR code of plain text."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

from shimopt.stock.lots import Lot
from shimopt.words.booking_words import size
from shimopt.words.speaker import Speaker

# a camera reads it with a seventh of it worn away
_WORN = "m"


def labels_content(lots: Sequence[Lot], drawer: str, say: Callable[[Lot], Speaker], date: str) -> dict[str, Any]:
    """A label for each lot of which something is on hand or on order."""
    return {
        "kind": "labels",
        "title": f"Labels of stock:{drawer}",
        "date": date,
        "labels": [
            {
                "part": lot.part.name,
                "piece": lot.part.piece or "",
                "size": size(lot.part, say(lot)),
                "at": lot.part.at,
                "qr": _qr(f"stock:{drawer}#{lot.id} {lot.part.name}"),
            }
            for lot in lots
            if lot.on_hand or lot.on_order
        ],
    }


def _qr(text: str) -> str:
    """The code as SVG."""
    import segno

    drawn = io.BytesIO()
    segno.make(text, error=_WORN, micro=False).save(drawn, kind="svg", border=2, scale=4)
    return drawn.getvalue().decode()
