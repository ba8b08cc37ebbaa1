"""A card's row fits what a plan gives at that reading, with drawer and parcel, the other gaps as they are today."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

import shimopt
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Balance, Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.ordering.result import Order
from shimopt.parts import Offer, Part, StockLine
from shimopt.planner import chosen_stacks
from shimopt.readings import Reading
from shimopt.words.card_words import card_notes
from shimopt.words.speaker import Speaker
from tests.order_strategies import order_jobs

THOU = 25_400


def as_planned(order: Order, number: int, reading: Fraction) -> Stack:
    """What a plan fits where a gap's final best estimate is this one, once the parcel lies in the drawer."""
    demand = order.demands[number]
    job, bought = order.jobs[demand.job], Counter[int]()
    for line in order.lines:
        bought[line.part] += line.pieces
    stock = tuple(replace(line, on_hand=line.on_hand + bought[i]) for i, line in enumerate(job.stock))
    bracket = Bracket(reading - demand.below, reading, reading + demand.above)
    gap = replace(demand.gap, reading=replace(demand.gap.reading, bracket=bracket))
    gaps = tuple(gap if other.name == gap.name else other for other in job.gaps)
    return chosen_stacks(replace(job, gaps=gaps, stock=stock)).stacks[demand.place.name]


def rows_of(order: Order, number: int) -> list[tuple[Fraction, Stack]]:
    """A reading within each band, a third of the way so that it is no place where two stacks are equal, and its row."""
    return [((2 * b.start + b.end) / 3, b.stack) for b in order.cards[number].bands]


def names(order: Order, stack: Stack) -> list[str]:
    return [order.stock[i].part.name for i in stack]


@settings(max_examples=100, deadline=None)
@given(order_jobs(most_gaps=1, most_lines=4, held=True))
def test_every_row_of_one_gap_is_what_the_plan_gives(job: Job) -> None:
    order = make_order([job])
    for reading, stack in rows_of(order, 0) if order.demands else []:
        assert names(order, stack) == names(order, as_planned(order, 0, reading)), reading


@settings(max_examples=60, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=4), st.booleans())
def test_where_pieces_are_plenty_every_row_is_what_the_plan_gives(job: Job, balanced: bool) -> None:
    """Each gap may have all it likes: then the rows of one take nothing from another."""
    stock = tuple(replace(line, on_hand=9) for line in job.stock)
    balances = (Balance("frame", tuple(gap.name for gap in job.gaps)),) if balanced and len(job.gaps) > 1 else ()
    order = make_order([replace(job, stock=stock, balances=balances)])
    for number in range(len(order.demands)):
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(order, number, reading)), (number, reading)


def test_the_swing_bridges_rows_are_what_the_plan_gives() -> None:
    order = make_order([shimopt.load_job("demo_data/swing-bridge")])
    assert not order.yielding
    for number in range(len(order.demands)):
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(order, number, reading)), (number, reading)


def test_where_another_gap_needs_the_last_piece_the_card_says_so() -> None:
    """Rear right cannot do without the one PS50-0.3; at front right a plan would take it too, one piece for two."""
    order = make_order([shimopt.load_job("demo_data/quarry-tram")])
    assert order.yielding == {1}
    notes = [" ".join(card_notes(order, number, Speaker("mm"))) for number in range(4)]
    assert ["set aside for other gaps" in note for note in notes] == [False, True, False, False]
    for number in (0, 2, 3):
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(order, number, reading)), (number, reading)


@settings(max_examples=60, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=4, held=True))
def test_a_card_that_yields_nothing_is_as_planned_for_each_gap_alone(job: Job) -> None:
    """What the plan of one gap alone gives with everything in drawer and parcel, unless the card says that it yields."""
    order = make_order([job])
    for number in set(range(len(order.demands))) - order.yielding:
        gap = order.demands[number].gap
        alone = replace(
            job, gaps=(gap,), places=tuple(p for p in job.places if p.name == order.demands[number].place.name)
        )
        # what lies in other places is theirs to use, too, once it comes out
        extra = Counter(i for place in job.places if place.name != gap.name for i in place.installed)
        stock = tuple(replace(line, on_hand=line.on_hand + extra[i]) for i, line in enumerate(job.stock))
        asked = replace(order, jobs=(replace(alone, stock=stock),))
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(asked, number, reading)), (number, reading)


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=1, most_lines=4, unpriced=False), st.randoms(use_true_random=False))
def test_names_do_not_decide_what_is_bought(job: Job, random: Random) -> None:
    """Shims with other names: the card leaves as much room to the limits as before."""
    order = make_order([job])
    shuffled = list(range(len(job.stock)))
    random.shuffle(shuffled)
    other = [replace(line, part=replace(line.part, name=f"S-{shuffled[i]}")) for i, line in enumerate(job.stock)]
    again = make_order([replace(job, stock=tuple(sorted(other, key=lambda line: line.part.order)))])
    assert least_room(order) == least_room(again)


def least_room(order: Order) -> list[Fraction]:
    """By gap, how near to a limit its rows may bring it, worked out from both ends of reading and pieces."""
    found = []
    for demand, card in zip(order.demands, order.cards, strict=True):
        rooms = []
        for band in card.bands:
            for reading in (band.start, band.end):
                out = [order.stock[i].part.thickness for i in band.stack]
                low = (
                    reading
                    - demand.below
                    + min(demand.effect * sum(t.low for t in out), demand.effect * sum(t.high for t in out))
                )
                high = (
                    reading
                    + demand.above
                    + max(demand.effect * sum(t.low for t in out), demand.effect * sum(t.high for t in out))
                )
                window = demand.gap.window
                rooms += [low - window.min] if window.min is not None else []
                rooms += [window.max - high] if window.max is not None else []
        found.append(min(rooms, default=Fraction(0)))
    return found


def test_the_ring_that_lands_mid_window_is_bought_whatever_it_is_called() -> None:
    """Reads 17 to 18, window 4 to 12, rings of 7, 8, 9, 10 and 12 thou at 1.00 each.

    9 leaves 8 to 9 and 10 leaves 7 to 8: 3 thou and more to either limit; 8 leaves 9 to 10: 2. Of the two the name
    decides.
    """
    for names_of in ("7 8 9 10 12", "Z-7 A-8 A-9 A-10 A-12", "A Q R S T", "A-7 Q-8 Z-9 Z-10 A-12"):
        stock = [
            StockLine(Part(name, Bracket.between(size * THOU, size * THOU)), 0, (Offer(Decimal(1), 1, "", "Ash", 5),))
            for name, size in zip(names_of.split(), (7, 8, 9, 10, 12), strict=True)
        ]
        gap = Gap(
            "arm",
            Reading(Bracket.between(17 * THOU, 18 * THOU), "feeler"),
            Window(4 * THOU, 12 * THOU, "manual"),
            (("arm", Fraction(-1)),),
        )
        stock.sort(key=lambda line: line.part.order)
        job = Job(
            "t", "thou", (gap,), (Place("arm", None, 1),), (), tuple(stock), suppliers=(Supplier("Ash", Decimal(3)),)
        )
        (line,) = make_order([job]).lines
        assert job.stock[line.part].part.thickness.best == 9 * THOU
