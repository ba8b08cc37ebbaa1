"""A card's row fits what a plan gives at that reading, with drawer and parcel, the other gaps as they are today."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shimopt
from shimopt.arithmetic import outcome_of
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Balance, Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.cards import Band, Card
from shimopt.ordering.order import make_order
from shimopt.ordering.order_request import Case
from shimopt.ordering.order_result import Order
from shimopt.ordering.recheck import surely_inside
from shimopt.ordering.shared_pieces import contested
from shimopt.parts import Offer, Part, StockLine
from shimopt.planner import Chosen, chosen_stacks
from shimopt.readings import Reading
from shimopt.render.json.order_json import order_object
from shimopt.words.card_words import card_notes
from shimopt.words.speaker import Speaker
from tests.order_strategies import order_jobs

THOU, HUNDREDTH = 25_400, 10_000


def as_planned(order: Order, number: int, reading: Fraction) -> Stack:
    """What a plan fits where a gap's final best estimate is this one, once the parcel lies in the drawer."""
    return planned_of(order, number, reading).stacks[order.demands[number].place.name]


def planned_of(order: Order, number: int, reading: Fraction | None = None) -> Chosen:
    """The whole of that plan; without a reading, the one of today's."""
    demand = order.demands[number]
    job, bought = order.jobs[demand.job], Counter[int]()
    for line in order.asked:
        bought[line.part] += line.pieces
    stock = tuple(replace(line, on_hand=line.on_hand + bought[i]) for i, line in enumerate(job.stock))
    gaps = job.gaps
    if reading is not None:
        bracket = Bracket(reading - demand.below, reading, reading + demand.above)
        gap = replace(demand.gap, reading=replace(demand.gap.reading, bracket=bracket))
        gaps = tuple(gap if other.name == gap.name else other for other in job.gaps)
    return chosen_stacks(replace(job, gaps=gaps, stock=stock))


def rows_of(order: Order, number: int) -> list[tuple[Fraction, Stack]]:
    """A reading within each band, a third of the way so that it is no place where two stacks are equal, and its row."""
    return [((2 * b.start + b.end) / 3, b.stack) for b in order.cards[number].bands]


def names(order: Order, stack: Stack) -> list[str]:
    return [order.stock[i].part.name for i in stack]


@settings(max_examples=50, deadline=None)
@given(order_jobs(most_gaps=1, most_lines=4, held=True))
def test_every_row_of_one_gap_is_what_the_plan_gives(job: Job) -> None:
    order = make_order([job])
    for reading, stack in rows_of(order, 0) if order.demands else []:
        planned = as_planned(order, 0, reading)
        # a plan leaves what is in where the best estimate is inside; a card has to be sure
        if planned != job.places[0].installed or surely_inside(order.demands[0], reading, planned, order.stock):
            assert names(order, stack) == names(order, planned), reading


def with_smallest_orders(random: Random) -> Job:
    """Up to three gaps, rings of two suppliers who both ask for a smallest order, and next to nothing in the drawer."""
    window, gaps = Window(6 * HUNDREDTH, random.randint(17, 24) * HUNDREDTH, "t"), []
    for n in range(random.randint(1, 3)):
        go = random.randint(6, 11) * 5 * HUNDREDTH
        bracket = Bracket.between(go, go + random.choice((1, 1, 2)) * 5 * HUNDREDTH)
        gaps.append(Gap(f"g{n}", Reading(bracket, "feeler"), window, ((f"g{n}", Fraction(-1)),)))
    stock = []
    for size in sorted(random.sample(range(1, 9), random.randint(4, 7))):
        price = Decimal(random.randint(50, 200)) / 100
        offer = Offer(price, random.choice((1, 1, 1, 2)), "", random.choice(("ash", "elm")), random.choice((3, 3, 5)))
        part = Part(f"R-{size:02}", Bracket.between(size * 5 * HUNDREDTH, size * 5 * HUNDREDTH))
        stock.append(StockLine(part, random.choice((0, 0, 0, 1)), (offer,)))
    suppliers = tuple(Supplier(name, Decimal(1), Decimal(random.randint(6, 15))) for name in ("ash", "elm"))
    places = tuple(Place(gap.name, None, 2) for gap in gaps)
    return Job("t", "mm", tuple(gaps), places, (), tuple(stock), suppliers=suppliers)


def test_every_row_of_a_hundred_jobs_is_what_a_plan_gives_with_the_filled_parcel(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With all of drawer and parcel; where the card says that a piece is short, with what it sets aside for the gap."""
    # what less would do is no part of a card, and takes as long as its rows
    monkeypatch.setattr(Case, "ways", lambda *_: ((), None))
    monkeypatch.setattr(Case, "_chance", lambda *_: Fraction(1))
    random, filled, rows = Random(16), 0, 0
    while filled < 100:
        order = make_order([with_smallest_orders(random)])
        filled += bool(order.top_up)
        for number, card in enumerate(order.cards if order.top_up else ()):
            gap, place = order.demands[number].gap, order.demands[number].place
            stock = order.stock
            if number in order.contested:
                stock = tuple(replace(line, on_hand=card.most_of[i]) for i, line in enumerate(stock))
            alone = replace(order.jobs[0], gaps=(gap,), places=(place,), stock=stock)
            asked = replace(order, jobs=(alone,), **({"lines": (), "top_up": ()} if number in order.contested else {}))
            for reading, stack in rows_of(order, number):
                rows += 1
                assert names(order, stack) == names(order, as_planned(asked, number, reading)), (filled, reading)
    assert rows > 300


def test_every_row_of_blades_is_what_a_plan_gives_with_the_filled_parcel() -> None:
    """Every row that fits something; what a row beyond today's range fits is inside by plain sums, too.

    A plan of one reading knows nothing of today's: where a row counts on both, it need not be what a plan gives. The
    gap lies between the two blades, or where these and today's bracket meet; the sizes are exact.
    """
    random, within, beyond, planned_beyond = Random(5), 0, 0, 0
    while within + beyond < 300:
        job, gaps = with_smallest_orders(random), []
        for gap in job.gaps:
            go, half = gap.reading.bracket.low, Fraction(5 * HUNDREDTH, 2)
            shift = random.choice((0, 0, 2, 5)) * HUNDREDTH
            read = Reading(Bracket.between(go, go + 2 * half), "feeler").moved_by(shift)
            gaps.append(replace(gap, reading=read, again=(half, half), blades=(int(go), int(go + 2 * half))))
        order = make_order([replace(job, gaps=tuple(gaps))])
        for number, card in enumerate(order.cards):
            demand = order.demands[number]
            bought = Counter(i for line in order.asked for i in [line.part] * line.pieces)
            there = [line.on_hand + bought[i] for i, line in enumerate(order.stock)]
            if number in order.contested:
                there = [card.most_of[i] for i in range(len(there))]
            stock = tuple(replace(line, on_hand=n) for line, n in zip(order.stock, there, strict=True))
            for row in card.rows:
                if row.stack is None:
                    continue
                if demand.low <= (row.go + row.no_go) / 2 <= demand.high:
                    gap = replace(demand.gap, reading=Reading(Bracket.between(row.go, row.no_go), "feeler"))
                    asked = replace(order.jobs[0], gaps=(gap,), places=(demand.place,), stock=stock)
                    planned = chosen_stacks(asked).stacks[demand.place.name]
                    assert names(order, row.stack) == names(order, planned)
                    within += 1
                    continue
                pack = sum(order.stock[i].part.thickness.best for i in row.stack)
                where = (row.go, row.no_go), (max(row.go, demand.low), min(row.no_go, demand.high))
                inside = [low - pack >= 6 * HUNDREDTH and high - pack <= demand.gap.window.max for low, high in where]
                assert inside[0] or (where[1][0] <= where[1][1] and inside[1]), (row, pack)
                beyond += 1
                if inside[0]:
                    gap = replace(demand.gap, reading=Reading(Bracket.between(row.go, row.no_go), "feeler"))
                    asked = replace(order.jobs[0], gaps=(gap,), places=(demand.place,), stock=stock)
                    planned = chosen_stacks(asked).stacks[demand.place.name]
                    assert names(order, row.stack) == names(order, planned)
                    planned_beyond += 1
    assert (within > 50, beyond > 50, planned_beyond > 25) == (True, True, True)


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=4), st.booleans())
def test_where_pieces_are_plenty_every_row_is_what_the_plan_gives(job: Job, balanced: bool) -> None:
    """Each gap may have all it likes: then the rows of one take nothing from another.

    Where a balance makes the plan of that reading change another place, too, its row is of other gaps as today, and no
    plan of one gap: beside the others' stacks of today it is then no worse, level by level, than what that plan fits.
    """
    stock = tuple(replace(line, on_hand=9) for line in job.stock)
    balances = (Balance("frame", tuple(gap.name for gap in job.gaps)),) if balanced and len(job.gaps) > 1 else ()
    order = make_order([replace(job, stock=stock, balances=balances)])
    for number, demand in enumerate(order.demands):
        place, today = demand.place.name, planned_of(order, number).stacks
        for reading, stack in rows_of(order, number):
            planned = planned_of(order, number, reading)
            if today.items() - planned.stacks.items() <= {(place, today[place])}:
                assert names(order, stack) == names(order, planned.stacks[place]), (number, reading)
            else:
                row, theirs = (
                    outcome_of(planned.job, {**today, place: one}, defaultdict(frozenset)).levels
                    for one in (stack, planned.stacks[place])
                )
                assert [row[n] for n in planned.job.levels] <= [theirs[n] for n in planned.job.levels], reading


def test_the_swing_bridges_rows_are_what_the_plan_gives() -> None:
    order = make_order([shimopt.load_job("demo_data/swing-bridge")])
    assert not order.contested
    for number in range(len(order.demands)):
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(order, number, reading)), (number, reading)


def test_where_another_gap_needs_the_last_piece_the_card_says_so() -> None:
    """Rear right cannot do without the one PS50-0.3; at front right a plan would take it too, one piece for two.

    Front right's card says that it is short; front left and rear left are as planned at every reading.
    """
    order = make_order([shimopt.load_job("demo_data/quarry-tram")])
    assert {gap: names(order, lines) for gap, lines in order.contested.items()} == {1: ["PS50-0.3"]}
    shared = [[part["part"] for part in card["shared"]] for card in order_object(order)["cards"]]
    assert shared == [[], ["PS50-0.3"], [], []]
    notes = [" ".join(card_notes(order, number, Speaker("mm"))) for number in range(4)]
    assert ["not enough PS50-0.3" in note for note in notes] == [False, True, False, False]
    for number in (0, 2):
        for reading, stack in rows_of(order, number):
            assert names(order, stack) == names(order, as_planned(order, number, reading)), (number, reading)


@settings(max_examples=30, deadline=None)
@given(order_jobs(most_gaps=3, most_lines=4, held=True))
def test_where_nothing_is_short_a_card_is_as_planned_for_its_gap_alone(job: Job) -> None:
    """What the plan of one gap alone gives with everything in drawer and parcel."""
    order = make_order([job])
    for number in set(range(len(order.demands))) - order.contested.keys():
        gap = order.demands[number].gap
        alone = replace(
            job, gaps=(gap,), places=tuple(p for p in job.places if p.name == order.demands[number].place.name)
        )
        # what lies in other places is theirs to use, too, once it comes out
        extra = Counter(i for place in job.places if place.name != gap.name for i in place.installed)
        stock = tuple(replace(line, on_hand=line.on_hand + extra[i]) for i, line in enumerate(job.stock))
        asked = replace(order, jobs=(replace(alone, stock=stock),))
        for reading, stack in rows_of(order, number):
            planned = as_planned(asked, number, reading)
            if planned != order.demands[number].place.installed or surely_inside(
                order.demands[number], reading, planned, order.stock
            ):
                assert names(order, stack) == names(order, planned), (number, reading)


def rings(sizes: Sequence[int], names_of: Sequence[str], window: tuple[int, int], read: tuple[int, int]) -> Job:
    """One gap and an empty drawer; rings at equal prices [thou]."""
    stock = [
        StockLine(Part(name, Bracket.between(size * THOU, size * THOU)), 0, (Offer(Decimal(1), 1, "", "Ash", 5),))
        for name, size in zip(names_of, sizes, strict=True)
    ]
    reading = Reading(Bracket.between(read[0] * THOU, read[1] * THOU), "feeler")
    gap = Gap("arm", reading, Window(window[0] * THOU, window[1] * THOU, "t"), (("arm", Fraction(-1)),))
    stock.sort(key=lambda line: line.part.order)
    ash = Supplier("Ash", Decimal(3))
    return Job("t", "thou", (gap,), (Place("arm", None, 1),), (), tuple(stock), suppliers=(ash,))


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(1, 30), min_size=1, max_size=6, unique=True),
    st.randoms(use_true_random=False),
    st.integers(0, 6),
    st.integers(4, 12),
    st.integers(10, 30),
    st.integers(0, 2),
)
def test_of_equal_prices_the_ring_with_most_room_is_bought(
    sizes: list[int], random: Random, low: int, wide: int, read: int, width: int
) -> None:
    """Every ring that alone serves the whole range is tried; the names are shuffled."""
    names_of = [f"R-{n}" for n in range(len(sizes))]
    random.shuffle(names_of)
    order = make_order([rings(sizes, names_of, (low, low + wide), (read, read + width))])
    # today's reading is known to half its width, so is the final one; where nothing is needed surely, none goes in
    half = Fraction(width, 2)
    first = max(read, low + wide - half) if read - half >= low and read + half <= low + wide else read
    room = {s: min(first - half - s - low, low + wide - (read + width + half - s)) for s in sizes}
    bought = [order.stock[line.part].part.thickness.best / THOU for line in order.lines]
    if len(bought) == 1 and max(room.values()) >= 0:
        assert room[int(bought[0])] == max(room.values())


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(1, 24), min_size=2, max_size=6, unique=True),
    st.lists(st.tuples(st.integers(0, 4), st.integers(4, 9), st.integers(10, 24)), min_size=2, max_size=3),
    st.randoms(use_true_random=False),
)
def test_of_equal_prices_the_rings_of_several_gaps_keep_furthest_from_their_limits(
    sizes: list[int], asked: list[tuple[int, int, int]], random: Random
) -> None:
    """Every choice of a ring for every gap is tried; the tightest gap counts first, then the next."""
    names_of = [f"R-{n}" for n in range(len(sizes))]
    random.shuffle(names_of)
    one, gaps = rings(sizes, names_of, (0, 9), (12, 12)), []
    for n, (low, wide, read) in enumerate(asked):
        reading = Reading(Bracket.between(read * THOU, read * THOU), "value")
        window = Window(low * THOU, (low + wide) * THOU, "t")
        gaps.append(Gap(f"g{n}", reading, window, ((f"g{n}", Fraction(-1)),)))
    places = tuple(Place(gap.name, None, 1) for gap in gaps)
    order = make_order([replace(one, gaps=tuple(gaps), places=places)])
    rooms = [
        [min(read - s - low, low + wide - (read - s)) for s in sizes if low <= read - s <= low + wide]
        for low, wide, read in asked
    ]
    if all(rooms) and all(not low <= read <= low + wide for low, wide, read in asked):
        best = max(sorted(some) for some in product(*rooms))
        fitted = [order.stock[card.bands[0].stack[0]].part.thickness.best / THOU for card in order.cards]
        got = [min(r - f - low, low + wide - (r - f)) for f, (low, wide, r) in zip(fitted, asked, strict=True)]
        assert sum(line.pieces for line in order.lines) == len(asked)
        assert sorted(got) == best


def test_the_ring_that_lands_mid_window_is_bought_whatever_it_is_called() -> None:
    """Reads 17 to 18, window 4 to 12, rings of 7, 8, 9, 10 and 12 thou at 1.00 each.

    9 leaves 8 to 9 and 10 leaves 7 to 8: 3 thou and more to either limit; 8 leaves 9 to 10: 2. Of the two the name
    decides.
    """
    for names_of in ("7 8 9 10 12", "Z-7 A-8 A-9 A-10 A-12", "A Q R S T", "A-7 Q-8 R-9 Z-10 A-12"):
        job = rings((7, 8, 9, 10, 12), names_of.split(), (4, 12), (17, 18))
        (line,) = make_order([job]).lines
        assert job.stock[line.part].part.thickness.best == 9 * THOU


def test_a_place_whose_card_says_stop_gives_nothing_away() -> None:
    """b reads 0.20 too small with the only S-20 in: whatever else goes in, its card says stop and the S-20 stays.

    a reads 0.35, window 0.10 to 0.20: 0.15 to 0.25 would serve, and that S-20 is all there is of it.
    """
    mm = 1_000_000
    window = Window(mm // 10, mm // 5, "t")
    gaps = [
        Gap(name, Reading(Bracket.between(read, read), "feeler"), window, ((name, Fraction(-1)),))
        for name, read in (("a", 35 * mm // 100), ("b", -mm // 2))
    ]
    shim = StockLine(Part("S-20", Bracket.between(mm // 5, mm // 5)), 0, ())
    places = (Place("a", None, 1), Place("b", None, 1, installed=(0,)))
    order = make_order([Job("t", "mm", tuple(gaps), places, (), (shim,))])
    assert [card.bands for card in order.cards] == [(), ()]
    assert {hole.gap for hole in order.holes} == {0, 1}
    assert not order.left
    free = make_order([Job("t", "mm", (gaps[0],), (places[0],), (), (replace(shim, on_hand=1),))])
    assert [band.stack for band in free.cards[0].bands] == [(0,)]


def test_a_reading_too_coarse_for_its_window_asks_for_a_gauge_and_no_metal() -> None:
    """0.10 ± 0.08 mm, window 0.05 to 0.15: the gap may be anywhere from 0.02 to 0.18, and its middle is right."""
    mm = 1_000_000
    reading = Reading(Bracket.between(2 * mm // 100, 18 * mm // 100), "value")
    gap = Gap("w", reading, Window(5 * mm // 100, 15 * mm // 100, "t"), (("w", Fraction(-1)),))
    shim = StockLine(Part("S-5", Bracket.between(5 * mm // 100, 5 * mm // 100)), 3, ())
    order = make_order([Job("t", "mm", (gap,), (Place("w", None, 1),), (), (shim,))])
    assert {hole.cause for hole in order.holes} == {"gauge"}


def test_at_one_price_the_plan_that_may_buy_and_the_order_of_the_same_reading_buy_the_same() -> None:
    """Every piece costs 1.00 and one is enough: what costs least is the fewest pieces. One limit or two, any names."""
    bought = 0
    for seed in range(20):
        random = Random(seed)
        low = random.choice([None, 20])
        sizes = random.sample(range(40, 160, 5), 6)
        # natural order of names, which is not that of the sizes
        stock = tuple(
            StockLine(
                Part(f"{name}-{size}", Bracket.between(size * 1000, size * 1000)),
                0,
                (Offer(Decimal(1), 1, "", "north"),),
            )
            for name, size in zip("ABCDEF", sizes, strict=True)
        )
        window = Window(None if low is None else low * 1000, 90_000, "sheet")
        read = random.randrange(100, 200, 5) * 1000
        reading = Reading(Bracket.between(read, read), "feeler")
        gap = Gap("arm", reading, window, (("arm", Fraction(-1)),), None, again=(Fraction(0), Fraction(0)))
        suppliers = (Supplier("north", Decimal(0), Decimal(0)),)
        job = Job("one", "mm", (gap,), (Place("arm", None, 1),), (), stock, suppliers=suppliers)
        order, plan = make_order([job]), chosen_stacks(job, buy=True)
        inside = plan.outcome.gaps["arm"].verdict == "inside"
        assert [band.stack for band in order.cards[0].bands] == ([plan.stacks["arm"]] if inside else [])
        bought += len(order.lines)
    assert bought > 10


def test_a_card_says_what_it_lacks_because_others_lack_something_else() -> None:
    """One D and one T: two gaps would take D, one gets it and the other T, so that the third has no T but two Q."""
    t, d, q = 0, 1, 2

    def card(*stack: int) -> Card:
        return Card((Band(Fraction(0), Fraction(1), stack),))

    alone, cards = [card(t), card(d), card(d)], [card(q, q), card(t), card(d)]
    kept = [Counter[int]() for _ in cards]
    assert contested(alone, cards, kept, {t: 1, d: 1, q: 2}) == {0: (t,), 1: (d,)}
    # with a second T the first gap could have it: nobody is short of that
    assert contested(alone, cards, kept, {t: 2, d: 1, q: 2}) == {1: (d,)}
