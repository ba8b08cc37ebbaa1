"""Names of parts, stacks and sums as people read them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.lengths import spelled
from shimopt.parts.drawer import FittedPiece
from shimopt.seats import fitting_order

__all__ = [
    "bracket_text",
    "chance_text",
    "clearance_text",
    "listed",
    "money_text",
    "ordered_text",
    "part_text",
    "pieces_text",
    "plural",
    "stack_text",
    "window_text",
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


def part_text(job: Job, index: int) -> str:
    """A part's name, with its tag where it has one."""
    part = job.stock[index].part
    return f"{shown(part.name)} [{shown(part.piece)}]" if part.piece else shown(part.name)


def stack_text(job: Job, stack: Stack) -> str:
    """A stack's parts joined by plus signs, `nothing` where it is empty."""
    counted = Counter(part_text(job, i) for i in stack)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items()) or "nothing"


def ordered_text(job: Job, stack: Stack, order: str) -> str:
    """A stack's parts in the order in which they go in, neighbours of one kind counted; `nothing` where it is empty."""
    names = [part_text(job, i) for i in fitting_order(stack, job.stock, order)]
    groups = [(name, len(list(group))) for name, group in groupby(names)]
    text = " + ".join(f"{n} x {name}" if n > 1 else name for name, n in groups) or "nothing"
    mixed = len({job.stock[i].part.thickness.best for i in stack}) > 1
    return f"{text}, in this order from the face" if mixed else text


def pieces_text(pieces: Sequence[FittedPiece]) -> str:
    """Pieces that are in a place, joined by plus signs."""
    counted = Counter(f"{shown(p.part)} [{shown(p.piece)}]" if p.piece else shown(p.part) for p in pieces)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items())


def bracket_text(low: Fraction | int, high: Fraction | int, unit: str, *, with_unit: bool = True) -> str:
    """`0.35 to 0.37 mm`, or one number where both ends are the same."""
    if low == high:
        return spelled(low, unit, with_unit=with_unit)
    return f"{spelled(low, unit, with_unit=False)} to {spelled(high, unit, with_unit=with_unit)}"


def clearance_text(low: Fraction | int, high: Fraction | int, unit: str, *, with_unit: bool = True) -> str:
    """A clearance from low to high; below zero it is a preload and called so, never a negative play."""
    if low >= 0:
        return bracket_text(low, high, unit, with_unit=with_unit)
    if high <= 0:
        return f"preload {bracket_text(-high, -low, unit, with_unit=with_unit)}"
    return f"preload {spelled(-low, unit, with_unit=False)} to play {spelled(high, unit, with_unit=with_unit)}"


def window_text(low: int | None, high: int | None, unit: str) -> str:
    """The limits of a window; a limit below zero is one of preload."""
    if low is not None and high is not None:
        return clearance_text(low, high, unit)
    limit, at_least = (low, True) if low is not None else (high or 0, False)
    # of a preload, more is less clearance
    return f"at {'least' if at_least == (limit >= 0) else 'most'} {clearance_text(limit, limit, unit)}"


def chance_text(chance: Fraction | float) -> str:
    """A probability in per cent; never 100 % or 0 % unless it is exactly that."""
    if chance in (0, 1):
        return f"{int(chance) * 100} %"
    if not 0.0005 <= chance < 0.9995:
        return ">99.9 %" if chance > 0.5 else "<0.1 %"
    return f"{float(chance) * 100:.1f} %"


def money_text(job: Job, cost: Fraction) -> str:
    """A cost with its currency, where one is named."""
    currencies = {o.currency for line in job.stock for o in line.offers if o.price is not None and o.currency}
    amount = f"{float(cost):,.2f}"
    return f"{amount} {shown(min(currencies))}" if currencies else amount
