"""What the money of an order does: smallest orders are filled, gaps beyond help don't count, ways to a chance."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache
from itertools import product
from operator import itemgetter
from pathlib import Path

from hypothesis import given, settings

from shimopt.job import Job
from shimopt.ordering.demand import scale_of
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.worth import chance_served
from tests.command import Run
from tests.order_brute_force import best_levels, levels_of, purchases, there_now, worth
from tests.order_strategies import order_jobs

CATALOGUE = """part,thickness_mm,price,currency,supplier,lead_days
S-10,0.10,1.20,EUR,Ash,3
S-20,0.20,1.30,EUR,Ash,3
S-30,0.30,1.40,EUR,Ash,3
S-40,0.40,1.50,EUR,Ash,3
S-90,0.90,0.10,EUR,Ash,3
"""
JOB = """unit = "mm"
drawer = "drawer.csv"
catalogues = ["catalogue.csv"]
[window]
min = 0.10
max = 0.25
source = "s"
[[supplier]]
name = "Ash"
postage = 3
smallest_order = 4
currency = "EUR"
"""
ARM = '[[gap]]\nname = "arm"\nfeeler = { go = 0.45, no_go = 0.50 }\n'


def written(folder: Path, gaps: str) -> Path:
    folder.mkdir()
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\n")
    (folder / "catalogue.csv").write_text(CATALOGUE)
    (folder / "job.toml").write_text(JOB + gaps)
    return folder


def test_what_a_smallest_order_leaves_over_is_filled_with_what_may_serve(tmp_path: Path, run: Run) -> None:
    """arm reads 0.45 to 0.50: S-30 leaves 0.15 to 0.20 and costs 1.40, of 4.00 that are charged anyway.

    2.60 are left. S-90 would fit in 26 times and serves nothing. The final reading's middle is 0.45 to 0.50, off by up
    to 0.025: 0.275 to 0.325 serve all of it, which S-30 does, 0.225 to 0.275 the lower end alone, 0.325 to 0.375 the
    upper. No size makes another such stack with S-30, or by itself; a second S-30 for 1.40 is a spare of the row's. Of
    the 1.20 left a third costs 0.20 more.
    """
    folder = written(tmp_path / "arm", ARM)
    found = json.loads(run("order", folder, "--json")[1])
    assert [(line["part"], line["packs"]) for line in found["lines"]] == [("S-30", 1)]
    assert (found["cost"], found["suppliers"][0]["top_up"]) == (7.0, 2.6)
    filled = {line["part"]: line["packs"] for line in found["top_up"]}
    assert filled == {"S-30": 2}
    assert all(line["may_serve"] == ["arm"] for line in found["top_up"])
    # what the order costs and counts on is as without
    bare = json.loads(run("order", folder, "--no-top-up", "--json")[1])
    assert bare["top_up"] == []
    for key in ("lines", "cost", "options", "ways", "holes"):
        assert bare[key] == found[key]
    assert (found["cost_filled"], found["suppliers"][0]["charged"]) == (7.2, 7.2)
    assert (bare["cost_filled"], bare["suppliers"][0]["lost"]) == (7, 2.6)
    assert [level["value"] for level in bare["levels"]] == [level["value"] for level in found["levels"]]


def test_what_is_sent_to_the_supplier_names_what_fills_and_charges_the_rest(tmp_path: Path, run: Run) -> None:
    folder, text, table = written(tmp_path / "arm", ARM), tmp_path / "order.txt", tmp_path / "list.csv"
    run("order", folder, "--quiet", "-o", text, "-o", table)
    found = json.loads(run("order", folder, "--json")[1])
    letter = text.read_text(encoding="utf-8")
    spent = Fraction(str(sum(Fraction(str(line["cost"])) for line in found["top_up"])))
    assert "  S-30: 0.30 mm thick\n      3 pieces at 1.40 EUR each " in letter
    sums = [line.split() for line in letter.splitlines()]
    assert ["Goods", f"{float(Fraction('1.4') + spent):.2f}", "EUR"] in sums
    assert ["Postage", "3.00", "EUR"] in sums
    assert ["Total", "7.20", "EUR"] in sums
    rows = [row.split(",") for row in table.read_text(encoding="utf-8").splitlines()[1:]]
    # the list comes to what is charged
    assert [Fraction(row[5]) for row in rows] == [Fraction("4.2"), 3, Fraction("7.2")]


def test_a_gap_that_no_offer_serves_leaves_the_probability_and_is_named(tmp_path: Path, run: Run) -> None:
    """3.00 read: 2.75 to 2.90 is needed; three S-90 make 2.70, and four pieces do not go in."""
    far = '[[gap]]\nname = "far"\nvalue = "3.00 mm"\n'
    folder = written(tmp_path / "far", ARM + far)
    code, out, _ = run("order", folder)
    words = " ".join(out.split())
    assert code == 1
    assert "Without far: no order answers it." in words
    assert "far: not covered at a final reading of 3.00 mm (chance 100 %)" in words
    options = {option["name"]: option for option in json.loads(run("order", folder, "--json")[1])["options"]}
    assert (options["sure"]["chance"], options["sure"]["without"]) == (1.0, ["far"])


def as_bought(order: Order, packs: tuple[int, ...]) -> Fraction:
    """What some packs cost by plain sums."""
    goods: dict[str, Fraction] = {}
    for buy, count in zip(order.market.buys, packs, strict=True):
        if count:
            name = order.market.suppliers[buy.supplier].name
            goods[name] = goods.get(name, Fraction(0)) + Fraction(buy.offer.price or 0) * count
    terms = {supplier.name: supplier for supplier in order.market.suppliers}
    return sum(
        (max(amount, Fraction(terms[n].smallest_order)) + Fraction(terms[n].postage) for n, amount in goods.items()),
        Fraction(0),
    )


@settings(max_examples=40, deadline=None)
@given(order_jobs(most_gaps=2, most_lines=3, unpriced=False, bundles=True))
def test_the_ways_to_a_chance_are_the_cheapest_of_all_purchases(job: Job) -> None:
    """Every purchase on offer is tried, with every way to give its pieces and the drawer's to the gaps."""
    order = make_order([job])
    scale = scale_of(order.demands, order.stock)
    hopeless = {n for n, demand in enumerate(order.demands) if not ever_served(order, n)}
    most = sum(place.most_pieces for place in job.places)

    @cache
    def chance(there: tuple[int, ...]) -> Fraction:
        best = Fraction(0)
        for first in product(*(range(count + 1) for count in there)):
            own = dict(enumerate(first)), {line: count - first[line] for line, count in enumerate(there)}
            told = Fraction(1)
            for n, demand in enumerate(order.demands):
                told *= 1 if n in hopeless else Fraction(chance_served(demand, own[n], order.stock, scale))
            best = max(best, told)
        return best

    costs: dict[tuple[int, ...], Fraction] = {}
    for bought in purchases(job):
        there = there_now(job)
        for (line, offer), packs in bought:
            there[line] += packs * job.stock[line].offers[offer].pack
        held = tuple(min(most, count) for count in there)
        cost = worth(job, bought)[1]
        costs[held] = min(cost, costs.get(held, cost))
    for way in order.ways:
        enough = next((c for held, c in sorted(costs.items(), key=itemgetter(1)) if chance(held) >= way.at_least), None)
        assert (way.cost if way.packs is not None else None) == enough
        assert way.proven
        if way.packs is not None:
            assert way.at_least <= way.chance
            assert way.cost == as_bought(order, way.packs)


def ever_served(order: Order, number: int) -> bool:
    """Whether a gap's card or what it could have serves any reading."""
    return not any(number in option.without for option in order.options)


@settings(max_examples=40, deadline=None)
@given(order_jobs(unpriced=False))
def test_filling_a_smallest_order_changes_nothing_of_the_order(job: Job) -> None:
    order = make_order([job])
    assert levels_of(order) == best_levels(job)
    for bill in order.bills:
        # what it costs more is no more than what would be lost
        assert bill.filled <= 2 * bill.top_up
    for more in order.top_up:
        assert more.gaps
