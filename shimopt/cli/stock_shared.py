"""What the commands of `shimopt stock` share: which drawer is meant, who books and why, how it is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import Option, unit_option
from shimopt.cli.tab_completion import catalogues
from shimopt.cli.terminal import print_lines, print_text
from shimopt.errors import InputError

if TYPE_CHECKING:
    from shimopt.stock.bookings import Booked
    from shimopt.stock.ledger import Given
    from shimopt.stock.lots import Lot
    from shimopt.stock.people import Asking
    from shimopt.stock.stock_drawer import StockDrawer
    from shimopt.stock.stock_sheet import Sheet
    from shimopt.stock.store import Store
    from shimopt.words.speaker import Speaker

FILE = click.Path(path_type=Path)


@dataclass(frozen=True, kw_only=True)
class StockCall:
    """What the commands share: which drawer, who asks and why, in which unit it is told."""

    drawer: str = "main"
    unit: str | None = None
    person: str | None = None
    why: str | None = None
    request: str | None = None
    as_json: bool = False
    yes: bool = False
    for_job: Path | None = None
    row: int | None = None

    def store(self, *, create: bool = False) -> Store:
        """The stock that is meant. Raises InputError."""
        from shimopt.stock.address import opened_stock, stock_beside

        return opened_stock(stock_beside(Path()), create=create)

    def name(self) -> str:
        """The drawer's name, as it is in the stock."""
        return self.drawer.removeprefix("stock:").strip() or "main"

    def speaker(self, typed_in: Iterable[str]) -> Speaker:
        """Lengths as they were asked for, else in the unit in which most sizes were taken in."""
        from shimopt.words.speaker import Speaker

        return Speaker(self.unit or most_typed(typed_in))

    def speakers(self, lots: Iterable[Lot]) -> Callable[[Lot], Speaker]:
        """The same for each lot of a drawer by itself: what was taken in in thou is told in thou."""
        from shimopt.words.speaker import Speaker

        most = most_typed(lot.typed_in for lot in lots)
        return lambda lot: Speaker(self.unit or lot.typed_in or most)

    def given(self) -> Given:
        """Who asks, under the id that was given."""
        from shimopt.stock.people import Asking

        asking = Asking() if self.for_job is None else asking_of(self.for_job)
        return asking.given(self.request or "", why=self.why or "", who=self.person or "")


def stock_drawer_option() -> Option:
    """The option --drawer, by the name of a drawer of the stock."""
    return click.option(
        "--drawer", default="main", show_default=True, metavar="NAME", help="The drawer of the stock, as jobs name it."
    )


def stock_unit_option() -> Option:
    """The option --unit of a drawer, which has a unit of its own: that of the table it came from."""
    return unit_option("Unit of lengths; that in which the drawer was taken in if not given.")


def most_typed(typed_in: Iterable[str]) -> str:
    """The unit in which most sizes were typed; millimetres where none was."""
    units = Counter(filter(None, typed_in))
    return units.most_common(1)[0][0] if units else "mm"


def booking_options(command: Any) -> Any:
    """Who books, why, and under which id."""
    for option in (
        click.option("--request", metavar="ID", help="For other programs: the same id twice books once."),
        click.option("--why", metavar="TEXT", help="Why; kept in the ledger."),
        click.option("--person", metavar="NAME", help="Who books; SHIMOPT_PERSON or the account's name if not given."),
        stock_drawer_option(),
    ):
        command = option(command)
    return command


def catalogue_option() -> Option:
    """The option --catalogue."""
    return click.option(
        "--catalogue",
        "catalogues",
        multiple=True,
        metavar="NAME",
        shell_complete=catalogues,
        help="Where sizes stand that the table leaves out: a built-in one, or a file; repeatable.",
    )


def for_option() -> Option:
    """The option --for."""
    return click.option(
        "--for",
        "for_job",
        type=click.Path(path_type=Path),
        metavar="JOB",
        help="The job it is ordered for: orders of others do not count on it.",
    )


def yes_option() -> Option:
    """The option --yes."""
    return click.option("--yes", is_flag=True, help="Book it; without, only the differences are shown.")


@click.group("stock", short_help="The shop's drawer as a database that several benches share.")
def stock_command() -> None:
    """Keep the shop's drawer where several benches use it at once.

    It lies in stock.db in this folder, or where SHIMOPT_STOCK says (a file, or
    postgresql://USER@HOST/DATABASE). A job uses it with drawer = "stock:main".
    No piece is promised twice: shimopt hold JOB. More: shimopt help stock.

    \b
    Examples:
      shimopt stock take-in drawer.csv --yes    start it, or book what changed
      shimopt stock show                        free, held, by whom, on order
      shimopt stock write-out drawer.csv        back to a spreadsheet, any day
    """


@dataclass(frozen=True, kw_only=True)
class SheetCall(StockCall):
    """The call of a command that reads a table."""

    file: Path
    catalogues: tuple[str, ...] = ()

    def sheet(self) -> Sheet:
        """The table, read. Raises InputError."""
        from shimopt.cli.parts_commands import paths_of
        from shimopt.stock.stock_sheet import read_sheet

        return read_sheet(self.file, list(paths_of(self.catalogues).values()) if self.catalogues else [])


def drawer_of(store: Store, name: str) -> StockDrawer:
    """A drawer of the stock, as nobody in particular sees it. Raises InputError."""
    from shimopt.stock.people import Asking
    from shimopt.stock.stock_drawer import StockDrawer

    return StockDrawer(store, name, Asking())


def asking_of(path: Path) -> Asking:
    """A job that uses the stock, as it asks for something. Raises InputError where its drawer is a list."""
    from shimopt.job import load_job
    from shimopt.stock.stock_drawer import StockDrawer

    drawer = load_job(path).drawer_of
    if isinstance(drawer, StockDrawer):
        return drawer.asking.lasting()
    rule, remedy = "the drawer of this job is no stock", 'write drawer = "stock:main" into the job'
    raise InputError.at("", rule, remedy, where="--for", value=str(path))


def booked_object(one: Booked) -> dict[str, Any]:
    """What was booked for a part, for other programs."""
    return {
        "part": one.part.name,
        "piece": one.part.piece,
        "on_hand": {"before": one.on_hand, "after": one.on_hand + one.moved},
        "on_order": {"before": one.on_order, "after": one.on_order + one.due},
    }


def print_object(found: dict[str, Any]) -> None:
    """Print what was found as JSON."""
    from shimopt.render.json.results_json import json_text

    print_text(json_text({"format": 1, **found}))


def print_sentences(lines: list[str]) -> None:
    """Print sentences, each on lines of its own."""
    from shimopt.render.screens.layout import folded_line

    print_lines(lambda width, _: [(part, False) for line in lines for part in folded_line(line, width)])
