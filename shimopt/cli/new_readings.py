"""How `shimopt new` asks for a reading: blades, a dial's pulls, or dimensions that make up the gap."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import TypeVar

from shimopt.cli.terminal import asked, chosen, say
from shimopt.starting.new_doubts import pulls_doubted
from shimopt.starting.new_examples import EXAMPLES
from shimopt.starting.typed_text import (
    blades_together,
    dimension_like,
    dimension_typed,
    limit_of,
    pulls_table,
    spoken,
    words_typed,
)

T = TypeVar("T")
_FORMS = {"feeler": "feeler", "dial": "indicator", "dimensions": "built_up"}


def asked_until(question: str, read: Callable[[str], T], default: str | None = None) -> T:
    """Ask until `read` accepts the answer: it raises ValueError with what should be written, for an empty one too."""
    while True:
        answer = asked(question, default=default or "")
        try:
            return read(answer)
        except ValueError as error:
            say(f"  {error}")


def words_asked(question: str, default: str | None = None) -> str:
    """A few words; a bare question mark is none."""
    return asked_until(question, words_typed, default)


def reading_asked(unit: str, *, under_cover: bool, before: str, again: str) -> tuple[str, str]:
    """A reading as a key and a table of the job file.

    The key of the gap `before` is offered first, and what stands in the table of the one that is answered `again`.
    """
    if under_cover:
        say("  Read it without shims, the cover nipped down evenly; the blade goes between cover and case.")
        return "cover_gap", _blades(unit, again)
    by_key = {key: name for name, key in _FORMS.items()}
    form = chosen("  How is it read?", list(_FORMS), by_key.get(before, "feeler"))
    if form == "feeler":
        return "feeler", _blades(unit, again)
    return _FORMS[form], _pulls(unit, again) if form == "dial" else _dimensions(unit)


def _blades(unit: str, again: str) -> str:
    """Two blades, each one or several held together."""
    before = tomllib.loads(f"it = {again}", parse_float=Decimal)["it"] if again else {}
    blades = before if isinstance(before, dict) and "no_go" in before else {}
    went = str(blades.get("go", "none")) if blades else None
    did_not = str(blades["no_go"]) if blades else None
    read, together = partial(blades_together, unit=unit), f"or two: {EXAMPLES[unit].blades}"
    while True:
        go = asked_until(f"  Thickest blade that goes, in {spoken(unit)} ({together}; none goes: none)", read, went)
        no_go = asked_until(f"  Thinnest blade that does not go, in {spoken(unit)}", read, did_not)
        if no_go is not None and no_go > (go or 0):
            return f"{{ no_go = {no_go:f} }}" if go is None else f"{{ go = {go:f}, no_go = {no_go:f} }}"
        say("  The blade that goes must be thinner than the one that does not.")


def _pulls(unit: str, again: str) -> str:
    """Pulls of a dial and one division of it; few pulls, or a division as large as a pull, are asked about."""
    before = tomllib.loads(f"it = {again}", parse_float=str)["it"] if again else {}
    known = before if isinstance(before, dict) and "readings" in before else {}

    def read(answer: str) -> str:
        pulls_table(answer, None, unit)
        return answer

    while True:
        said = " ".join(map(str, known.get("readings", []))) or None
        pulls = asked_until(
            f"  Readings of the dial, pushed and pulled end to end, in {spoken(unit)}, spaces between (three or more)",
            read,
            said,
        )
        divided = f"  One division of the dial, in {spoken(unit)} (none: not known)"
        step = asked_until(divided, partial(limit_of, unit=unit), str(known.get("resolution", "none")))
        table = pulls_table(pulls, step, unit)
        known = tomllib.loads(f"it = {table}", parse_float=str)["it"]
        doubts = pulls_doubted(table)
        if not doubts or chosen(f"  {'. '.join(doubts)}. Keep it so?", ("yes", "no"), "no") == "yes":
            return table


def _dimensions(unit: str) -> str:
    """One sign, name and size after another; a size without ± is assumed to have one, and the plan says so."""

    read = partial(dimension_typed, unit=unit)
    say(f"  + what adds to the gap, - what takes from it, in {spoken(unit)}: {dimension_like(unit)}")
    found = [asked_until("  Dimension", read)]
    while (more := asked_until("  Next dimension (done: no more)", _unless_done(read), default="done")) is not None:
        found.append(more)
    return f"[{', '.join(found)}]"


def _unless_done(read: Callable[[str], T]) -> Callable[[str], T | None]:
    return lambda answer: None if answer.strip().casefold() == "done" else read(answer)
