"""Names of parts, stacks and sums as people read them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from shimopt.check.arithmetic import Stack
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.job.record import FittedPiece
from shimopt.lengths import spelled

__all__ = ["bracket_text", "listed", "money_text", "part_text", "pieces_text", "plural", "stack_text"]


def listed(names: Sequence[str], most: int = 6) -> str:
    """Names in a row: `a, b and c`."""
    safe = [shown(name) for name in names[:most]]
    if len(names) > most:
        safe.append(f"{len(names) - most} more")
    return safe[0] if len(safe) == 1 else f"{', '.join(safe[:-1])} and {safe[-1]}" if safe else ""


def plural(count: int | Fraction, word: str) -> str:
    """`1 piece`, `2 pieces`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def part_text(job: Job, index: int) -> str:
    """A part's name, with its tag where it has one."""
    part = job.stock[index].part
    return f"{shown(part.name)} [{shown(part.piece)}]" if part.piece else shown(part.name)


def stack_text(job: Job, stack: Stack) -> str:
    """A stack's parts joined by plus signs, `nothing` where it is empty."""
    counted = Counter(part_text(job, i) for i in stack)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items()) or "nothing"


def pieces_text(pieces: Sequence[FittedPiece]) -> str:
    """Pieces that are in a place, joined by plus signs."""
    counted = Counter(f"{shown(p.part)} [{shown(p.piece)}]" if p.piece else shown(p.part) for p in pieces)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items())


def bracket_text(low: Fraction | int, high: Fraction | int, unit: str, *, with_unit: bool = True) -> str:
    """`0.35 to 0.37 mm`, or one number where both ends are the same."""
    if low == high:
        return spelled(low, unit, with_unit=with_unit)
    return f"{spelled(low, unit, with_unit=False)} to {spelled(high, unit, with_unit=with_unit)}"


def money_text(job: Job, cost: Fraction) -> str:
    """A cost with its currency, where one is named."""
    currencies = {o.currency for line in job.stock for o in line.offers if o.price is not None and o.currency}
    amount = f"{float(cost):,.2f}"
    return f"{amount} {shown(min(currencies))}" if currencies else amount
