"""Torques: a range called for, in any unit -> the setting in the middle, in every unit.

The running torque that it takes to turn a preloaded bearing is typed and kept as text: `1.2 N·m, without oil`.

lbf·ft and lbf·in follow from lbf = 4.4482216152605 N and the inch, both exact (NIST SP 811, appendix B.8, rounds them
to 1.355818 and 0.1129848 N·m). A tool whose largest torque is above 10 N·m may be off by 4 %, any other by 6 % (ISO
6789).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.errors import RefusedError

# up to this largest torque a tool is of the wider class [N·m] (ISO 6789)
SMALL_TOOL = 10
# newton metres in one, exact
UNITS = {
    "N·m": Fraction(1),
    "lbf·ft": Fraction("1.3558179483314004"),
    "lbf·in": Fraction("1.3558179483314004") / 12,
    "kgf·m": Fraction("9.80665"),
}
_SPELLINGS = {
    "nm": "N·m",
    "newton m": "N·m",
    "newton metre": "N·m",
    "newton metres": "N·m",
    "lbfft": "lbf·ft",
    "lbft": "lbf·ft",
    "ftlb": "lbf·ft",
    "ftlbf": "lbf·ft",
    "ftlbs": "lbf·ft",
    "lbsft": "lbf·ft",
    "lbfin": "lbf·in",
    "lbin": "lbf·in",
    "inlb": "lbf·in",
    "inlbf": "lbf·in",
    "inlbs": "lbf·in",
    "lbsin": "lbf·in",
    "kgfm": "kgf·m",
    "kgm": "kgf·m",
    "mkg": "kgf·m",
}
_NUMBER = r"\d{1,7}(?:\.\d{1,9})?"
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER})\s*(?:(?P<unit_low>[^\d\s±+-][^\d±+]*?)?\s*(?P<join>to|-|–|±|\+/-)\s*(?P<high>{_NUMBER}))?"
    r"\s*(?P<unit>[^\d\s][^\d]*)",
    re.ASCII,
)

_HOW = 'write it like "1.2 N·m, without oil" or "8 to 11 lbf in, as the maker states"'


@dataclass(frozen=True, slots=True)
class Torque:
    """A range of torque [N·m, exact]; one number is a range of no width."""

    low: Fraction
    high: Fraction

    @property
    def setting(self) -> Fraction:
        """What to set the tool to: the middle."""
        return (self.low + self.high) / 2


def torque_range(text: str) -> Torque:
    """A torque such as `12 to 18 lbf ft`, `20 ± 2 N·m` or `15 N·m`. Raises RefusedError."""
    found = _RANGE.fullmatch(text.strip())
    if found is None:
        raise RefusedError("this is not a torque", 'write it like "12 to 18 lbf ft" or "20 N·m"')
    factor = _factor(found["unit"])
    low = Fraction(found["low"])
    if found["unit_low"] and _factor(found["unit_low"]) != factor:
        raise RefusedError("both ends of a torque have the same unit", 'write it like "12 to 18 lbf ft"')
    high = low if found["high"] is None else Fraction(found["high"])
    if found["join"] in ("±", "+/-"):
        low, high = low - high, low + high
    if low > high:
        raise RefusedError("the lower torque comes first", "swap them")
    if low <= 0:
        raise RefusedError("a torque is above zero", "check the number")
    return Torque(low * factor, high * factor)


def _factor(unit: str) -> Fraction:
    folded = re.sub(r"[\s·.*⋅∙-]", "", unit).casefold()
    name = _SPELLINGS.get(folded)
    if name is None:
        raise RefusedError("this unit of torque is not known", "use N·m, lbf·ft, lbf·in or kgf·m")
    return UNITS[name]


def tool_error(largest: Fraction) -> Fraction:
    """The permissible error of a torque tool by the largest torque it goes to [N·m], as a share (ISO 6789)."""
    return Fraction(4, 100) if largest > SMALL_TOOL else Fraction(6, 100)


@dataclass(frozen=True, slots=True)
class RunningTorque:
    """A running torque [N·m] as somebody wrote it, and how it was taken; `how` is empty where nobody said."""

    torque: Torque
    written: str
    how: str = ""

    def __str__(self) -> str:
        return f"{self.written}, {self.how}" if self.how else self.written


Turns = Literal["", "right", "tight", "loose", "otherwise"]


def turns(measured: RunningTorque, stated: RunningTorque | None) -> Turns:
    """What a running torque says of a preload beside the one that is stated; "" where none is.

    "otherwise" where the two were not taken in the same way. One figure alone says nothing of how far it may be off.
    """
    if stated is None:
        return ""
    if measured.how and stated.how and measured.how.casefold() != stated.how.casefold():
        return "otherwise"
    if measured.torque.high > stated.torque.high:
        return "tight"
    return "loose" if measured.torque.low < stated.torque.low else "right"


def running_torque(text: str) -> RunningTorque:
    """A torque with its unit, and after a comma how it was taken. Raises RefusedError."""
    written, _, how = (part.strip() for part in text.partition(","))
    if re.match(r"\s*\d+,\d", text):
        raise RefusedError("a torque has a decimal point; after a comma stands how it was taken", _HOW)
    if re.match(r"[-−–]", written):
        raise RefusedError("a running torque is above zero, whichever way it is turned", "take the minus out")
    if re.search(r"\d$", written):
        raise RefusedError("a torque carries its unit", _HOW)
    try:
        return RunningTorque(torque_range(written), written, how)
    except RefusedError as error:
        # what is wrong with the torque itself has its own remedy
        remedy = _HOW if error.rule == "this is not a torque" else error.remedy
        raise RefusedError(error.rule, remedy) from None
