"""The plan on a terminal: the answer first, then one block per gap, then what it rests on and what comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from shimopt.check.needed import Span, aimed, needed
from shimopt.errors import shown
from shimopt.fit import Finding
from shimopt.job import Gap, Job
from shimopt.lengths import spelled
from shimopt.planner import Decision
from shimopt.render.layout import Line, columns, folded
from shimopt.render.moves_view import places_list, swap_list
from shimopt.render.scale import Marks, drawn_scale
from shimopt.render.words import exactness, finding_words, headline, listed, next_steps, reason_words, stack_text
from shimopt.render.words.names import bracket_text, part_text, plural

__all__ = ["screen_lines"]

_SCALE = 44
_MOST_FINDINGS = 8
_LENGTH_LEVELS = {"miss", "doubt", "excess", "spread", "target"}
_SUSPECT = {"reading_suspect", "reading_far_off", "spots_tilted"}


def screen_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """All lines of the screen, each with whether it is bold."""
    return [line for section in (
        _answer(decision, unit, width, marks),
        _gaps(decision, unit, width, marks),
        _section("Places", places_list(decision, unit), width),
        swap_list(decision, unit, width),
        _balances(decision, unit, width),
        _section("Why", [reason_words(r, decision.job, unit) for r in decision.reasons], width),
        _section("Findings", _findings(decision, unit), width),
        _proof(decision, unit, width),
        _section("Next", next_steps(decision, unit), width),
    ) for line in ([*section, ("", False)] if section else [])][:-1]  # fmt: skip


def _answer(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    lines: list[Line] = [(line, True) for line in folded(headline(decision, unit), width)]
    lines += _plain(folded(f"{shown(decision.job.title)}. All lengths in {unit}.", width))
    if exact := exactness(decision):
        lines += _plain(folded(exact, width))
    for finding in decision.findings:
        if finding.code in _SUSPECT:
            text = f"{marks.outside} {shown(finding.place)} {finding_words(finding, unit)}."
            lines += [(line, True) for line in folded(text, width, rest="  ")]
    return lines


def _gaps(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    signs = {"inside": marks.inside, "outside": marks.outside, "unproven": marks.unproven}
    heads = ("gap", f"read, {unit}", f"needs, {unit}", f"after, {unit}", "verdict")
    rows = [heads]
    for gap in decision.job.gaps:
        found, read = decision.outcome.gaps[gap.name], gap.reading.bracket
        rows.append((
            shown(gap.name),
            bracket_text(read.low, read.high, unit, with_unit=False),
            _needs(decision.job, gap, unit),
            bracket_text(found.after.low, found.after.high, unit, with_unit=False),
            f"{signs[found.verdict]} {found.verdict}",
        ))  # fmt: skip
    head, *blocks = columns(rows, width)
    lines: list[Line] = [(line, True) for line in head]
    longest = max(len(_window(gap, unit)) for gap in decision.job.gaps)
    scale_width = max(10, min(_SCALE, width - len("    window ") - longest))
    for gap, block in zip(decision.job.gaps, blocks, strict=True):
        scale = drawn_scale(gap.reading.bracket, decision.outcome.gaps[gap.name].after, gap.window, marks, scale_width)
        lines += [(text, at == 0) for at, text in enumerate(block)]
        fit = _fit(decision, gap)
        lines += _plain(folded(fit, width, "  ", "      "))
        lines += _plain([f"  {scale}  window {_window(gap, unit)}".rstrip()])
    legend = (f"{marks.before} as read  {marks.after} after  {marks.span * 2} how far it is known  "
              f"{marks.left}{marks.band * 2}{marks.right} window")  # fmt: skip
    return [*lines, *_plain(folded(legend, width, "  ", "  "))]


def _fit(decision: Decision, gap: Gap) -> str:
    """What is fitted at a gap with a place of its own name, else which places move it."""
    job, movers = decision.job, [place for place, _ in gap.effects]
    if not movers:
        return "no place moves it"
    if movers != [gap.name]:
        return f"moved by {listed(movers)}"
    stack = decision.stacks.get(gap.name, ())
    if stack and stack == job.place[gap.name].installed:
        return f"leave {stack_text(job, stack)} in"
    return f"fit {stack_text(job, stack)}{_where(decision, gap.name)}"


def _needs(job: Job, gap: Gap, unit: str) -> str:
    """The bracket of shim that surely serves, else the one to aim at."""
    if (span := needed(job, gap)) is not None:
        return _span_text(span, unit)
    if (span := aimed(job, gap)) is not None:
        return f"aim {_span_text(span, unit)}"
    return "none can help" if len(gap.effects) == 1 else "-"


def _span_text(span: Span, unit: str) -> str:
    if span.most is None:
        return f"{spelled(span.least, unit, with_unit=False)} or more"
    return bracket_text(span.least, span.most, unit, with_unit=False)


def _window(gap: Gap, unit: str) -> str:
    low, high = gap.window.min, gap.window.max
    if low is None or high is None:
        return f"at most {spelled(high, unit)}" if high is not None else f"at least {spelled(low or 0, unit)}"
    return bracket_text(low, high, unit)


def _where(decision: Decision, place: str) -> str:
    """Where the pieces of a stack lie, where the drawer says so; a list of its own says it where pieces are swapped."""
    if decision.job.place[place].installed:
        return ""
    stock = decision.job.stock
    at = {part_text(decision.job, i): stock[i].part.at for i in decision.stacks.get(place, ()) if stock[i].part.at}
    if len(at) == 1 and len(set(decision.stacks[place])) == 1:
        return f" (from {shown(next(iter(at.values())))})"
    return f" ({', '.join(f'{name} from {shown(where)}' for name, where in at.items())})" if at else ""


def _balances(decision: Decision, unit: str, width: int) -> list[Line]:
    texts = []
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        before, after = spelled(found.spread_before, unit), spelled(found.spread_after, unit)
        asked = "no limit asked" if balance.within is None else f"at most {spelled(balance.within, unit)} asked"
        state = {True: "" if balance.within is None else ": met", False: ": not met", None: ": set aside"}[found.met]
        texts.append(f"{shown(balance.name)} ({listed(balance.gaps)}): uneven by {before} as read, {after} after; "
                     f"{asked}{state}.")  # fmt: skip
    return _section("Balance", texts, width)


def _findings(decision: Decision, unit: str) -> list[str]:
    """What was found about parts and readings, like findings of several places joined into one line."""
    places: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for grade in ("stop", "caution", "note"):
        for finding in decision.findings:
            if finding.grade == grade and finding.code not in _SUSPECT and finding.code != "bore_not_checked":
                places[(_subject(finding), finding_words(finding, unit))].append(finding.place)
    texts = [_joined(subject, words, where) for (subject, words), where in places.items()]
    if len(texts) > _MOST_FINDINGS:
        texts = [*texts[:_MOST_FINDINGS], f"{len(texts) - _MOST_FINDINGS} more findings: see --json."]
    if decision.screening.unchecked:
        texts.append(_not_checked(decision))
    return texts


def _subject(finding: Finding) -> str:
    name = f"{finding.part} [{finding.piece}]" if finding.piece else finding.part
    return f"{finding.grade}: {shown(name)}" if finding.part else finding.grade


def _joined(subject: str, words: str, where: list[str]) -> str:
    named = [place for place in where if place]
    return f"{subject}{f' on {listed(named, 5)}' if named else ''}: {words}."


def _not_checked(decision: Decision) -> str:
    missing = {f.texts["missing"] for f in decision.findings if f.code == "bore_not_checked"}
    why = {"no_seat": "no seat", "no_shaft_diameter": "no shaft diameter", "no_bore": "no bore of the part"}
    pairs = plural(decision.screening.unchecked, "pair")
    return f"Not checked whether the bore suits, on {pairs} of part and place: {listed([why[m] for m in sorted(missing)])}."


def _proof(decision: Decision, unit: str, width: int) -> list[Line]:
    seconds = f"{decision.seconds:.2f} s"
    if decision.proven:
        start = f"Proven best at every level, in {seconds}; checked again by plain arithmetic."
    else:
        start = f"Not proven best at every level, after {seconds}; checked again by plain arithmetic."
    levels = []
    for level in decision.levels:
        length = level.name in _LENGTH_LEVELS
        value = spelled(level.value, unit) if length else f"{float(level.value):g}"
        text = f"{level.name} {value}"
        if not level.proven:
            text += " (not proven"
            if level.bound is not None:
                text += f", at least {spelled(level.bound, unit) if length else f'{float(level.bound):g}'}"
            text += ")"
        if level.seconds >= 1:
            text += f" in {level.seconds:.1f} s"
        levels.append(text)
    return _section("Proof", [start, ", ".join(levels) + "."], width)


def _section(title: str, texts: Iterable[str], width: int) -> list[Line]:
    lines = [line for text in texts for line in folded(text, width, "  ", "    ")]
    return [(title, True), *_plain(lines)] if lines else []


def _plain(lines: Iterable[str]) -> list[Line]:
    return [(line, False) for line in lines]
