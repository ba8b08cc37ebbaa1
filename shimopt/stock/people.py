"""Who asks a stock for something: the job, the person and the bench."""

from __future__ import annotations

import getpass
import os
import platform
from dataclasses import dataclass, replace
from pathlib import Path
from uuid import uuid4

from shimopt.errors import InputError, writable
from shimopt.stock.job_id import lasting_key, place_of
from shimopt.stock.ledger import Given

# how the ids of records begin: no other booking's id does
RECORD = "record-"


@dataclass(frozen=True, slots=True)
class Asking:
    """A job, by a key that no other job has, by what people call it, and its file; empty where no job asks."""

    job: str = ""
    title: str = ""
    file: Path | None = None

    @property
    def place(self) -> str:
        """Where the job lies, and on which machine."""
        return "" if self.file is None else place_of(self.file)

    def lasting(self) -> Asking:
        """The same job by a key that it keeps wherever it is moved."""
        return self if self.file is None else replace(self, job=lasting_key(self.file))

    def given(self, request: str = "", *, why: str = "", who: str = "") -> Given:
        """What this job is asked for now, under a new id where none is given. Raises InputError."""
        if request.startswith(RECORD):
            rule = f"ids that begin with {RECORD} are those of records"
            raise InputError.at("", rule, "give another id", where="--request", value=request)
        request = request or uuid4().hex
        # what a shell hands on may be no characters
        asked, who, why, title = map(writable, (request, who or this_person(), why, self.title))
        return Given(asked, who, this_bench(), why=why, job=self.job, title=title, place=self.place)


def this_person() -> str:
    """Who sits here: SHIMOPT_PERSON, else the name of the account."""
    if said := os.environ.get("SHIMOPT_PERSON", "").strip():
        return writable(said)
    try:
        return writable(getpass.getuser())
    except (OSError, KeyError, ImportError):
        return "unknown"


def this_bench() -> str:
    """Which bench this is: SHIMOPT_BENCH, else the machine's name."""
    return writable(os.environ.get("SHIMOPT_BENCH", "").strip() or platform.node()) or "unknown"
