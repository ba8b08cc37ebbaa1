"""Pieces in hand put into the drawer (`fit --accept`), and a parcel held against its order first (`order --came`)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.ordering.order_result import Order
    from shimopt.parts.drawer import Accepted
    from shimopt.parts.measured import MeasuredPiece
    from shimopt.receiving import Parcel


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
    from shimopt.words.parcel_words import accepted_words

    for line in accepted_words(done, "" if job.drawer_of is None else job.drawer_of.name):
        say(line, err=quiet)


def refuse_several_drawers(jobs: Sequence[Job]) -> None:
    """Raise InputError where a parcel would go into more than one drawer."""
    from shimopt.errors import InputError

    drawers = {job.drawer_key for job in jobs} - {""}
    if len(drawers) > 1:
        rule, remedy = "the jobs have different drawers", "name the one that the parcel goes into: --drawer FILE"
        raise InputError.at("", rule, remedy, where="--yes", value=", ".join(sorted(drawers)))


def give_parcel(
    parcel: Parcel,
    unit: str,
    *,
    accept: bool,
    as_json: bool,
    quiet: bool,
    cards_of: Callable[[Order], Mapping[Path, bytes]],
) -> int:
    """Write and print what was found; the exit code: 0 where all is there and serves every gap, else 1."""
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.render.json.parcel_json import parcel_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.order_screen import parcel_lines
    from shimopt.tables.replacing import replacing_files

    job = next((job for job in parcel.jobs if job.drawer_of is not None), parcel.jobs[0])
    # card and drawer, both or neither
    cards = cards_of(parcel.now)
    with replacing_files(cards):
        done = accepted_into(job, parcel.accepted) if accept else None
    written = done is not None and (done.written or not done.rows)
    if as_json and not quiet:
        print_text(json_text(parcel_object(parcel, (done.rows if done else ()) if accept else None)))
    elif not quiet:
        print_lines(lambda width, _: parcel_lines(parcel, unit, width, written=written, with_card=bool(cards)))
    if accept and not quiet:
        tell_accepted(job, done, quiet=as_json)
    return 0 if parcel.complete and parcel.whole and not (done and done.fewer) else 1
