"""What is moved from where to where: rows for other programs, a plain list for people."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.moves import BENCH, Move
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.render.layout import Line, columns
from shimopt.words.speaker import Speaker

__all__ = ["bought_at", "move_rows", "places_list", "swap_list"]


def move_rows(decision: Decision) -> list[dict[str, Any]]:
    """One row per single piece: out to the bench, then in, then what is left over to the drawer."""
    rows = []
    for move in decision.moves:
        part = decision.job.stock[move.line].part
        row = {"part": part.name, "piece": part.piece, "from": move.source, "to": move.target}
        rows.append(row | ({"out_of": move.out_of} if move.out_of is not None and move.source == BENCH else {}))
    return rows


def bought_at(decision: Decision) -> dict[str, Counter[int]]:
    """By place, how many pieces of each stock line are to be ordered for it."""
    bought: dict[str, Counter[int]] = {}
    for move in decision.moves:
        if move.source == "order":
            bought.setdefault(move.target, Counter())[move.line] += 1
    return bought


def swap_list(decision: Decision, say: Speaker, width: int) -> list[Line]:
    """Was in, read, goes in, comes from: one row for each place that held pieces."""
    job = decision.job
    held = [place for place in job.places if place.installed]
    if not held:
        return []
    rows = [("place", "was in", f"read, {say.unit}", "goes in", "comes from")]
    for place in held:
        stack = decision.stacks.get(place.name, ())
        stays = stack == place.installed
        moved = job.moved_by[place.name]
        read = "-"
        if len(moved) == 1:
            read = say.bare.bracket(moved[0].reading.bracket.low, moved[0].reading.bracket.high)
        rows.append(
            (
                shown(place.name),
                say.stack(place.installed),
                read,
                "stays" if stays else say.stack(stack),
                "" if stays else _sources(decision, place.name, stack),
            )
        )
    head, *blocks = columns(rows, width - 2)
    lines: list[Line] = [("What was in, and what goes in", True), *((f"  {line}", False) for line in head)]
    lines += [(f"  {line}", False) for block in blocks for line in block]
    over = [move for move in decision.moves if move.source == BENCH and move.target == "drawer"]
    if over:
        left = ", ".join(f"{say.part(move.line)} out of {shown(move.out_of or '')}" for move in over)
        lines.append((f"  left over, to the drawer: {left}", False))
    return lines


def _sources(decision: Decision, place: str, stack: Stack) -> str:
    """Where the pieces that go into a place come from."""
    moves: Sequence[Move] = [move for move in decision.moves if move.target == place]
    said = []
    for move in moves:
        at = decision.job.stock[move.line].part.at
        came = move.source if move.source != BENCH else "itself" if move.out_of == place else shown(move.out_of or "")
        said.append(f"{came} ({shown(at)})" if move.source == "drawer" and at else came)
    return ", ".join(dict.fromkeys(said)) if stack else "-"


def places_list(decision: Decision, say: Speaker) -> list[str]:
    """The stack of every place that does not move one gap of its own name."""
    own = {gap.name for gap in decision.job.gaps if [place for place, _ in gap.effects] == [gap.name]}
    texts = []
    for place in decision.job.places:
        if place.name in own:
            continue
        stack = decision.stacks.get(place.name, ())
        thick = decision.outcome.thickness[place.name]
        if stack and stack == place.installed:
            texts.append(f"{shown(place.name)}: leave {say.stack(stack)} in ({say(thick.best)}).")
        else:
            size = f" ({say(thick.best)})" if stack else ""
            where = "" if place.installed or not stack else f", from {_sources(decision, place.name, stack)}"
            texts.append(f"{shown(place.name)}: fit {say.stack(stack)}{size}{where}.")
    return texts
