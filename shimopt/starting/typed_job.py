"""A new job from the fields of a form: all answers read, or all that is wrong with them told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

from shimopt.errors import InputError, Problem
from shimopt.starting.new_answers import Answers, GapRead, Limits, PieceIn, drawer_text, job_text
from shimopt.starting.new_doubts import doubts, pulls_doubted, reading_doubted
from shimopt.starting.typed_pieces import pieces_typed
from shimopt.starting.typed_text import (
    blades_table,
    bore_of,
    dimensions_table,
    lengths_only,
    limit_of,
    pulls_table,
    shaft_of,
    sizes_of,
    window_typed,
    words_typed,
)
from shimopt.words.bench_page_words import LABELS, sure_remedy

T = TypeVar("T")
UNITS = ("thou", "mm", "in", "um")
_MOST_GAPS = 40
# the field of a gap's reading, by how it is read; of blades the one that does not go
_READ = {"dial": "readings", "dimensions": "dimensions"}


@dataclass(slots=True)
class _Form:
    """The fields of a form, and what is wrong with them so far."""

    fields: Mapping[str, str]
    problems: list[Problem] = field(default_factory=list)

    def text(self, name: str) -> str:
        return self.fields.get(name, "").strip()

    def read(self, name: str, about: str, read: Callable[[str], T], otherwise: T) -> T:
        """A field as it is understood; what is wrong with it is kept."""
        try:
            return read(self.text(name))
        except ValueError as error:
            self.refuse(name, about, str(error))
        return otherwise

    def refuse(self, name: str, about: str, sentence: str, remedy: str = "") -> None:
        rule = sentence.rstrip(".")
        self.problems.append(Problem("", about, self.text(name), rule, remedy or LABELS["new_again"], name))


def files_typed(fields: Mapping[str, str]) -> dict[str, str]:
    """The files of the job that a form describes, by their names. Raises InputError with all that is wrong."""
    form = _Form(fields)
    answers = _answers(form)
    form.problems += [] if form.problems else _refused_readings(answers, fields)
    if form.problems:
        raise InputError(form.problems)
    answers, asked = _settled(answers, fields)
    if asked:
        raise InputError(asked)
    return {"job.toml": job_text(answers, Path()), "drawer.csv": drawer_text(answers)}


def wrong_in(fields: Mapping[str, str]) -> list[Problem]:
    """All that is wrong with the fields of a form, each told of its field; nothing of what only looks unlikely."""
    form = _Form(fields)
    answers = _answers(form)
    return form.problems or _refused_readings(answers, fields)


def gap_numbers(fields: Mapping[str, str]) -> list[int]:
    """The numbers of the gaps of a form, from 1; those without a name are none, but for the first."""
    return [n for n in range(1, _MOST_GAPS + 1) if n == 1 or fields.get(f"gap.{n}.name", "").strip()]


def _answers(form: _Form) -> Answers:
    unit = form.text("unit")
    if unit not in UNITS:
        form.refuse("unit", LABELS["new_unit"], f"this is one of {', '.join(UNITS)}")
        unit = "thou"
    answers = Answers(
        title=form.read("title", LABELS["new_title"], words_typed, ""),
        unit=unit,
        window=_window(form, unit),
        source=form.read("source", LABELS["new_source"], words_typed, ""),
        shaft=form.read("shaft", LABELS["new_shaft"], lambda text: shaft_of(text or "none", unit), ""),
        sizes=form.read("sizes", LABELS["new_sizes"], lambda text: lengths_only(sizes_of(text or "none"), unit), {}),
    )
    bore = form.read("bore", LABELS["new_bore"], lambda text: _bore(text, unit, answers.shaft), None)
    gaps, taken = list[GapRead](), set[str]()
    for n in gap_numbers(form.fields):
        gap = _gap(form, n, answers)
        if gap.name in taken:
            form.refuse(f"gap.{n}.name", f"{LABELS['new_gap']} {n}", "this name is taken")
        taken.add(gap.name)
        gaps.append(gap)
    return replace(answers, bore=bore, gaps=gaps)


def _window(form: _Form, unit: str) -> Limits:
    try:
        return window_typed(form.text("min") or "none", form.text("max") or "none", unit)
    except ValueError as error:
        form.refuse("min", LABELS["new_window"], str(error))
    return None, None


def _bore(text: str, unit: str, shaft: str) -> Decimal | None:
    return bore_of(text, unit, shaft) if text and shaft else None


def _gap(form: _Form, n: int, answers: Answers) -> GapRead:
    unit, at = answers.unit, f"gap.{n}."
    name = form.read(f"{at}name", f"{LABELS['new_gap']} {n}", words_typed, f"gap {n}")
    kind = form.text(f"{at}kind") or "feeler"
    read = f"{at}{_READ.get(kind, 'no_go')}"
    if not form.text(read) and not form.text(f"{at}go"):
        form.refuse(read, name, LABELS["new_not_read"], LABELS["new_read_it"])
        return GapRead(name, "feeler", "", (), "")
    if kind == "dial":
        step = form.read(f"{at}division", name, lambda text: limit_of(text or "none", unit), None)
        key, table = "indicator", form.read(f"{at}readings", name, lambda text: pulls_table(text, step, unit), "")
    elif kind == "dimensions":
        key, table = "built_up", form.read(f"{at}dimensions", name, lambda text: dimensions_table(text, unit), "")
    else:
        key = "cover_gap" if kind == "cover" else "feeler"
        table = form.read(
            f"{at}no_go", name, lambda no_go: blades_table(form.text(f"{at}go") or "none", no_go or "none", unit), ""
        )
    nothing: tuple[PieceIn, ...] = ()
    was_in = form.read(f"{at}was_in", name, lambda text: pieces_typed(text or "none", answers), nothing)
    return GapRead(name, key, table, was_in, "seat" if answers.shaft and kind != "cover" else "")


def _refused_readings(answers: Answers, fields: Mapping[str, str]) -> list[Problem]:
    """Readings that cannot be within their window, each told of its gap and its field."""
    found = list[Problem]()
    for n, gap in zip(gap_numbers(fields), answers.gaps, strict=True):
        try:
            reading_doubted(answers, gap)
        except InputError as error:
            at = _read_in(fields, n)
            found += [replace(one, file="", where=gap.name, field=at) for one in error.problems]
    return found


def _read_in(fields: Mapping[str, str], n: int) -> str:
    """The field of a gap's reading."""
    return f"gap.{n}.{_READ.get(fields.get(f'gap.{n}.kind', ''), 'no_go')}"


def _settled(answers: Answers, fields: Mapping[str, str]) -> tuple[Answers, list[Problem]]:
    """The answers, and what of them looks like another unit's: where somebody is `sure`, it stands as typed."""
    asked, gaps, sure = list[Problem](), list[GapRead](), fields.get("sure") == "1"
    for n, gap in zip(gap_numbers(fields), answers.gaps, strict=True):
        slip = reading_doubted(answers, gap)
        doubted = pulls_doubted(gap.table) if gap.form == "indicator" else []
        told = [doubt for doubt in (slip, *doubted) if doubt and not sure]
        asked += [Problem("", gap.name, "", doubt, sure_remedy(), _read_in(fields, n)) for doubt in told]
        gaps.append(replace(gap, checked=slip is not None))
    answers = replace(answers, gaps=gaps)
    for doubt in list(doubts(answers)):
        if not sure:
            about, at = ("new_sizes", "sizes") if doubt.size else ("new_window", "min" if fields.get("min") else "max")
            asked.append(Problem("", LABELS[about], "", doubt.rule, sure_remedy(), at))
        elif doubt.size:
            answers = replace(answers, measured=answers.measured | {doubt.size})
        else:
            answers = replace(answers, gaps=[replace(gap, checked=True) for gap in answers.gaps])
    return answers, asked
