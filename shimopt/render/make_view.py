"""`shimopt make` for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from shimopt.arithmetic import thickness_of
from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.lengths import mm_number
from shimopt.parts import StockLine
from shimopt.render.layout import Line, folded
from shimopt.seats import fitting_order
from shimopt.words.speaker import Speaker

__all__ = ["make_lines", "make_object"]


def make_lines(
    wanted: int,
    within: int,
    most: int,
    stock: Sequence[StockLine],
    stack: Stack | None,
    nearest: Stack,
    unit: str,
    width: int,
) -> list[Line]:
    """The screen: the stack, what it measures, and what of it is not sure."""
    say = Speaker(unit, stock)
    asked = f"{say(wanted)} ± {say(within)}"
    if stack is None:
        lines = [(line, True) for line in folded(f"No stack of at most {most} pieces on hand makes {asked}.", width)]
        if nearest:
            made = thickness_of(nearest, stock)
            short = say(abs(made.best - wanted))
            side = "under" if made.best < wanted else "over"
            text = f"The nearest is {_named(nearest, stock)}: {say(made.best)}, {short} {side}."
            lines += [(line, False) for line in folded(text, width)]
        return lines
    made = thickness_of(stack, stock)
    sure = wanted - within <= made.low and made.high <= wanted + within
    lines = [(line, True) for line in folded(f"{_named(stack, stock)} makes {say(made.best)}.", width)]
    off = made.best - wanted
    told = [f"Asked for: {asked}; off by {say(abs(off))}." if off else f"Asked for: {asked}; met exactly."]
    if not made.exact:
        state = "surely within" if sure else "not surely within: measure the stack with a micrometer"
        told.append(f"By the tolerances it is {say.bracket(made.low, made.high)}, {state}.")
    exact = sum(stock[i].part.thickness.exact for i in stack)
    if exact:
        told.append(f"Taken as exact, for no tolerance is stated: {exact} of {len(stack)} pieces.")
    if len({stock[i].part.thickness.best for i in stack}) > 1:
        told.append("Listed in the order of common practice: thin between thick.")
    for index in dict.fromkeys(stack):
        if stock[index].part.at:
            told.append(f"{shown(stock[index].part.name)} lies in {shown(stock[index].part.at)}.")
    return lines + [(line, False) for text in told for line in folded(text, width, "", "  ")]


def make_object(
    wanted: int, within: int, stock: Sequence[StockLine], stack: Stack | None, nearest: Stack
) -> dict[str, Any]:
    """What other programs read."""
    return {
        "format": 1,
        "lengths_in": "mm",
        "wanted": mm_number(wanted),
        "tolerance": mm_number(within),
        "made": None if stack is None else _made(stack, stock),
        "nearest": None if stack is not None or not nearest else _made(nearest, stock),
    }


def _made(stack: Stack, stock: Sequence[StockLine]) -> dict[str, Any]:
    made = thickness_of(stack, stock)
    return {
        "stack": [
            {"part": stock[i].part.name, "piece": stock[i].part.piece, "pieces": stack.count(i)}
            for i in sorted(set(stack))
        ],
        "thickness": {"low": mm_number(made.low), "best": mm_number(made.best), "high": mm_number(made.high)},
    }


def _named(stack: Stack, stock: Sequence[StockLine]) -> str:
    """The pieces in fitting order."""

    def name(index: int) -> str:
        part = stock[index].part
        return f"{shown(part.name)} [{shown(part.piece)}]" if part.piece else shown(part.name)

    groups = [(text, len(list(group))) for text, group in groupby(name(i) for i in fitting_order(stack, stock))]
    return " + ".join(f"{n} x {text}" if n > 1 else text for text, n in groups)
