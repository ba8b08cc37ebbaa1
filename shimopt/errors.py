"""What can go wrong, as one small tree.

ShimoptError
├── InputError     the files or the call are wrong: every problem found, nothing written (exit 2)
└── FaultError     shimopt contradicts itself: a fault of ours, with what to report (exit 3)
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice

_LONGEST_SHOWN = 200
_LONGEST_SENTENCE = 1000
_MOST_COMPARED = 2000


def shown(text: object, longest: int = _LONGEST_SHOWN) -> str:
    """Text that a user typed, made harmless for a terminal: control and direction characters become escapes."""
    raw = str(text)
    if len(raw) > longest:
        raw = raw[: longest - 1] + "…"
    if raw.isprintable():
        return raw
    # Cc control, Cf format (among them the ones that turn the writing direction), Cs surrogates, Zl/Zp separators
    unsafe = {"Cc", "Cf", "Cn", "Cs", "Co", "Zl", "Zp"}
    return "".join(ch.encode("unicode_escape").decode() if unicodedata.category(ch) in unsafe else ch for ch in raw)


def writable(text: str) -> str:
    """Text that every file can hold: bytes of a path that are no characters, which Python hands on, become escapes."""
    return text.encode("utf-8", "backslashreplace").decode()


def here(value: str, longest: int = _LONGEST_SHOWN) -> str:
    """What stands in the file or was typed, as it follows a rule that it breaks; nothing where there is no value."""
    return f" (here: {shown(value, longest)})" if value else ""


def nearest_name(wrong: str, known: Iterable[str]) -> str | None:
    """The known name that `wrong` was probably meant to be, or None. Of very many names only the first are compared."""
    by_folded = {name.casefold(): name for name in islice(known, _MOST_COMPARED)}
    close = get_close_matches(wrong.casefold()[:100], by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None


def did_you_mean(wrong: object, known: Iterable[str], otherwise: str) -> str:
    """A remedy: the known name that was probably meant, else another."""
    meant = nearest_name(wrong, known) if isinstance(wrong, str) else None
    return f"did you mean {meant}?" if meant else otherwise


def get_extra(extra: str) -> str:
    """A remedy: how an extra is installed. No index of packages holds shimopt: it comes from its folder."""
    return f"install it from shimopt's folder: pip install '.[{extra}]'"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the input: where it stands, what it is, the rule it breaks, and what mends it.

    `where` is for people (`[[gap]] 3 "upper 1", feeler.no_go`, or a row and a column), `field` the path of the same for
    programs, counted from 0 (`gap[2].feeler.no_go`); it is empty for what stands in no field of a job.
    """

    file: str
    where: str
    value: str
    rule: str
    remedy: str
    field: str = ""

    def __str__(self) -> str:
        place = ", ".join(shown(part) for part in (self.file, self.where) if part)
        # rule and remedy may quote names that a user typed
        rule, remedy = (shown(sentence, _LONGEST_SENTENCE) for sentence in (self.rule, self.remedy))
        start = f"{place}: {rule}" if place else rule[:1].upper() + rule[1:]
        stop = "" if remedy.endswith(("?", "...")) else "."
        return f"{start}{here(self.value)}. {remedy[:1].upper()}{remedy[1:]}{stop}"

    def to_dict(self) -> dict[str, str]:
        """The problem as other programs read it."""
        return {
            "file": self.file,
            "where": self.where,
            "value": self.value,
            "rule": self.rule,
            "remedy": self.remedy,
            "field": self.field,
        }


class RefusedError(ValueError):
    """A value that cannot be: `rule` and `remedy` as in a Problem, which whoever knows where it stands makes of it."""

    def __init__(self, rule: str, remedy: str) -> None:
        self.rule, self.remedy = rule, remedy
        super().__init__(f"{rule}. {remedy}")


class ShimoptError(Exception):
    """Everything that shimopt raises on purpose."""


class InputError(ShimoptError):
    """The input or the call is wrong; `problems` holds every problem that was found, in the order of the files."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    @classmethod
    def at(cls, file: object, rule: str, remedy: str, *, where: str = "", value: str = "") -> InputError:
        """A single problem: a file that something is wrong with, what, and what mends it."""
        return InputError([Problem(str(file), where, value, rule, remedy)])


class FaultError(ShimoptError):
    """A result did not pass shimopt's own check; nothing of it is shown."""
