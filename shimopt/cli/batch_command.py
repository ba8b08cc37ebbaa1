"""`shimopt batch`: many separate gaps at once, or many jobs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

__all__ = ["batch_command"]


@click.command("batch", short_help="Many separate gaps, or many jobs, at once.")
@click.argument("gaps", type=click.Path(path_type=Path), required=False)
@click.option("--parts", metavar="PARTS", help="Parts table, or a catalogue that comes with shimopt; all in supply.")
@click.option(
    "--job",
    type=click.Path(path_type=Path),
    metavar="JOB",
    help="Take window, seats, stacks and parts from this job; not its gaps.",
)
@click.option("-o", "--output", metavar="FILE", help="The table to write: .csv or .parquet; - is standard output.")
@click.option("--min", "least", metavar="LENGTH", help='Smallest clearance where a row states none; or "none".')
@click.option("--max", "most", metavar="LENGTH", help='Largest clearance where a row states none; or "none".')
@click.option("--target", metavar="LENGTH", help="What to aim at, if not the middle.")
@click.option("--most-pieces", type=click.IntRange(1, 12), metavar="N", help="In one stack; 3 if nobody says.")
@click.option("--seat", metavar="NAME", help="The job's seat for rows that name none.")
@click.option("--jobs", type=click.Path(path_type=Path), metavar="FOLDER", help="Plan every job below FOLDER instead.")
@click.option("--buy", is_flag=True, help="With --jobs: use what the catalogues offer too.")
@click.option("--scheduler", metavar="ADDRESS", help="Dask cluster: tcp://HOST:PORT, or `local` to start one here.")
@click.option("--json", "as_json", is_flag=True, help="Print what it came to as JSON instead of the screen.")
@click.option("--quiet", is_flag=True, help="Print nothing; the exit code answers.")
def batch_command(
    gaps: Path | None,
    parts: str | None,
    job: Path | None,
    output: str | None,
    least: str | None,
    most: str | None,
    target: str | None,
    most_pieces: int | None,
    seat: str | None,
    jobs: Path | None,
    buy: bool,
    scheduler: str | None,
    as_json: bool,
    quiet: bool,
) -> int:
    """Choose a stack for every row of GAPS, each by itself, all sizes in supply.

    GAPS is a .csv or .parquet with the columns of gaps.csv, or a folder of such
    files. A row that cannot be read is refused in its own row of the output and
    stops nothing. Cut off at any point, the same command goes on from there.
    With --jobs, every job.toml below FOLDER is planned, on all cores.

    The exit code is 0 where everything comes inside, 1 where something does
    not, a row is refused or a job is broken, 2 where the call is wrong.

    \b
    Examples:
      shimopt batch gaps.csv --parts parts.csv --min 0.1mm --max 0.25mm -o out.csv
      shimopt batch demo_data/pump-line/gaps.csv --job demo_data/pump-line/line.toml -o -
      shimopt batch gaps/ --parts parts.csv -o out.parquet --scheduler local
      shimopt batch --jobs demo_data
    """
    if (gaps is None) == (jobs is None):
        raise click.UsageError("name either GAPS, or a folder of jobs with --jobs")
    if jobs is not None:
        of_gaps = {
            "--parts": parts,
            "--job": job,
            "--min": least,
            "--max": most,
            "--target": target,
            "--seat": seat,
            "--most-pieces": most_pieces,
            "--scheduler": scheduler,
        }
        if wrong := [name for name, value in of_gaps.items() if value is not None]:
            raise click.UsageError(f"{wrong[0]} belongs to GAPS: jobs say this themselves")
        from shimopt.cli.batch_jobs import plan_jobs

        return plan_jobs(jobs, output, buy=buy, as_json=as_json, quiet=quiet)
    assert gaps is not None
    if buy:
        raise click.UsageError("--buy belongs to --jobs: for GAPS all sizes are in supply anyway")
    if output is None:
        raise click.UsageError("name the table to write with -o (.csv or .parquet)")
    from shimopt.batch.terms import load_terms

    terms = load_terms(parts, job, min=least, max=most, target=target, most_pieces=most_pieces, seat=seat)
    return _of_gaps(gaps, output, terms, scheduler, as_json=as_json, quiet=quiet)


def _of_gaps(gaps: Path, output: str, terms: Any, scheduler: str | None, *, as_json: bool, quiet: bool) -> int:
    from dataclasses import asdict
    from tempfile import TemporaryDirectory
    from time import monotonic

    from shimopt.batch.batching import run_batch
    from shimopt.cli.printing import print_lines, print_text
    from shimopt.cli.progress import gaps_done
    from shimopt.cli.writing import refuse_input
    from shimopt.render.batch_view import batch_lines, batch_object

    def run(out: Path) -> Any:
        with gaps_done() as progress:
            if scheduler is None:
                return run_batch(gaps, out, terms, progress=progress)
            from shimopt.batch.cluster import on_cluster

            with on_cluster(scheduler) as worker:
                return run_batch(gaps, out, terms, worker=worker, progress=progress)

    start = monotonic()
    if output == "-":
        with TemporaryDirectory() as folder:
            found = run(Path(folder, "out.csv"))
            print_text(Path(folder, "out.csv").read_text(encoding="utf-8"))
        return _exit_code(found.counts)
    out = Path(output)
    _refuse_among_inputs(out, gaps)
    refuse_input(out, (str(gaps), *terms.inputs))
    found = run(out)
    counts = asdict(found.counts)
    if as_json:
        from shimopt.render.json_view import json_text

        print_text(json_text(batch_object(counts, output, found.resumed, found.not_read)))
    elif not quiet:
        lines = batch_lines(counts, output, monotonic() - start, found.resumed, found.begun_anew, found.not_read)
        print_lines(lambda *_: lines)
    return _exit_code(found.counts)


def _exit_code(counts: Any) -> int:
    return 1 if counts.unproven or counts.outside or counts.refused else 0


def _refuse_among_inputs(out: Path, gaps: Path) -> None:
    """The next run would read the output as gaps."""
    from shimopt.errors import InputError, Problem

    if gaps.is_dir() and out.resolve().parent == gaps.resolve():
        raise InputError(
            [Problem(str(out), "", "", "the output would lie among the tables of gaps", "write it to another folder")]
        )
