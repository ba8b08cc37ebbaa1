"""Pieces that are in a place, as somebody types them: `10 + 2 x 3`, by their sizes or by the names of a drawer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from shimopt.errors import nearest_name
from shimopt.starting.new_answers import Answers, PieceIn, named_size
from shimopt.starting.new_examples import EXAMPLES
from shimopt.starting.typed_text import NONE, number_of

_PIECES = re.compile(r"\s*(?:([0-9]+)\s*[x×*]\s*)?(.+?)\s*", re.IGNORECASE)
# a size first, as the drawer is answered: 0.1 x 5; where the first is a whole number it is the count
_SIZE_FIRST = re.compile(r"\s*([0-9]*[.,][0-9]+)\s*[x×*]\s*([0-9]+)\s*", re.IGNORECASE)


def pieces_typed(answer: str, answers: Answers) -> tuple[PieceIn, ...]:
    """The pieces that an answer names, with plus signs between; none of `none`. Raises ValueError."""
    if answer.strip().casefold() in NONE:
        return ()
    return tuple(piece for part in answer.split("+") for piece in _pieces(part, answers))


def _pieces(text: str, answers: Answers) -> Iterator[PieceIn]:
    """The pieces between two plus signs; a bare number is a thickness in the job's unit."""
    first, found = _SIZE_FIRST.fullmatch(text), _PIECES.fullmatch(text)
    name, count = (first[1], int(first[2])) if first else (found[2], int(found[1] or 1)) if found else ("", 0)
    if not 0 < count <= 100:
        raise ValueError(f"Please write pieces with + between, such as {EXAMPLES[answers.unit].pieces}.")
    yield from [_piece(name, answers)] * count


def _piece(name: str, answers: Answers) -> PieceIn:
    names = [line.part.name for line in answers.base.stock.lines] if answers.base else None
    if names is not None and name in names:
        return PieceIn(name, Decimal(0))
    try:
        size = number_of(name, answers.unit).normalize()
    except ValueError:
        if names is None:
            raise
        size = Decimal(0)
    if names is None and not size:
        raise ValueError("Sizes are above zero.")
    if names is None or (size and named_size(size, answers.unit) in names):
        return PieceIn(named_size(size, answers.unit), Decimal(0) if names else size)
    meant = nearest_name(name, names)
    raise ValueError(f"The drawer has no {name}{f': did you mean {meant}?' if meant else '.'}")
