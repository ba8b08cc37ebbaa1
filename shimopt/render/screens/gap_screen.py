"""One block per gap on the screen: numbers in columns, what is fitted, a scale; then the other places."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from rich.cells import cell_len

from shimopt.arithmetic.changes import DRAWER
from shimopt.arithmetic.needed import aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.render.screens.layout import Line, Marks, columns, drawn_scale, folded, plain, section
from shimopt.words.change_words import came_from, change_sentences, counted, left_words, place_words
from shimopt.words.doubt_words import doubted
from shimopt.words.reading_words import LIKELY_NOTE, stands
from shimopt.words.speaker import Speaker, chance_text, listed

_SCALE = 44
_LEAST_NAME = 12
_NOTHING = "none"
# the columns that go below where there is no room
_NEEDS, _CHANCE = 2, 5
_KINDS = {"unproven": "not surely"}


def gap_lines(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    """One block per gap: reading, what it needs, clearance after, verdict, chance; what is fitted; the scale."""
    signs = {"inside": marks.inside, "outside": marks.outside, "unproven": marks.unproven}
    rows: list[tuple[str, ...]] = [
        ("gap", f"read, {say.unit}", f"needs, {say.unit}", f"then, {say.unit}", "verdict", "chance")
    ]
    hang = doubted(decision)
    for gap in decision.job.gaps:
        found = decision.outcome.gaps[gap.name]
        # of what is measured again, or may be tight already, nobody knows how it stands
        unknown = hang.get(gap.name) or ("unknown" if decision.job.untold(gap.name) else "")
        rows.append(
            (
                shown(gap.name),
                f"{_read(gap, say)}{_mark(gap, found.after)}",
                _NOTHING if left_words(decision, gap, say) else _needs(decision.job, gap, say.bare),
                f"{say.about(gap).bare.clearance(found.after.low, found.after.high)}{_mark(gap, found.after)}",
                f"{marks.unproven} {unknown}"
                if unknown
                else f"{signs[found.verdict]} {_KINDS.get(found.verdict, found.verdict)}",
                _chance(gap, found.chance),
            )
        )
    # where the numbers are long, what a gap needs stands on the line of what is fitted, and then the chance too
    below = _columns_below(rows, width)
    shown_rows = [tuple(cell for at, cell in enumerate(row) if at not in below) for row in rows]
    if _too_wide(shown_rows, width):
        head, blocks = [], [_stacked(row, width) for row in rows[1:]]
    else:
        head, *blocks = columns(shown_rows, width)
    lines: list[Line] = [(line, True) for line in head]
    longest = max(len(say.about(gap).window(gap.window.stated_min, gap.window.max)) for gap in decision.job.gaps)
    scale_width = max(10, min(_SCALE, width - len("    window ") - longest))
    for gap, block in zip(decision.job.gaps, blocks, strict=True):
        scale = drawn_scale(gap.reading.bracket, decision.outcome.gaps[gap.name].after, gap.window, marks, scale_width)
        lines += [(text, at == 0) for at, text in enumerate(block)]
        fit = _fit(decision, gap, say)
        needs = len(gap.effects) == 1 and not left_words(decision, gap, say)
        fit += f"; {_needs(decision.job, gap, say, 'needs ')}" if _NEEDS in below and needs else ""
        turned = decision.job.turned(gap.name) is not None
        read = "turned after fitting" if turned else "not read after fitting: read it"
        fit += f"; calculated, {read}" if gap.reading.calculated else ""
        fit += f"; chance {_chance(gap, decision.outcome.gaps[gap.name].chance)}" if _CHANCE in below else ""
        lines += plain(fit, width, "  ", "      ")
        window = f"window {say.about(gap).window(gap.window.stated_min, gap.window.max)}"
        beside = cell_len(f"  {scale}  {window}") <= width
        lines.append((f"  {scale}  {window if beside else ''}".rstrip(), False))
        lines += [] if beside else plain(window, width, "  ", "      ")
    legend = (
        f"{marks.before} as read  {marks.after} then  {marks.span * 2} how far it is known  "
        f"{marks.left}{marks.band * 2}{marks.right} window"
    )
    likely = [gap for gap in decision.job.gaps if _mark(gap, gap.reading.bracket)]
    told = plain(LIKELY_NOTE, width, "  ", "    ") if likely else []
    return [*lines, *plain(legend, width, "  ", "  "), *told]


def _too_wide(rows: Sequence[Sequence[str]], width: int) -> bool:
    """Whether what is never folded has no room beside each other, not even below a name."""
    return sum(max(cell_len(row[at]) for row in rows) + 2 for at in range(1, len(rows[0]))) > width


def _stacked(row: Sequence[str], width: int) -> list[str]:
    """A row as lines of its own: the name, what was read, what it comes to and how that is."""
    name, read, _, then, verdict, _ = row
    told = (f"read {read}", f"then {then} {verdict}")
    return [*folded(name, width), *(line for text in told for line in folded(text, width, "  ", "      "))]


def _chance(gap: Gap, chance: Fraction | float) -> str:
    """How likely it is inside; of what may be tight already nobody knows."""
    return "unknown" if gap.may_be_tight else chance_text(chance)


def _mark(gap: Gap, bracket: Bracket) -> str:
    """A mark on a bracket that holds 19 times in 20 only."""
    return "*" if gap.reading.basis != "worst case" and not bracket.exact else ""


def _fit(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What is fitted at a gap with a place of its own name, else which places move it."""
    movers = [place for place, _ in gap.effects]
    if not movers:
        return "no place moves it"
    if movers != [gap.name]:
        return f"moved by {listed(movers)}"
    if room := left_words(decision, gap, say):
        return room
    return f"{place_words(decision, gap.name, say)}{_where(decision, gap.name, say)}"


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
    """What was read, without what may shift; under a cover that is the cover's gap, not the preload that it means."""
    read = gap.reading.found
    if gap.reading.opens:
        return stands(read, say.bare)
    return say.about(gap).bare.clearance(read.low, read.high)


def _needs(job: Job, gap: Gap, say: Speaker, start: str = "") -> str:
    """The bracket of shim that surely serves, begun as said, else the one to aim at."""
    if any(not job.place[place].takes_shims for place, _ in gap.effects):
        return "takes no shims"
    if job.turns_wrong(gap.name):
        return "its torque set"
    if (span := needed(job, gap)) is not None:
        return f"{start}{say.span(span)}"
    if (span := aimed(job, gap)) is not None:
        return f"aim {say.span(span)}"
    return "none can help" if len(gap.effects) == 1 else "-"


def _where(decision: Decision, place: str, say: Speaker) -> str:
    """Where the pieces of a place that was empty come from; a list of its own says it where pieces were in."""
    change = decision.changes.at[place]
    if change.held:
        return ""
    came: dict[str, str] = {}
    for name, piece in counted(change.into, say, change.place):
        at = decision.job.stock[piece.line].part.at
        where = (f"from {shown(at)}" if at else "") if piece.other == DRAWER else came_from(piece, say, change.place)
        came |= {name: where} if where else {}
    if len(came) == 1 and len({piece.line for piece in change.into}) == 1:
        return f" ({next(iter(came.values()))})"
    return f" ({', '.join(f'{name} {where}' for name, where in came.items())})" if came else ""


def change_list(decision: Decision, say: Speaker, width: int) -> list[Line]:
    """Piece by piece what comes out and goes in, where something was in."""
    held = any(change.held or change.stays_out for change in decision.changes) and not decision.changes.nothing
    return section("What changes", change_sentences(decision, say) if held else [], width)


def places_list(decision: Decision, say: Speaker) -> list[str]:
    """The stack of every place that does not move one gap of its own name."""
    own = {gap.name for gap in decision.job.gaps if gap.in_own_place}
    texts = []
    for place in decision.job.places:
        if place.name not in own:
            stack, thick = decision.stacks.get(place.name, ()), decision.outcome.thickness[place.name]
            size = f" ({say(thick.best)})" if stack else ""
            where = _where(decision, place.name, say)
            texts.append(f"{shown(place.name)}: {place_words(decision, place.name, say)}{size}{where}.")
    return texts
