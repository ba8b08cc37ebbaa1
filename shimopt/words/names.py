"""Names of parts, stacks and sums as people read them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from shimopt.errors import shown
from shimopt.job.record import FittedPiece

__all__ = [
    "chance_text",
    "listed",
    "pieces_text",
    "plural",
]


def listed(names: Sequence[str], most: int = 6) -> str:
    """Names in a row: `a, b and c`."""
    safe = [shown(name) for name in names[:most]]
    if len(names) > most:
        safe.append(f"{len(names) - most} more")
    return safe[0] if len(safe) == 1 else f"{', '.join(safe[:-1])} and {safe[-1]}" if safe else ""


def plural(count: int | Fraction, word: str) -> str:
    """`1 piece`, `2 pieces`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def pieces_text(pieces: Sequence[FittedPiece]) -> str:
    """Pieces that are in a place, joined by plus signs."""
    counted = Counter(f"{shown(p.part)} [{shown(p.piece)}]" if p.piece else shown(p.part) for p in pieces)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items())


def chance_text(chance: Fraction | float) -> str:
    """A probability in per cent; never 100 % or 0 % unless it is exactly that."""
    if chance in (0, 1):
        return f"{int(chance) * 100} %"
    if not 0.0005 <= chance < 0.9995:
        return ">99.9 %" if chance > 0.5 else "<0.1 %"
    return f"{float(chance) * 100:.1f} %"
