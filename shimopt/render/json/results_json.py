"""How results become JSON: text, lengths in mm exact to the nanometre, findings; and the objects that are small."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any, overload

from shimopt.errors import Problem, writable
from shimopt.lengths import Bracket, mm_number
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker

_MOST_INDENTED = 2_000


def json_text(value: dict[str, Any]) -> str:
    """The object as text, ending with a line end; one that lists very much on one line, which is far quicker."""
    large = any(isinstance(listed, list) and len(listed) > _MOST_INDENTED for listed in value.values())
    return writable(json.dumps(value, ensure_ascii=False, indent=None if large else 2, allow_nan=False)) + "\n"


def errors_object(problems: Iterable[Problem]) -> dict[str, Any]:
    """What is wrong with the input, for other programs."""
    return {"format": 1, "errors": [problem.to_dict() for problem in problems]}


def mm(length: Fraction | int | None) -> float | None:
    """A length in mm; None stays None."""
    return None if length is None else mm_number(length)


@overload
def bracket_object(bracket: Bracket) -> dict[str, float]: ...
@overload
def bracket_object(bracket: Bracket | None) -> dict[str, float] | None: ...
def bracket_object(bracket: Bracket | None) -> dict[str, float] | None:
    """Low, best and high; None stays None."""
    if bracket is None:
        return None
    return {"low": mm_number(bracket.low), "best": mm_number(bracket.best), "high": mm_number(bracket.high)}


def amount(value: Fraction | None) -> float | int | None:
    """A count or a sum of money, whole where it is whole; None stays None."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else float(value)


def finding_object(finding: Finding, say: Speaker) -> dict[str, Any]:
    """What was found, in words, with its numbers; lengths in mm."""
    numbers = {key: mm_number(length) for key, length in finding.fact.lengths().items()}
    numbers |= {key: float(round(number, 9)) for key, number in finding.fact.numbers().items()}
    return {"grade": finding.grade, "code": finding.code, "words": finding_words(finding, say), "numbers": numbers}


def batch_object(
    counts: Mapping[str, int], output: str, resumed: int, stray: int, not_read: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """What a batch of gaps came to."""
    return {
        "format": 1,
        "gaps": sum(counts[key] for key in ("inside", "unproven", "outside", "refused")),
        **dict(counts),
        "doable": not (counts["unproven"] or counts["outside"] or counts["refused"]),
        "output": output,
        "pieces_resumed": resumed,
        "stray_files": stray,
        "not_read": [{"file": file, "column": column} for file, column in not_read],
    }


def jobs_object(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Many jobs, a row each."""
    return {"format": 1, "doable": all(row["exit_code"] == 0 for row in rows), "jobs": [dict(row) for row in rows]}
