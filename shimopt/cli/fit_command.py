"""`shimopt fit`: which parts suit which seats, and what of the pieces in hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.came import accepted_into, tell_accepted
from shimopt.cli.shared_options import Call, drawer_option, gathered, job_argument, json_option, unit_option
from shimopt.cli.tab_completion import seats

if TYPE_CHECKING:
    from shimopt.job import Job, Seat
    from shimopt.render.json.parts_json import SeatFits
    from shimopt.seats.incoming import Checked


_BY_OUTPUT = "-o"  # the file is named by this option


@dataclass(frozen=True, kw_only=True)
class _Fit(Call):
    parts: tuple[str, ...]
    seats: tuple[str, ...]
    measured: Path | None
    accept: bool
    full: bool
    output: Path | None
    draw: Path | None


@click.command("fit", short_help="Which parts suit which seats; check pieces in hand.")
@job_argument()
@click.option(
    "--part", "parts", multiple=True, metavar="PART", help="Only this part, with all that was found; repeatable."
)
@click.option(
    "--seat", "seats", multiple=True, metavar="SEAT", shell_complete=seats, help="Only this seat; repeatable."
)
@click.option(
    "--measured",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Check the measured pieces of this table instead.",
)
@click.option("--accept", is_flag=True, help="With --measured: put the pieces that fit into the drawer file.")
@click.option("--full", is_flag=True, help="A row for every part, however many there are.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE.svg",
    help="Draw each part on each seat in section, to scale.",
)
@click.option(
    "--draw",
    is_flag=False,
    flag_value=_BY_OUTPUT,
    hidden=True,
    type=click.Path(path_type=Path),
    help="What -o was called: with a file, or beside -o without one.",
)
@json_option("Print the findings as JSON instead of the screen.")
@unit_option()
@drawer_option()
@gathered(_Fit)
def fit_command(call: _Fit) -> int:
    """Hold every part of JOB's drawer and catalogues against every seat.

    Of a drawer of more than 120 parts the screen says what suits, and why
    others do not; with --full and in --json every part has its row.

    With --measured, check pieces in hand instead: is each what its label says,
    is it whole, and which seat does it fit? The table has a row a piece, or one
    for several that are alike (on_hand): part, piece, measured_mm (several
    spots with spaces between), measuring_error_mm, burr_mm, inner_mm, outer_mm,
    edge_mm, form, material, hardness, seat; or the same in _um, _in, _thou.

    The exit code is 0 where everything asked about suits at least one seat, 1
    where something suits none, 2 where the input is wrong.

    \b
    Examples:
      shimopt fit demo_data/swing-bridge
      shimopt fit demo_data/swing-bridge --part W-08 -o w-08.svg
      shimopt fit demo_data/swing-bridge --measured arrived.csv
      shimopt fit demo_data/swing-bridge --measured arrived.csv --accept
      shimopt fit demo_data/swing-bridge --json
    """
    from shimopt.cli.terminal import print_lines, print_text, say
    from shimopt.render.json.parts_json import fits_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.fit_screen import checked_lines, fit_lines, runs_lines
    from shimopt.tables.replacing import replacing_files

    if str(call.draw) == _BY_OUTPUT and call.output is None:
        raise click.UsageError("say where the picture goes: -o FILE.svg")
    if call.draw and call.output is None:
        call = replace(call, output=call.draw)
    if call.accept and call.measured is None:
        raise click.UsageError("--accept needs the pieces that are to be accepted: --measured FILE")
    job = call.load()
    fits, checked = _asked(job, call)
    unit = call.unit_for(job)
    drawn = _drawing(job, fits, checked, call, unit)
    # both or neither
    with replacing_files(drawn):
        done = accepted_into(job, [one.piece for one in checked if one.best_verdict != "stop"]) if call.accept else None
    if call.as_json:
        print_text(json_text(fits_object(job, fits, checked, job.unit)))
    elif call.measured is None:
        print_lines(
            lambda width, marks: [
                *fit_lines(fits, unit, width, marks, findings=bool(call.parts), every=call.full or bool(call.parts)),
                *runs_lines(job, [line for one in fits for line in one.lines], unit, width),
            ]
        )
    else:
        print_lines(lambda width, marks: checked_lines(checked, unit, width, marks))
    for path in drawn:
        say(f"Written: {path}", err=True)
    if call.accept:
        tell_accepted(job, done, quiet=call.as_json)
    return _exit_code(fits, checked)


def _exit_code(fits: list[SeatFits], checked: list[Checked]) -> int:
    """0 where everything suits somewhere, if need be with care."""
    if any(one.best_verdict == "stop" for one in checked):
        return 1
    best: dict[int, bool] = {}
    for seat_fits in fits:
        for line, answer in zip(seat_fits.lines, seat_fits.answers, strict=True):
            usable = seat_fits.seat.shims_allowed and answer.verdict != "stop"
            best[id(line)] = best.get(id(line), False) or usable
    return 0 if all(best.values()) else 1


def _seats(job: Job, names: tuple[str, ...]) -> list[Seat]:
    from shimopt.errors import InputError, Problem, did_you_mean

    if not job.seats and not any(place.parts for place in job.places):
        raise InputError.at(
            job.inputs[0],
            "the job has no [[seat]], so nothing can be held against one",
            "describe the seat: [[seat]] with name and shaft",
        )
    known = {seat.name: seat for seat in job.seats}
    problems = []
    for name in names:
        if name not in known:
            remedy = did_you_mean(name, known, f"the job has: {', '.join(known)}")
            problems.append(Problem(job.inputs[0], "--seat", name, "there is no such seat", remedy))
    if problems:
        raise InputError(problems)
    return [known[name] for name in dict.fromkeys(names)] if names else list(job.seats)


def _asked(job: Job, call: _Fit) -> tuple[list[SeatFits], list[Checked]]:
    """The parts that were asked about on each seat, or the measured pieces."""
    from shimopt.errors import InputError, Problem, did_you_mean
    from shimopt.job import Seat
    from shimopt.render.json.parts_json import SeatFits
    from shimopt.render.screens.fit_screen import listed_each
    from shimopt.seats import on_place_all, on_seat_all
    from shimopt.seats.incoming import check_pieces

    seats = _seats(job, call.seats)
    if call.measured is not None:
        return [], check_pieces(job, call.measured, seats, call.parts)
    names = {line.part.name for line in job.stock}
    if unknown := [name for name in call.parts if name not in names]:
        problems = []
        for name in unknown:
            remedy = did_you_mean(name, names, "see what there is: shimopt fit JOB")
            problems.append(Problem("", "--part", name, "no drawer or catalogue of the job has this part", remedy))
        raise InputError(problems)
    lines = tuple(line for line in job.stock if not call.parts or line.part.name in call.parts)
    held = [line.part for line in lines]
    # no more is worked out than is shown: of very many parts what decided, and how many of each kind
    in_short = not (call.parts or call.full or call.as_json or call.output) and not listed_each(lines)
    on_seats = [SeatFits(seat, lines, tuple(on_seat_all(held, seat, to_first_stop=in_short))) for seat in seats]
    places = [place for place in job.places if place.parts and (place.seat in seats or place.seat is None)]
    return [
        *on_seats,
        *(SeatFits(place.seat or Seat(""), lines, tuple(on_place_all(held, place)), place) for place in places),
    ], []


def _drawing(job: Job, fits: list[SeatFits], checked: list[Checked], call: _Fit, unit: str) -> dict[Path, bytes]:
    """The picture that is asked for, and where it goes. Raises InputError."""
    from shimopt.render.pictures.section_picture import sections_svg
    from shimopt.tables.replacing import refuse_ending, refuse_input

    if call.output is None:
        return {}
    refuse_ending(call.output, (".svg",))
    refuse_input(call.output, [*job.inputs, *([str(call.measured)] if call.measured else [])])
    by_name = {seat.name: seat for seat in job.seats}
    shown = [
        (line.part, seat_fits.seat, answer)
        for seat_fits in fits
        for line, answer in zip(seat_fits.lines, seat_fits.answers, strict=True)
    ]
    shown += [(one.piece.part, by_name[name], answer) for one in checked for name, answer in one.seats.items()]
    return {call.output: sections_svg(shown, unit).encode()}
