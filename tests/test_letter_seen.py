"""The letter as its reader sees it: told once, one page and a table, the telling part drawn, readable on a phone."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from pandas import DataFrame

from shimopt.job import job_from, load_job
from shimopt.ordering.order import make_order
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.papers.typeset import page_of, pdf_of
from shimopt.render.pictures.gap_bars import job_bars
from shimopt.render.pictures.gaps_chart import ON_A_PHONE, charts
from tests.jobs import gap, job, shim, window

DEMO = Path(__file__).parents[1] / "demo_data"
MOMENT = datetime(2026, 5, 3, tzinfo=UTC)


def demo(name: str) -> Decision:
    return decide(load_job(DEMO / name))


def pages(content: dict[str, object]) -> int:
    return len(pypdf.PdfReader(io.BytesIO(pdf_of(content, "a4", MOMENT).file)).pages)


def long_names(count: int) -> Decision:
    """So many shafts whose names differ in the middle alone."""
    names = [f"idler shaft {number:02d}, drive side, upper strand (east gantry)" for number in range(1, count + 1)]
    gaps = [{"name": name, "feeler": {"go": 0.30, "no_go": 0.35}} for name in names]
    window = {"min": 0.08, "max": 0.20, "source": "drawing 4471, sheet 2, issue of March 1962"}
    about = {
        "title": "Long conveyor of the limestone quarry, all idler shafts",
        "machine": "Crusher no. 3",
        "owner": "Quarry",
    }
    drawer = DataFrame([{"part": "P-20", "thickness_mm": "0.20", "on_hand": str(count)}])
    return decide(job_from({**about, "unit": "mm", "window": window, "gap": gaps}, drawer))


@pytest.mark.parametrize(("count", "most"), [(12, 1), (20, 2)])
def test_long_names_leave_the_letter_its_length(count: int, most: int) -> None:
    assert pages(letter_content(long_names(count), "mm", "2026-05-03")) <= most


def test_a_chart_of_long_names_says_what_tells_them_apart() -> None:
    plan = long_names(20)
    (chart,) = charts("x", plan.job.gaps, job_bars(plan, "mm"), "mm")
    said = [one.text for one in ElementTree.fromstring(chart.svg).iter() if one.tag.endswith("text")]
    assert {f"idler shaft {number:02d} …" for number in range(1, 21)} <= set(said)


def test_what_packs_do_for_two_gaps_is_told_once_and_the_pack_is_drawn() -> None:
    """The winch: both caps' packs set preload and backlash; 0.50, 0.05 and 0.30 lie at the right one, 0.85 in all."""
    content = letter_content(demo("slipway-winch"), "mm", "2026-05-03")
    first, second = (one["row"][2] for one in content["gaps"])
    assert first.startswith("left cap: BC-0.05 for BC-0.20")
    assert second == "to be settled first: the same packs as preload"
    (one,) = content["reason"]
    assert "At right cap lies BC-0.50 + BC-0.05 + BC-0.30, in this order from the face: 0.85 mm in all." in one["words"]
    assert "Moving 0.10 mm from left cap to right cap leaves preload as it is" in one["words"]
    # three rings, above the shaft and below it: two joints each
    assert one["svg"].count('class="joint"') == 4
    assert "new packs" in content["charts"][0]["svg"]


def test_a_picture_of_a_bore_is_drawn_for_a_bore_alone() -> None:
    """A wavy washer in the drawer would be thick enough: no picture of a ring that hangs off centre says why not."""
    drawer = DataFrame(
        [
            {"part": "W-40", "thickness_mm": "0.40", "on_hand": "1", "inner_mm": "30.2", "form": "wavy"},
            {"part": "P-20", "thickness_mm": "0.20", "on_hand": "1", "inner_mm": "30.2", "form": ""},
            {"part": "P-22", "thickness_mm": "0.22", "on_hand": "1", "inner_mm": "30.2", "form": ""},
        ]
    )
    job = {
        "unit": "mm",
        "window": {"min": 0.08, "max": 0.20, "source": "sheet 2"},
        "seat": [{"name": "end", "shaft": "30 mm ± 0.02 mm"}],
        "gap": [{"name": "idler", "seat": "end", "feeler": {"go": 0.53, "no_go": 0.58}}],
    }
    content = letter_content(decide(job_from(job, drawer)), "mm", "2026-05-03")
    assert content["reason"] == []


def test_the_key_names_what_is_drawn_and_nothing_else() -> None:
    mill, bridge = (letter_content(demo(name), "thou", "2026-05-03") for name in ("fulling-mill", "swing-bridge"))
    assert mill["key"].startswith("Grey: allowed. Bar: as it is then.")
    assert 'class="found"' not in mill["charts"][0]["svg"]
    assert "Hollow bar: as found. Solid bar: then." in bridge["key"]
    assert "//" not in bridge["key"]
    slip = job([gap("near", 2, 4, window(10, 12)), gap("slip", 50, 52, window(10, 12))], [])
    assert (
        "Behind a // stands what is further out than the axis goes; the table has its figures."
        in letter_content(decide(slip), "thou", "2026-05-03")["key"]
    )
    one_sided = {"min": "none", "max": 0.20, "source": "sheet 2"}
    spec = {"unit": "mm", "window": one_sided, "gap": [{"name": "a", "feeler": {"go": 0.10, "no_go": 0.12}}]}
    assert "target" not in letter_content(decide(job_from(spec)), "mm", "2026-05-03")["key"]


def test_what_is_missing_is_told_with_one_figure_and_why_another_gap_goes_first() -> None:
    """By hand: 30.5 - 12 is 18.5, with what may shift 21 to 24 of shim; the drawer holds 15 in all."""
    content = letter_content(demo("fulling-mill"), "thou", "2026-05-03")
    told = {one["name"]: " ".join(one["sentences"]) for one in content["gaps"]}
    assert "Even the thickest stack in the drawer, 15 thou, is too thin." in told["north end"]
    assert "18.5" not in told["north end"]
    assert "It goes where it is wanted more: step cover would else stay 9.5 thou too tight." in told["south end"]


@pytest.mark.parametrize("plan", [demo("swing-bridge"), demo("slipway-winch"), long_names(20)], ids=["5", "2", "20"])
def test_the_chart_for_a_phone_can_be_read(plan: Decision) -> None:
    """A phone 390 px wide leaves 358 px for a picture: no text is smaller than 11 px there, and none runs off."""
    for chart in charts("x", plan.job.gaps, job_bars(plan, plan.job.unit), plan.job.unit, ON_A_PHONE):
        root = ElementTree.fromstring(chart.svg)
        width = float(root.get("width", 0))
        texts = [one for one in root.iter() if one.tag.endswith("text")]
        assert min(float(one.get("font-size", 0)) for one in texts) * 358 / width >= 11
        assert all(0 <= float(one.get("x", 0)) <= width for one in texts)
    page = page_of(letter_content(plan, plan.job.unit, "2026-05-03"))
    assert len(re.findall(r'<div class="on-phone">', page)) == 1


def test_a_sheet_with_its_card_says_what_goes_in_once() -> None:
    plan = demo("fulling-mill")
    content = sheet_content(plan, "thou", "2026-05-03", make_order([plan.job]))
    # the drawer alone leaves two of three outside, and the order serves them: nothing of the drawer's plan is told
    assert content["answer"] == "Once the order has come: read again on the day, then fit by the card at the end."
    assert content["warnings"] == [
        "Do not run it as it stands, before what the card says is in: north end and south end."
    ]
    for place in content["places"]:
        assert not place["pieces"]
        assert not place["out"]
        assert place["nothing"].startswith("by the card at the end")
    # without one step 4 says it
    assert any(place["pieces"] for place in sheet_content(plan, "thou", "2026-05-03")["places"])


def test_a_sheet_lists_no_piece_where_its_card_says_stop(tmp_path: Path) -> None:
    """Window 0.10 to 0.20, read 0.35 to 0.40: S-20 leaves 0.145 to 0.205, probably inside; the card says stop.

    One paper gives one order; without the card the sheet says what the plan fits.
    """
    (tmp_path / "d.csv").write_text("part,thickness_mm,tolerance_mm,on_hand\nS-20,0.20,0.005,1\n", encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "d.csv"\n[window]\nmin = 0.10\nmax = 0.20\nsource = "s"\n'
        '[[gap]]\nname = "foot"\nfeeler = { go = 0.35, no_go = 0.40 }\n',
        encoding="utf-8",
    )
    plan = decide(load_job(tmp_path))
    order = make_order([plan.job])
    assert order.holes
    (place,) = sheet_content(plan, "mm", "2026-05-03", order)["places"]
    assert (place["pieces"], "card" in place["nothing"]) == ([], True), place["nothing"]
    (alone,) = sheet_content(plan, "mm", "2026-05-03")["places"]
    assert [piece["name"] for piece in alone["pieces"]] == ["S-20"]


def test_a_row_more_uneven_than_asked_is_not_as_it_should_be() -> None:
    """By hand: 0.46 and 0.54 less 0.20 each leave 0.26 and 0.34, 0.08 apart where 0.02 is asked."""
    gaps = [{"name": name, "value": value} for name, value in (("a", "0.46 mm"), ("b", "0.54 mm"))]
    drawer = DataFrame([{"part": "R1", "thickness_mm": "0.20", "on_hand": "4"}])
    row = {"name": "row", "gaps": ["a", "b"], "within": "0.02 mm"}
    window = {"min": 0.20, "max": 0.40, "source": "sheet 2"}
    plan = decide(job_from({"unit": "mm", "window": window, "gap": gaps, "balance": [row]}, drawer))
    letter, sheet = letter_content(plan, "mm", "2026-05-03"), sheet_content(plan, "mm", "2026-05-03")
    assert not plan.outcome.doable
    for told in (letter["answer"], sheet["answer"]):
        assert "But row stays uneven by 0.08 mm" in told
        assert "0.02 mm" in told
        assert "should be" not in told
    assert letter["watch"][0] == "First of all: row."
    assert not any("running in." in line for line in letter["watch"])
    assert letter["balances"] == [
        "row (a and b): they come out alike to within 0.08 mm; at most 0.02 mm is asked, which these parts cannot give."
    ]


def test_why_a_shim_was_left_out_is_told_once() -> None:
    """0.40 would do and its bore is 36.2 on 30: told of the gap that stays outside, and shown beside the picture."""
    drawer = DataFrame([{"part": "P-40", "thickness_mm": "0.40", "on_hand": "1", "inner_mm": "36.2"}])
    spec = {
        "unit": "mm",
        "window": {"min": 0.08, "max": 0.20, "source": "sheet 2"},
        "seat": [{"name": "end", "shaft": "30 mm ± 0.02 mm"}],
        "gap": [{"name": "idler", "seat": "end", "feeler": {"go": 0.53, "no_go": 0.58}}],
    }
    content = letter_content(decide(job_from(spec, drawer)), "mm", "2026-05-03")
    (picture,) = content["reason"]
    assert picture["words"] == "The shim that was left out at idler."
    assert sum("would hang off centre" in one for one in content["gaps"][0]["sentences"]) == 1


def test_no_page_holds_the_last_lines_of_a_letter_alone() -> None:
    """Twenty rollers of which every other gets a shim: in full size the notes and signatures went over the page."""
    names = [f"roller {number}" for number in range(1, 21)]
    gaps = [gap(name, 15 + 10 * (n % 2), 17 + 10 * (n % 2), window(10, 25)) for n, name in enumerate(names)]
    content = letter_content(decide(job(gaps, [shim(10, 20)])), "thou", "2026-05-03")
    assert pages(content) == 1


def test_a_cover_that_gets_no_shim_has_no_clearance_now() -> None:
    """It stands off by 27 to 28 and wants 2 to 4 of preload; there is nothing to put under it."""
    spec = {
        "unit": "thou",
        "window": {"preload": [2, 4], "source": "card 3"},
        "gap": [{"name": "pinion end", "cover_gap": {"go": 27, "no_go": 28}}],
    }
    content = letter_content(decide(job_from(spec)), "thou", "2026-05-03")
    assert content["gaps"][0]["row"][-1] == "as found"
    svg = content["charts"][0]["svg"]
    assert 'class="window"' in svg
    assert 'class="after"' not in svg
    assert "Bar:" not in content["key"]


def test_a_part_called_by_its_size_is_told_once_and_room_is_left_as_a_gauge_shows_it() -> None:
    """0.42 to 0.45 less 0.25 is 0.17 to 0.20; of a dial's brackets no hundredth of a hundredth is told."""
    spec = {
        "unit": "mm",
        "window": {"min": 0.10, "max": 0.30, "source": "manual p. 12"},
        "gap": [
            {"name": "left", "feeler": {"go": "0.42 mm", "no_go": "0.45 mm"}},
            {"name": "right", "indicator": {"readings": ["0.221 mm", "0.223 mm", "0.222 mm"], "resolution": "0.01 mm"}},
        ],
    }
    drawer = DataFrame([{"part": "", "thickness_mm": "0.25", "on_hand": "2"}])
    content = letter_content(decide(job_from(spec, drawer)), "mm", "2026-05-03")
    assert "gets a shim: 0.25 mm" in [one["row"][2] for one in content["gaps"]]
    assert re.search(r"[:,] (0\.\d{2,3}) mm is left to", " ".join(content["watch"]))


def test_a_word_wider_than_its_cell_is_broken_and_no_other() -> None:
    """Twelve of the widest letter are 37 mm at 11 points, and `from` has 18: they ran over it. `tin` is narrow."""
    pages_of = []
    for at in ("Щ" * 12, "tin 4"):
        drawer = DataFrame([{"part": "P-40", "thickness_mm": "0.40", "on_hand": "1", "at": at}])
        spec = {
            "unit": "mm",
            "window": {"min": 0.08, "max": 0.20, "source": "sheet 2"},
            "gap": [{"name": "idler", "feeler": {"go": 0.53, "no_go": 0.58}}],
        }
        file = pdf_of(sheet_content(decide(job_from(spec, drawer)), "mm", "2026-05-03"), "a4", MOMENT).file
        pages_of.append(pypdf.PdfReader(io.BytesIO(file)).pages[0].extract_text().replace("\u200b", ""))
    wide, narrow = pages_of
    # on two lines at least, and whole where they are put together again
    assert "Щ" * 12 not in wide
    assert "Щ" * 12 in "".join(wide.split())
    assert "tin 4" in narrow


def test_a_gap_read_from_nothing_is_turned_before_it_runs_and_nobody_runs_it_in(tmp_path: Path) -> None:
    """No blade of 0.05 goes with 0.45 in; 0.10 comes out: 0.10 to 0.15 of 0.08 to 0.18, or preloaded."""
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nC-30,0.30,0\nC-10,0.10,0\nC-05,0.05,0\n")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.08, max = 0.18, source = "plate" }\n'
        '[[place]]\nname = "arm"\ninstalled = ["C-30", "C-10", "C-05"]\n'
        '[[gap]]\nname = "arm"\nfeeler = { no_go = 0.05 }\n'
    )
    decision = decide(load_job(tmp_path))
    assert decision.outcome.gaps["arm"].verdict == "inside"
    said = " ".join(str(letter_content(decision, "mm", "2026-05-03")[key]) for key in ("warnings", "answer", "watch"))
    assert "Before it runs, the workshop sees that arm is not tight already." in said
    assert "after running in" not in said


def test_what_came_out_for_the_reading_of_a_cover_is_told_as_found() -> None:
    cover = {"name": "end cover", "cover_gap": {"go": 0.05, "no_go": 0.10}}
    drawer = DataFrame(
        [{"part": p, "thickness_mm": t, "on_hand": "1"} for p, t in (("S-20", "0.20"), ("S-25", "0.25"))]
    )
    table = {
        "title": "Pump",
        "unit": "mm",
        "window": {"min": 0.05, "max": 0.15, "source": "handbook"},
        "place": [{"name": "end cover", "came_out": ["S-25"]}],
        "gap": [cover],
    }
    (gap,) = letter_content(decide(job_from(table, drawer)), "mm", "2026-05-03")["gaps"]
    assert gap["row"][0] == "without shims the cover stands 0.05 to 0.10 mm off; S-25 came out"


WINCH = """\
title = "Steam winch, drum and crosshead"
unit = "thou"
drawer = "drawer.csv"
window = { min = 6, max = 12, source = "rebuild notes, sheet 3" }
[[gap]]
name = "drum, engine side"
feeler = [{ go = 28, no_go = 30 }, { go = 30, no_go = 32 }]
[[gap]]
name = "drum, brake side"
feeler = { go = 9, no_go = 10 }
[[gap]]
name = "crosshead"
value = "0.021 in ± 0.0005 in"
window = { max = 8, min = "none", source = "shop practice" }
[[gap]]
name = "thrust cap"
cover_gap = { go = 4, no_go = 5 }
window = { preload = [1, 3], source = "bearing leaflet 1952" }
[[gap]]
name = "pawl"
feeler = { go = 3, no_go = 4 }
[[balance]]
name = "drum ends"
gaps = ["drum, engine side", "drum, brake side"]
within = 2
"""
WINCH_DRAWER = (
    "part,thickness_thou,tolerance_thou,on_hand,at\nD-20,20,0.5,2,drawer 3\nC-15,15,0.5,1,tin\nC-02,2,0.2,4,tin\n"
)


def test_five_gaps_of_every_kind_stand_on_one_sheet(tmp_path: Path) -> None:
    """One is wrong, one too tight to be turned, one under a cover, two alike: all of it is told, in smaller type."""
    (tmp_path / "job.toml").write_text(WINCH, encoding="utf-8")
    (tmp_path / "drawer.csv").write_text(WINCH_DRAWER, encoding="utf-8")
    content = sheet_content(decide(load_job(tmp_path)), "thou", "2026-05-03")
    assert pages(content) == 1
    # what is not for all names those that it is not for, where they are fewer
    assert content["read"][0] == "All but thrust cap: tighten as for service"


@pytest.mark.parametrize(
    ("folder", "said"),
    [
        ("gears/cone-and-play", "Next the workshop settles what is open, measures again and works it out anew;"),
        ("gears/six-choices", "Next the workshop looks again at what is allowed and what was measured, before"),
        ("advice/why-fewest-pieces", "Next the workshop gets what is wanted for "),
        (
            "advice/no-shims-allowed",
            "from being right, before any metal comes off; a new letter then says how it stands.",
        ),
    ],
)
def test_the_letter_says_what_happens_next(folder: str, said: str) -> None:
    letter = letter_content(decide(load_job(Path(__file__).parent / "data" / folder)), "mm", "2026-05-03")
    assert said in " ".join(letter["watch"])
    # no code that a customer cannot use
    assert "S-30" not in str([one["sentences"] for one in letter["gaps"]])


def test_the_letter_says_nothing_of_next_where_all_is_right() -> None:
    assert "Next the workshop" not in str(letter_content(demo("swing-bridge"), "thou", "2026-05-03")["watch"])
