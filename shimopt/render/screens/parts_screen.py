"""Parts on a terminal: found in catalogues, and stacked to a thickness."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from heapq import nsmallest

from shimopt.arithmetic import thickness_of
from shimopt.errors import shown
from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.render.json.parts_json import FoundPart, Made
from shimopt.render.screens.layout import Line, Marks, bold, columns, plain
from shimopt.seats import order_matters
from shimopt.words.finding_words import finding_words
from shimopt.words.fit_words import provenance_word
from shimopt.words.speaker import Speaker, plural, unit_name

_MOST_SHOWN = 40


def parts_lines(
    found: Sequence[FoundPart], stopped: int, seat: Seat | None, unit: str, width: int, marks: Marks
) -> list[Line]:
    """The screen: a table, then what its figures rest on."""
    say = Speaker(unit)
    on_seat = f" on {shown(seat.name)}" if seat else ""
    left_out = f"; {plural(stopped, 'part')} of these sizes left out: a stop on this seat" if stopped else ""
    if not found:
        return bold(f"No such part{on_seat} in the catalogues{left_out}.", width)
    head = f"{plural(len(found), 'part')} found{on_seat}{left_out}. All lengths in {unit_name(unit)}."
    lines: list[Line] = bold(head, width)
    shown_parts = nsmallest(_MOST_SHOWN, found, key=_order)
    rows = [("part", "thick", "bore", "outer", "figures")]
    for one in shown_parts:
        part = one.line.part
        sign = f" {marks.unproven}" if one.answer is not None and one.answer.verdict == "caution" else ""
        rows.append(
            (
                f"{shown(part.name)}{sign}",
                say.bare(part.marked or part.thickness.best),
                _span(part.inner, say),
                _span(part.outer, say),
                provenance_word(part.provenance)[:16],
            )
        )
    head_row, *blocks = columns(rows, width, least_first=16)
    lines += [(text, True) for text in head_row]
    catalogue = ""
    for one, block in zip(shown_parts, blocks, strict=True):
        if one.catalogue != catalogue:
            catalogue = one.catalogue
            lines += plain(f"from {shown(catalogue)}", width)
        lines += [(line, False) for line in block]
    if len(found) > len(shown_parts):
        lines += plain(f"{len(found) - len(shown_parts)} more: narrow the search, or see --json.", width)
    if unknown := sum(not one.answer.checked("bore") for one in found if one.answer):
        text = f"Not checked whether the bore suits: {plural(unknown, 'part')} of these; a diameter is not known."
        lines += plain(text, width)
    cautions = {
        finding_words(f, say) for one in found if one.answer for f in one.answer.findings if f.grade == "caution"
    }
    for text in sorted(cautions)[:3]:
        lines += plain(f"{marks.unproven} {text}.", width, "", "  ")
    if count := sum(one.line.part.unconfirmed for one in found):
        text = (
            f"The figures of {count} of {plural(len(found), 'part')} are wholly or partly unconfirmed (from memory or "
            "second hand, not from a document): check them against the standard or the piece."
        )
        lines += plain(text, width)
    return lines


def _order(one: FoundPart) -> tuple[object, ...]:
    """By catalogue; parts whose bore was checked first; then by bore, outside and thickness, else as they stand."""
    part = one.line.part
    unchecked = one.answer is not None and not one.answer.checked("bore")
    sizes = [bracket.best if bracket else Fraction(0) for bracket in (part.inner, part.outer, part.thickness)]
    return (unchecked, one.catalogue, *sizes)


def _span(bracket: Bracket | None, say: Speaker) -> str:
    if bracket is None:
        return "?"
    if bracket.exact:
        return say.bare(bracket.low)
    return f"{say.bare(bracket.low)}-{say.bare(bracket.high)}"


def make_lines(asked: Made, unit: str, width: int) -> list[Line]:
    """The screen: the stack, what it measures, and what of it is not sure."""
    say, stock, stack, wanted = Speaker(unit, asked.stock), asked.stock, asked.stack, asked.wanted
    size = f"{say(wanted)} ± {say(asked.within)}{' (common practice)' if asked.assumed else ''}"
    if stack is None:
        lines = bold(f"No stack of at most {asked.most} pieces on hand makes {size}.", width)
        if asked.nearest:
            made = thickness_of(asked.nearest, stock)
            short = say(abs(made.best - wanted))
            side = "under" if made.best < wanted else "over"
            text = f"The nearest is {say.row(asked.nearest)}: {say(made.best)}, {short} {side}."
            lines += plain(text, width)
        return lines
    made = thickness_of(stack, stock)
    sure = wanted - asked.within <= made.low and made.high <= wanted + asked.within
    lines = bold(f"{say.row(stack)} makes {say(made.best)}.", width)
    off = made.best - wanted
    told = [f"Asked for: {size}; off by {say(abs(off))}." if off else f"Asked for: {size}; met exactly."]
    if not made.exact:
        state = "surely within" if sure else "not surely within: measure the stack with a micrometer"
        told.append(f"By the tolerances it is {say.bracket(made.low, made.high)}, {state}.")
    exact = sum(stock[i].part.thickness.exact for i in stack)
    if exact:
        told.append(f"Taken as exact, for no tolerance is stated: {exact} of {len(stack)} pieces.")
    if order_matters(stack, stock, None):
        told.append("Listed in the order of common practice: thin between thick.")
    for index in dict.fromkeys(stack):
        if stock[index].part.at:
            told.append(f"{shown(stock[index].part.name)} lies in {shown(stock[index].part.at)}.")
    return lines + [line for text in told for line in plain(text, width, "", "  ")]
