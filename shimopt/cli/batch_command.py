"""`shimopt batch`: many separate gaps at once, or many jobs."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import buy_option, exact_names_option, gathered, json_option, quiet_option
from shimopt.cli.stopping import throwing
from shimopt.cli.tab_completion import catalogues, seats

if TYPE_CHECKING:
    from shimopt.batch.job_folder import JobAnswer


@dataclass(frozen=True, kw_only=True)
class _Batch:
    gaps: Path | None
    parts: str | None
    job: Path | None
    output: str | None
    least: str | None
    most: str | None
    target: str | None
    most_pieces: int | None
    seat: str | None
    jobs: Path | None
    buy: bool
    scheduler: str | None
    exact_names: bool
    as_json: bool
    quiet: bool


# options that say something about gaps: jobs say it themselves
_OF_GAPS = ("parts", "job", "least", "most", "target", "seat", "most_pieces", "scheduler")


@click.command("batch", short_help="Many separate gaps, or many jobs, at once.")
@click.argument("gaps", type=click.Path(path_type=Path), required=False)
@click.option(
    "--parts",
    metavar="PARTS",
    shell_complete=catalogues,
    help="Parts table, or a catalogue that comes with shimopt; all in supply.",
)
@click.option(
    "--job",
    type=click.Path(path_type=Path),
    metavar="JOB",
    help="Take window, seats, stacks and parts from this job; not its gaps.",
)
@click.option("-o", "--output", metavar="FILE", help="The table to write: .csv or .parquet; - is standard output.")
@click.option("--min", "least", metavar="LENGTH", help='Smallest clearance where a row states none; or "none".')
@click.option("--max", "most", metavar="LENGTH", help='Largest clearance where a row states none; or "none".')
@click.option("--target", metavar="LENGTH", help="Where in the window it is wanted, if not the middle.")
@click.option("--most-pieces", type=click.IntRange(1, 12), metavar="N", help="In one stack; 3 if nobody says.")
@click.option("--seat", metavar="NAME", shell_complete=seats, help="The job's seat for rows that name none.")
@click.option("--jobs", type=click.Path(path_type=Path), metavar="FOLDER", help="Plan every job below FOLDER instead.")
@buy_option("With --jobs: use what the catalogues offer too.")
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Dask cluster that you trust, for it runs code here: tcp://HOST:PORT; or `local`, started here.",
)
@exact_names_option()
@json_option("Print what it came to as JSON instead of the screen.")
@quiet_option()
@gathered(_Batch)
def batch_command(call: _Batch) -> int:
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
    if (call.gaps is None) == (call.jobs is None):
        raise click.UsageError("name either GAPS, or a folder of jobs with --jobs")
    if call.jobs is not None:
        if wrong := [name for name in _OF_GAPS if getattr(call, name) is not None]:
            option = {"least": "min", "most": "max"}.get(wrong[0], wrong[0]).replace("_", "-")
            raise click.UsageError(f"--{option} belongs to GAPS: jobs say this themselves")
        with throwing():
            return _of_jobs(call, call.jobs)
    if call.buy:
        raise click.UsageError("--buy belongs to --jobs: for GAPS all sizes are in supply anyway")
    if call.output is None:
        raise click.UsageError("name the table to write with -o (.csv or .parquet)")
    with throwing():
        return _of_gaps(call, Path(str(call.gaps)), call.output)


def _of_gaps(call: _Batch, gaps: Path, output: str) -> int:
    from dataclasses import asdict
    from functools import partial
    from shutil import rmtree
    from tempfile import TemporaryDirectory
    from time import monotonic

    from shimopt.tables.binary import arrow_alone, need_pyarrow

    need_pyarrow("shimopt batch")
    arrow_alone()
    from shimopt.batch.terms import load_terms
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.machine import tidied
    from shimopt.render.json.results_json import batch_object
    from shimopt.render.screens.batch_screen import batch_lines
    from shimopt.tables.replacing import refuse_input

    terms = load_terms(
        call.parts,
        call.job,
        min=call.least,
        max=call.most,
        target=call.target,
        most_pieces=call.most_pieces,
        seat=call.seat,
    )
    start = monotonic()
    if output == "-":
        with TemporaryDirectory() as folder, tidied(partial(rmtree, folder, ignore_errors=True)):
            found = _run(call, gaps, Path(folder, "out.csv"), terms)
            print_text(Path(folder, "out.csv").read_text(encoding="utf-8"))
        return _exit_code(found.counts)
    out = Path(output)
    _refuse_among_inputs(out, gaps)
    refuse_input(out, (str(gaps), *terms.inputs))
    found = _run(call, gaps, out, terms)
    counts = asdict(found.counts)
    if call.as_json:
        from shimopt.render.json.results_json import json_text

        print_text(json_text(batch_object(counts, output, found.resumed, found.stray, found.not_read)))
    elif not call.quiet:
        lines = batch_lines(counts, output, monotonic() - start, found)
        print_lines(lambda *_: lines)
    return _exit_code(found.counts)


def _run(call: _Batch, gaps: Path, out: Path, terms: Any) -> Any:
    from shimopt.batch.batching import run_batch
    from shimopt.cli.terminal import gaps_done

    with gaps_done() as progress:
        if call.scheduler is None:
            return run_batch(gaps, out, terms, exact_names=call.exact_names, progress=progress)
        from shimopt.batch.cluster import on_cluster

        with on_cluster(call.scheduler) as worker:
            return run_batch(gaps, out, terms, exact_names=call.exact_names, worker=worker, progress=progress)


def _exit_code(counts: Any) -> int:
    return 1 if counts.unproven or counts.outside or counts.refused else 0


def _refuse_among_inputs(out: Path, gaps: Path) -> None:
    """The next run would read the output as gaps."""
    from shimopt.errors import InputError

    if gaps.is_dir() and out.resolve().parent == gaps.resolve():
        raise InputError.at(out, "the output would lie among the tables of gaps", "write it to another folder")


def _of_jobs(call: _Batch, folder: Path) -> int:
    """Plan every job below a folder, each told as it comes; exit code 0 where all can be done, else 1."""
    from shimopt.batch.job_folder import job_files, jobs_table, plan_folder
    from shimopt.cli.terminal import print_lines, print_text, say
    from shimopt.render.json.results_json import jobs_object, json_text
    from shimopt.render.screens.batch_screen import job_line, jobs_lines
    from shimopt.tables.replacing import refuse_input

    if call.output is not None:
        _refuse_other_tables(Path(call.output))
        refuse_input(Path(call.output), map(str, job_files(folder)))

    def told(answer: JobAnswer, come: int, of: int) -> None:
        if sys.stderr.isatty() and not call.quiet:
            say(f"{come} of {of}: {job_line(jobs_table([answer])[0])}", err=True)

    answers = plan_folder(folder, buy=call.buy, told=told, planned=plan_settled)
    rows = jobs_table(answers)
    if call.output is not None:
        _write_jobs(Path(call.output), rows, exact_names=call.exact_names)
    if call.as_json:
        print_text(json_text(jobs_object(rows)))
    elif not call.quiet:
        print_lines(lambda width, _: jobs_lines(rows, call.output, width))
    return 0 if all(answer.exit_code == 0 for answer in answers) else 1


def plan_settled(path: str, name: str, buy: bool) -> JobAnswer:
    """Plan one job; one whose readings are to be chosen at a bench first could not be planned."""
    from shimopt.batch.job_folder import JobAnswer, plan_job
    from shimopt.bench.folder_scan import logs_over
    from shimopt.cli.planning import to_choose
    from shimopt.job import load_job

    answer = plan_job(path, name, buy)
    if answer.error or not logs_over(Path(path)) or not (waiting := to_choose(load_job(path))):
        return answer
    return JobAnswer(name, title=answer.title, exit_code=2, error=str(waiting[0]))


def _refuse_other_tables(out: Path) -> None:
    from shimopt.errors import InputError

    if out.suffix.lower() not in (".csv", ".parquet"):
        rule, remedy = "the table is neither CSV nor parquet", "name it .csv or .parquet"
        raise InputError.at(out, rule, remedy)


def _write_jobs(out: Path, rows: list[dict[str, object]], *, exact_names: bool) -> None:
    from shimopt.batch.job_folder import JOB_COLUMNS
    from shimopt.tables.csv_text import csv_of
    from shimopt.tables.replacing import replace_file

    if out.suffix.lower() == ".csv":
        cells = ([row[name] for name in JOB_COLUMNS] for row in rows)
        replace_file(out, csv_of(JOB_COLUMNS, cells, exact_names=exact_names).encode())
        return
    from shimopt.tables.binary import need_pyarrow

    need_pyarrow(str(out))
    import pyarrow as pa
    import pyarrow.parquet

    texts = {"job", "title", "error", "settle_first"}
    schema = pa.schema([(name, pa.string() if name in texts else pa.int64()) for name in JOB_COLUMNS])
    sink = pa.BufferOutputStream()
    pyarrow.parquet.write_table(pa.Table.from_pylist(rows, schema=schema), sink)
    replace_file(out, bytes(sink.getvalue()))
