"""Running torque: what it takes to turn a preloaded bearing, as it is typed and kept: `1.2 N·m, without oil`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shimopt.assembly.torque import Torque, torque_range
from shimopt.errors import RefusedError

__all__ = ["RunningTorque", "running_torque"]

_HOW = 'write it like "1.2 N·m, without oil" or "8 to 11 lbf in, as the maker states"'


@dataclass(frozen=True, slots=True)
class RunningTorque:
    """A running torque [N·m] as somebody wrote it, and how it was taken; `how` is empty where nobody said."""

    torque: Torque
    written: str
    how: str = ""

    def __str__(self) -> str:
        return f"{self.written}, {self.how}" if self.how else self.written


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
