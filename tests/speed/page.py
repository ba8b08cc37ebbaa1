"""All of the speed that is asked for, measured in one go and written to `growth.md`, beside what was asked:

    python -m tests.speed.page                 # all of it, some minutes of a quiet machine
    python -m tests.speed.page --most 400      # only jobs of at most so many gaps, places or pieces
    python -m tests.speed.page --only reach    # one part: targets, growth, reach, processes, flat

Every job is planned in a process of its own, forked once all is loaded; what is told are its CPU seconds, without
reading the files and printing, with reasons, and what is not proven exactly. A job that takes longer than
`_LONGEST` is given up.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from importlib.metadata import version
from math import inf, log
from pathlib import Path
from statistics import median
from textwrap import wrap
from time import process_time
from typing import Any, NamedTuple

from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.proof.proven import Proof
from shimopt.watch import PLAN_STEPS, Watch
from tests.speed.bench_jobs import (
    equal_gaps,
    equal_packs,
    gaps_in_pairs,
    of_pieces,
    of_sizes,
    one_long_balance,
    scarce,
    several_balances,
    singly_measured,
    to_be_bought,
)
from tests.speed.bench_places import pairs_together
from tests.speed.test_speed_of_parts import _JOB as ONE_SEAT
from tests.speed.test_speed_of_parts import rings

_TABLE = Path(__file__).with_name("growth.md")
_LONGEST = 120
_DEMOS = ("fulling-mill", "quarry-tram", "slipway-winch", "swing-bridge", "twelve-valve")
GROWTH: dict[str, tuple[Callable[[int, int], Job], Sequence[int]]] = {
    "gaps": (scarce, (25, 100, 400, 1_600)),
    "sizes": (of_sizes, (7, 14, 28, 56)),
    "pieces per stack": (of_pieces, (1, 2, 3, 4, 5)),
}


class Case(NamedTuple):
    """A job by how large it is, what it is to take at most [s], and how it is asked for."""

    size: int
    made: Callable[[], Job]
    most: float | None = None
    asked: Mapping[str, bool] = {}


class Measured(NamedTuple):
    """CPU seconds, megabytes, and what is not exact; no seconds where it was given up."""

    seconds: float | None
    memory: int = 0
    open: str = ""

    def __str__(self) -> str:
        if self.seconds is None:
            return f"more than {_LONGEST}"
        return f"{self.seconds:.2f}{self.open}"


TARGETS = {
    "50 gaps": Case(50, lambda: scarce(50), 3),
    "300 gaps": Case(300, lambda: scarce(300), 2),
    "300 equal gaps": Case(300, lambda: equal_gaps(300, 1), 1),
    "1,000 gaps": Case(1_000, lambda: scarce(1_000), 2),
    "1,000 gaps, scarcest": Case(1_000, lambda: scarce(1_000, least=0.06, most=0.18), 4),
    "10,000 gaps": Case(10_000, lambda: scarce(10_000), 10),
    "100,000 gaps": Case(100_000, lambda: scarce(100_000), 70),
    "50 places in pairs": Case(50, lambda: pairs_together(50, 1), 2),
    "50 places in pairs, three gaps hopeless": Case(50, lambda: pairs_together(50, 2), 2),
    "1,000 places in pairs": Case(1_000, lambda: pairs_together(1_000, 1), 20),
    "100 single pieces, 12 gaps": Case(100, lambda: singly_measured(12, 100, 0, paired=False), 5),
    "100 single pieces, 20 gaps": Case(100, lambda: singly_measured(20, 100, 0, paired=False), 5),
    "--buy, 20 gaps": Case(20, lambda: to_be_bought(20, 1), 1, {"buy": True}),
    "--buy, 100 gaps": Case(100, lambda: to_be_bought(100, 1), 4, {"buy": True}),
    "--choices, 20 gaps": Case(20, lambda: scarce(20), 4, {"choices": True}),
}
# what prices know less of, or not at all: how far each reaches
REACH: dict[str, tuple[Callable[[int], Job], Mapping[str, bool]]] = {
    "places in pairs": (lambda n: pairs_together(n, 1), {}),
    "equal packs, one pair in ten": (equal_packs, {}),
    "gaps in several balances": (several_balances, {}),
    "one balance of all": (one_long_balance, {}),
    "--buy": (lambda n: to_be_bought(n, 1), {"buy": True}),
}


def measured(case: Case) -> Measured:
    """One job in a process of its own."""
    read, write = os.pipe()
    if not (child := os.fork()):
        os.close(read)
        try:
            os.write(write, json.dumps(_planned(case)).encode())
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as told:
        said = told.read()
    os.waitpid(child, 0)
    return Measured(*json.loads(said)) if said else Measured(None)


def _planned(case: Case) -> tuple[float, int, str]:
    of = case.made()
    spent = int(process_time())
    resource.setrlimit(resource.RLIMIT_CPU, (spent + _LONGEST, spent + _LONGEST))
    start = process_time()
    found = decide(of, watch=Watch(steps=PLAN_STEPS), **case.asked)
    seconds = process_time() - start
    left = [f"{level.name}: {level.proof}" for level in found.levels if level.proof != Proof.EXACT]
    told = f" ({left[0]} from there)" if left else ""
    return seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, told


def targets(most: int) -> Iterator[str]:
    """What was asked for, beside what it takes."""
    yield from ("| job | CPU s | asked | MB |", "| --- | --- | --- | --- |")
    if most >= 20:
        drawers = [measured(Case(20, partial(scarce, 20, seed))) for seed in range(1, 21)]
        seconds = [_seconds(one) for one in drawers]
        yield f"| 20 gaps, 20 drawers: median, worst | {median(seconds):.2f}, {max(seconds):.2f} | 0.8, 2 | |"
    for name, case in TARGETS.items():
        if case.size <= most:
            found = measured(case)
            yield f"| {name} | {found} | {case.most:g} | {found.memory} |"


def growth(most: int) -> Iterator[str]:
    """How time grows: three jobs of every count, median and worst, exponents."""
    yield from ("| what grows | CPU s by count | exponent, first to last | last step |", "| --- | --- | --- | --- |")
    for what, (made, counts) in GROWTH.items():
        kept = [count for count in counts if count <= most]
        cases = {n: [Case(n, partial(made, n, seed)) for seed in range(3)] for n in kept}
        found = {n: sorted(map(measured, three), key=_seconds) for n, three in cases.items()}
        told = ", ".join(f"{n:,}: {three[1]} ({three[2]})" for n, three in found.items())
        yield f"| {what} | {told} | {_exponent(found, 0)} | {_exponent(found, -2)} |"


def _seconds(one: Measured) -> float:
    return inf if one.seconds is None else one.seconds


def _exponent(found: Mapping[int, Sequence[Measured]], first: int) -> str:
    told = [(count, three[1].seconds) for count, three in found.items() if three[1].seconds]
    if len(told) < 2:
        return ""
    (few, soon), (many, late) = told[first], told[-1]
    return f"{log(late / soon) / log(many / few):.1f}"


def reach(most: int) -> Iterator[str]:
    """Jobs that are more than gaps and pairs: some by prices, others whole."""
    sizes = [count for count in (100, 300, 1_000, 3_000) if count <= most]
    yield from (f"| CPU s | {' | '.join(f'{n:,}' for n in sizes)} |", "| --- " * (len(sizes) + 1) + "|")
    for what, (made, asked) in REACH.items():
        told = [str(measured(Case(n, partial(made, n), None, asked))) for n in sizes]
        yield f"| {what} | {' | '.join(told)} |"


def processes(most: int) -> Iterator[str]:
    """Whole commands with their start, and demos in a process that is warm: user and system seconds, twice."""
    yield from ("| command | CPU s | asked |", "| --- | --- | --- |")
    _cpu_of("plan", f"demo_data/{_DEMOS[0]}")
    for demo in _DEMOS:
        folder = Path("demo_data") / demo
        cold = " ".join(f"{_cpu_of('plan', str(folder)):.2f}" for _ in range(2))
        of = load_job(folder)
        decide(of)
        start = process_time()
        decide(of)
        yield f"| plan {demo}; warm, with reasons | {cold}; {(process_time() - start) * 1000:.0f} ms | 0.5; 60 ms |"
    if most >= 100_000:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            rings(folder / "drawer.csv")
            (folder / "job.toml").write_text(ONE_SEAT, encoding="utf-8")
            for command in (("parts", "--catalogue", str(folder / "drawer.csv")), ("fit", str(folder))):
                told = " ".join(f"{_cpu_of(*command):.2f}" for _ in range(2))
                yield f"| {command[0]}, 100,000 rows | {told} | 3 |"


def _cpu_of(*arguments: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "shimopt", *arguments]
    # what is installed is compiled once and for all, not anew by every process
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=env)
    # a question that was not understood takes no time
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)}: it was not answered")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def flat(most: int) -> Iterator[str]:
    """One flat model of the same job, a yes-or-no column for every stack of every place: HiGHS, and CP-SAT."""
    from ortools.math_opt.python import mathopt

    from tests.speed.bench_flat import solved_flat

    kinds: tuple[Any, ...] = (mathopt.SolverType.HIGHS, mathopt.SolverType.CP_SAT)
    yield from ("| job | here | flat HiGHS | flat CP-SAT |", "| --- | --- | --- | --- |")
    for count in (20, 50, 300):
        if count <= most:
            ours, told = measured(Case(count, partial(scarce, count))), []
            for kind in kinds:
                other = solved_flat(scarce(count), kind, 20.0)
                times = other.seconds / ours.seconds if ours.seconds else 0.0
                told.append(
                    f"{times:.1f} times" + (f" and not over {other.stopped_at} yet" if other.stopped_at else "")
                )
            yield f"| {count} gaps | {ours} | {' | '.join(told)} |"


PARTS: dict[str, tuple[str, Callable[[int], Iterator[str]]]] = {
    "targets": ("What was asked for", targets),
    "processes": ("Commands as processes", processes),
    "growth": ("How time grows", growth),
    "reach": ("Jobs that are more than gaps and pairs, by gaps or places", reach),
    "flat": ("Against one flat model", flat),
}


def _heading() -> str:
    """The machine, and what is loaded on it."""
    known = Path("/proc/cpuinfo")
    lines = known.read_text(encoding="utf-8").splitlines() if known.exists() else []
    processor = next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    solvers = ", ".join(f"{name} {version(name)}" for name in ("highspy", "ortools"))
    return (
        f"Written by `python -m tests.speed.page`. {cores} cores of {processor or platform.machine()}, "
        f"{platform.system()}, Python {platform.python_version()}, {solvers}. CPU seconds of a whole plan with its "
        "reasons, without reading and printing; what is not proven exactly is named."
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--most", type=int, default=100_000)
    parser.add_argument("--only", choices=[*PARTS], action="append")
    parser.add_argument("--to", type=Path, default=_TABLE)
    call = parser.parse_args()
    # loaded and warm before anything is measured
    decide(gaps_in_pairs(4, 0))
    decide(scarce(12, 3))
    lines = ["# Speed", "", *wrap(_heading(), 100), ""]
    for name in call.only or PARTS:
        title, part = PARTS[name]
        lines += [f"## {title}", ""]
        for line in part(call.most):
            print(line, flush=True)
            lines.append(line)
        lines.append("")
    call.to.write_text("\n".join([*lines, f"Load at the end: {os.getloadavg()[0]:.1f}.", ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
