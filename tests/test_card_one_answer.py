"""Bench card, order and sheet in one hand: none says what another forbids, and nobody is sent for what is not there."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest

from tests.command import Run
from tests.test_likely_cause import CROWN, CROWN_DRAWER
from tests.test_record_agreement import job

DEMO = Path(__file__).parents[1] / "demo_data"
PLAY = """
[[gap]]
name = "play"
value = "-0.04 mm ± 0.005 mm"
window = { preload = [0.02, 0.06], source = "works sheet 12" }
effects = { left = -1, right = -1 }
"""
PUMP = """
title = "Hot oil pump"
unit = "mm"
drawer = "drawer.csv"
[[gap]]
name = "float"
feeler = { go = 0.60, no_go = 0.65 }
window = { min = 0.10, max = 0.2552, source = "pump sheet" }
"""
PUMP_DRAWER = "part,thickness_mm,tolerance_mm,on_hand\nH40,0.40,0.01,1\nH50,0.50,0.01,1\n"
MILL = """
title = "Stamp mill"
unit = "thou"
drawer = "drawer.csv"
window = { min = 15, max = 31, source = "pattern book" }
[[gap]]
name = "north"
value = "85 thou ± 7 thou"
[[gap]]
name = "tail"
value = "47 thou ± 2 thou"
"""
MILL_DRAWER = "part,thickness_thou,tolerance_thou,on_hand\nS-62,62,2,1\nS-20,20,0.5,1\nS-25,25,0.5,1\n"
SCREW = """
title = "Leadscrew"
unit = "mm"
drawer = "drawer.csv"
micrometer = "±0.003 mm"
window = { min = 0.02, max = 0.06, source = "shop card" }
[[gap]]
name = "screw"
value = "0.2145 mm ± 0.0036 mm"
"""
TAPPETS = """
title = "Tappets"
unit = "mm"
drawer = "drawer.csv"
[stacks]
most_pieces = 1
[[place]]
name = "one"
installed = ["B30"]
[[place]]
name = "two"
installed = ["B40"]
[[place]]
name = "three"
installed = ["B30"]
[[gap]]
name = "first"
feeler = { go = 0.40, no_go = 0.43 }
window = { min = 0.33, max = 0.40, source = "book" }
effects = { one = -1 }
[[gap]]
name = "second"
feeler = { go = 0.25, no_go = 0.28 }
window = { min = 0.33, max = 0.40, source = "book" }
effects = { two = -1 }
[[gap]]
name = "third"
feeler = { go = 0.15, no_go = 0.18 }
window = { min = 0.20, max = 0.2301, source = "book" }
effects = { three = -1 }
"""
TAPPETS_DRAWER = (
    "part,thickness_mm,tolerance_mm,on_hand\nB20,3.20,0.005,1\nB30,3.30,0.005,0\nB35,3.35,0.005,1\nB40,3.40,0.005,0\n"
)


def test_a_card_without_a_row_takes_no_page_of_its_own(run: Run, tmp_path: Path) -> None:
    """The winch's packs are divided once preload is set: no row can be written, and what is said fits the sheet."""
    for ending in ("pdf", "html"):
        run("sheet", DEMO / "slipway-winch", "--card", "-o", tmp_path / f"sheet.{ending}", "--date", "2026-11-27")
    (page,) = pypdf.PdfReader(tmp_path / "sheet.pdf").pages
    said = " ".join(page.extract_text().split())
    assert "No order can be made before preload is set" in said
    assert "shimopt plan JOB lists" in said
    assert '<h2 class="card">' not in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_rows_beside_a_reading_that_is_not_served_are_not_denied(run_unfolded: Run, tmp_path: Path) -> None:
    """0.60 to 0.65 less H40 is 0.19 to 0.26, above 0.2552. 0.55 to 0.60 less H40 is 0.14 to 0.21, 0.65 to 0.70 less
    H50 as much: both are inside, so two rows fit something."""
    out = run_unfolded("order", job(tmp_path / "pump", PUMP, PUMP_DRAWER))[1]
    assert "0.60 goes, 0.65 does not not covered: stop" in " ".join(out.split())
    assert "fit H40" in out
    assert "today's reading has no row: stop, and plan again from it; the rows beside it count" in out
    assert "no row can be served" not in out
    assert "No row of a card fits anything" not in out


def test_no_pieces_are_listed_where_the_card_says_stop(run_unfolded: Run, tmp_path: Path) -> None:
    """85 ± 7 less the 60 to 64 of S-62 is 14 to 32, and 15 to 31 is allowed: probably inside, and no row is sure."""
    folder, page = job(tmp_path / "mill", MILL, MILL_DRAWER), tmp_path / "sheet.html"
    run_unfolded("sheet", folder, "--card", "-o", page, "--date", "2026-05-03")
    first, _, card = " ".join(page.read_text(encoding="utf-8").split()).partition("Bench card")
    assert "not covered: stop" in card.casefold()
    assert "the card has no row that fits anything: read it, then plan again" in first
    assert "S-62" not in first
    # where no other place is changed, the box of the sheet does not say either that S-62 goes in
    alone, page = job(tmp_path / "alone", MILL.partition('[[gap]]\nname = "tail"')[0], MILL_DRAWER), tmp_path / "a.html"
    run_unfolded("sheet", alone, "--card", "-o", page, "--date", "2026-05-03")
    first, _, card = " ".join(page.read_text(encoding="utf-8").split()).partition("Bench card")
    assert "not covered: stop" in card.casefold()
    assert "Nothing is fitted from this sheet, for no row of its card fits anything: read north again, then" in first
    assert "S-62" not in first


@pytest.mark.parametrize(
    ("drawer", "told"),
    [
        # measured already: nobody measures it again to find it thicker
        ("part,thickness_mm,measured_mm,measuring_error_mm,on_hand\nL20,0.20,0.186,0.003,1\n", ""),
        # read from 0.2109 to 0.2181 and known to 0.0036 it is 0.2073 at least: 0.1873 at most, 0.0113 over the 0.176 as
        # marked; as much under 0.174 is 0.1627 (0.2217 - 0.06 = 0.1617 would do); 0.003 off at both: 0.1657 to 0.1843
        ("part,thickness_mm,tolerance_mm,on_hand\nL18,0.175,0.001,1\n", "L18 0.166 to 0.184 mm"),
    ],
)
def test_what_a_micrometer_has_to_show_leaves_room_for_its_own_error(
    run_unfolded: Run, tmp_path: Path, drawer: str, told: str
) -> None:
    out = run_unfolded("order", job(tmp_path / "screw", SCREW, drawer))[1]
    assert (f"pieces found to be: {told}" if told else "fit L") in out
    assert ("found to be" in out) is bool(told)


def test_a_piece_is_sought_where_it_comes_out(run_unfolded: Run, tmp_path: Path) -> None:
    """First gives up its B30 for B35 at every reading; third keeps its own at today's, which no row serves."""
    out = run_unfolded("order", job(tmp_path / "tappets", TAPPETS, TAPPETS_DRAWER))[1]
    assert "B30 comes out of one" in out
    assert "B30 comes out of one and three" not in out


HUB = """
title = "Hub"
unit = "mm"
drawer = "drawer.csv"
[[seat]]
name = "axle end"
shaft = "20 mm ± 0.01 mm"
face = { inner = "21 mm", outer = "32 mm" }
moving_face = true
[[gap]]
name = "hub"
seat = "axle end"
feeler = { go = 0.63, no_go = 0.65 }
window = { min = 0.10, max = 0.20, source = "card" }
"""
HUB_DRAWER = (
    "part,thickness_mm,tolerance_mm,inner_mm,outer_mm,on_hand,material,hardness\n"
    "Y30,0.30,0.01,20.1,31,1,spring steel,450 HV\nY20,0.20,0.01,20.1,31,1,brass,120 HV\n"
    "Y25,0.25,0.01,20.1,31,1,brass,120 HV\n"
)


def test_a_caution_about_soft_pieces_stands_with_the_row_that_lays_them_alone(
    run_unfolded: Run, tmp_path: Path
) -> None:
    """Today's 0.63 to 0.65 takes Y20 + Y30, hard against what turns; 0.61 to 0.63 takes Y20 + Y25, brass on both."""
    out = run_unfolded("order", job(tmp_path / "hub", HUB, HUB_DRAWER))[1]
    assert "fit Y20 + Y30" in out
    assert "no row fits Y20 + Y25: Y20 at hub is 120 HV" in out
    assert "stop: only soft pieces would do, and the face turns" in out
    assert "not fit Y20 + Y25" not in out
    assert "only once that is settled does a row count" not in out


def test_how_far_apart_blades_may_be_is_the_blades_alone(run_unfolded: Run, tmp_path: Path) -> None:
    """Snug with steps of 1 thou and three leaves of ± 0.2: 31 ± 1.1, of which 0.6 each way is no step."""
    gap = '[[gap]]\nname = "hanger"\nfeeler = { snug = 31, step = 1, leaves = 3, blade_error = 0.2 }\n'
    text = MILL[: MILL.index("[[gap]]")].replace("min = 15, max = 31", "min = 5, max = 15") + gap
    out = run_unfolded("order", job(tmp_path / "hanger", text, MILL_DRAWER.replace("S-62,62", "S-21,21")))[1]
    assert "where blades are more than 1 thou apart, plan again" in out


def test_a_preload_on_a_card_is_turned(run_unfolded: Run, tmp_path: Path) -> None:
    """One pack less and the other more by as much leaves the preload, and no blade can read it on the day."""
    text = CROWN.replace("0.315 mm ± 0.015 mm", "0.30 mm ± 0.01 mm") + PLAY
    out = run_unfolded("order", job(tmp_path / "crown", text, CROWN_DRAWER.replace("D10,0.10,1", "D10,0.10,2")))[1]
    assert "play: a preload is turned, not read again" in out
    # every row takes it alike, so none asks for it in mm
    assert "play: preload 0" not in out


BUCKET = """title = "Bucket"
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "left"
pieces = { min = 1, max = 1 }
installed = ["B155"]
[[gap]]
name = "left"
feeler = { go = 0.20, no_go = 0.25 }
window = { min = 0.22, max = 0.28, source = "book" }
"""


def test_what_the_card_stops_for_the_sheet_does_not_leave_in(run_unfolded: Run, tmp_path: Path) -> None:
    """0.20 to 0.25 may be below 0.22, and there is no other bucket: the plan leaves it in, no row is surely inside."""
    folder = job(tmp_path / "bucket", BUCKET, "part,thickness_mm,tolerance_mm,on_hand\nB155,1.55,0.003,0\n")
    run_unfolded("sheet", folder, "--card", "-o", tmp_path / "s.html", "--date", "2026-11-27")
    page = (tmp_path / "s.html").read_text(encoding="utf-8")
    before_card = page.split("No row can be served")[0]
    assert before_card != page
    assert "leave B155 in" not in before_card.split("says: leave")[0]
    assert "the card has no row that fits anything: read it, then plan again" in page
