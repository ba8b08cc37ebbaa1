"""Jobs of known difficulty, by seed: invented readings, one drawer that does not hold enough of everything."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from shimopt.job import Balance, Gap, Job, built_in_catalogues
from shimopt.parts import load_stock
from tests.jobs import gap, job, shim, window

__all__ = ["equal_gaps", "gaps_in_pairs", "singly_measured", "to_be_bought"]

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


def _read(name: str, at: int, wide: int, allowed: tuple[str, str]) -> Gap:
    """A gap from `at` hundredths of a millimetre, `wide` hundredths wide."""
    return gap(name, f"{at / 100:.2f}", f"{(at + wide) / 100:.2f}", window(*allowed, unit="mm"), unit="mm")


def gaps_in_pairs(count: int, seed: int, *, within: str = "0.05") -> Job:
    """Gaps with 0.2 to 1.5 mm too much, each pair to come out alike; 14 sizes, about two pieces for each gap."""
    rng = Random(seed)
    gaps = [_read(f"arm {n}", rng.randint(45, 175), rng.choice([2, 3, 5]), ("0.10", "0.25")) for n in range(count)]
    stock = [shim(size, rng.randint(0, max(2, count // 4)), unit="mm") for size in _SIZES]
    limit = round(float(within) * 1_000_000)
    pairs = [Balance(f"pair {n}", (f"arm {2 * n}", f"arm {2 * n + 1}"), limit) for n in range(count // 2)]
    return job(gaps, stock, most=3, balances=pairs, unit="mm")


def equal_gaps(count: int, seed: int) -> Job:
    """Gaps that all read alike, so that any two could change their stacks."""
    rng = Random(seed)
    gaps = [_read(f"arm {n}", 113, 3, ("0.10", "0.25")) for n in range(count)]
    stock = [shim(size, rng.randint(0, max(2, count // 4)), unit="mm") for size in _SIZES]
    return job(gaps, stock, most=3, unit="mm")


def singly_measured(gaps: int, pieces: int, seed: int, *, paired: bool, within: str | None = None) -> Job:
    """Every piece was measured by itself, to a micrometre, ± 2 µm; perhaps two gaps are to come out alike."""
    rng = Random(seed)
    read = [_read(f"arm {n}", rng.randint(45, 175), 2, ("0.10", "0.25")) for n in range(gaps)]
    stock = [
        shim(round(float(rng.choice(_SIZES)) * 1000) + rng.randint(-12, 12), 1, name=f"piece {n}", unit="um", half=2000)
        for n in range(pieces)
    ]
    limit = None if within is None else round(float(within) * 1_000_000)
    row = [Balance("pair", ("arm 0", "arm 1"), limit)] if paired else []
    return job(read, stock, most=3, balances=row, unit="mm")


def to_be_bought(count: int, seed: int) -> Job:
    """The same gaps on shafts of 16 mm, nothing in the drawer: all comes from a standard's table."""
    offered = load_stock(None, [built_in_catalogues()["din988"]]).lines
    fit = [line for line in offered if line.part.inner is not None and line.part.inner.low // 1_000_000 == 16]
    return replace(gaps_in_pairs(count, seed), stock=tuple(fit))
