"""Which jobs a folder holds: each by an id that its place in the folder gives it, so that no request names a path.

And the other way: the pages that may serve a job, by what they keep in a folder above it.
"""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path

from shimopt.errors import InputError
from shimopt.parts.part import natural_key

# the hidden folder that a page keeps for itself beside the jobs, and its log of readings
KEPT, READINGS = ".shimopt-bench", "readings.jsonl"
_JOB = "job.toml"
_DEEPEST = 3
_MOST_JOBS = 2_000


def jobs_below(folder: Path) -> dict[str, Path]:
    """Every job file in a folder and three levels below, by its id, in natural order of where it lies.

    Hidden folders and links that lead out of the folder are passed over. Raises InputError where there is no folder.
    """
    if not folder.is_dir():
        raise InputError.at(folder, "there is no such folder", "name the folder that holds the jobs")
    top, found = Path(os.path.realpath(folder)), list[str]()
    for where, folders, files in os.walk(top):
        below = Path(where).relative_to(top)
        folders[:] = (
            [name for name in sorted(folders) if not name.startswith(".")] if len(below.parts) < _DEEPEST else []
        )
        if _JOB in files and Path(os.path.realpath(Path(where, _JOB))).is_relative_to(top):
            found.append(below.as_posix())
    found.sort(key=lambda name: (natural_key(name), name))
    return {job_id(name): top / name / _JOB for name in found[:_MOST_JOBS]}


def logs_over(job: Path) -> list[tuple[Path, str]]:
    """The logs of readings of all pages that may serve a job file, each with the id of the job there."""
    folder = Path(os.path.realpath(job.parent))
    tops = (folder, *folder.parents)[: _DEEPEST + 1] if job.name == _JOB else ()
    logs = [(top, top / KEPT / READINGS) for top in tops if os.access(top / KEPT / READINGS, os.R_OK)]
    return [(log, job_id(folder.relative_to(top).as_posix())) for top, log in logs]


def job_id(below: str) -> str:
    """The id of a job by its place in the folder: the name of its own folder, and what tells it from others."""
    name = re.sub(r"[^a-z0-9]+", "-", Path(below).name.lower()).strip("-")[:40] or "job"
    return f"{name}-{hashlib.sha256(below.encode('utf-8', 'surrogateescape')).hexdigest()[:6]}"
