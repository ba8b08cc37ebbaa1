"""Jobs of middle size, by seed, for the way that large jobs are planned: invented readings, many shapes of cluster."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from shimopt.job import Balance, Gap, Job
from tests.jobs import gap, job, shim, window

__all__ = ["mixed_job", "plentiful", "scarce_chains", "with_drawer", "woven"]

_SIZES = (
    "0.10",
    "0.12",
    "0.15",
    "0.18",
    "0.20",
    "0.25",
    "0.30",
    "0.35",
    "0.40",
    "0.50",
    "0.60",
    "0.70",
    "0.80",
    "1.00",
)


def mixed_job(seed: int, count: int = 14, share: float = 1.0) -> Job:
    """Gaps in clusters of one to four, windows of several kinds, pieces with and without tolerances.

    `share` is how many pieces there are for each gap, about.
    """
    rng = Random(seed)
    windows = [window("0.10", "0.25", unit="mm"), window("0.05", "0.15", unit="mm"), window(None, "0.20", unit="mm")]
    gaps: list[Gap] = []
    for n in range(count):
        low = rng.randint(5, 90)
        high = low + rng.choice([0, 1, 2, 4])
        gaps.append(gap(f"gap {n}", f"{low / 100:.2f}", f"{high / 100:.2f}", rng.choice(windows), unit="mm"))
    sizes = rng.sample(_SIZES, 6)
    stock = [shim(size, 0, unit="mm", half=rng.choice([0, 0, 5_000, 20_000])) for size in sizes]
    for _ in range(round(share * count)):
        at = rng.randrange(len(stock))
        stock[at] = replace(stock[at], on_hand=stock[at].on_hand + 1)
    balances, first = [], 0
    while first < count:
        members = gaps[first : first + rng.randint(1, 4)]
        first += len(members)
        if len(members) > 1:
            offset = {members[0].name: 20_000} if rng.random() < 0.2 else {}
            limit = rng.choice([None, 0, 20_000, 60_000])
            balances.append(Balance(f"row {first}", tuple(one.name for one in members), limit, offset))
    return job(gaps, stock, most=2, balances=balances, unit="mm")


def with_drawer(of: Job, least: float, most: float, seed: int = 0) -> Job:
    """The job with so many pieces of every size, from `least` to `most` for each gap."""
    rng, count = Random(seed), len(of.gaps)
    stock = (replace(line, on_hand=rng.randint(round(count * least), round(count * most))) for line in of.stock)
    return replace(of, stock=tuple(stock))


def plentiful(of: Job) -> Job:
    """The job with more of everything than it can use."""
    return replace(of, stock=tuple(replace(line, on_hand=3 * len(of.places)) for line in of.stock))


def woven(of: Job, seed: int, *, packs: bool = False) -> Job:
    """The job with balances of gaps next to each other, most of them in one already; perhaps a few equal packs too."""
    rng, balances, equal = Random(seed), list(of.balances), list[tuple[str, ...]]()
    for n in range(0, len(of.gaps) - 1, 2):
        members = tuple(one.name for one in of.gaps[n + rng.randint(0, 1) : n + rng.randint(2, 3)])
        if len(members) > 1:
            offset = {members[-1]: 10_000} if rng.random() < 0.3 else {}
            balances.append(Balance(f"woven {n}", members, rng.choice([None, 0, 30_000]), offset))
    for n in range(0, len(of.places) - 2, 5) if packs else ():
        equal.append((of.places[n].name, of.places[n + 1 + rng.randint(0, 1)].name))
    return replace(of, balances=tuple(balances), equal=tuple(equal))


def scarce_chains(count: int, long: int, seed: int) -> Job:
    """Gaps in chains of so many, each to come out like the next, and a drawer that has not enough of everything."""
    rng, gaps = Random(seed), list[Gap]()
    for n in range(count):
        at = rng.randint(20, 140)
        read = f"{at / 100:.2f}", f"{(at + 2) / 100:.2f}"
        gaps.append(gap(f"gap {n}", *read, window("0.10", "0.25", unit="mm"), unit="mm"))
    each = 0.07 * count
    stock = [shim(f"{0.1 + 0.05 * n:.2f}", max(1, int(rng.uniform(0.4, 1.6) * each)), unit="mm") for n in range(14)]
    beside = [(f"gap {n}", f"gap {n + 1}") for n in range(count - 1) if n % long != long - 1]
    balances = [Balance(f"next {n}", names, rng.choice([10_000, 30_000, 50_000])) for n, names in enumerate(beside)]
    return job(gaps, stock, most=2, balances=balances, unit="mm")
