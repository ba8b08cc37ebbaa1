"""One block per gap on the screen: numbers in columns, what is fitted, a scale; then the other places."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.moves import BENCH, Move
from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.render.screens.layout import Line, Marks, columns, drawn_scale, plain
from shimopt.words.speaker import (
    Speaker,
    chance_text,
    listed,
    pieces_text,
)

__all__ = ["gap_lines", "places_list", "swap_list"]

_SCALE = 44
_LEAST_NAME = 12
_NONE = "none can help"
# the columns that go below where there is no room
_NEEDS, _CHANCE = 2, 5


def gap_lines(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    """One block per gap: reading, what it needs, clearance after, verdict, chance; what is fitted; the scale."""
    signs = {"inside": marks.inside, "outside": marks.outside, "unproven": marks.unproven}
    rows: list[tuple[str, ...]] = [
        ("gap", f"read, {say.unit}", f"needs, {say.unit}", f"after, {say.unit}", "verdict", "chance")
    ]
    for gap in decision.job.gaps:
        found = decision.outcome.gaps[gap.name]
        rows.append(
            (
                f"{shown(gap.name)} (cover gap)" if gap.reading.opens else shown(gap.name),
                _read(gap, say),
                _needs(decision.job, gap, say),
                say.of(gap).bare.clearance(found.after.low, found.after.high),
                f"{signs[found.verdict]} {found.verdict}",
                chance_text(found.chance),
            )
        )
    # where the numbers are long, what a gap needs stands on the line of what is fitted, and then the chance too
    below = _columns_below(rows, width)
    head, *blocks = columns([tuple(cell for at, cell in enumerate(row) if at not in below) for row in rows], width)
    lines: list[Line] = [(line, True) for line in head]
    longest = max(len(say.of(gap).window(gap.window.min, gap.window.max)) for gap in decision.job.gaps)
    scale_width = max(10, min(_SCALE, width - len("    window ") - longest))
    for gap, block in zip(decision.job.gaps, blocks, strict=True):
        scale = drawn_scale(gap.reading.bracket, decision.outcome.gaps[gap.name].after, gap.window, marks, scale_width)
        lines += [(text, at == 0) for at, text in enumerate(block)]
        fit = _fit(decision, gap, say)
        fit += f"; {_needs_below(decision.job, gap, say)}" if _NEEDS in below and len(gap.effects) == 1 else ""
        fit += f"; chance {chance_text(decision.outcome.gaps[gap.name].chance)}" if _CHANCE in below else ""
        lines += plain(fit, width, "  ", "      ")
        lines.append((f"  {scale}  window {say.of(gap).window(gap.window.min, gap.window.max)}".rstrip(), False))
    legend = (
        f"{marks.before} as read  {marks.after} after  {marks.span * 2} how far it is known  "
        f"{marks.left}{marks.band * 2}{marks.right} window"
    )
    return [*lines, *plain(legend, width, "  ", "  ")]


def _fit(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What is fitted at a gap with a place of its own name, else which places move it."""
    job, movers = decision.job, [place for place, _ in gap.effects]
    if not movers:
        return "no place moves it"
    if movers != [gap.name]:
        return f"moved by {listed(movers)}"
    stack, place = decision.stacks.get(gap.name, ()), job.place[gap.name]
    if kept := job.kept(gap.name):
        return f"keep {pieces_text(kept)}"
    if stack and stack == place.installed:
        return f"leave {say.stack(stack)} in"
    return f"fit {say.ordered(stack, place.seat)}{_where(decision, gap.name, say)}"


def _columns_below(rows: Sequence[Sequence[str]], width: int) -> set[int]:
    """The columns that find no room beside a name."""
    widths = {at: max(cell_len(row[at]) for row in rows) + 2 for at in range(1, len(rows[0]))}
    below: set[int] = set()
    # a name of its own line leaves the others all of the width but its indent
    for at, least in ((_NEEDS, _LEAST_NAME), (_CHANCE, 2)):
        if sum(wide for other, wide in widths.items() if other not in below) + least > width:
            below.add(at)
    return below


def _read(gap: Gap, say: Speaker) -> str:
    """What was read; under a cover that is the cover's gap, not the preload that it means."""
    read = gap.reading.bracket
    if gap.reading.opens:
        return say.bare.bracket(-read.high, -read.low)
    return say.of(gap).bare.clearance(read.low, read.high)


def _needs(job: Job, gap: Gap, say: Speaker) -> str:
    """The bracket of shim that surely serves, else the one to aim at."""
    if (span := needed(job, gap)) is not None:
        return _span_text(span, say)
    if (span := aimed(job, gap)) is not None:
        return f"aim {_span_text(span, say)}"
    return _NONE if len(gap.effects) == 1 else "-"


def _needs_below(job: Job, gap: Gap, say: Speaker) -> str:
    """The same with its unit, as part of a line."""
    text = _needs(job, gap, say)
    if text == _NONE:
        return text
    start = "" if text.startswith("aim ") else "needs "
    return f"{start}{text.removesuffix(' or more')} {say.unit}{' or more' if text.endswith(' or more') else ''}"


def _span_text(span: Span, say: Speaker) -> str:
    if span.most is None:
        return f"{say.bare(span.least)} or more"
    return say.bare.bracket(span.least, span.most)


def _where(decision: Decision, place: str, say: Speaker) -> str:
    """Where the pieces of a stack lie, where the drawer says so; a list of its own says it where pieces are swapped."""
    if decision.job.place[place].installed:
        return ""
    stock = decision.job.stock
    at = {say.part(i): stock[i].part.at for i in decision.stacks.get(place, ()) if stock[i].part.at}
    if len(at) == 1 and len(set(decision.stacks[place])) == 1:
        return f" (from {shown(next(iter(at.values())))})"
    return f" ({', '.join(f'{name} from {shown(where)}' for name, where in at.items())})" if at else ""


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
