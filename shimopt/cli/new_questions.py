"""The questions of `shimopt new`, each answer checked as it is given."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import TypeVar

import click

from shimopt.cli.new_doubts import Blades, Typed, Window, blades_doubted, settled
from shimopt.cli.terminal import asked, say

__all__ = ["ask", "sizes_of"]

T = TypeVar("T")
# a comma between digits, where the first is no count: in 5x1,10 a new size begins
_COMMA = re.compile(r"(?<![\d.,x×*])(?<![x×*]\s)(\d+),(\d+)")
_SIZE = re.compile(r"\s*([0-9.]+)\s*(?:[x×*]\s*([0-9]+))?\s*", re.IGNORECASE)


def ask() -> tuple[str, str]:
    """Ask for a whole job; gives the text of job.toml and of drawer.csv."""
    say("A new job. Press Ctrl-C to stop; nothing is written before the last answer.")
    title = _text("What is it called?", default="My rebuild")
    unit = asked("Unit of your blades and shims", type=click.Choice(["thou", "mm", "in", "um"]), default="thou")
    window = _window(unit)
    source = _text("Who states this window (manual and page, drawing, letter)?")
    gaps = _gaps(unit, window)
    typed = settled(Typed(unit, window, gaps, _sizes(unit)), lambda: _window(unit), lambda: _sizes(unit))
    return _job_text(title, typed, source), _drawer_text(typed)


def _sizes(unit: str) -> dict[Decimal, int]:
    return _asked(
        f"The drawer, in {unit}: size x count, commas between (2 x 4, 5 x 1; none if it is empty)",
        lambda answer: _no_longer_than_lengths(sizes_of(_commas_asked(answer)), unit),
    )


def _no_longer_than_lengths(sizes: dict[Decimal, int], unit: str) -> dict[Decimal, int]:
    from shimopt.lengths import LengthError, to_nm

    try:
        if not all(to_nm(Fraction(size), unit) for size in sizes):
            raise ValueError("Sizes are at least a nanometre.")
    except LengthError as error:
        raise ValueError(f"Please write ordinary sizes: {error.rule}.") from None
    return sizes


def _asked(question: str, read: Callable[[str], T], default: str | None = None) -> T:
    """Ask until `read` accepts the answer."""
    while True:
        answer = str(asked(question, default=default))
        try:
            return read(answer)
        except ValueError as error:
            say(f"  {error}")


def _text(question: str, default: str | None = None) -> str:
    def read(answer: str) -> str:
        clean = "".join(ch for ch in answer if ch.isprintable()).strip()
        if not clean:
            raise ValueError("Please write a few words.")
        if not clean.strip("? "):
            raise ValueError("Please write who says so: a manual and page, a drawing, whose estimate.")
        return clean

    return _asked(question, read, default)


def _number(answer: str) -> Decimal:
    try:
        number = Decimal(answer.strip().replace(",", "."))
    except InvalidOperation:
        raise ValueError("Please write a number, such as 4 or 0.35.") from None
    if not number.is_finite() or number < 0 or (number and not -9 <= number.adjusted() <= 6):
        raise ValueError("Please write an ordinary number from 0 up.")
    return number


def _limit(answer: str) -> Decimal | None:
    return None if answer.strip().casefold() in ("none", "-") else _number(answer)


def _window(unit: str) -> Window:
    while True:
        low = _asked(f"Least clearance allowed, in {unit} (none if there is no least)", _limit)
        high = _asked(f"Largest clearance allowed, in {unit} (none if there is no largest)", _limit)
        if low is None and high is None:
            say("  One of the two must be a number.")
        elif low is not None and high is not None and low > high:
            say("  The least is above the largest.")
        else:
            return low, high


def _gaps(unit: str, window: Window) -> list[Blades]:
    gaps: list[Blades] = []
    while True:
        name = _text(
            "Name of the gap" if not gaps else "Name of the next gap (done if there is none)",
            default=None if not gaps else "done",
        )
        if gaps and name == "done":
            return gaps
        if name in [known for known, *_ in gaps]:
            say("  This name is taken.")
            continue
        gaps.append(_looked_at(name, unit, window))


def _looked_at(name: str, unit: str, window: Window) -> Blades:
    """The blades of a gap; where they look like another unit's, asked about, and again unless they stand."""
    while True:
        blades: Blades = (name, *_blades(unit), False)
        doubt = blades_doubted(unit, window, blades)
        if doubt is None:
            return blades
        say(f"  {doubt}.")
        if asked("  Was it read as typed?", type=click.Choice(["yes", "no"]), default="no") == "yes":
            return *blades[:3], True


def _blades(unit: str) -> tuple[Decimal | None, Decimal]:
    while True:
        go = _asked(f"  Thickest blade that goes, in {unit} (none if the thinnest will not)", _limit)
        no_go = _asked(f"  Thinnest blade that does not go, in {unit}", _number)
        if no_go > (go or 0):
            return go, no_go
        say("  The blade that goes must be thinner than the one that does not.")


def _commas_asked(answer: str) -> str:
    """The answer with a decimal point for every comma that turns out to be one: `1,2 x 3` may mean 1.2, or 1 and 2."""
    for whole, part in _COMMA.findall(answer):
        if (
            asked(
                f"  Is {whole},{part} one size, {whole}.{part}? (no: {whole} and {part})",
                type=click.Choice(["yes", "no"]),
            )
            == "yes"
        ):
            answer = answer.replace(f"{whole},{part}", f"{whole}.{part}", 1)
    return answer


def sizes_of(answer: str) -> dict[Decimal, int]:
    """Sizes and counts from an answer such as `2 x 4, 5 x 1, 10`, or `none`. Raises ValueError."""
    sizes: dict[Decimal, int] = {}
    if answer.strip().casefold() in ("none", "-"):
        return sizes
    for part in answer.split(","):
        found = _SIZE.fullmatch(part)
        if found is None:
            raise ValueError(f"Please write sizes like 2 x 4 with commas between; {part.strip()!r} is not one.")
        size, count = _number(found[1]), int(found[2] or 1)
        if not size or not 0 < count <= 100_000:
            raise ValueError("Sizes and counts are above zero.")
        size = size.normalize()
        sizes[size] = sizes.get(size, 0) + count
    return sizes


def _toml_number(number: Decimal | None) -> str:
    return '"none"' if number is None else f"{number:f}"


def _job_text(title: str, typed: Typed, source: str) -> str:
    low, high = typed.window

    def quoted(text: str) -> str:
        return json.dumps(text, ensure_ascii=False)

    lines = [
        f"title  = {quoted(title)}",
        f'unit   = "{typed.unit}"',
        'drawer = "drawer.csv"',
        "",
        "[window]                       # for every gap that has none of its own",
        f"min    = {_toml_number(low)}",
        f"max    = {_toml_number(high)}",
        f"source = {quoted(source)}",
        "",
        '# To have bores checked, describe the seat and name it in each gap: seat = "shaft end"',
        "# [[seat]]",
        '# name  = "shaft end"',
        '# shaft = "16 mm ± 0.01 mm"',
    ]
    for name, go, no_go, checked in typed.gaps:
        blades = f"no_go = {no_go:f}" if go is None else f"go = {go:f}, no_go = {no_go:f}"
        lines += ["", "[[gap]]", f"name   = {quoted(name)}", f"feeler = {{ {blades} }}"]
        lines += ["checked = true"] if checked else []
    return "\n".join(lines) + "\n"


def _drawer_text(typed: Typed) -> str:
    """The drawer as a table; sizes that were looked at again stand as measured, too."""
    unit, sizes = typed.unit, sorted(typed.sizes.items())
    if not typed.measured:
        return "\n".join([f"part,thickness_{unit},on_hand", *(f",{size:f},{count}" for size, count in sizes)]) + "\n"
    rows = [f",{size:f},{f'{size:f}' if size in typed.measured else ''},{count}" for size, count in sizes]
    return "\n".join([f"part,thickness_{unit},measured_{unit},on_hand", *rows]) + "\n"
