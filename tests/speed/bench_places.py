"""Jobs of places that act together, by seed: invented readings; for benchmarks."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from shimopt.job import Gap, Job, Place, Window
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.readings import Reading
from tests.jobs import shim

__all__ = ["buckets", "eight_in_a_ring", "pairs_together", "sum_and_difference"]


def _read(name: str, low: int, high: int, window: tuple[int, int], **effects: str) -> Gap:
    """A gap read from low to high [nm], with a window [nm] and what moves it."""
    moved = tuple((place, Fraction(effect)) for place, effect in effects.items())
    return Gap(name, Reading(Bracket.between(low, high), "feeler"), Window(*window, "invented"), moved)


def _ordered(lines: list[StockLine]) -> tuple[StockLine, ...]:
    return tuple(sorted(lines, key=lambda line: line.part.order))


def sum_and_difference(seed: int) -> Job:
    """Two places with 30 sizes and up to 4 pieces each; their sum sets a preload, their difference a backlash."""
    rng = Random(seed)
    sizes = [50 * n for n in range(1, 11)] + [500 + 13 * n for n in range(1, 21)]
    stock = _ordered([shim(size, rng.randint(0, 4), unit="um") for size in sizes])
    total, lash = rng.randint(700, 2000) * 1000, rng.randint(150, 400) * 1000
    gaps = (
        _read("preload", total - 5000, total + 5000, (-60_000, -20_000), left="-1", right="-1"),
        _read("backlash", lash - 10_000, lash + 10_000, (130_000, 200_000), left="0.325545", right="-0.325545"),
    )
    return Job("gearbox", "mm", gaps, (Place("left", None, 4), Place("right", None, 4)), (), stock)


def buckets(seed: int, count: int = 24) -> Job:
    """Bucket gaps with one shim each, all in the engine already, and a few in the drawer."""
    rng = Random(seed)
    names = [f"valve {n}" for n in range(1, count + 1)]
    lines = [shim(f"{2.0 + 0.05 * n:.2f}", rng.choice([0, 0, 1]), unit="mm", half=2000) for n in range(20)]
    lines += [
        shim(
            f"{2.0 + 0.05 * rng.randint(0, 19) + rng.randint(-8, 8) / 1000:.3f}",
            0,
            name=f"in {name}",
            unit="mm",
            half=2000,
        )
        for name in names
    ]
    stock = _ordered(lines)
    at = {line.part.name: index for index, line in enumerate(stock)}
    reads = [rng.randint(8, 36) * 10_000 for _ in names]
    gaps = tuple(
        Gap(
            name,
            Reading(Bracket.between(read, read + 20_000), "feeler"),
            Window(150_000, 250_000, "invented"),
            ((name, Fraction(-1)),),
        )
        for name, read in zip(names, reads, strict=True)
    )
    places = tuple(Place(name, None, 1, 1, (at[f"in {name}"],)) for name in names)
    return Job("engine", "mm", gaps, places, (), stock)


def eight_in_a_ring(seed: int) -> Job:
    """Eight places of 20 sizes, each tied to both neighbours: every other pair by its sum, the others by difference."""
    rng = Random(seed)
    stock = _ordered([shim(50 * n, rng.randint(1, 5), unit="um") for n in range(1, 21)])
    names = [f"place {n}" for n in range(8)]
    gaps = []
    for n, one in enumerate(names):
        two, read = names[(n + 1) % 8], rng.randint(300, 1500) * 1000
        if n % 2 == 0:
            gaps.append(_read(f"sum {n}", read - 5000, read + 5000, (50_000, 110_000), **{one: "-1", two: "-1"}))
        else:
            gaps.append(_read(f"centre {n}", -20_000, 40_000, (-60_000, 60_000), **{one: "0.5", two: "-0.5"}))
    return Job("ring", "mm", tuple(gaps), tuple(Place(name, None, 3) for name in names), (), stock)


def pairs_together(count: int, seed: int) -> Job:
    """Places in pairs out of one drawer of 14 sizes: a pair's sum sets one gap, half its difference another."""
    rng = Random(seed)
    sizes = [100, 120, 150, 180, 200, 250, 300, 350, 400, 500, 600, 700, 800, 1000]
    stock = _ordered([shim(size, rng.randint(0, max(2, count // 4)), unit="um") for size in sizes])
    gaps, places = [], []
    for n in range(count // 2):
        left, right = f"left {n}", f"right {n}"
        places += [Place(left, None, 3), Place(right, None, 3)]
        read, off = rng.randint(60, 220) * 10_000, rng.randint(-20, 20) * 10_000
        total = {left: "-1", right: "-1"}
        gaps.append(_read(f"total {n}", read - 5000, read + 5000, (100_000, 200_000), **total))
        apart = {left: "0.5", right: "-0.5"}
        gaps.append(_read(f"centre {n}", off - 5000, off + 5000, (-60_000, 60_000), **apart))
    return Job("axles", "mm", tuple(gaps), tuple(places), (), stock)
