"""What a terminal shows: lines in characters that it knows, 40 to 120 columns wide, and signs of life meanwhile.

All that is printed goes through here, and so through `shown`: whatever a user typed, nothing of it acts.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from shutil import get_terminal_size
from typing import TYPE_CHECKING

import click

from shimopt.cli.stopping import throwing
from shimopt.errors import shown, writable
from shimopt.machine import deaf_for_a_while, reader_has_gone, tidied

if TYPE_CHECKING:
    from shimopt.batch.answers import Counts
    from shimopt.render.screens.layout import Line, Marks

# columns where there is no terminal, and the most on one
_WIDTH, _WIDEST = 80, 120
_LONGEST_SAID = 4000
_ANSWER = 8  # columns behind a question for what is typed
# blue and orange, which the colour-blind tell apart, each readable on white and on black; words and signs say the same
_STYLES = {"do": "bold #1879c9", "inside": "#1879c9", "outside": "bold #b85c00", "unproven": "#b85c00"}
# seconds before a sign of life is shown
_WAIT = 1.0


class OutputError(Exception):
    """Standard output cannot be written, for want of room or of right; a reader that has gone is no error."""

    def __init__(self, reason: str) -> None:
        from shimopt.errors import Problem

        self.problem = Problem("standard output", "", "", f"it cannot be written ({reason})", "check the disk")
        super().__init__(reason)


def print_text(text: str) -> None:
    """Write text to standard output in UTF-8, whatever the terminal speaks: what other programs read.

    On a terminal itself what would act on it is shown by its number, as JSON writes it.
    """
    if sys.stdout is None:
        return
    if sys.stdout.isatty():
        text = "".join(line if line.isprintable() else _by_numbers(line) for line in text.splitlines(keepends=True))
    with _told_apart():
        buffer = getattr(sys.stdout, "buffer", None)
        if buffer is None:
            sys.stdout.write(text)
        else:
            sys.stdout.flush()
            buffer.write(writable(text).encode())
        sys.stdout.flush()


@contextmanager
def _told_apart() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if reader_has_gone(error):
            raise BrokenPipeError from None
        raise OutputError(error.strerror or str(error)) from None


def _by_numbers(line: str) -> str:
    return "".join(ch if ch == "\n" or shown(ch) == ch else json.dumps(ch)[1:-1] for ch in line)


def print_lines(lines_of: Callable[[int, Marks], list[Line]]) -> None:
    """Print what `lines_of` makes of a width and of marks."""
    if sys.stdout is None:
        return
    from shimopt.render.screens.layout import ASCII, UNICODE

    marks = UNICODE if _can_show("".join(str(getattr(UNICODE, name)) for name in UNICODE.__slots__)) else ASCII
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        # a name that the terminal cannot show is shown by its escapes, never a crash
        reconfigure(errors="backslashreplace")
    with _told_apart():
        if _is_terminal():
            _print_styled(lines_of, marks)
        else:
            click.echo("".join(f"{shown(text, _LONGEST_SAID)}\n" for text, _ in lines_of(_WIDTH, marks)), nl=False)
        sys.stdout.flush()


def print_page(lines: list[Line]) -> None:
    """Print lines as they are; on a terminal that they run off, in the reader's pager."""
    if sys.stdout is not None and sys.stdout.isatty() and len(lines) >= get_terminal_size().lines:
        # Ctrl-C is the pager's own
        with deaf_for_a_while():
            click.echo_via_pager("".join(f"{click.style(text, bold=True) if bold else text}\n" for text, bold in lines))
    else:
        print_lines(lambda _width, _marks: lines)


def say(text: str = "", *, err: bool = False) -> None:
    """Print a line beside a result; on a terminal folded to its width."""
    line, stream = shown(text, _LONGEST_SAID), sys.stderr if err else sys.stdout
    width = get_terminal_size().columns
    if len(line) > width and stream is not None and stream.isatty():
        from shimopt.render.screens.layout import folded_line

        line = "\n".join(folded_line(line, min(_WIDEST, width)))
    click.echo(line, err=err)


def _folded(question: str, behind: int) -> list[str]:
    """A question as it stands on a terminal, with room for so many signs `behind` it."""
    line, width = shown(question, _LONGEST_SAID), min(_WIDEST, get_terminal_size().columns)
    if len(line) + behind <= width or sys.stdout is None or not sys.stdout.isatty():
        return [line]
    from shimopt.render.screens.layout import folded_line

    # what may be answered stands together, in brackets at the end
    said, bracket, answers = line.rpartition(" (")
    parted = [*folded_line(said, width), f"    ({answers}"] if bracket else []
    folds = (folded_line(line, narrower) for narrower in range(width, width // 2, -1))
    roomy = (lines for lines in (*([parted] if parted else []), *folds) if len(lines[-1]) + behind <= width)
    # a default as long as a line goes below
    return next(roomy, folded_line(line, width))


def columns() -> int:
    """How many columns the terminal has, where there is one."""
    return get_terminal_size((_WIDTH, 24)).columns


def _is_terminal() -> bool:
    """Whether lines are styled: on a terminal, or where the environment says so, as `rich` understands it."""
    return sys.stdout.isatty() or any(os.environ.get(name) for name in ("FORCE_COLOR", "TTY_COMPATIBLE"))


def _print_styled(lines_of: Callable[[int, Marks], list[Line]], marks: Marks) -> None:
    # rich takes a tenth of a small plan's time to load
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False, markup=False, emoji=False)
    width = min(_WIDEST, console.width) if console.is_terminal else _WIDTH
    for text, means in lines_of(max(40, width), marks):
        line = Text(shown(text, _LONGEST_SAID), style="bold" if means is True and console.is_terminal else "")
        for span in () if isinstance(means, bool) else means:
            line.stylize(_STYLES[span.role], span.start, span.stop)
        console.print(line, soft_wrap=True)


def _can_show(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def asked(question: str, *, default: str | None = None, wanted: str = "Please write a few words.") -> str:
    """The answer to a question; Enter alone is the default, and where there is none it is told what is `wanted`.

    An empty default is not shown. A long question is folded. Ctrl-C is no answer and ends it.
    """
    while True:
        *first, last = _folded(question, len(f" [{default}]: " if default else ": ") + _ANSWER)
        for line in first:
            say(line)
        with throwing():
            answer = str(click.prompt(last, default=default or "", show_default=bool(default)))
        if not answer.strip() and default is None:
            say(f"  {wanted}")
        elif writable(answer) != answer:
            say("  Some of these signs are none that a file can hold. Please type it again.")
        else:
            return answer


def chosen(question: str, names: Sequence[str], default: str | None = None, other: str = "") -> str:
    """The one of these names that was answered, or begun; `other` is said of an answer that is none of them."""
    wanted = f"Please write {', '.join(names[:-1])} or {names[-1]}."
    while True:
        answer = asked(f"{question} ({', '.join(names)})", default=default, wanted=wanted).strip().casefold()
        begun = [name for name in names if name.casefold().startswith(answer)]
        exact = [name for name in names if name.casefold() == answer]
        if len(exact or begun) == 1:
            return (exact or begun)[0]
        say(f"  {other} {wanted}" if other else f"  {wanted}")


@contextmanager
def sign_of_life(doing: str = "planning") -> Iterator[Callable[[str], None] | None]:
    """Give a function that is told each level; after a second it shows on standard error, if that is a terminal.

    Parameter: doing, what is going on.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console

    status = Console(stderr=True, markup=False).status(f"{doing} ...")
    timer = threading.Timer(_WAIT, status.start)
    timer.daemon = True
    timer.start()
    try:
        # an end at once must not leave a terminal without its cursor
        with tidied(status.stop):
            yield lambda level: status.update(f"{doing}: {level} ...")
    finally:
        timer.cancel()
        timer.join()
        status.stop()


@contextmanager
def gaps_done() -> Iterator[Callable[[float, Counts], None] | None]:
    """Give a function that is told the share that is done and the counts so far; it shows a bar on a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    console = Console(stderr=True, markup=False)
    # no colour that means good or bad
    shape = BarColumn(style="dim", complete_style="bold", finished_style="bold")
    shown = (TextColumn("{task.description}", markup=False), shape, TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*shown, console=console, transient=True) as bar, tidied(bar.stop):
        task = bar.add_task("gaps", total=1.0)
        yield lambda share, counts: bar.update(
            task, completed=share, description=f"{counts.gaps:,} gaps, {counts.refused:,} refused"
        )
