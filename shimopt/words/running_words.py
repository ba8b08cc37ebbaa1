"""Running torque in words: what it took to turn a preload after fitting, how it was taken, on which day."""

from __future__ import annotations

from shimopt.assembly import RunningTorque
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.job.record import Record

__all__ = ["recorded_torques", "running_measured", "running_words", "torques_of"]


def running_words(running: RunningTorque) -> str:
    """`running torque 1.2 N·m without oil`."""
    return f"running torque {shown(running.written)}{f' {shown(running.how)}' if running.how else ''}"


def torques_of(record: Record) -> list[str]:
    """`pinion: running torque 1.2 N·m without oil`, for every gap of a record that has one."""
    return [f"{shown(name)}: {running_words(gap.running)}" for name, gap in record.gaps.items() if gap.running]


def recorded_torques(job: Job) -> str:
    """The same of all gaps of the last record, as the end of a sentence; empty where there is none."""
    said = torques_of(job.records[-1]) if job.records else []
    return f" Measured then: {'; '.join(said)}." if said else ""


def running_measured(job: Job, gap: Gap) -> str:
    """`Running torque 1.2 N·m without oil, measured on 2026-05-03.`; empty where the last record has none."""
    found = job.records[-1].gaps.get(gap.name) if job.records else None
    if found is None or found.running is None:
        return ""
    words = running_words(found.running)
    return f"{words[0].upper()}{words[1:]}, measured on {shown(job.records[-1].date[:10])}."
