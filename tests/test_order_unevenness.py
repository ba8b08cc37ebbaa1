"""How uneven a balance can come out at any final readings: never more than told, and so much at the readings told."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path
from random import Random

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shimopt.job import Balance, Job, load_job
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.unevenness import room_in_balances, unevenness
from shimopt.words.order_balance_words import balance_words
from shimopt.words.order_limits_words import not_looked_at
from shimopt.words.order_part_words import to_be_measured
from shimopt.words.speaker import Speaker
from tests.job_files import write_job
from tests.order_strategies import order_jobs


def after(order: Order, number: int, reading: Fraction) -> list[Fraction]:
    """What the card leaves at a final reading, by each row that holds it: plain sums."""
    job, demand = order.jobs[0], order.demands[number]
    out = sum((job.stock[i].part.thickness.best for i in demand.place.installed), Fraction(0))
    rows = [band.stack for band in order.cards[number].bands if band.start <= reading <= band.end]
    sizes = [sum((job.stock[i].part.thickness.best for i in stack), Fraction(0)) for stack in rows]
    return [reading + demand.effect * (size - out) for size in sizes]


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=3, held=True), st.integers(0, 60), st.randoms(use_true_random=False))
def test_no_final_readings_are_more_uneven_than_told(job: Job, within: int, random: Random) -> None:
    assume(len(job.gaps) > 1)
    names = tuple(gap.name for gap in job.gaps)
    offset = {names[0]: 5_000} if random.random() < 0.3 else {}
    balance = Balance("frame", names, within * 1_000, offset)
    order = make_order([replace(job, balances=(balance,))])
    (told,) = unevenness(order)
    if told.worst is None:
        assert order.holes or order.unanswered
        return
    assert told.met == (told.worst <= within * 1_000)
    for _ in range(30):
        read = [demand.low + Fraction(random.randint(0, 100), 100) * demand.width for demand in order.demands]
        ends = [
            [x - offset.get(demand.gap.name, 0) for x in after(order, number, reading)]
            for number, (demand, reading) in enumerate(zip(order.demands, read, strict=True))
        ]
        assert all(ends)
        # where two rows meet either may be taken, and one it is
        assert all(max(one) - min(one) <= told.worst for one in product(*ends))
        if min(max(one) - min(one) for one in product(*ends)) > within * 1_000:
            assert any(all(low <= read[n] <= high for n, (low, high) in where) for where in told.where)
    if told.worst:
        (high, at), (low, other) = told.widest, told.narrowest
        most = max(after(order, high, at)) - offset.get(names[high], 0)
        least = min(after(order, low, other)) - offset.get(names[low], 0)
        assert most - least == told.worst


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=3, held=True), st.integers(100, 600), st.randoms(use_true_random=False))
def test_pieces_as_far_off_as_a_card_lets_them_be_keep_a_balance(job: Job, within: int, random: Random) -> None:
    """Every pack as much thinner or thicker as its card allows, at any final readings: plain sums within the limit."""
    assume(len(job.gaps) > 1)
    names = tuple(gap.name for gap in job.gaps)
    order = make_order([replace(job, balances=(Balance("frame", names, within * 1_000, {}),))])
    rooms = [room_in_balances(order, number) for number in range(len(order.demands))]
    if order.unanswered or not all(rooms):
        return  # no room is told
    for _ in range(30):
        ends = []
        for number, (demand, room) in enumerate(zip(order.demands, rooms, strict=True)):
            assert room is not None
            reading = demand.low + Fraction(random.randint(0, 100), 100) * demand.width
            thinner, thicker = room
            off = random.choice([-thinner, thicker, Fraction(0)])
            fits = any(set(band.stack) - set(demand.place.installed) for band in order.cards[number].bands)
            ends.append([x + demand.effect * (off if fits else 0) for x in after(order, number, reading)])
        assert all(max(one) - min(one) <= within * 1_000 for one in product(*ends))


def test_a_piece_may_be_so_far_off_as_the_other_box_leaves_room(tmp_path: Path) -> None:
    """40 to 42 gets U15, 22 to 24 nothing, 8 is asked: 42 - t - 22 <= 8 from t = 12 on, 24 - (40 - t) <= 8 up to 24.

    The window alone lets it be as much as 7 off: 43 - 8 = 35. At worst 43 - 14.6 stands beside 21, 7.4 apart: of 6
    that is too much. Then what both read shows it, and the window alone says how far a piece may be off.
    """
    gaps = "".join(f'[[gap]]\nname = "{n}"\nvalue = "{at} thou ± 1 thou"\n' for n, at in (("a", 41), ("b", 23)))
    for within, said in (
        (8, "every row still serves, and all stays as even as asked, with pieces found to be: U15 12 to 22"),
        (6, "every row still serves, by its window alone, with pieces found to be: U15 8 to 22"),
    ):
        text = (
            'title = "Axle boxes"\nunit = "thou"\ndrawer = "drawer.csv"\n[window]\nmin = 10\nmax = 35\nsource = "s"\n'
            f'{gaps}[[balance]]\nname = "front"\ngaps = ["a", "b"]\nwithin = {within}\n'
        )
        job = load_job(write_job(tmp_path, text, "part,thickness_thou,tolerance_thou,on_hand\nU15,15,0.4,1\n"))
        order = make_order([job])
        [told] = to_be_measured(order, 0, Speaker("thou", job.stock))
        assert told.startswith(said)
        again = "After fitting read both again: a and b have to stand within 6 thou"
        assert (again in " ".join(balance_words(order, Speaker("thou")))) == (within == 6)


AXLE = """
title = "Axle boxes"
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.30
max = 0.80
source = "drawing 14"
[[gap]]
name = "left"
feeler = { go = 0.70, no_go = 0.75 }
[[gap]]
name = "right"
feeler = { go = 0.40, no_go = 0.45 }
[[balance]]
name = "pair"
gaps = ["left", "right"]
within = 0.15
"""


def test_a_row_fits_a_piece_that_keeps_a_balance_though_its_gap_needs_none(tmp_path: Path) -> None:
    # left is inside with nothing fitted, 0.70 to 0.75, but 0.725 beside 0.425 is uneven by 0.30; 0.20 leaves 0.525,
    # 0.10 more than right, and 0.30 leaves 0.425. Where 0.65 goes and 0.70 does not, 0.20 leaves 0.475. So it is with
    # pieces of 0.20 alone, and no row of left fits nothing. Worst are 0.775 - 0.20 and 0.375 at right: 0.20 apart
    order = make_order([load_job(write_job(tmp_path, AXLE, "part,thickness_mm,on_hand\nP20,0.20,1\n"))])
    rows = {int(row.go): row.stack for row in order.cards[0].rows}
    assert rows == {650_000: (0,), 700_000: (0,), 750_000: (0,)}
    assert not any(row.stack for row in order.cards[1].rows)
    (told,) = unevenness(order)
    assert told.worst == 200_000


PAIR_AND_CARD = """
title = "Angle drive"
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "drive side"
[[place]]
name = "far side"
[[place]]
name = "nut"
[[gap]]
name = "cross float"
value = "0.70 mm ± 0.02 mm"
window = { min = 0.05, max = 0.20, source = "drawing 14" }
effects = { "drive side" = -1, "far side" = -1 }
[[gap]]
name = "input float"
value = "0.40 mm ± 0.03 mm"
window = { min = 0.05, max = 0.20, source = "drawing 14" }
effects = { nut = -1 }
[[balance]]
name = "floats"
gaps = ["cross float", "input float"]
within = WITHIN
"""


def test_a_balance_of_a_table_and_a_card_is_looked_at(tmp_path: Path) -> None:
    """0.60 closes 0.68 to 0.72 to 0.08 to 0.12, 0.27 of 0.37 to 0.43 leaves 0.10 to 0.16: 0.08 apart at most, and with
    the reading's own ± 0.02 and ± 0.03 0.13. Of 0.06 it is 0.02 too much: where the one reads up to 0.70 and the other
    from 0.41.
    """
    drawer = "part,thickness_mm,on_hand\nP60,0.60,1\nP27,0.27,1\n"
    for within, met in (("0.13", True), ("0.10", True), ("0.06", False)):
        job = load_job(write_job(tmp_path, PAIR_AND_CARD.replace("WITHIN", within), drawer))
        order = make_order([job])
        (told,) = unevenness(order)
        assert (told.worst, told.most, told.met) == (80_000, 130_000, met)
        assert told.can_be_more == (within != "0.13")
        assert told.table is None
        # numbered as they are answered: the card first
        ends = {
            "0.13": (),
            "0.10": (((0, (400_000, 430_000)), (1, (680_000, 710_000))),),
            "0.06": (((0, (410_000, 430_000)), (1, (680_000, 700_000))),),
        }
        assert told.where == ends[within]
        assert not not_looked_at(order)
        words = " ".join(balance_words(order, Speaker("mm")))
        assert ("By best estimate it is kept; it may be more where they read (input float: " in words) == (
            within == "0.10"
        )
        asked = f"cross float and input float have to stand within {within} mm of each other"
        assert (asked in words) == (within != "0.13")


def test_packs_of_a_table_and_a_card_are_compared_without_a_reading_of_a_pack(tmp_path: Path) -> None:
    """0.60 goes in at the far side, nothing at the drive side, and 0.27 at the nut: these two are 0.27 apart."""
    text = PAIR_AND_CARD.replace('gaps = ["cross float", "input float"]', 'places = ["drive side", "nut"]')
    drawer = "part,thickness_mm,on_hand\nP60,0.60,1\nP27,0.27,1\n"
    order = make_order([load_job(write_job(tmp_path, text.replace("WITHIN", "0.10"), drawer))])
    (told,) = unevenness(order)
    assert told.worst == 270_000
    words = " ".join(balance_words(order, Speaker("mm")))
    assert "as they are today. It is uneven by" in words
    assert "read at 0" not in words
