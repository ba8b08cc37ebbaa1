"""`shimopt batch --jobs`: a folder of jobs, each as it comes, and one table at the end."""

from __future__ import annotations

import sys
from pathlib import Path

import click

__all__ = ["plan_jobs"]


def plan_jobs(folder: Path, output: str | None, *, buy: bool, as_json: bool, quiet: bool) -> int:
    """Plan every job below a folder; exit code 0 where all can be done, else 1."""
    from shimopt.batch.jobs import JOB_COLUMNS, JobAnswer, job_files, jobs_table, plan_folder
    from shimopt.cli.printing import print_lines, print_text
    from shimopt.cli.writing import refuse_input
    from shimopt.render.jobs_view import job_line, jobs_lines, jobs_object
    from shimopt.render.json_view import json_text

    if output is not None:
        _refuse_other_tables(Path(output))
        refuse_input(Path(output), map(str, job_files(folder)))

    def told(answer: JobAnswer, come: int, of: int) -> None:
        if sys.stderr.isatty() and not quiet:
            click.echo(f"{come} of {of}: {job_line(jobs_table([answer])[0])}", err=True)

    answers = plan_folder(folder, buy=buy, told=told)
    rows = jobs_table(answers)
    if output is not None:
        _write(Path(output), JOB_COLUMNS, rows)
    if as_json:
        print_text(json_text(jobs_object(rows)))
    elif not quiet:
        print_lines(lambda width, _: jobs_lines(rows, output, width))
    return 0 if all(answer.exit_code == 0 for answer in answers) else 1


def _refuse_other_tables(out: Path) -> None:
    from shimopt.errors import InputError, Problem

    if out.suffix.lower() not in (".csv", ".parquet"):
        rule, remedy = "the table is neither CSV nor parquet", "name it .csv or .parquet"
        raise InputError([Problem(str(out), "", "", rule, remedy)])


def _write(out: Path, columns: tuple[str, ...], rows: list[dict[str, object]]) -> None:
    import csv
    import io

    from shimopt.tables.replacing import replace_file

    if out.suffix.lower() == ".csv":
        text = io.StringIO(newline="")
        writer = csv.DictWriter(text, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        replace_file(out, text.getvalue().encode())
        return
    import pyarrow as pa
    import pyarrow.parquet

    texts = {"job", "title", "error"}
    schema = pa.schema([(name, pa.string() if name in texts else pa.int64()) for name in columns])
    sink = pa.BufferOutputStream()
    pyarrow.parquet.write_table(pa.Table.from_pylist(rows, schema=schema), sink)
    replace_file(out, bytes(sink.getvalue()))
