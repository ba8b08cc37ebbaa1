"""Orders for places that act together and packs that must match: a box of readings a row, all of them served."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, combinations_with_replacement, pairwise, product
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shimopt
from shimopt.arithmetic.outcome import outcome_of
from shimopt.job import Balance, Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering import cells_together
from shimopt.ordering.after_together import blade_rows_of
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Box, Range, Together, share_open
from shimopt.parts import Offer, Part, StockLine
from shimopt.planner import chosen_stacks
from shimopt.readings import Reading
from shimopt.watch import Watch
from shimopt.words.order_told_words import proof_words
from shimopt.words.speaker import Speaker
from tests.brute_force_places import clearance
from tests.command import Run

UM = 1_000
DEMOS = Path("demo_data")


def every_corner_inside(order: Order, box: Box, readings: Mapping[str, Fraction]) -> bool:
    """Each reading off by its uncertainty either way, each piece at its thinnest and thickest: always in the window.

    A piece is the same wherever it was and wherever it goes.
    """
    for demand in order.tables[0].demands:
        read = readings[demand.gap.name]
        known = Bracket(read - demand.below, read, read + demand.above)
        gap = replace(demand.gap, reading=replace(demand.gap.reading, bracket=known))
        low, _, high = clearance(order.jobs[0], gap, box.stacks)
        if (gap.window.min is not None and low < gap.window.min) or (
            gap.window.max is not None and high > gap.window.max
        ):
            return False
    return True


@st.composite
def coupled(draw: st.DrawFn) -> Job:
    """Two packs: their sum closes one gap, their difference moves another; or one total alone; or equal packs."""
    kind = draw(st.sampled_from(["both", "total", "equal"]))
    width = draw(st.sampled_from([0, 10, 20, 40])) * UM

    def gap(name: str, effects: dict[str, Fraction], low: int) -> Gap:
        window = Window(100 * UM, draw(st.sampled_from([160, 200, 260])) * UM, "t")
        read = Bracket.between(low * UM, low * UM + width)
        again = draw(st.sampled_from([None, (Fraction(0), Fraction(0)), (Fraction(5 * UM), Fraction(5 * UM))]))
        return Gap(name, Reading(read, "value"), window, tuple(effects.items()), again=again)

    one = Fraction(-1)
    if kind == "equal":
        gaps = [gap(n, {n: one}, draw(st.integers(20, 50)) * 10) for n in ("a", "b")]
    else:
        gaps = [gap("sum", {"a": one, "b": one}, draw(st.integers(30, 60)) * 10)]
        if kind == "both":
            moves = {"a": Fraction(1, 2), "b": Fraction(-1, 2)}
            gaps.append(gap("difference", moves, draw(st.integers(10, 26)) * 10))
    stock = []
    for n in range(draw(st.integers(2, 5))):
        size, half = draw(st.integers(5, 40)) * 10 * UM, draw(st.sampled_from([0, 2])) * UM
        offer = Offer(Decimal(draw(st.integers(1, 4))), draw(st.sampled_from([1, 1, 2])), "", "ash", 3)
        part = Part(f"S-{n}", Bracket.between(size - half, size + half))
        stock.append(StockLine(part, draw(st.integers(0, 2)), (offer,) if draw(st.booleans()) else ()))
    lines = st.lists(st.integers(0, len(stock) - 1), max_size=2).map(sorted).map(tuple)
    held = [draw(lines), draw(lines)] if draw(st.booleans()) else [(), ()]
    places = tuple(Place(name, None, 2, installed=was) for name, was in zip(("a", "b"), held, strict=True))
    equal = (("a", "b"),) if kind == "equal" else ()
    ash = Supplier("ash", Decimal(2))
    return Job("t", "mm", tuple(gaps), places, (), tuple(stock), suppliers=(ash,), equal=equal)


@settings(max_examples=40, deadline=None)
@given(coupled(), st.integers(0, 2**32))
def test_wherever_the_final_readings_fall_a_row_serves_them_all(job: Job, seed: int) -> None:
    order, random = make_order([job]), Random(seed)
    if not order.tables:
        assert {left.gap.name for left in order.unanswered} == {gap.name for gap in job.gaps}
        assert not order.lines
        return
    (table,) = order.tables
    there = Counter({i: line.on_hand for i, line in enumerate(job.stock)})
    there.update(i for place in job.places for i in place.installed)
    for line in order.asked:
        there[line.part] += line.pieces
    for box in table.boxes:
        assert all(n <= there[i] for i, n in Counter(i for s in box.stacks.values() for i in s).items())
        if job.equal and any(box.stacks[place.name] != place.installed for place in job.places):
            assert Counter(box.stacks["a"]) == Counter(box.stacks["b"])
    for _ in range(30):
        readings = {
            d.gap.name: d.low + Fraction(random.randint(0, 1000), 1000) * (d.high - d.low) for d in table.demands
        }
        rows = [
            box
            for box in table.boxes
            if all(
                low <= readings[d.gap.name] <= high for d, (low, high) in zip(table.demands, box.ranges, strict=True)
            )
        ]
        assert all(every_corner_inside(order, box, readings) for box in rows)
        if rows:
            continue
        at = [readings[d.gap.name] for d in table.demands]
        assert any(all(a <= x <= b for x, (a, b) in zip(at, ends, strict=True)) for ends in table.open)
        on_offer = Counter({i: 4 if line.offers else line.on_hand for i, line in enumerate(job.stock)})
        again = {demand.gap.name: (demand.below, demand.above) for demand in table.demands}
        for ends in boxes_by_hand(job, on_offer, again):
            # where two meet either may be told
            assert not all(low < x < high for x, (low, high) in zip(at, ends, strict=True))


def boxes_by_hand(job: Job, pieces: Counter[int], again: Mapping[str, tuple[Fraction, Fraction]]) -> list[list[Range]]:
    """What each pair of stacks of these pieces serves, by gap: read at x, it lies in x - below to x + above."""
    flat = sorted(pieces.elements())
    stacks = sorted({stack for n in range(3) for stack in combinations(flat, n)})
    found = []
    for a, b in product(stacks, stacks):
        if (job.equal and a != b) or not Counter((*a, *b)) <= pieces:
            continue
        box = []
        for gap in job.gaps:
            low = high = Fraction(0)
            for name, effect in gap.effects:
                for i in {job.places[0].name: a, job.places[1].name: b}[name]:
                    ends = effect * job.stock[i].part.thickness.low, effect * job.stock[i].part.thickness.high
                    low, high = low + min(ends), high + max(ends)
            below, above = again[gap.name]
            assert gap.window.min is not None
            assert gap.window.max is not None
            box.append((gap.window.min + below - low, gap.window.max - above - high))
        if all(low <= high for low, high in box):
            found.append(box)
    return found


def served_by_hand(boxes: list[list[Range]], points: list[tuple[Fraction, ...]]) -> set[tuple[Fraction, ...]]:
    """The readings that boxes hold."""
    return {at for at in points if any(all(a <= x <= b for x, (a, b) in zip(at, box, strict=True)) for box in boxes)}


def cheapest_by_hand(job: Job, order: Order) -> Decimal | None:
    """What the cheapest packs cost with which all is served that anything on offer serves; None where nothing is.

    Between the ends of the boxes nothing changes: a reading between each two of them stands for all.
    """
    (table,) = order.tables
    again = {demand.gap.name: (demand.below, demand.above) for demand in table.demands}
    sold = [(i, line.offers[0]) for i, line in enumerate(job.stock) if line.offers]
    on_offer = Counter({i: 4 if line.offers else line.on_hand for i, line in enumerate(job.stock)})
    every, cuts = boxes_by_hand(job, on_offer, again), []
    for n, demand in enumerate(table.demands):
        low, high = demand.low, demand.high
        ends = sorted({low, high, *(end for box in every for end in box[n] if low < end < high)})
        cuts.append([(one + other) / 2 for one, other in pairwise(ends)] or [low])
    can_be_served = served_by_hand(every, list(product(*cuts)))
    ways = []
    for packs in product(*(range(4 // offer.pack + 1) for _, offer in sold)):
        goods = sum((offer.price or Decimal(0)) * n for n, (_, offer) in zip(packs, sold, strict=True))
        ways.append((goods + 2 if goods else Decimal(0), packs))
    for cost, packs in sorted(ways):
        pieces = Counter({i: line.on_hand for i, line in enumerate(job.stock)})
        pieces.update({i: n * offer.pack for n, (i, offer) in zip(packs, sold, strict=True)})
        boxes = boxes_by_hand(job, Counter({i: min(n, 4) for i, n in pieces.items()}), again)
        if can_be_served and served_by_hand(boxes, sorted(can_be_served)) == can_be_served:
            return cost
    return None


@settings(max_examples=40, deadline=None)
@given(coupled())
def test_what_is_bought_for_them_is_cheapest_where_it_is_called_so(job: Job) -> None:
    """All packs tried out, where nothing is in."""
    job = replace(job, places=tuple(replace(place, installed=()) for place in job.places))
    order = make_order([job])
    if not order.tables:
        return
    cost = next(level for level in order.levels if level.name == "cost")
    least = cheapest_by_hand(job, order)
    assert least is not None
    assert order.cost is not None
    assert order.cost >= least
    if cost.proven:
        assert order.cost == least
    if cost.bound is not None:
        assert cost.bound <= least


def test_a_second_suppliers_postage_may_cost_more_than_a_piece_more(run: Run, tmp_path: Path) -> None:
    """Two packs close 0.70 to 0.05 .. 0.15: they need 0.55 to 0.65 together. One 0.60 costs 0.50 and 5.00 postage.

    Two 0.30 cost 1.00 each and 2.00 postage: 4.00 in all, which no more than 5.00 allows as well.
    """
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\n")
    sizes = "S-30,0.30,1,north\nS-60,0.60,0.50,south\n"
    (tmp_path / "cat.csv").write_text(f"part,thickness_mm,price,supplier\n{sizes}")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["cat.csv"]\n'
        '[window]\nmin = 0.05\nmax = 0.15\nsource = "s"\n'
        '[[supplier]]\nname = "north"\npostage = 2\n[[supplier]]\nname = "south"\npostage = 5\n'
        '[[place]]\nname = "left"\n[[place]]\nname = "right"\n'
        '[[gap]]\nname = "total"\nvalue = "0.70 mm"\neffects = { left = -1, right = -1 }\n'
    )
    for more in ((), ("--suppliers", 1), ("--spend", 5)):
        code, out, _ = run("order", tmp_path, *more, "--json")
        found = json.loads(out)
        assert code == 0
        assert found["cost"] == 4
        assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("S-30", 2)]
        assert [level["proven"] for level in found["levels"]] == [True] * 6


PAIR = """\
unit = "mm"
shift = 0.03
catalogues = ["cat.csv"]
window = { min = 0.03, max = 0.12, source = "drawing 4" }
[[supplier]]
name = "north"
postage = 4
[[supplier]]
name = "south"
postage = 6
[[place]]
name = "left"
[[place]]
name = "right"
[[gap]]
name = "play"
feeler = { go = 0.75, no_go = 0.80 }
effects = { left = -1, right = -1 }
[[gap]]
name = "backlash"
feeler = { go = 0.20, no_go = 0.25 }
effects = { left = 0.34, right = -0.34 }
window = { min = 0.09, max = 0.22, source = "drawing 4" }
"""


def pair(folder: Path, job: str = PAIR) -> Path:
    sizes = ("0.05", "1.00"), ("0.10", "1.10"), ("0.20", "1.15"), ("0.30", "1.20"), ("0.40", "1.25")
    rows = [f"N-{size[2:]},{size},0.002,{price},north\n" for size, price in sizes]
    rows += [f"S-{size[2:]},{size},0.002,0.90,south\n" for size in ("0.15", "0.35")]
    (folder / "cat.csv").write_text("part,thickness_mm,tolerance_mm,price,supplier\n" + "".join(rows))
    (folder / "job.toml").write_text(job)
    return folder


def test_what_a_smallest_order_leaves_over_is_filled_with_what_rows_take(tmp_path: Path, run: Run) -> None:
    """N-05, N-10, N-20 and N-40 are needed for 4.50; of 9.00 another 4.50 is left: one more of each, to the coin."""
    folder = pair(tmp_path, PAIR.replace('name = "north"\n', 'name = "north"\nsmallest_order = 9\n'))
    found = json.loads(run("order", folder, "--json")[1])
    for lines in (found["lines"], found["top_up"]):
        assert [(one["part"], one["pieces"]) for one in lines] == [("N-05", 1), ("N-10", 1), ("N-20", 1), ("N-40", 1)]
    assert (found["cost"], found["top_up"][0]["may_serve"]) == (13, ["play", "backlash"])
    assert "1 x N-05: 1.00, spare for play and backlash" in " ".join(run("order", folder)[1].split())
    bare = json.loads(run("order", folder, "--no-top-up", "--json")[1])
    assert (bare["cost"], bare["top_up"]) == (13, [])


def test_what_less_would_do_is_told_of_places_that_act_together(tmp_path: Path, run: Run) -> None:
    """Today's readings ask for 0.70 together: N-30 left and N-40 right are 2.45, and 4.00 postage.

    So play of 0.75 to 0.80 comes to 0.05 to 0.10, and neither of its neighbours is right; backlash of 0.15 to 0.25,
    less 0.034, to 0.116 to 0.216, of 0.25 to 0.30 to more than 0.22. An outer pair of blades has 15 % (0.03 of shift,
    half of it, of 0.05): 0.70 times 0.85. South's two S-35 cost 0.90 each, and 6.00 postage.
    """
    found = json.loads(run("order", pair(tmp_path), "--json")[1])
    exact, sure = found["options"]
    assert (exact["cost"], exact["chance"]) == (6.45, pytest.approx(0.70 * 0.85))
    assert (sure["cost"], sure["chance"]) == (8.5, 1)
    assert "No size next to" not in run("order", tmp_path)[1]


def test_each_row_of_a_table_is_what_a_plan_gives(tmp_path: Path) -> None:
    """Two packs, read with blades: at every pair of blades the plan of these readings, with drawer and parcel."""
    job = shimopt.load_job(pair(tmp_path))
    order = make_order([job])
    (table,) = order.tables
    bought = Counter({line.part: line.pieces for line in order.asked})
    stock = tuple(replace(line, on_hand=line.on_hand + bought[i], offers=()) for i, line in enumerate(job.stock))
    compared = 0
    for readings, stacks in blade_rows_of(table):
        gaps = tuple(
            replace(gap, reading=replace(gap.reading, bracket=Bracket(x - d.below, x, x + d.above)))
            for gap, d, (x, _) in zip(job.gaps, table.demands, readings, strict=True)
        )
        plan = shimopt.plan(replace(job, gaps=gaps, stock=stock)).to_dict()
        fits = {p["name"]: Counter({one["part"]: one["pieces"] for one in p["stack"]}) for p in plan["places"]}
        assert stacks is not None
        assert fits == {name: Counter(job.stock[i].part.name for i in stack) for name, stack in stacks.items()}
        compared += 1
    assert compared == 9


def winch_with_a_little_play(folder: Path) -> Path:
    """The winch, where 0.001 mm of play is allowed too: so its backlash can be read before the preload is set."""
    winch = Path(shutil.copytree(DEMOS / "slipway-winch", folder / "winch"))
    text = (winch / "job.toml").read_text(encoding="utf-8")
    allowed = text.replace("{ preload = [0.01, 0.07],", "{ min = -0.07, max = 0.001,")
    assert allowed != text
    (winch / "job.toml").write_text(allowed, encoding="utf-8")
    return winch


def test_no_row_is_written_for_what_is_read_again_once_preload_is_set(run: Run, tmp_path: Path) -> None:
    """With preload set it no longer reads play 0.065 to 0.075, so that no row could ever be used."""
    code, out, _ = run("order", DEMOS / "slipway-winch")
    words = " ".join(out.split())
    assert code == 1
    assert words.startswith("No order can be made before preload is set: set it, read backlash again")
    assert "fit" not in words.split("Not answered")[0]
    found = json.loads(run("order", DEMOS / "slipway-winch", "--json")[1])
    assert found["tables"] == []
    assert {one["why"] for one in found["unanswered"]} == {"with play"}
    # what the drawer lacks to set it comes by a plan that buys, and no plan sends back to an order that none can be
    assert "What the drawer lacks for that: shimopt plan JOB --buy." in words
    run("order", DEMOS / "slipway-winch", "--card", tmp_path / "card.txt")
    assert "BC-0.05" not in (tmp_path / "card.txt").read_text(encoding="utf-8")


def test_the_winchs_two_packs_have_a_small_table(run: Run, tmp_path: Path) -> None:
    """Preload reads 0.065 to 0.075, backlash by blades 0.25 to 0.30: all pieces from the drawer."""
    winch = winch_with_a_little_play(tmp_path)
    code, out, _ = run("order", winch)
    words = " ".join(out.split())
    assert code == 0
    assert "preload and backlash" in words
    assert "backlash: 0.25 goes, 0.30 does not left cap: take BC-0.20 out" in words
    (table,) = json.loads(run("order", winch, "--json")[1])["tables"]
    assert table["gaps"] == ["preload", "backlash"]
    reach = [row["readings"][0] for row in table["rows"]]
    assert (min(r["from"] for r in reach), max(r["to"] for r in reach)) == (0.065, 0.075)


def test_todays_row_of_the_winch_is_what_the_plan_fits(tmp_path: Path) -> None:
    """The plan of today's readings takes the split; the row that holds them fits the same pieces."""
    job = shimopt.load_job(winch_with_a_little_play(tmp_path))
    (table,) = make_order([job]).tables
    plan = shimopt.plan(job).to_dict()
    fits = {
        place["name"]: Counter(one["part"] for one in place["stack"] for _ in range(one["pieces"]))
        for place in plan["places"]
    }
    read = [gap.reading.bracket.best for gap in job.gaps]
    rows = [box for box in table.boxes if all(a <= x <= b for x, (a, b) in zip(read, box.ranges, strict=True))]
    named = [{n: Counter(job.stock[i].part.name for i in stack) for n, stack in box.stacks.items()} for box in rows]
    assert fits in named


def test_with_more_readings_than_a_table_takes_the_plan_says_what_to_fit(tmp_path: Path, run: Run) -> None:
    """Three arms whose packs must match: the order is enough, and the card sends to the plan."""
    names = [f"arm {n}" for n in range(3)]
    rest = f"equal = [{json.dumps(names)}]\n" + '[window]\nmin = 0.10\nmax = 0.20\nsource = "s"\n'
    rest += "".join(f'[[place]]\nname = "{name}"\n' for name in names)
    rest += "".join(f'[[gap]]\nname = "{name}"\nvalue = "0.35 mm ± 0.02 mm"\n' for name in names)
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-20,0.20,3\n")
    (tmp_path / "job.toml").write_text(f'unit = "mm"\ndrawer = "drawer.csv"\n{rest}')
    code, out, _ = run("order", tmp_path)
    words = " ".join(out.split())
    assert code == 0
    assert "this order is enough for all final readings: read them all" in words


def test_what_no_plan_serves_between_the_readings_looked_at_is_looked_at_more_closely(run: Run, tmp_path: Path) -> None:
    """By hand: with two K10 left and A0 + A6 right 0.50 is in, A serves 0.54 to 0.62; with an A6 beside the K10 0.55 is
    in, and it serves 0.59 to 0.67; B, 0.141 to 0.221, loses 0.025 or 0.0125. That is an A0 and a pack of A6:
    (1.38 + 1.63 + 4.00) x 0.86 = 6.03. A1 in packs of 5 serves the ends and the middle for no more pieces: 6.58.
    """
    head = (
        'title = "r"\nunit = "mm"\ncurrency = "GBP"\nrates = { EUR = 0.86 }\ndrawer = "d.csv"\ncatalogues = ["c.csv"]\n'
    )
    terms = '[stacks]\nmost_pieces = 3\n[[supplier]]\nname = "ash"\npostage = 4\ncurrency = "EUR"\n'
    places = '[[place]]\nname = "L"\n[[place]]\nname = "R"\n'
    gaps = [
        f'[[gap]]\nname = "{name}"\nvalue = "{read} mm ± 0.04 mm"\nfinal_reading = "± 0.01 mm"\n'
        f'window = {{ min = {low}, max = {high}, source = "s" }}\n[gap.effects]\nL = {left}\nR = {right}\n'
        for name, read, low, high, left, right in (
            ("A", "0.6", 0.02, 0.14, -1, -1),
            ("B", "0.181", 0.1, 0.24, 0.25, -0.25),
        )
    ]
    (tmp_path / "job.toml").write_text(head + terms + places + "".join(gaps), encoding="utf-8")
    (tmp_path / "d.csv").write_text("part,thickness_mm,tolerance_mm,on_hand\nK10,0.1,0.002,2\n", encoding="utf-8")
    sizes = (("A0", "0.25", "1.38", 1), ("A1", "0.25", "2.02", 5), ("A5", "0.4", "3.94", 5), ("A6", "0.05", "1.63", 5))
    rows = "".join(f"{name},{size},0.003,{price},{pack},ash,3,EUR\n" for name, size, price, pack in sizes)
    columns = "part,thickness_mm,tolerance_mm,price,pack,supplier,lead_days,currency\n"
    (tmp_path / "c.csv").write_text(f"{columns}{rows}", encoding="utf-8")
    found = json.loads(run("order", tmp_path, "--json")[1])
    assert {line["part"]: line["packs"] for line in found["lines"]} == {"A0": 1, "A6": 1}
    assert (round(found["cost"], 2), all(level["proven"] for level in found["levels"])) == (6.03, True)


def test_what_is_overlooked_between_the_readings_looked_at_is_looked_at_as_well(run: Run, tmp_path: Path) -> None:
    """By hand: a pack of A1 and two A3 serve ends and middles for (4.72 + 1.86 + 2.00) x 0.86 = 7.38, but B not
    between 0.264 and 0.266. Of cedar alone a C0, a C2 and two C4 serve all, (2.34 + 1.15 + 4.66 + 2.00) x 0.86 = 8.73.
    """
    head = (
        'title = "r"\nunit = "mm"\ncurrency = "GBP"\nrates = { EUR = 0.86 }\ndrawer = "d.csv"\ncatalogues = ["c.csv"]\n'
    )
    terms = "[stacks]\nmost_pieces = 3\n" + "".join(
        f'[[supplier]]\nname = "{name}"\npostage = 2\ncurrency = "EUR"\n' for name in ("ash", "cedar")
    )
    gaps = [
        f'[[gap]]\nname = "{name}"\nvalue = "{read} mm ± 0.04 mm"\nfinal_reading = "± 0.01 mm"\n'
        f'window = {{ min = {low}, max = {high}, source = "s" }}\n[gap.effects]\nL = {left}\nR = {right}\n'
        for name, read, low, high, left, right in (
            ("A", "0.7", 0.02, 0.14, -1, -1),
            ("B", "0.273", 0.1, 0.28, 0.5, -0.5),
        )
    ]
    places = '[[place]]\nname = "L"\n[[place]]\nname = "R"\n'
    (tmp_path / "job.toml").write_text(head + terms + places + "".join(gaps), encoding="utf-8")
    (tmp_path / "d.csv").write_text("part,thickness_mm,on_hand\n", encoding="utf-8")
    rows = (
        "C0,0.25,0.003,2.34,1,cedar\nA1,0.15,0.003,4.72,5,ash\nC2,0.3,0.003,1.15,1,cedar\n"
        "A3,0.25,0.003,0.93,1,ash\nC4,0.05,0.003,2.33,1,cedar\n"
    )
    (tmp_path / "c.csv").write_text(f"part,thickness_mm,tolerance_mm,price,pack,supplier\n{rows}", encoding="utf-8")
    found = json.loads(run("order", tmp_path, "--json")[1])
    (cost,) = (level for level in found["levels"] if level["name"] == "cost")
    assert found["sure"]
    assert (cost["proven"], round(found["cost"], 2)) == (True, 8.73)


SLIVER = """\
unit = "thou"
drawer = "drawer.csv"
catalogues = ["cat.csv"]
stacks = { most_pieces = 3 }
supplier = [{ name = "north", postage = 5 }, { name = "south", postage = 4 }]
[[place]]
name = "drive side"
[[place]]
name = "far side"
[[gap]]
name = "cross shaft float"
value = "40 thou ± 1 thou"
final_reading = "± 0.5 thou"
window = { min = 2, max = 6, source = "drawing 5" }
effects = { "drive side" = -1, "far side" = -1 }
[[gap]]
name = "backlash"
value = "14 thou ± 1.5 thou"
final_reading = "± 0.5 thou"
window = { min = 4, max = 9, source = "drawing 5" }
effects = { "drive side" = -0.5, "far side" = 0.5 }
"""


def sliver(folder: Path, more: str = "S-05,5,0.2,1.00,1,south\n", job: str = SLIVER) -> Path:
    (folder / "drawer.csv").write_text("part,thickness_thou,tolerance_thou,on_hand\nZ-10,10,0.2,2\n")
    rows = "N-02,2,0.1,3.00,5,north\nN-20,20,0.1,1.30,1,north\nN-26,26,0.1,1.50,1,north\n"
    (folder / "cat.csv").write_text("part,thickness_thou,tolerance_thou,price,pack,supplier\n" + rows + more)
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return folder


def test_what_surety_costs_and_what_a_limit_leaves_open_is_told_of_lengths(run: Run, tmp_path: Path) -> None:
    """By hand: N-26 and Z-10 leave 2 to 6 of 39 to 41, and backlash from 12.65: 12.65 - 0.5 - 13.05 + 4.9 = 4.

    Below that the drive side has to be thinner by as much as the far side is thicker: N-20 and two N-02 with Z-10 and
    N-02 are 36, and need 39.1 for 2 of float; Z-10 with N-26 and N-02, 38, need 40.9. So 39 to 39.1 by 12.5 to 12.65
    is open: a twentieth of the one range and of the other. North alone is 5.80 and 5.00 postage.
    """
    folder = sliver(tmp_path)
    whole = json.loads(run("order", folder, "--json")[1])
    assert whole["sure"]
    assert whole["without_limits"] is None
    ways = {way["at_least"]: (way["cost"], way["chance"]) for way in whole["ways"]}
    assert ways[0.99] == (10.8, pytest.approx(0.9975))
    assert ways[1.0][0] == whole["cost"] > 10.8
    for limit in (("--suppliers", 1), ("--spend", 11)):
        code, out, _ = run("order", folder, *limit, "--json")
        found = json.loads(out)
        assert (code, found["cost"], found["unanswered"]) == (1, 10.8, [])
        (table,) = found["tables"]
        assert table["share_not_served"] == pytest.approx(0.0025)
        ((one, two),) = [row["readings"] for row in table["not_served"]]
        assert [one["from"], one["to"]] == [pytest.approx(39 * 0.0254), pytest.approx(39.1 * 0.0254)]
        assert [two["from"], two["to"]] == [pytest.approx(12.5 * 0.0254), pytest.approx(12.65 * 0.0254)]
        (missing,) = (level["value"] for level in found["levels"] if level["name"] == "missing")
        assert missing == pytest.approx(0.0025 * 5 * 0.0254, abs=0.00005)
        assert found["without_limits"]["cost"] == whole["cost"]


def test_an_order_says_that_a_limit_is_why_and_what_it_would_cost_without(run: Run, tmp_path: Path) -> None:
    """Today's 0.70 is 6.45, all readings 8.50 (see above)."""
    words = " ".join(run("order", pair(tmp_path), "--spend", 7)[1].split())
    told = "The limits of this order are why: without them 8.50, 2.05 more, covers play and backlash at every reading."
    assert told in words.split("Not covered")[1]


def test_nothing_is_bought_that_the_drawer_holds_where_stacks_are_not_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A Z-10 of the drawer serves in every row in the place of an S-10: the input float does without it.

    It reads 20 to 26 by pairs of 2: N-16 leaves 3.9 to 6.1 of the first, N-18 and N-20 of the others, and so do N-18
    and N-02.
    """
    monkeypatch.setattr(cells_together, "_MOST_STACKS", 0)
    third = '[[gap]]\nname = "input float"\nfeeler = { go = 22, no_go = 24 }\nshift = "± 2 thou"\n'
    third += 'window = { min = 2, max = 8, source = "drawing 5" }\neffects = { nut = -1 }\n[[place]]\nname = "nut"\n'
    more = "N-16,16,0.1,1.30,1,north\nN-18,18,0.1,1.30,1,north\nS-10,10,0.2,1.05,1,south\nS-25,25,0.3,1.30,1,south\n"
    order = make_order([shimopt.load_job(sliver(tmp_path, more, SLIVER + third))])
    assert order.whole
    assert not order.searched_together
    assert "S-10" not in {order.stock[line.part].part.name for line in order.lines}
    # 9.00 buys what the input float needs, and nothing was looked at for the others
    spent = make_order([shimopt.load_job(tmp_path)], spend=Decimal(9))
    assert spent.lines
    assert "equal parts" not in " ".join(proof_words(spent, Speaker("thou")))


def test_nothing_is_bought_for_a_single_reading_of_a_length(tmp_path: Path) -> None:
    """0.48 to 0.52, known exactly, less 0.45 is 0.05 to 0.07 from 0.50; less 0.39 it is 0.09 at 0.48 and nowhere else.

    Less 0.43 it would be inside at every reading, and nobody sells that.
    """
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nD-45,0.45,1\n")
    (tmp_path / "cat.csv").write_text("part,thickness_mm,price,supplier\nN-39,0.39,1,north\n")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["cat.csv"]\nstacks = { most_pieces = 1 }\n'
        '[window]\nmin = 0.05\nmax = 0.09\nsource = "s"\n[[supplier]]\nname = "north"\npostage = 4\n'
        '[[place]]\nname = "left"\n[[place]]\nname = "right"\n[[gap]]\nname = "total"\nvalue = "0.50 mm ± 0.02 mm"\n'
        'final_reading = "± 0 mm"\neffects = { left = -1, right = -1 }\n'
    )
    order = make_order([shimopt.load_job(tmp_path)])
    assert not order.lines
    (table,) = order.tables
    assert [box.ranges for box in table.boxes] == [((500 * UM, 520 * UM),)]
    assert table.open == (((480 * UM, 500 * UM),),)


def test_a_single_choice_of_many_pieces_is_one(tmp_path: Path) -> None:
    """Equal packs: two of 0.07 in each serve 0.20 to 0.21 less 0.13 to 0.15 and 0.21 to 0.23; two lie there, two are
    sold. No other stack of these serves both.
    """
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,tolerance_mm,on_hand\nS0,0.03,0.005,2\nS1,0.07,0.005,2\n")
    rows = "S0,0.03,0.005,3.5,ash\nS1,0.07,0.005,3.6,ash\nS2,0.16,0,1.6,ash\n"
    (tmp_path / "cat.csv").write_text(f"part,thickness_mm,tolerance_mm,price,supplier\n{rows}")
    gaps = "".join(
        f'[[gap]]\nname = "{name}"\nvalue = "{read}"\nfinal_reading = "± 0 mm"\n'
        f'window = {{ min = {low}, max = {high}, source = "s" }}\n'
        for name, read, low, high in (
            ("one", "0.20 mm ± 0.01 mm", 0.05, 0.11),
            ("two", "0.23 mm ± 0.02 mm", 0.02, 0.10),
        )
    )
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["cat.csv"]\nequal = ["one", "two"]\n'
        f'stacks = {{ most_pieces = 2 }}\n[[supplier]]\nname = "ash"\npostage = 0\n{gaps}'
    )
    order = make_order([shimopt.load_job(tmp_path)])
    assert [(order.stock[line.part].part.name, line.pieces) for line in order.lines] == [("S1", 2)]
    assert share_open(order.tables[0]) == Fraction(3, 4)


def test_a_limit_serves_as_many_readings_as_the_money_can(tmp_path: Path) -> None:
    """All that 7.00 buys tried out, pair by pair of blades: north asks 4.00 for postage, south 6.00."""
    folder = pair(tmp_path, PAIR + "[stacks]\nmost_pieces = 2\n")
    job = shimopt.load_job(folder)
    order = make_order([job], spend=Decimal(7))
    (table,) = order.tables
    again = {demand.gap.name: (demand.below, demand.above) for demand in table.demands}
    cells, most = list(product(*(demand.pairs for demand in table.demands))), 0
    sold = [line.offers[0] for line in job.stock]
    of = {name: [i for i, offer in enumerate(sold) if offer.supplier == name] for name in ("north", "south")}
    for name, postage in (("north", 4), ("south", 6)):
        for packs in (some for n in range(4) for some in combinations_with_replacement(of[name], n)):
            if postage + sum((sold[i].price or 0) for i in packs) <= 7:
                most = max(most, len(served_by_hand(boxes_by_hand(job, Counter(packs), again), cells)))
    assert 0 < most < len(cells)
    assert share_open(table) == 1 - Fraction(most, len(cells))


@settings(max_examples=8, deadline=None)
@given(
    st.lists(st.integers(3, 44), min_size=5, max_size=5, unique=True),
    st.tuples(st.integers(30, 70), st.integers(8, 28), st.integers(12, 30)),
    st.lists(st.sampled_from([200, 240, 260]), min_size=3, max_size=3),
)
def test_a_row_fits_what_a_plan_takes_in_its_middle_where_that_serves_the_whole_row(
    sizes: list[int], read: tuple[int, int, int], widest: list[int]
) -> None:
    """From the drawer, with a third gap beside them in a balance, as the plan of today's readings leaves it.

    What the plan takes is as good at every level as the row, or serves only a part of it.
    """
    stock = tuple(StockLine(Part(f"D-{n}", Bracket.between(n * 10 * UM, n * 10 * UM)), 2) for n in sorted(sizes))
    one, half = Fraction(-1), Fraction(1, 2)
    known = Fraction(2 * UM)
    kinds = [("sum", {"a": one, "b": one}, 90), ("difference", {"a": half, "b": -half}, 40), ("own", {"c": one}, 0)]
    sum_, difference, own = (
        Gap(
            name,
            Reading(Bracket.between(at * 10 * UM, (at * 10 + wide) * UM), "value"),
            Window(100 * UM, most * UM, "t"),
            tuple(effects.items()),
            again=(known, known),
        )
        for (name, effects, wide), at, most in zip(kinds, read, widest, strict=True)
    )
    places = tuple(Place(name, None, 2, installed=()) for name in "abc")
    job = Job("t", "mm", (sum_, difference, own), places, (Balance("even", ("sum", "own"), None, {}),), stock)
    order = make_order([job])
    today = chosen_stacks(job, watch=Watch()).outcome.gaps["own"].after
    own = replace(own, effects=(), reading=replace(own.reading, bracket=today))
    aside = sum((Counter(card.most_of) for card in order.cards), Counter[int]())
    left = tuple(replace(line, on_hand=line.on_hand - aside[i]) for i, line in enumerate(stock))
    for table in order.tables:
        cluster = next(one for one in job.clusters if not one.alone)
        asked = Together.of(job, cluster, table.demands, left)
        for box in table.boxes:
            gaps = tuple(
                replace(gap, reading=replace(gap.reading, bracket=Bracket(x - d.below, x, x + d.above)))
                for gap, d, x in zip(asked.job.gaps, table.demands, ((a + b) / 2 for a, b in box.ranges), strict=True)
            )
            there = replace(job, gaps=(*gaps, own), stock=left, places=places[:2])
            plan = chosen_stacks(there, watch=Watch())
            served = asked.served_by({name: plan.stacks.get(name, ()) for name in "ab"})
            if all(a <= low and high <= b for (low, high), (a, b) in zip(box.ranges, served, strict=True)):
                assert outcome_of(there, box.stacks, dict.fromkeys("ab", frozenset())).levels == plan.outcome.levels
