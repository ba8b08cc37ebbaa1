"""`shimopt bench`: a page for a browser at the machine."""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from pathlib import Path

import click

from shimopt.cli.shared_options import gathered


@dataclass(frozen=True, kw_only=True)
class _Bench:
    folder: Path
    port: int
    network: bool
    names: tuple[str, ...]
    tls: tuple[Path, Path] | None


@click.command("bench", short_help="A page for readings at the machine, in a browser.")
@click.argument("folder", type=click.Path(path_type=Path), default=".")
@click.option(
    "--port",
    metavar="N",
    type=click.IntRange(0, 65535),
    default=7465,
    show_default=True,
    help="Where it listens; 0 is any that is free.",
)
@click.option("--network", is_flag=True, help="Listen for devices on the network too; each has to join with a code.")
@click.option(
    "--name",
    "names",
    metavar="HOST",
    multiple=True,
    help="With --network: a further name that this computer goes by. Can be given several times.",
)
@click.option(
    "--tls",
    nargs=2,
    metavar="CERT KEY",
    type=click.Path(path_type=Path),
    help="Speak https, with this certificate and key (PEM files).",
)
@gathered(_Bench)
def bench_command(call: _Bench) -> int:
    """Serve a page for the jobs below FOLDER until Ctrl-C.

    A reading typed there is kept on disk before it is answered, answered for
    its gap at once and for the whole job after that, and written into the same
    job.toml: the page and the other commands may be used in turn. Without
    --network only this computer sees the page.

    \b
    Examples:
      shimopt bench
      shimopt bench my-jobs --port 8000
      shimopt bench my-jobs --network
    """
    from shimopt.bench.addresses import own_address, own_names
    from shimopt.bench.folder_scan import jobs_below
    from shimopt.bench.guard import LOOPBACK, Hosts
    from shimopt.bench.web_server import opened_shop, serve, taken_port, tls_of
    from shimopt.cli.terminal import say
    from shimopt.words.bench_words import join_words, served_words

    if call.names and not call.network:
        raise click.UsageError("--name belongs to --network: without it only this computer sees the page")
    tls = tls_of(*call.tls) if call.tls else None
    jobs = jobs_below(call.folder)
    listening = taken_port(call.port, network=call.network)
    names = [*LOOPBACK, *(own_names() if call.network else ()), *(name.lower() for name in call.names)]
    called = (call.names or (own_address(),))[0].lower() if call.network else ""
    hosts = Hosts(names, listening.getsockname()[1], "https" if tls else "http", called)
    with opened_shop(call.folder, hosts) as shop:
        say(served_words(len(jobs), hosts.address("127.0.0.1")))
        if called:
            code, minutes = shop.pairing.offer()
            join = f"{hosts.address(called)}pair?code={code}"
            for line in join_words(hosts.address(called), code, minutes, secure=tls is not None):
                say(line)
            for line in _code_lines(join):
                say(line)
        serve(shop, listening, _tell_fault, tls)
    return 0


def _code_lines(text: str) -> list[str]:
    """A QR code as lines of a terminal."""
    import io

    import segno

    found = io.StringIO()
    segno.make(text, micro=False).terminal(found, border=2, compact=True)
    return found.getvalue().splitlines()


def _tell_fault(error: Exception) -> None:
    from shimopt.cli.terminal import say
    from shimopt.errors import shown

    frames = traceback.extract_tb(error.__traceback__)
    where = f"{Path(frames[-1].filename).name}, line {frames[-1].lineno}" if frames else "unknown place"
    say(f"shimopt: a fault of our own ({type(error).__name__}: {shown(error)}; {where}). Please report it.", err=True)
