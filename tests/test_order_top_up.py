"""What fills a smallest order: by hand, and against every set of packs that the money left would buy."""

from __future__ import annotations

import json
import re
from collections import Counter
from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.job import Supplier
from shimopt.ordering.coverage import Candidate
from shimopt.ordering.market import Buy, Market, bills_of
from shimopt.ordering.pieces_more import PiecesMore, Worth
from shimopt.ordering.purchase import Purchase
from shimopt.ordering.top_up import topped_up
from shimopt.parts import Offer
from tests.command import Run
from tests.test_order_mail import PARTS, ROLL, mail, written

# F-10 at 0.70: two of them and an F-20 are 2.70
CHEAP = PARTS.replace("F-10,0.10,60.2,1.20,10 at 0.80,", "F-10,0.10,60.2,0.70,,")


def test_the_piece_that_the_cards_call_short_is_taken_first_and_another_with_what_is_left(
    tmp_path: Path, run: Run
) -> None:
    """7.10 of 10.00 are needed: F-20, 2 x F-25, 2 x F-30 (worked out beside the job). 2.90 are left.

    Best estimates: today's error (0.025 either way) and the shift (0.05) make drive side's density rise from 0.35 to
    0.40, stay at 10 and fall from 0.45 to 0.50; tending side's is 0.05 below. F-20 is as good as F-25 at 0.355
    (0.02 from a limit), so both sides ask for F-20 below it: tending side with 0.25 + 0.05, drive side with 0.0025. One
    is there, so a second is taken first, for 1.30. Of the 1.60 left: an F-30 (1.50) is drive side's spare from 0.405
    on, 0.45 + 0.1875 + 0.0625 = 0.70; an F-25 (1.40) for tending side, 0.4975; one F-10 serves 0.40 (drive side from
    0.435 on, + F-25; tending side from 0.385 on, + F-20), two (1.40) 0.40 + 0.50 = 0.90 of one side: as 0.20 they serve
    drive side up to 0.425 with P-05, tending side up to 0.375. So two F-10 at 0.70; of one at 1.20 and F-30, F-30.
    """
    folder = written(tmp_path / "roll", ROLL, CHEAP)
    bare = json.loads(run("order", folder, "--no-top-up", "--json")[1])
    assert [(line["part"], line["packs"]) for line in bare["lines"]] == [("F-20", 1), ("F-25", 2), ("F-30", 2)]
    # tending side has it, drive side would have it
    assert ["F-20" in [part["part"] for part in card["shared"]] for card in bare["cards"]] == [True, False]
    found = json.loads(run("order", folder, "--json")[1])
    assert sorted((line["part"], line["packs"]) for line in found["top_up"]) == [("F-10", 2), ("F-20", 1)]
    # nothing is paid for it, and F-20 is short no more
    assert (found["cost"], found["suppliers"][0]["total"]) == (14.0, 14.0)
    assert all("F-20" not in [part["part"] for part in card["shared"]] for card in found["cards"])
    dear = json.loads(run("order", written(tmp_path / "dear", ROLL, PARTS), "--json")[1])
    assert sorted((line["part"], line["packs"]) for line in dear["top_up"]) == [("F-20", 1), ("F-30", 1)]


def test_nothing_is_left_that_would_buy_a_piece_of_what_a_row_takes(tmp_path: Path, run: Run) -> None:
    """One K-20 of 1.00 is needed; of 9.50 another eight are had, far more than twice, and 0.50 is left.

    A ninth costs 0.50 more than the smallest order, no more than what is lost without it; of 9.40 it is 0.60 more.
    """
    (tmp_path / "cat.csv").write_text(
        "part,thickness_mm,tolerance_mm,price,supplier\nK-20,0.20,0.005,1.00,north\nK-70,0.70,0.005,0.10,north\n"
    )
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ncatalogues = ["cat.csv"]\nwindow = { min = 0.03, max = 0.17, source = "drawing 4" }\n'
        '[[gap]]\nname = "play"\nfeeler = { go = 0.30, no_go = 0.35 }\n'
        '[[supplier]]\nname = "north"\npostage = 1\nsmallest_order = 9.50\n'
    )
    found = json.loads(run("order", tmp_path, "--json")[1])
    assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("K-20", 1)]
    assert [(line["part"], line["pieces"]) for line in found["top_up"]] == [("K-20", 9)]
    supplier = found["suppliers"][0]
    assert (found["cost"], found["cost_filled"], supplier["lost"], supplier["beyond"]) == (10.5, 11, 0, 0.5)
    _, out, _ = run("order", tmp_path, "-o", tmp_path / "o.txt")
    assert " ".join(out.split()).startswith(
        "Order 1 piece from 1 supplier for 11.00, and 9 that fill its smallest order"
    )
    sent = " ".join((tmp_path / "o.txt").read_text(encoding="utf-8").split())
    assert "Goods 10.00 Postage 1.00 Total 11.00" in sent
    assert "smallest order" not in sent
    # what may be spent is kept to
    assert json.loads(run("order", tmp_path, "--spend", "10.50", "--json")[1])["top_up"][0]["pieces"] == 8
    job = (tmp_path / "job.toml").read_text(encoding="utf-8").replace("9.50", "9.40")
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    _, out, _ = run("order", tmp_path, "-o", tmp_path / "o.txt")
    words, sent = (" ".join(t.split()) for t in (out, (tmp_path / "o.txt").read_text(encoding="utf-8")))
    asked = "0.40 of it is left. The letter asks whether 9.00 is accepted, and has 1 x K-20 added where it is not"
    assert f"{asked}: 0.60 more than the cost" in words
    # the cost counts the smallest order, the letter what is asked for
    assert words.startswith("Order 1 piece from 1 supplier for 10.40")
    assert "Goods 9.00 Postage 1.00 Total 10.00" in sent
    assert "Your smallest order is 9.40, and these goods come to 9.00: do you send them so?" in sent
    assert "If not, please add 1 more piece of K-20: goods 10.00, 11.00 in all." in sent
    # what may not be spent is not asked for
    run("order", tmp_path, "--spend", "10.90", "--quiet", "-o", tmp_path / "o.txt")
    sent = " ".join((tmp_path / "o.txt").read_text(encoding="utf-8").split())
    assert "do you send them so? If not, please say what you charge for them." in sent


def test_what_no_reading_asks_for_is_a_spare_and_of_every_size_alike_and_none_is_asked_for_where_it_is_refused(
    tmp_path: Path, run: Run
) -> None:
    """0.31 ± 0.02 with 0.02 to 0.06 of preload wanted takes one piece: of four sizes at 2.00 three are enough, 6.00 of
    30.00. What fills it are twelve: three of each, and a P-37 is the only one that a reading can ask for.
    """
    gap = 'name = "pinion"\nvalue = "0.31 mm ± 0.02 mm"\nfinal_reading = "± 0.005 mm"\n'
    terms = '[[supplier]]\nname = "north"\npostage = 3\nsmallest_order = 30\n'
    head = 'title = "pinion"\nunit = "mm"\ndrawer = "d.csv"\ncatalogues = ["c.csv"]\n[stacks]\nmost_pieces = 1\n'
    window = 'window = { preload = [0.02, 0.06], source = "s" }\n'
    (tmp_path / "job.toml").write_text(f"{head}{terms}[[gap]]\n{gap}{window}", encoding="utf-8")
    (tmp_path / "d.csv").write_text("part,thickness_mm,on_hand\n", encoding="utf-8")
    rows = "".join(f"P-{size},0.{size},0.002,2,north,3\n" for size in (33, 35, 36, 37))
    columns = "part,thickness_mm,tolerance_mm,price,supplier,lead_days\n"
    (tmp_path / "c.csv").write_text(f"{columns}{rows}", encoding="utf-8")
    out = " ".join(run("order", tmp_path)[1].split())
    for size in (33, 35, 36):
        assert f"3 x P-{size}: 6.00, spare for pinion" in out
    assert "3 x P-37: 6.00, 1 may serve pinion and 2 spare" in out
    run("order", tmp_path, "--no-top-up", "--quiet", "-o", tmp_path / "o.txt")
    sent = " ".join((tmp_path / "o.txt").read_text(encoding="utf-8").split())
    assert "do you send them so? If not, please say what you charge for them." in sent


def test_card_and_answer_say_what_comes_beyond_what_is_needed(tmp_path: Path, run: Run) -> None:
    _, out, _ = run("order", written(tmp_path / "roll", ROLL, CHEAP))
    words = " ".join(out.split())
    assert words.startswith(
        "Order 5 pieces from 1 supplier for 14.00 GBP, and 3 that fill its smallest order, here in 5"
    )
    assert "0.475 to 0.500 fit F-25 + F-10" in words
    # both cards fit an F-20, and one of them is bought as needed
    assert "F-10 and F-20 come with what fills the smallest order (`--no-top-up` makes a card without them)" in words
    assert words.count("F-20 comes with what fills the smallest order (`--no-top-up` makes a card without it)") == 1
    assert "F-20: 1.30 GBP, may serve drive side and tending side" in words
    assert "it serves too" not in words
    # nothing of the drawer's is told to serve what a piece of the parcel serves
    assert "the drawer serves it" not in words
    page = tmp_path / "card.html"
    run("order", tmp_path / "roll", "--quiet", "--card", page)
    told = " ".join(page.read_text(encoding="utf-8").split())
    assert (come := re.search(r"The rows count on this order having come: (.*?)\. Measure every piece first", told))
    # whoever has the parcel and the card alone holds each piece against its label
    marked = {"F-10": "0.10", "F-20": "0.20", "F-25": "0.25", "F-30": "0.30"}
    assert come[1].split("; ") == [f"2 x {name}: {size} mm thick, bore 60.2 mm" for name, size in marked.items()]


def test_a_reading_of_0_55_is_fitted_as_the_plan_fits_it_with_the_parcel(tmp_path: Path, run: Run) -> None:
    """0.50 to 0.55 is read at last, no shift is to come: 0.40 leaves 0.10 to 0.15, the middle of 0.06 to 0.20.

    Beyond the range it is: best estimates 0.35 to 0.50. No F-30 is bought; F-20 + F-10 would leave 0.20 to 0.25.
    """
    blades = ROLL.replace('value = "0.425 mm ± 0.025 mm"', "feeler = { go = 0.40, no_go = 0.45 }")
    folder = written(tmp_path / "roll", blades, CHEAP)
    _, out, _ = run("order", folder)
    assert "0.50 goes, 0.55 does not  fit 2 x F-20, then 0.10 to 0.15" in out
    asked = Counter[str]()
    found = json.loads(run("order", folder, "--json")[1])
    for line in (*found["lines"], *found["top_up"]):
        asked[line["part"]] += line["pieces"]
    read = (
        (folder / "job.toml").read_text(encoding="utf-8").replace("go = 0.40, no_go = 0.45", "go = 0.50, no_go = 0.55")
    )
    (folder / "job.toml").write_text(read.replace("shift = 0.05\n", ""), encoding="utf-8")
    parcel = "".join(f"{name},0.{name[2:]},{count},\n" for name, count in asked.items())
    drawer = (folder / "drawer.csv").read_text(encoding="utf-8") + parcel
    (folder / "drawer.csv").write_text(drawer, encoding="utf-8")
    places = {place["name"]: place for place in json.loads(run("plan", folder, "--json")[1])["places"]}
    assert [(piece["part"], piece["pieces"]) for piece in places["drive side"]["stack"]] == [("F-20", 2)]


@pytest.mark.parametrize("other", ["F-10,0.10,60.2,0.70,,1,GBP,Alder Shims,6", "F-10,0.10,60.2,,,1,GBP,Alder Shims,5"])
def test_what_comes_later_than_the_order_or_costs_nothing_known_does_not_fill_it(
    tmp_path: Path, run: Run, other: str
) -> None:
    """Two F-10 would be worth most (above); without them an F-30 is."""
    without = CHEAP.replace("F-10,0.10,60.2,0.70,,1,GBP,Alder Shims,5", other)
    assert without != CHEAP
    found = json.loads(run("order", written(tmp_path / "late", ROLL, without), "--json")[1])
    assert [line["part"] for line in found["top_up"]] == ["F-20", "F-30"]
    assert found["arrives_in_days"] == 5


def test_with_what_is_needed_a_lower_price_is_reached(tmp_path: Path, run: Run) -> None:
    """Two F-20 are 1.00 each: one is needed, at 1.30, and a second adds 0.70 to the goods.

    Of the 2.90 then 2.20 are left; F-30 (1.50) would leave 0.70 that buys nothing. Two F-10, worth more (above), are
    2.40: 0.20 more than is left.
    """
    bundle = PARTS.replace("F-20,0.20,60.2,1.30,10 at 0.90,", "F-20,0.20,60.2,1.30,2 at 1.00,")
    found = json.loads(run("order", written(tmp_path / "bundle", ROLL, bundle), "--json")[1])
    needed = {line["part"]: (line["packs"], line["cost"]) for line in found["lines"]}
    assert needed["F-20"] == (1, 1.3)
    assert {line["part"]: (line["packs"], line["cost"]) for line in found["top_up"]} == {
        "F-20": (1, 0.7),
        "F-10": (2, 2.4),
    }
    assert (found["cost"], found["suppliers"][0]["top_up"]) == (14.0, 2.9)
    assert (found["cost_filled"], found["suppliers"][0]["charged"]) == (14.2, 14.2)
    text = mail(run, tmp_path / "bundle").split("\n")
    assert "      2 pieces at 1.00 GBP each (your price from 2 on)          2.00 GBP" in text
    # 2.00 + two F-10, 2.40, + two F-25, 2.80, + two F-30, 3.00
    assert "      Goods                                                    10.20 GBP" in text


def test_more_pieces_are_never_left_for_fewer_that_cost_more(tmp_path: Path, run: Run) -> None:
    """A second F-20 adds 1.30; four more, all at 0.50, add 5 x 0.50 - 1.30 = 1.20, and 1.70 is left for F-30."""
    bundle = PARTS.replace("F-20,0.20,60.2,1.30,10 at 0.90,", "F-20,0.20,60.2,1.30,5 at 0.50,")
    found = json.loads(run("order", written(tmp_path / "bundle", ROLL, bundle), "--json")[1])
    assert {line["part"]: (line["packs"], line["cost"]) for line in found["top_up"]} == {
        "F-20": (4, 1.2),
        "F-30": (1, 1.5),
    }


class Told(PiecesMore):
    """Worths as they are told, not worked out."""

    def __init__(self, worths: dict[int, list[Worth]]) -> None:
        self.told = worths

    def worths(self, line: int, had: int) -> list[Worth]:
        assert not had
        return self.told[line]

    def serves(self, *_: int) -> dict[int, Candidate]:
        return {}

    def most_useful(self, line: int) -> int:
        return len(self.told[line])


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_no_other_packs_for_the_money_left_are_worth_more(data: st.DataObject) -> None:
    """Every number of packs of every offer is tried; where some of it is lost, more than it is spent up to that."""
    buys, worths = list[Buy](), dict[int, list[Worth]]()
    for line in range(data.draw(st.integers(1, 2))):
        steps = data.draw(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=3))
        told = [(0, 0)]
        for one in steps:
            told.append((told[-1][0] + one[0], told[-1][1] + one[1]))
        worths[line] = told[: told.index(told[-1]) + 1]
        for _ in range(data.draw(st.integers(1, 2))):
            pack, price = data.draw(st.sampled_from([1, 1, 2])), data.draw(st.integers(1, 8))
            first, offer = len(buys), Offer(Decimal(price), pack, "", "ash", 3)
            bundle = data.draw(st.booleans()) and price > 1
            buys.append(Buy(line, 0, offer, first, 1, 1 if bundle else None))
            if bundle:
                buys.append(Buy(line, 0, Offer(Decimal(price - 1), pack, "", "ash", 3), first, 2, None))
    # what is needed: one thing at a price that no other offer shares
    buys.append(Buy(9, 0, Offer(Decimal(2), 1, "", "ash", 3), len(buys)))
    worths[9] = [(0, 0)]
    smallest = data.draw(st.integers(3, 16))
    market = Market(tuple(buys), (Supplier("ash", Decimal(1), Decimal(smallest)),), "")
    packs = tuple(int(n == len(buys) - 1) for n in range(len(buys)))
    left = bills_of(market, packs)[0][1]

    def valued(count: dict[int, int]) -> tuple[int, int, int]:
        pieces: dict[int, int] = {}
        for n, some in count.items():
            pieces[buys[n].line] = pieces.get(buys[n].line, 0) + some * buys[n].offer.pack
        each = [worths[line][min(some, len(worths[line]) - 1)] for line, some in pieces.items()]
        return sum(one[0] for one in each), sum(one[1] for one in each), -sum(pieces.values())

    def may_be(count: dict[int, int]) -> bool:
        firsts = [buys[n].first for n in count]
        cost = sum(some * int(buys[n].offer.price or 0) for n, some in count.items())
        return (
            len(set(firsts)) == len(firsts) and all(buys[n].takes(some) for n, some in count.items()) and cost <= most
        )

    def undercut(count: dict[int, int], may: dict[int, list[tuple[int, int]]]) -> bool:
        """Whether as many pieces of a line or more are had for less."""
        for line, ways in may.items():
            mine = {n: some for n, some in count.items() if buys[n].line == line}
            if mine and any(pieces >= pieces_of(mine) and cost < cost_of(mine) for pieces, cost in ways):
                return True
        return False

    def ways_of(line: int) -> list[tuple[int, int]]:
        """Pieces and cost of all that may be bought of a line; what costs more than there is may not."""
        ranges = [range(min(most // int(b.offer.price or 1), 8) + 1 if b.line == line else 1) for b in buys]
        tried = ({n: some for n, some in enumerate(counts) if some} for counts in product(*ranges))
        return [(pieces_of(count), cost_of(count)) for count in tried if may_be(count)]

    def pieces_of(count: dict[int, int]) -> int:
        return sum(some * buys[n].offer.pack for n, some in count.items())

    def cost_of(count: dict[int, int]) -> int:
        return sum(some * int(buys[n].offer.price or 0) for n, some in count.items())

    def best() -> tuple[tuple[int, int, int], set[int]]:
        """Of all that may be the best value, and what it can cost."""
        every = product(*(range(min(most // int(buy.offer.price or 1), 8) + 1) for buy in buys[:-1]))
        tried = ({n: some for n, some in enumerate(counts) if some} for counts in every)
        may = {line: ways_of(line) for line in worths}
        told = [(valued(count), cost_of(count)) for count in tried if may_be(count) and not undercut(count, may)]
        value = max(value for value, _ in told)
        return value, {cost for other, cost in told if other == value}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shimopt.ordering.top_up.PiecesMore", lambda *_: Told(worths))
        found = topped_up(market, Purchase(packs, {}), [], {}, None)  # type: ignore[arg-type] # no length is looked at
    taken = {fill.buy: fill.packs for fill in found}
    spent, most = cost_of(taken), left
    value, costs = best()
    if spent > left:
        assert spent - left <= left - min(costs)
        most = spent
        value, costs = best()
        assert spent in costs
    assert may_be(taken)
    assert valued(taken) == value


def test_what_no_row_takes_once_all_is_there_fills_nothing(tmp_path: Path, run: Run) -> None:
    """Two more L-42 let every row do without an L-02; five of these would be 4.00 for nothing: the letter asks."""
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ncurrency = "GBP"\ndrawer = "drawer.csv"\ncatalogues = ["market.csv"]\n'
        'stacks = { most_pieces = 2 }\nsupplier = [{ name = "Larch", postage = 3.60, smallest_order = 8 }]\n'
        '[[place]]\nname = "near"\n[[place]]\nname = "far"\n'
        '[[gap]]\nname = "worm"\nvalue = "0.80 mm ± 0.02 mm"\nshift = "± 0.01 mm"\nfinal_reading = "± 0.005 mm"\n'
        'window = { preload = [0.01, 0.07], source = "book" }\neffects = { near = -1, far = -1 }\n'
        '[[gap]]\nname = "wheel"\nvalue = "0.40 mm ± 0.03 mm"\nfinal_reading = "± 0.01 mm"\n'
        'window = { min = 0.10, max = 0.26, source = "book" }\neffects = { near = -0.5 }\n',
        encoding="utf-8",
    )
    (tmp_path / "drawer.csv").write_text(
        "part,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm,on_hand\n"
        "H-40,0.40,0.01,0.403,0.002,1\nH-02,0.02,0.001,,,1\n"
    )
    (tmp_path / "market.csv").write_text(
        "part,thickness_mm,tolerance_mm,price,price_from,supplier\n"
        "L-40,0.40,0.003,1.40,3 at 1.10,Larch\nL-42,0.42,0.003,1.40,3 at 1.10,Larch\nL-02,0.02,0.001,0.80,,Larch\n"
    )
    found = json.loads(run("order", tmp_path, "--json")[1])
    taken = {piece["part"] for row in found["tables"][0]["rows"] for stack in row["stacks"] for piece in stack["stack"]}
    assert found["top_up"]
    assert {line["part"] for line in found["top_up"]} <= taken
    assert all(line["may_serve"] for line in found["top_up"])
    assert found["suppliers"][0]["lost"] > 0
