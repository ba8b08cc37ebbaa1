"""`shimopt bench`: a page for a browser at the machine."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("bench", short_help="A page for readings at the machine, in a browser.")
@click.argument("folder", type=click.Path(path_type=Path), default=".")
@click.option("--port", metavar="N", type=click.IntRange(0, 65535), default=7465, show_default=True, help="0: any.")
def bench_command(folder: Path, port: int) -> int:
    """Serve a page for the jobs below FOLDER, on this computer, until Ctrl-C.

    A browser shows every job with its answer. The page and the other commands
    may be used in turn: both read and write the same files.

    \b
    Examples:
      shimopt bench
      shimopt bench my-jobs --port 8000
    """
    from shimopt.bench.folder_scan import jobs_below
    from shimopt.bench.web_server import serve, taken_port
    from shimopt.cli.terminal import say
    from shimopt.words.bench_words import served_words

    jobs = jobs_below(folder)
    listening = taken_port(port)
    say(served_words(len(jobs), listening.getsockname()[1]))
    serve(folder, listening)
    return 0
