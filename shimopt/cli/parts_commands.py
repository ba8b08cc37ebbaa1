"""`shimopt parts` and `shimopt make`: search the catalogues; a required thickness from the drawer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import Renamed, gathered, json_option, unit_option, unit_or_mm_option
from shimopt.cli.tab_completion import catalogues

if TYPE_CHECKING:
    from shimopt.job import Seat
    from shimopt.parts import StockLine

# about this far either way where a single number is asked for
_ABOUT_DIAMETER, _ABOUT_THICKNESS = 500_000, 20_000
# common practice, no source
_TOLERANCE = "0.02 mm"
_DRAWER = Path("drawer.csv")


@dataclass(frozen=True, kw_only=True)
class _Parts:
    inner: str | None
    outer: str | None
    thickness: str | None
    suits: str | None
    catalogues: tuple[str, ...]
    as_json: bool
    unit: str


@click.command("parts", short_help="Search catalogues by size, or by what suits a seat.")
@click.option("--inner", metavar="LENGTH", help='Bore: one length (within 0.5 mm), or a range such as "15..16 mm".')
@click.option("--outer", metavar="LENGTH", help="Outside, the same way.")
@click.option("--thickness", metavar="LENGTH", help="Marked thickness: one length (within 0.02 mm), or a range.")
@click.option("--suits", metavar="JOB:SEAT", help="Only parts that suit this seat of a job.")
@click.option(
    "--catalogue",
    "catalogues",
    multiple=True,
    metavar="NAME",
    shell_complete=catalogues,
    help="Only this one: built-in, or a file; repeatable. All built-in ones else.",
)
@json_option("Print all parts as JSON instead of the screen.")
@unit_or_mm_option()
@gathered(_Parts)
def parts_command(call: _Parts) -> int:
    """Search the catalogues that come with shimopt, or one of your own.

    A catalogue of your own is a CSV file with the columns of any parts table.
    The exit code is 0 where parts were found, 1 where there are none.

    \b
    Examples:
      shimopt parts --inner 16mm --thickness 0.3mm
      shimopt parts --inner "15..17 mm" --outer "20..26 mm" --unit in
      shimopt parts --suits "demo_data/swing-bridge:plain end"
      shimopt parts --catalogue demo_data/quarry-tram/catalogue.csv
      shimopt parts --catalogue din988 --inner 40mm --json
    """
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.parts.drawer_and_catalogues import Wanted, search
    from shimopt.render.json.parts_json import FoundPart, parts_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.parts_screen import parts_lines
    from shimopt.seats import on_seat_all

    wanted = Wanted(
        _range(call.thickness, "--thickness", _ABOUT_THICKNESS),
        _range(call.inner, "--inner", _ABOUT_DIAMETER),
        _range(call.outer, "--outer", _ABOUT_DIAMETER),
    )
    seat = _seat(call.suits) if call.suits else None
    offers = list(search(paths_of(call.catalogues), wanted))
    parts = [offer.line.part for offer in offers]
    answers = on_seat_all(parts, seat, to_first_stop=True) if seat else [None] * len(offers)
    found = [FoundPart(o.line, o.catalogue, answer) for o, answer in zip(offers, answers, strict=True)]
    kept = [part for part in found if part.answer is None or part.answer.verdict != "stop"]
    if call.as_json:
        print_text(json_text(parts_object(kept, call.unit)))
    else:
        print_lines(lambda width, marks: parts_lines(kept, len(found) - len(kept), seat, call.unit, width, marks))
    return 0 if kept else 1


@dataclass(frozen=True, kw_only=True)
class _Make:
    thickness: str
    drawer: Path
    tolerance: str | None
    most_pieces: int
    as_json: bool
    unit: str | None


@click.command("make", short_help="A required thickness from the drawer.")
@click.argument("thickness")
@click.option(
    "--drawer",
    cls=Renamed,
    old_name="--from",
    type=click.Path(path_type=Path),
    default=_DRAWER,
    show_default=True,
    metavar="FILE",
    help="What is on hand.",
)
@click.option(
    "--tolerance",
    metavar="LENGTH",
    help=f"How far off it may be either way; {_TOLERANCE} if nothing is said (common practice).",
)
@click.option(
    "--most-pieces",
    cls=Renamed,
    old_name="--most",
    type=click.IntRange(1, 12),
    default=4,
    show_default=True,
    metavar="N",
    help="The most pieces.",
)
@json_option("Print the stack as JSON instead of the screen.")
@unit_option("Unit of the screen; that of THICKNESS if none is named.")
@gathered(_Make)
def make_command(call: _Make) -> int:
    """Make THICKNESS, such as 2.35mm or "92.5 thou", from what is on hand.

    The fewest pieces that come within the tolerance, then the nearest of them.
    Pieces whose bores are known to differ are not put together.
    The exit code is 0 where there is such a stack, 1 where there is none.

    \b
    Examples:
      shimopt make 2.35mm
      shimopt make "11 thou" --drawer demo_data/swing-bridge/drawer.csv
      shimopt make 0.9mm --drawer drawer.csv --tolerance 0.05mm --json
    """
    from shimopt.candidates import TooManyError
    from shimopt.candidates.make_thickness import make_thickness, nearest_thickness
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.lengths import unit_written
    from shimopt.render.json.parts_json import Made, make_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.parts_screen import make_lines

    wanted = _length(call.thickness, "THICKNESS")
    within = _length(_TOLERANCE if call.tolerance is None else call.tolerance, "--tolerance", least=0)
    stock = _on_hand(call.drawer)
    try:
        stack = make_thickness(wanted, within, stock, call.most_pieces)
        nearest = nearest_thickness(wanted, stock, call.most_pieces) if stack is None else ()
    except TooManyError:
        raise click.UsageError("more stacks would do than can be compared; ask for a smaller --tolerance") from None
    made = Made(wanted, within, call.most_pieces, stock, stack, nearest, assumed=call.tolerance is None)
    if call.as_json:
        print_text(json_text(make_object(made)))
    else:
        unit = call.unit or unit_written(call.thickness) or "mm"
        print_lines(lambda width, _: make_lines(made, unit, width))
    return 0 if stack is not None else 1


def _on_hand(drawer: Path) -> Sequence[StockLine]:
    """What lies in a drawer: a table, or one of the stock, of which what is held is left out. Raises InputError."""
    from shimopt.errors import InputError
    from shimopt.parts import load_stock
    from shimopt.stock.meant import drawer_meant

    if drawer == _DRAWER and not drawer.exists():
        raise InputError.at(str(drawer), "there is no such drawer here", "name yours: --drawer FILE")
    if shared := drawer_meant(drawer):
        from shimopt.stock.address import drawer_for_job

        return drawer_for_job(shared, Path(), None, "").stock()
    return load_stock(drawer, []).lines


def paths_of(names: tuple[str, ...], where: str = "--catalogue") -> dict[str, Path]:
    """The catalogues of these names, built-in ones or files; all built-in ones for none. Raises InputError."""
    from shimopt.errors import InputError, Problem, did_you_mean
    from shimopt.job import built_in_catalogues

    built_in = built_in_catalogues()
    if not names:
        return built_in
    paths, problems = {}, []
    for name in names:
        if name in built_in:
            paths[name] = built_in[name]
        elif Path(name).exists():
            paths[name] = Path(name)
        elif name.startswith("stock:"):
            rule, remedy = "a drawer of the stock is no catalogue: nothing is offered there", "see: shimopt stock show"
            problems.append(Problem("", where, name, rule, remedy))
        else:
            remedy = did_you_mean(name, built_in, f"name a file, or one of: {', '.join(built_in)}")
            problems.append(Problem("", where, name, "there is no such catalogue", remedy))
    if problems:
        raise InputError(problems)
    return paths


def _range(text: str | None, where: str, about: int) -> tuple[int, int] | None:
    """A range in nm from `15..16 mm`, or from one length and what counts as about."""
    from shimopt.errors import InputError
    from shimopt.lengths import LengthError, length_of

    if text is None:
        return None
    first, dots, last = (part.strip() for part in text.partition(".."))
    try:
        high = length_of(last if dots else first, None)
        unit = (last if dots else first).lstrip("0123456789. ")
        low = length_of(f"{first} {unit}" if first[-1:].isdigit() else first, None) if dots else high
    except LengthError as error:
        raise InputError.at("", error.rule, f'{error.remedy}; a range: "15..16 mm"', where=where, value=text) from None
    if low > high or low <= 0:
        raise InputError.at(
            "",
            "a range runs from the smaller to the larger, above zero",
            'write it like "15..16 mm"',
            where=where,
            value=text,
        )
    return (low, high) if dots else (low - about, high + about)


def _seat(text: str) -> Seat:
    from shimopt.errors import InputError, did_you_mean
    from shimopt.job import load_job

    path, colon, name = text.rpartition(":")
    if not colon or not path:
        raise InputError.at(
            "", "this names a job and one of its seats", 'write it like "my-job:shaft end"', where="--suits", value=text
        )
    job = load_job(path)
    seats = {seat.name: seat for seat in job.seats}
    if name not in seats:
        remedy = did_you_mean(name, seats, f"the job has: {', '.join(seats) or 'no seats'}")
        raise InputError.at(job.inputs[0], "there is no such seat", remedy, where="--suits", value=name)
    return seats[name]


def _length(text: str, where: str, least: int = 1) -> int:
    from shimopt.errors import InputError
    from shimopt.lengths import LengthError, length_of

    try:
        nm = length_of(text, None)
    except LengthError as error:
        raise InputError.at("", error.rule, error.remedy, where=where, value=text) from None
    if nm < least:
        rule = "a thickness is above zero" if least else "a tolerance is not negative"
        raise InputError.at("", rule, "write it like 2.35mm", where=where, value=text)
    return nm
