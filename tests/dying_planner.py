"""Stands for the planner of a folder of jobs: one job takes it down with its whole process."""

from __future__ import annotations

import os

from shimopt.batch.job_folder import JobAnswer


def dies(_: str, name: str, buy: bool) -> JobAnswer:
    """Plan nothing; end the process at the job called "broken"."""
    if name == "broken":
        os._exit(9)
    return JobAnswer(name, exit_code=int(buy))
