"""Orders to time: a dozen gaps read with feelers, forty sizes, four suppliers with packs and postage."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from random import Random

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading

__all__ = ["gaps_to_order_for"]

_SHIFT = 20_000  # nm; the final reading may fall so far beyond today's bracket


def gaps_to_order_for(seed: int, *, drawer: bool, gaps: int = 12, sizes: int = 40, suppliers: int = 4) -> Job:
    """A job whose every gap has a window of 0.2 mm and a bracket of 0.02 to 0.05 mm; prices and packs at random."""
    random = Random(seed)
    named = tuple(
        Supplier(
            f"s{n}",
            Decimal(random.choice(["4.50", "6.20", "9.00", "3.80"])),
            Decimal(random.choice([0, 0, 15, 25])),
            "EUR",
        )
        for n in range(suppliers)
    )
    stock = []
    for n in range(sizes):
        size = (100 + 20 * n) * 1000
        thickness = Bracket.between(size - random.choice([10, 20, 30]) * 1000, size)
        offers = [_offer(random, supplier.name) for supplier in named if random.random() < 0.6]
        stock.append(
            StockLine(Part(f"P-{n:02}", thickness), random.choice([0, 0, 0, 1, 2]) if drawer else 0, tuple(offers))
        )
    return Job(
        "twelve gaps",
        "mm",
        found := tuple(_gap(random, f"g{n}") for n in range(gaps)),
        tuple(Place(gap.name, None, 3) for gap in found),
        (),
        tuple(stock),
        suppliers=named,
    )


def _offer(random: Random, supplier: str) -> Offer:
    pack = random.choice([1, 1, 5, 10])
    price = Decimal(random.randint(50, 300) * (1 if pack == 1 else pack // 2)) / 100
    return Offer(price, pack, "EUR", supplier, random.choice([2, 3, 5, 9, 14]))


def _gap(random: Random, name: str) -> Gap:
    low, width = random.randint(30, 170) * 10_000, random.choice((2, 5)) * 10_000
    reading = Reading(Bracket.between(low - _SHIFT, low + width + _SHIFT), "feeler")
    half = Fraction(width, 2)
    return Gap(name, reading, Window(100_000, 300_000, "test"), ((name, Fraction(-1)),), None, again=(half, half))
