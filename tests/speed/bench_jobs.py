"""Jobs of known difficulty, by seed: invented readings, one drawer that does not hold enough of everything."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from shimopt.job import Balance, Gap, Job, built_in_catalogues
from shimopt.parts import load_stock
from tests.jobs import gap, job, shim, window
from tests.large_jobs import with_drawer

__all__ = [
    "equal_gaps",
    "equal_packs",
    "gaps_in_pairs",
    "of_pieces",
    "of_sizes",
    "one_long_balance",
    "scarce",
    "several_balances",
    "singly_measured",
    "to_be_bought",
]

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


def scarce(count: int, seed: int = 1, *, most: float = 0.25, least: float = 0.12) -> Job:
    """Gaps in pairs on a drawer that has not enough of everything."""
    return with_drawer(gaps_in_pairs(count, seed), least, most, seed=seed)


def equal_packs(count: int) -> Job:
    """The same, one pair in ten with equal packs."""
    of = scarce(count)
    return replace(of, equal=tuple((f"arm {n}", f"arm {n + 1}") for n in range(0, count - 1, 20)))


def several_balances(count: int) -> Job:
    """Four gaps each in a row: the first alike to the second, that to the third, that to the fourth."""
    of = scarce(count)
    between = [Balance(f"next {n}", (f"arm {n + 1}", f"arm {n + 2}"), 100_000) for n in range(0, count - 3, 4)]
    return replace(of, balances=(*of.balances, *between))


def one_long_balance(count: int) -> Job:
    """All gaps in one balance."""
    of = scarce(count)
    return replace(of, balances=(Balance("all", tuple(gap.name for gap in of.gaps), 150_000),))


def of_sizes(count: int, seed: int) -> Job:
    """Thirty gaps, so many sizes from 0.1 to 1 mm, two pieces of all for each gap."""
    stock = [shim(f"{0.1 + 0.9 * n / (count - 1):.3f}", max(1, 60 // count), unit="mm") for n in range(count)]
    return replace(gaps_in_pairs(30, seed), stock=tuple(stock))


def of_pieces(most: int, seed: int) -> Job:
    """Thirty gaps, 14 sizes, at most so many pieces."""
    of = scarce(30, seed)
    return replace(of, places=tuple(replace(place, most_pieces=most) for place in of.places))
