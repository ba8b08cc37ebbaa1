"""One block per gap on the screen: the numbers in columns, what is fitted, and a small scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len

from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.lengths import spelled
from shimopt.planner import Decision
from shimopt.render.layout import Line, columns, folded
from shimopt.render.scale import Marks, drawn_scale
from shimopt.words import listed, stack_text
from shimopt.words.names import (
    bracket_text,
    chance_text,
    clearance_text,
    ordered_text,
    part_text,
    pieces_text,
    window_text,
)

__all__ = ["gap_lines", "plain"]

_SCALE = 44
_LEAST_NAME = 12
_NONE = "none can help"
# the columns that go below where there is no room
_NEEDS, _CHANCE = 2, 5


def plain(lines: Iterable[str]) -> list[Line]:
    """Lines that are not bold."""
    return [(line, False) for line in lines]


def gap_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """One block per gap: reading, what it needs, clearance after, verdict, chance; what is fitted; the scale."""
    signs = {"inside": marks.inside, "outside": marks.outside, "unproven": marks.unproven}
    rows: list[tuple[str, ...]] = [("gap", f"read, {unit}", f"needs, {unit}", f"after, {unit}", "verdict", "chance")]
    for gap in decision.job.gaps:
        found = decision.outcome.gaps[gap.name]
        rows.append(
            (
                f"{shown(gap.name)} (cover gap)" if gap.reading.opens else shown(gap.name),
                _read(gap, unit),
                _needs(decision.job, gap, unit),
                clearance_text(found.after.low, found.after.high, unit, with_unit=False),
                f"{signs[found.verdict]} {found.verdict}",
                chance_text(found.chance),
            )
        )
    # where the numbers are long, what a gap needs stands on the line of what is fitted, and then the chance too
    below = _columns_below(rows, width)
    head, *blocks = columns([tuple(cell for at, cell in enumerate(row) if at not in below) for row in rows], width)
    lines: list[Line] = [(line, True) for line in head]
    longest = max(len(window_text(gap.window.min, gap.window.max, unit)) for gap in decision.job.gaps)
    scale_width = max(10, min(_SCALE, width - len("    window ") - longest))
    for gap, block in zip(decision.job.gaps, blocks, strict=True):
        scale = drawn_scale(gap.reading.bracket, decision.outcome.gaps[gap.name].after, gap.window, marks, scale_width)
        lines += [(text, at == 0) for at, text in enumerate(block)]
        fit = _fit(decision, gap)
        fit += f"; {_needs_below(decision.job, gap, unit)}" if _NEEDS in below and len(gap.effects) == 1 else ""
        fit += f"; chance {chance_text(decision.outcome.gaps[gap.name].chance)}" if _CHANCE in below else ""
        lines += plain(folded(fit, width, "  ", "      "))
        lines += plain([f"  {scale}  window {window_text(gap.window.min, gap.window.max, unit)}".rstrip()])
    legend = (
        f"{marks.before} as read  {marks.after} after  {marks.span * 2} how far it is known  "
        f"{marks.left}{marks.band * 2}{marks.right} window"
    )
    return [*lines, *plain(folded(legend, width, "  ", "  "))]


def _fit(decision: Decision, gap: Gap) -> str:
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
        return f"leave {stack_text(job, stack)} in"
    return f"fit {ordered_text(job, stack, place.seat.order if place.seat else '')}{_where(decision, gap.name)}"


def _columns_below(rows: Sequence[Sequence[str]], width: int) -> set[int]:
    """The columns that find no room beside a name."""
    widths = {at: max(cell_len(row[at]) for row in rows) + 2 for at in range(1, len(rows[0]))}
    below: set[int] = set()
    # a name of its own line leaves the others all of the width but its indent
    for at, least in ((_NEEDS, _LEAST_NAME), (_CHANCE, 2)):
        if sum(wide for other, wide in widths.items() if other not in below) + least > width:
            below.add(at)
    return below


def _read(gap: Gap, unit: str) -> str:
    """What was read; under a cover that is the cover's gap, not the preload that it means."""
    read = gap.reading.bracket
    if gap.reading.opens:
        return bracket_text(-read.high, -read.low, unit, with_unit=False)
    return clearance_text(read.low, read.high, unit, with_unit=False)


def _needs(job: Job, gap: Gap, unit: str) -> str:
    """The bracket of shim that surely serves, else the one to aim at."""
    if (span := needed(job, gap)) is not None:
        return _span_text(span, unit)
    if (span := aimed(job, gap)) is not None:
        return f"aim {_span_text(span, unit)}"
    return _NONE if len(gap.effects) == 1 else "-"


def _needs_below(job: Job, gap: Gap, unit: str) -> str:
    """The same with its unit, as part of a line."""
    text = _needs(job, gap, unit)
    if text == _NONE:
        return text
    start = "" if text.startswith("aim ") else "needs "
    return f"{start}{text.removesuffix(' or more')} {unit}{' or more' if text.endswith(' or more') else ''}"


def _span_text(span: Span, unit: str) -> str:
    if span.most is None:
        return f"{spelled(span.least, unit, with_unit=False)} or more"
    return bracket_text(span.least, span.most, unit, with_unit=False)


def _where(decision: Decision, place: str) -> str:
    """Where the pieces of a stack lie, where the drawer says so; a list of its own says it where pieces are swapped."""
    if decision.job.place[place].installed:
        return ""
    stock = decision.job.stock
    at = {part_text(decision.job, i): stock[i].part.at for i in decision.stacks.get(place, ()) if stock[i].part.at}
    if len(at) == 1 and len(set(decision.stacks[place])) == 1:
        return f" (from {shown(next(iter(at.values())))})"
    return f" ({', '.join(f'{name} from {shown(where)}' for name, where in at.items())})" if at else ""
