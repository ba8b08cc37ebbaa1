"""Pieces in hand put into the drawer, and said: shared by `fit --accept` and `order --came`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.parts.drawer import Accepted
    from shimopt.parts.measured import MeasuredPiece

__all__ = ["accepted_into", "tell_accepted"]


def accepted_into(job: Job, pieces: Sequence[MeasuredPiece]) -> Accepted | None:
    """Put pieces into a job's drawer; None where there are none. Raises InputError."""
    from shimopt.errors import InputError

    if job.drawer_of is None:
        raise InputError.at(
            job.inputs[0],
            "the job names no drawer to put the pieces into",
            'add drawer = "drawer.csv", or name one: --drawer FILE',
            where="drawer",
        )
    return job.drawer_of.accept(pieces) if pieces else None


def tell_accepted(job: Job, done: Accepted | None, *, quiet: bool) -> None:
    """Say what was put into the drawer (on standard error beside JSON)."""
    from shimopt.cli.terminal import say
    from shimopt.words.speaker import listed, plural

    if done is None or job.drawer_of is None:
        say("Nothing accepted: there is no piece that fits.", err=quiet)
        return
    if done.there_already:
        say(f"In the drawer already, left as they are: {listed(done.there_already)}.", err=quiet)
    if done.fewer:
        words = "fitted since? If they are of another parcel, name its table by its date, or give its pieces tags"
        say(f"Fewer in the drawer than came: {listed(done.fewer)}: {words}.", err=quiet)
    if done.written:
        pieces = sum(int(row.get("on_hand") or 1) for row in done.rows)
        say(f"{plural(pieces, 'piece')} added to {job.drawer_of.name}.", err=quiet)
    elif done.rows:
        say(f"{job.drawer_of.name} is a workbook and is only read; add these rows to it yourself:", err=quiet)
        for row in done.rows:
            say("  " + ", ".join(f"{column} {cell}" for column, cell in row.items()), err=quiet)
