"""The codes of findings and reasons as other programs know them: a class that is renamed may not rename its code."""

from __future__ import annotations

from pathlib import Path

_FILE = Path(__file__).parent / "data" / "codes.txt"


def known_codes(of: str) -> list[str]:
    """The codes of every "finding" or "reason", in order."""
    lines = _FILE.read_text(encoding="utf-8").splitlines()
    return sorted(line.partition(" ")[2] for line in lines if line.startswith(f"{of} "))
