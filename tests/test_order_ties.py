"""Of purchases that are as good at every level, which is bought: against every choice of sizes of tiny markets."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import product
from random import Random

from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading

HUNDREDTH = 10_000


def test_of_one_supplier_or_two_alike_what_keeps_furthest_from_the_limits_is_bought() -> None:
    """One piece a gap, all at one price; a supplier's postage is three of them, so both are never asked.

    A size t serves a reading of c ± h, read again to ± h, with c - 2h - t to the lower limit and c + 2h - t to the
    upper one: the tightest gap's room counts first, then the next.
    """
    random, compared = Random(4), 0
    while compared < 40:
        gaps = [
            (random.randrange(30, 60), random.choice((1, 2)), random.choice((4, 6)), random.choice((14, 18, 22)))
            for _ in range(3)
        ]
        senders = ("ash", "elm")[: random.choice((1, 2, 2))]
        offered = [(random.choice(senders), size) for size in sorted(random.sample(range(8, 56), 14))]
        rooms = []
        for kit in product(offered, repeat=3):
            if len({name for name, _ in kit}) > 1:
                continue
            room = sorted(
                min(c - 2 * h - t - low, low + wide - c - 2 * h + t)
                for (c, h, low, wide), (_, t) in zip(gaps, kit, strict=True)
            )
            if room[0] >= 0:
                rooms.append(room)
        if not rooms:
            continue
        job = Job(
            "t",
            "mm",
            tuple(
                Gap(
                    f"g{n}",
                    Reading(Bracket.between((c - h) * HUNDREDTH, (c + h) * HUNDREDTH), "value"),
                    Window(low * HUNDREDTH, (low + wide) * HUNDREDTH, "t"),
                    ((f"g{n}", Fraction(-1)),),
                )
                for n, (c, h, low, wide) in enumerate(gaps)
            ),
            tuple(Place(f"g{n}", None, 1) for n in range(3)),
            (),
            tuple(
                StockLine(
                    Part(f"{name}-{size}", Bracket.between(size * HUNDREDTH, size * HUNDREDTH)),
                    0,
                    (Offer(Decimal(1), 1, "", name, 3),),
                )
                for name, size in offered
            ),
            suppliers=tuple(Supplier(name, Decimal(3), Decimal(0)) for name in senders),
        )
        order = make_order([job])
        assert order.cost == 6
        found = []
        for (c, h, low, wide), card in zip(gaps, order.cards, strict=True):
            (band,) = card.bands
            size = order.stock[band.stack[0]].part.thickness.best / HUNDREDTH
            found.append(min(c - 2 * h - size - low, low + wide - c - 2 * h + size))
        assert sorted(found) == max(rooms), (compared, gaps, offered)
        compared += 1
