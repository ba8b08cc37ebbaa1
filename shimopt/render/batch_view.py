"""What a batch came to: lines for the screen, and the object that --json prints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shimopt.errors import shown
from shimopt.render.layout import Line

__all__ = ["batch_lines", "batch_object"]


def batch_lines(
    counts: Mapping[str, int],
    output: str,
    seconds: float,
    resumed: int,
    begun_anew: bool,
    not_read: Sequence[tuple[str, str]],
) -> list[Line]:
    """The answer first: how many gaps came out how; then what else a reader should know."""
    gaps = sum(counts[key] for key in ("inside", "unproven", "outside", "refused"))
    lines: list[Line] = [
        (
            f"{gaps:,} gaps: {counts['inside']:,} inside, {counts['unproven']:,} unproven, "
            f"{counts['outside']:,} outside, {counts['refused']:,} refused.",
            True,
        )
    ]
    lines.append((f"{counts['pieces']:,} pieces fitted. Written to {shown(output)} in {seconds:.2f} s.", False))
    if counts["refused"]:
        lines.append(("Refused rows say in the column reason what is wrong with them.", False))
    if resumed:
        lines.append(
            (
                f"Went on from {resumed:,} finished piece{'' if resumed == 1 else 's'} of a batch that was cut off.",
                False,
            )
        )
    if begun_anew:
        lines.append(("What was left of another batch was not used: its inputs or options were not these.", False))
    lines += [(f"Not read: column {shown(column)} of {shown(file)}.", False) for file, column in not_read]
    return lines


def batch_object(
    counts: Mapping[str, int], output: str, resumed: int, not_read: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """The same as data."""
    return {
        "format": 1,
        "gaps": sum(counts[key] for key in ("inside", "unproven", "outside", "refused")),
        **dict(counts),
        "doable": not (counts["unproven"] or counts["outside"] or counts["refused"]),
        "output": output,
        "pieces_resumed": resumed,
        "not_read": [{"file": file, "column": column} for file, column in not_read],
    }
