"""Orders for places that act together and packs that must match: a box of readings a row, all of them served."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

import shimopt
from shimopt.job import Gap, Job, Place, Supplier, Window
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Box
from shimopt.parts import Offer, Part, StockLine
from shimopt.readings import Reading
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


@settings(max_examples=60, deadline=None)
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
        assert rows
        assert all(every_corner_inside(order, box, readings) for box in rows)


@settings(max_examples=30, deadline=None)
@given(coupled())
def test_what_is_bought_for_them_is_not_called_cheapest(job: Job) -> None:
    order = make_order([job])
    cost = next(level for level in order.levels if level.name == "cost")
    if order.lines:
        assert not cost.proven
        assert order.cost == cost.value


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
