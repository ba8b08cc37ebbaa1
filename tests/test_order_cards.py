"""What a card's rows say: a blade that does not go, pairs beyond today's reading, what the plan says instead."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shimopt
from shimopt.job import Gap, Job, load_job
from shimopt.lengths import Bracket
from shimopt.ordering.order import make_order
from shimopt.readings import Reading
from shimopt.words.card_words import card_rows
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.job_files import write_job
from tests.order_strategies import order_jobs

STEP = 5_000


def job(folder: Path, drawer: str, rest: str, unit: str = "thou") -> Path:
    folder.mkdir()
    (folder / "drawer.csv").write_text(drawer)
    (folder / "job.toml").write_text(f'unit = "{unit}"\ndrawer = "drawer.csv"\n{rest}')
    return folder


def ordered(run: Run, folder: Path) -> tuple[int, str]:
    code, out, _ = run("order", folder)
    return code, " ".join(out.split())


BLIND = "part,thickness_thou,on_hand,at\nB-20,20,0,m\nB-05,5,1,m\nB-03,3,2,m\nB-02,2,2,m\n"


def test_where_no_blade_goes_the_card_has_one_row_and_it_is_what_the_plan_fits(tmp_path: Path, run: Run) -> None:
    """Under the cover 0 to 1 with 25 in, preload 2 to 3 wanted.

    The gap is -1 to 0; 2 thou less under the cover make of it -3 to -2: B-03 in place of B-05.
    """
    rest = '[window]\npreload = [2, 3]\nsource = "s"\n[[place]]\nname = "cap"\ninstalled = ["B-20", "B-05"]\n'
    rest += '[[gap]]\nname = "cap"\ncover_gap = { no_go = 1, shims_in = true }\n'
    code, words = ordered(run, job(tmp_path / "cap", BLIND, rest))
    assert "1 does not go take B-05 out, leave B-20 in, add B-03" in words
    assert "not covered" not in words.split("Proof")[0]
    assert code == 0


def test_what_may_be_tight_already_has_no_card(tmp_path: Path, run: Run) -> None:
    """Preload is wanted and no blade goes: any preload reads so, and no pack is known to be right."""
    rest = '[window]\npreload = [2, 3]\nsource = "s"\n[[place]]\nname = "hub"\ninstalled = ["B-20"]\n'
    rest += '[[gap]]\nname = "hub"\nfeeler = { no_go = 1 }\n'
    folder = job(tmp_path / "hub", BLIND, rest)
    code, words = ordered(run, folder)
    assert code == 1
    assert "But first something has to be settled at hub: see below." in words
    assert "hub: no blade goes, it may be tight already: turn it (running torque)" in words
    found = json.loads(run("order", folder, "--json")[1])
    assert (found["cards"], [left["why"] for left in found["unanswered"]]) == ([], ["tight"])


def test_what_may_be_tight_already_has_no_card_beside_others_either(tmp_path: Path, run: Run) -> None:
    """One pack sets two gaps, preload is wanted in both and no blade goes in either."""
    rest = '[window]\npreload = [2, 3]\nsource = "s"\n[[place]]\nname = "hub"\ninstalled = ["B-20"]\n'
    for name in ("near", "far"):
        rest += f'[[gap]]\nname = "{name}"\nfeeler = {{ no_go = 1 }}\neffects = {{ hub = -1 }}\n'
    code, out, _ = run("order", job(tmp_path / "hub", BLIND, rest), "--json")
    found = json.loads(out)
    assert (code, found["cards"], [left["why"] for left in found["unanswered"]]) == (1, [], ["tight", "tight"])


def test_a_pair_that_contradicts_todays_reading_says_read_again(tmp_path: Path, run: Run) -> None:
    """0.05 goes and 0.10 does not, with 0.30 in; 0.15 to 0.25 wanted. S-10 out leaves 0.15 to 0.20.

    Where 0.05 does not go any more, S-10 out leaves 0.10 to 0.15, too tight; only with the two readings both true it
    is 0.15, and they meet in one point. Where 0.10 goes and 0.15 does not, 0.20 to 0.25 are left: right by itself.
    """
    drawer = "part,thickness_mm,on_hand\nS-10,0.10,0\nS-20,0.20,0\n"
    rest = '[window]\nmin = 0.15\nmax = 0.25\nsource = "s"\n[[place]]\nname = "arm"\ninstalled = ["S-10", "S-20"]\n'
    rest += '[[gap]]\nname = "arm"\nfeeler = { go = 0.05, no_go = 0.10 }\n'
    folder = job(tmp_path / "arm", drawer, rest, "mm")
    _, words = ordered(run, folder)
    assert "0.05 does not go stop: read again" in words
    assert "0.05 goes, 0.15 does not take S-10 out, leave S-20 in" in words
    rows = json.loads(run("order", folder, "--json")[1])["cards"][0]["blades"]
    assert [(row["go"], row["no_go"], row["contradicts_today"]) for row in rows] == [
        (0, 0.05, True),
        (0.05, 0.1, False),
        (0.1, 0.15, False),
    ]


def test_what_blades_cannot_read_is_not_called_open(tmp_path: Path, run: Run) -> None:
    """9 goes and 10 does not: 9.5 ± 0.5. S-5 and S-6 serve the middle; nothing there serves 10 ± 0.5 (10.5 - 6 > 4).

    With blades nobody reads 10 ± 0.5 unless another pair says so.
    """
    drawer = "part,thickness_thou,on_hand\nS-6,6,1\n"
    rest = '[window]\nmin = 3\nmax = 4\nsource = "s"\n[[gap]]\nname = "cap"\nfeeler = { go = 9, no_go = 10 }\n'
    code, words = ordered(run, job(tmp_path / "cap", drawer, rest))
    assert "9 goes, 10 does not fit S-6" in words
    assert (code, "Not covered" in words) == (0, False)


MIXED = """
[[place]]
name = "top"
installed = ["G-20", "G-05"]
[[gap]]
name = "top"
value = "-4 thou ± 0.5 thou"
window = { min = 1, max = 4, source = "book" }
[[place]]
name = "bottom"
came_out = ["G-10", "G-03"]
[[gap]]
name = "bottom"
feeler = { go = 17, no_go = 18 }
window = { min = 1, max = 4, source = "book" }
"""


def test_where_the_card_fits_another_pack_than_the_plan_it_says_why(tmp_path: Path, run: Run) -> None:
    """The plan brings both inside by best estimates, top at 0.5 to 1.5 of 1 to 4: not sure. The card only what is."""
    drawer = "part,thickness_thou,on_hand\nG-20,20,0\nG-10,10,0\nG-05,5,1\nG-03,3,0\n"
    folder = job(tmp_path / "mixed", drawer, MIXED)
    plan = json.loads(run("plan", folder, "--json")[1])
    assert {gap["name"]: gap["verdict"] for gap in plan["gaps"]}["top"] == "unproven"
    words = ordered(run, folder)[1]
    assert "at today's reading the plan says: take G-05 out, leave G-20 in, and is not sure that this is" in words
    # the card on paper too, and which of the two counts there
    run("order", folder, "--card", tmp_path / "card.txt")
    on_paper = " ".join((tmp_path / "card.txt").read_text(encoding="utf-8").split())
    said = "At today's reading the plan says: take G-05 out, leave G-20 in, and is not sure that this is inside; a row"
    assert f"{said} here fits only what is surely inside; at the bench the row counts." in on_paper
    cards = {card["gap"]: card["planned"] for card in json.loads(run("order", folder, "--json")[1])["cards"]}
    by_place = {place["name"]: [piece["part"] for piece in place["stack"]] for place in plan["places"]}
    assert [piece["part"] for piece in cards["top"]["stack"]] == by_place["top"] == ["G-20"]


def test_what_lies_in_another_place_is_told_before_anything_is_bought(tmp_path: Path, run: Run) -> None:
    """2 reads 0.15 with B-235 in and wants 0.20 to 0.30: B-230 or B-225. B-230 stays in 1; nobody has a B-225."""
    rest = '[window]\nmin = 0.20\nmax = 0.30\nsource = "s"\n'
    for name, part, read in (("1", "B-230", 0.30), ("2", "B-235", 0.15)):
        rest += f'[[place]]\nname = "{name}"\npieces = {{ min = 1, max = 1 }}\ninstalled = ["{part}"]\n'
        rest += f'[[gap]]\nname = "{name}"\nvalue = {read}\n'
    drawer = "part,thickness_mm,on_hand\nB-230,2.30,0\nB-235,2.35,0\nB-225,2.25,0\n"
    words = ordered(run, job(tmp_path / "in", drawer, rest, "mm"))[1]
    assert "What would close it: B-230 out of 1, where that can do without it (keep = false there), or" in words


@pytest.mark.parametrize(
    ("unit", "blades", "row"),
    [
        # 0.026 and 0.027 in, marked so: 0.6604 mm is no blade
        ("mm", 'go = "0.026 in", no_go = "0.027 in"', "25 thou goes, 27 thou does not"),
        ("mm", "go = 0.65, no_go = 0.70", "0.60 goes, 0.70 does not"),
        ("thou", 'go = "0.65 mm", no_go = "0.70 mm"', "0.60 mm goes, 0.70 mm does not"),
        ("thou", "go = 26, no_go = 27", "25 goes, 28 does not"),
    ],
)
def test_blades_are_named_as_they_are_marked(tmp_path: Path, unit: str, blades: str, row: str) -> None:
    window = "min = 0.20\nmax = 0.40" if unit == "mm" else "min = 8\nmax = 16"
    sizes = "L-30,0.30,4\nL-10,0.10,4" if unit == "mm" else "L-12,12,4\nL-4,4,4"
    job = (
        f'unit = "{unit}"\ndrawer = "drawer.csv"\n[window]\n{window}\nsource = "book"\n[[gap]]\nname = "roller"\n'
        f"feeler = {{ {blades} }}\n"
    )
    order = make_order([load_job(write_job(tmp_path, job, f"part,thickness_{unit},on_hand\n{sizes}\n"))])
    assert row in [row.read for row in card_rows(order, 0, Speaker(unit, order.stock))]


SEAT = '[[seat]]\nname = "c"\nshims_allowed = false\nwhy = "no room"\n'
R_20 = "part,thickness_mm,on_hand\nR-20,0.20,1\n"


def test_on_a_reading_of_nothing_no_metal_comes_off(tmp_path: Path, run: Run) -> None:
    """0 ± 0.01 read, 0.10 wanted: it may hide a preload. Where no shim may go in, the dimension is restored."""
    window = '[window]\nmin = 0.10\nmax = 0.20\nsource = "s"\n'
    rest = window + '[[gap]]\nname = "right"\nvalue = "0 mm ± 0.01 mm"\n'
    words = ordered(run, job(tmp_path / "right", R_20, rest, "mm"))[1]
    assert words.startswith("Nothing to order that would help: look at reading and seating of right first.")
    assert "metal removed" not in words
    rest = window + SEAT + '[[gap]]\nname = "two"\nseat = "c"\nvalue = "0.05 mm ± 0.01 mm"\n'
    words = ordered(run, job(tmp_path / "two", R_20, rest, "mm"))[1]
    # 0.05 ± 0.01 with an end of 0.04, read as uncertain again: 0.03 is the least, 0.07 short of 0.10
    assert "restore the dimension that sets it, it has to grow by 0.07 mm" in words
    assert "metal removed" not in words


def test_where_nobody_knows_how_far_a_shim_moves_the_gap_no_piece_is_asked_for(tmp_path: Path, run: Run) -> None:
    """The trial gives an effect of -0.9 to -1.1: of 0.50 that is ± 0.05, more than the window of 0.089 leaves."""
    drawer = "part,thickness_mm,on_hand\nS-50,0.50,2\nS-30,0.30,2\n"
    rest = '[[place]]\nname = "w"\n[[gap]]\nname = "g"\nvalue = "0.60 mm ± 0.005 mm"\n'
    rest += 'window = { min = 0.05, max = 0.139, source = "s" }\neffects = { w = { trial = ['
    rest += '{ stack = 0.20, reading = "0.40 mm ± 0.01 mm" }, { stack = 0.40, reading = "0.20 mm ± 0.01 mm" }] } }\n'
    words = ordered(run, job(tmp_path / "g", drawer, rest, "mm"))[1].split("Assumed")[0]
    assert "What would close it: trial readings further apart" in words
    assert "a piece of" not in words


def test_what_stays_in_where_a_row_says_stop_is_asked_about_on_its_card(tmp_path: Path, run: Run) -> None:
    """T-20 lies where no shim may lie; lay reads 0.05 to 0.09 with it, which no row serves."""
    rest = '[window]\nmin = 0.12\nmax = 0.20\nsource = "s"\n' + SEAT
    rest += '[[place]]\nname = "lay"\nseat = "c"\ninstalled = ["T-20"]\n'
    rest += '[[gap]]\nname = "lay"\nseat = "c"\nvalue = "0.07 mm ± 0.02 mm"\n'
    drawer = "part,thickness_mm,on_hand\nT-20,0.20,0\n"
    words = ordered(run, job(tmp_path / "lay", drawer, rest, "mm"))[1]
    assert "first: lay: T-20 is in, and no shim may lie there" in words


@st.composite
def read_by_blades(draw: st.DrawFn) -> Job:
    """One gap read by blades 5 to 20 µm apart, which may move by as much again."""
    drawn = draw(order_jobs(most_gaps=1, most_lines=4))
    go, step = draw(st.integers(1, 24)) * STEP, draw(st.integers(1, 4)) * STEP
    gap = drawn.gaps[0]
    reading = Reading(Bracket.between(go, go + step), "feeler").moved_by(draw(st.sampled_from([0, 0, STEP, 2 * STEP])))
    half = Fraction(step, 2)
    blades = {"again": (half, half), "blades": (go, go + step), "effects": ((gap.name, Fraction(-1)),)}
    return replace(drawn, gaps=(replace(gap, reading=reading, **blades),))


def always_inside(gap: Gap, found: Job, stack: tuple[int, ...], low: Fraction, high: Fraction) -> bool:
    """Wherever from low to high the gap lies and whichever way its pieces are off, it ends in its window."""
    ends = [(found.stock[i].part.thickness.low, found.stock[i].part.thickness.high) for i in stack]
    after = [true - sum(sizes, Fraction(0)) for true in (low, high) for sizes in product(*ends)]
    window = gap.window
    return all((window.min is None or at >= window.min) and (window.max is None or at <= window.max) for at in after)


@settings(max_examples=150, deadline=None)
@given(read_by_blades())
def test_every_row_of_blades_is_right_by_itself_or_with_todays_reading(found: Job) -> None:
    """Every corner is tried: the gap lies between the blades, and where both can be so, in today's bracket, too."""
    order, gap = make_order([found]), found.gaps[0]
    today = gap.reading.bracket
    for row in order.cards[0].rows if order.demands else ():
        low, high = max(row.go, today.low), min(row.no_go, today.high)
        if row.stack is None:
            assert not row.contradicts or low >= high
            continue
        alone = always_inside(gap, found, row.stack, row.go, row.no_go)
        assert alone or (low < high and always_inside(gap, found, row.stack, low, high))
        bought = Counter({line.part: line.pieces for line in order.asked})
        assert all(n <= found.stock[i].on_hand + bought[i] for i, n in Counter(row.stack).items())


def test_where_no_blade_goes_nothing_is_fitted_though_the_pair_beside_it_says_what_to_fit(
    tmp_path: Path, run: Run
) -> None:
    """0.05 to 0.10 read with an S-20 in, 0.25 to 0.35 wanted: out with it; no blade going may hide any preload."""
    rest = '[window]\nmin = 0.20\nmax = 0.35\nsource = "s"\n[[place]]\nname = "ring"\ninstalled = ["S-20"]\n'
    rest += '[[gap]]\nname = "ring"\nfeeler = { go = 0.05, no_go = 0.10 }\nshift = 0.05\n'
    words = ordered(run, job(tmp_path / "ring", "part,thickness_mm,on_hand\nS-20,0.20,0\n", rest, "mm"))[1]
    assert "0.05 does not go stop: it may be tight; plan again from this reading 0.05 goes, 0.15 does not take" in words


def test_what_stays_in_is_fetched_from_no_tin(tmp_path: Path, run: Run) -> None:
    """0.10 to 0.15 with an S-20 in is inside 0.05 to 0.20; another S-20 lies in a tin."""
    rest = '[window]\nmin = 0.05\nmax = 0.20\nsource = "s"\n[[place]]\nname = "ring"\ninstalled = ["S-20"]\n'
    rest += '[[gap]]\nname = "ring"\nfeeler = { go = 0.10, no_go = 0.15 }\n'
    words = ordered(run, job(tmp_path / "ring", "part,thickness_mm,on_hand,at\nS-20,0.20,1,tin 3\n", rest, "mm"))[1]
    assert "leave S-20 in" in words
    assert "tin 3" not in words


def test_a_piece_that_nobody_can_make_closes_no_hole(tmp_path: Path, run: Run) -> None:
    """0.30 to 0.3002, off by up to 0.0498, and a window of 0.10 to 0.20: only 0.15 to 0.1502 would surely do."""
    rest = '[window]\nmin = 0.10\nmax = 0.20\nsource = "s"\n[[gap]]\nname = "end"\nvalue = "0.3001 mm ± 0.0001 mm"\n'
    rest += "final_reading = 0.0498\n"
    words = ordered(run, job(tmp_path / "end", "part,thickness_mm,on_hand\nS-90,0.90,1\n", rest, "mm"))[1]
    assert "not covered at a final reading of 0.3000 to 0.3002 mm" in words
    assert (
        "What would close it: a finer final reading (as it is read, next to no thickness is sure), and perhaps" in words
    )
    assert "made to measure" not in words


def test_what_another_place_holds_and_nobody_offers_is_named(tmp_path: Path, run: Run) -> None:
    """2 reads 0.15 with B-235 in and wants 0.20 to 0.30: B-230 would do; 1 keeps it, and only B-100 is sold."""
    rest = 'catalogues = ["catalogue.csv"]\n[window]\nmin = 0.20\nmax = 0.30\nsource = "s"\n'
    for name, part, read in (("1", "B-230", 0.30), ("2", "B-235", 0.15)):
        rest += f'[[place]]\nname = "{name}"\npieces = {{ min = 1, max = 1 }}\ninstalled = ["{part}"]\n'
        rest += f'[[gap]]\nname = "{name}"\nvalue = {read}\n'
    rest += '[[supplier]]\nname = "Holm"\npostage = 1\n'
    folder = job(tmp_path / "in", "part,thickness_mm,on_hand\nB-230,2.30,0\nB-235,2.35,0\n", rest, "mm")
    (folder / "catalogue.csv").write_text("part,thickness_mm,price,supplier\nB-100,1.00,1,Holm\n", encoding="utf-8")
    words = ordered(run, folder)[1]
    assert "more of what is on offer" not in words
    assert "What would close it: B-230 out of 1, where that can do without it (keep = false there), or" in words


def test_a_gap_that_no_shim_helps_is_seen_to_before_metal_comes_off(tmp_path: Path, run: Run) -> None:
    """0.01 to 0.03 with nothing in, and 0.05 wanted at least."""
    rest = '[window]\nmin = 0.05\nmax = 0.15\nsource = "s"\n[[gap]]\nname = "w"\nvalue = "0.02 mm ± 0.01 mm"\n'
    words = ordered(run, job(tmp_path / "thin", "part,thickness_mm,on_hand\nS-20,0.20,1\n", rest, "mm"))[1]
    assert words.startswith("Nothing to order: no shim helps at w. Look at reading and seating first; where they are")


def test_what_was_read_after_fitting_and_is_right_is_left(tmp_path: Path, run: Run) -> None:
    """0.40 ± 0.01 less 0.30; then 0.06 goes and 0.09 does not: inside 0.05 to 0.15, and no other reading is to come."""
    rest = '[window]\nmin = 0.05\nmax = 0.15\nsource = "s"\n[[gap]]\nname = "end"\nvalue = "0.40 mm ± 0.01 mm"\n'
    folder = job(tmp_path / "read", "part,thickness_mm,on_hand\nS-30,0.30,1\n", rest, "mm")
    shimopt.record(folder, {"end": "0.06 to 0.09 mm"}, person="M. Hale", instrument="blades", update_drawer=True)
    code, words = ordered(run, folder)[:2]
    assert code == 0
    assert words.startswith("Nothing to order: what is in serves every gap")
    assert "leave S-30 in" in words
    assert "not covered" not in words.partition("Proof")[0]


def test_where_pieces_are_scarce_every_card_that_has_them_says_so(run: Run) -> None:
    """The mill's one S-05 is on the cover's card; the south end would use it too, and a plan may give it to that."""
    out = run("order", Path("demo_data/fulling-mill"))[1]
    south, cover = (" ".join(part.split()) for part in out.split("Why")[0].split("south end")[-1].split("step cover"))
    assert "not enough S-05 for every gap that could use it" in south
    assert "S-05: set aside for this card though another gap could use it" in cover


def test_a_card_tells_no_money_and_by_what_it_is_planned_again(run: Run, tmp_path: Path) -> None:
    """Who holds it has the parcel: its box says what that serves, its foot the one thing that takes a computer."""
    run("order", Path("demo_data/fulling-mill"), "--quiet", "--card", tmp_path / "card.txt")
    card = " ".join((tmp_path / "card.txt").read_text(encoding="utf-8").split())
    assert "GBP" not in card
    assert "With the 3 pieces of this order: surely enough for all 3 gaps" in card
    assert "To plan again: shimopt plan JOB, with the readings, shift = 0." in card


def test_a_card_of_places_that_act_together_says_where_pieces_lie_and_which_bores_go_on(
    run: Run, tmp_path: Path
) -> None:
    """A shaft of 60 h6 is 59.981 to 60.000 mm: no smaller bore goes on. 0.70 less two of 0.30 leaves 0.10."""
    gap = 'name = "float"\nvalue = "0.70 mm ± 0.01 mm"\nwindow = { min = 0.05, max = 0.15, source = "s" }\n'
    head = 'title = "caps"\nunit = "mm"\ndrawer = "d.csv"\n[[seat]]\nname = "cap"\nshaft = "60 h6"\n'
    places = '[[place]]\nname = "left"\nseat = "cap"\n[[place]]\nname = "right"\nseat = "cap"\n'
    (tmp_path / "job.toml").write_text(f"{head}{places}[[gap]]\n{gap}[gap.effects]\nleft = -1\nright = -1\n")
    (tmp_path / "d.csv").write_text("part,thickness_mm,inner_mm,on_hand,at\nP-30,0.30,60.2,2,box 7\n")
    out = " ".join(run("order", tmp_path)[1].split())
    assert "in the drawer: P-30 in box 7" in out
    assert "bores 60.00 to 60" in out


def test_readings_at_which_no_blade_goes_are_not_covered(tmp_path: Path, run: Run) -> None:
    """By hand: read evenly in 0.05 to 0.10 and shifted evenly by up to 0.06 either way, it ends below 0.05 in
    (0.06 x 0.05 - 0.05 x 0.05 / 2) / (0.12 x 0.05) = 29.2 % of all cases: no blade goes there, and it may be tight.
    Nothing is bought for that: 0.22 is in, and left in up to 0.15; two of 0.15 serve 0.15 to 0.20.
    """
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["market.csv"]\nstacks = { most_pieces = 2 }\n'
        '[[supplier]]\nname = "ash"\npostage = 2.5\n'
        '[[gap]]\nname = "float"\nfeeler = { go = 0.05, no_go = 0.10 }\nshift = "± 0.06 mm"\n'
        'window = { min = 0.05, max = 0.17, source = "s" }\neffects = { seat = -1 }\n'
        '[[place]]\nname = "seat"\ninstalled = ["S2"]\n',
        encoding="utf-8",
    )
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS2,0.22,0\n")
    (tmp_path / "market.csv").write_text(
        "part,thickness_mm,tolerance_mm,price,supplier\nS0,0.15,0.005,0.5,ash\nS4,0.10,0.005,0.7,ash\n"
    )
    code, out, _ = run("order", tmp_path, "--json")
    found = json.loads(out)
    (hole,) = found["holes"]
    assert (code, found["sure"], [(line["part"], line["pieces"]) for line in found["lines"]]) == (1, False, [("S0", 2)])
    assert hole["chance"] == pytest.approx(0.175 / 0.6, abs=1e-6)
    assert "No blade goes there, and it may be tight" in hole["words"]
    (sure,) = (option["chance"] for option in found["options"] if option["name"] == "sure")
    assert sure == pytest.approx(1 - 0.175 / 0.6, abs=1e-6)
