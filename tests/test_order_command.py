"""`shimopt order` as people and programs call it: screen, JSON, files, exit codes, and input that cannot be."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from shimopt.tables.csv_text import harmless
from tests.command import Run
from tests.test_order_together import winch_with_a_little_play

DEMO = Path(__file__).parents[1] / "demo_data" / "quarry-tram"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo, to be changed."""
    return Path(shutil.copytree(DEMO, tmp_path / "tram"))


def edit(folder: Path, file: str, old: str, new: str) -> None:
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), encoding="utf-8")


def test_the_json_has_the_shape_that_other_programs_read(run: Run) -> None:
    code, out, _ = run("order", DEMO, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["format"] == 1
    assert found["sure"] is True
    line = found["lines"][0]
    assert {key: line[key] for key in ("supplier", "part", "packs", "pieces", "cost")} == {
        "supplier": "Harbour Bearings",
        "part": "PS50-0.2",
        "packs": 1,
        "pieces": 10,
        "cost": 4.6,
    }
    assert (found["cost"], found["arrives_in_days"], found["holes"]) == (9.4, 3, [])
    card = found["cards"][3]
    assert card["gap"] == "rear right"
    assert [(band["from"], band["to"]) for band in card["bands"]] == [(0.69, 0.725), (0.725, 0.74)]
    assert card["bands"][0]["stack"] == [{"part": "PS50-0.3", "piece": None, "measured": None, "pieces": 1}]
    assert [option["name"] for option in found["options"]] == ["exact", "sure", "neighbours"]
    assert all(level["proven"] and level["proof"] == "exact" for level in found["levels"])


def test_the_screen_fits_80_columns_and_answers_first(run: Run) -> None:
    code, out, _ = run("order", DEMO)
    assert code == 0
    assert out.startswith("Order 10 pieces from 1 supplier for 9.40 EUR")
    assert max(map(len, out.splitlines())) <= 80
    assert "0.725 to 0.740  fit PS50-0.3 + PS50-0.1" in out


def test_nothing_to_order_is_an_answer(run: Run, demo: Path) -> None:
    edit(demo, "drawer.csv", "PS50-0.3,0.30,+0/-0.05,,,50.2,1", "PS50-0.3,0.30,+0/-0.05,,,50.2,9")
    code, out, _ = run("order", demo)
    assert code == 0
    assert out.startswith("Nothing to order")
    assert "the drawer serves it" in out


def test_a_feeler_gap_has_one_row_per_pair_of_neighbouring_blades(run: Run, demo: Path) -> None:
    edit(demo, "gaps.csv", "front left,0.90,0.95,,journal,front axle\n", "front left,0.90,0.95,,journal,\n")
    edit(demo, "gaps.csv", "front right,0.70,0.75,,journal,front axle\n", "")
    edit(
        demo,
        "job.toml",
        "# read by `shimopt order`",
        '[[gap]]\nname = "front right"\nseat = "journal"\nfeeler = { go = 0.70, no_go = 0.75 }\nshift = 0.05\n',
    )
    _, out, _ = run("order", demo)
    rows = next(card for card in json.loads(run("order", demo, "--json")[1])["cards"] if card["gap"] == "front right")
    # 0.70 to 0.75, 0.05 either way, and the pair beside that on each side
    pairs = [(row["go"], row["no_go"]) for row in rows["blades"]]
    assert pairs == [(0.6, 0.65), (0.65, 0.7), (0.7, 0.75), (0.75, 0.8), (0.8, 0.85)]
    # rows that fit the same are one on the screen
    assert sum("goes, " in line for line in out.splitlines()) < len(pairs)
    assert "stop and measure again" in out


def test_a_stated_final_reading_and_a_shift_count_once(run: Run, demo: Path) -> None:
    edit(demo, "job.toml", 'unit = "mm"', 'unit = "mm"\nshift = 0.01\nfinal_reading = "± 0.005 mm"')
    _, out, _ = run("order", demo, "--json")
    card = json.loads(out)["cards"][0]
    assert card["range"] == {"from": 0.89, "to": 0.96}
    assert card["uncertainty"] == {"below": 0.005, "above": 0.005}


def test_files_for_european_spreadsheets_say_the_same(demo: Path, tmp_path: Path, run: Run) -> None:
    ours, theirs = tmp_path / "ours.csv", tmp_path / "theirs.csv"
    run("order", demo, "--quiet", "-o", ours)
    run("order", demo, "--quiet", "--semicolons", "-o", theirs)
    raw = theirs.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    plain = [line.split(",") for line in ours.read_text(encoding="utf-8").splitlines()]
    assert [line.replace(",", ".").split(";") for line in raw.decode("utf-8-sig").splitlines()] == plain


def test_files_for_suppliers_and_the_bench(run: Run, demo: Path, tmp_path: Path) -> None:
    names = [tmp_path / name for name in ("list.csv", "list.xlsx", "list.txt", "all.json", "card.csv", "card.txt")]
    outputs = [word for name in names[:4] for word in ("-o", str(name))]
    cards = [word for name in names[4:] for word in ("--card", str(name))]
    code, out, _ = run("order", demo, "--quiet", *outputs, *cards)
    assert (code, out) == (0, "")
    rows = list(csv.DictReader(io.StringIO(names[0].read_text(encoding="utf-8"))))
    assert [(row["supplier"], row["part"], row["packs"], row["cost"]) for row in rows] == [
        ("Harbour Bearings", "PS50-0.2", "1", "4.6"),
        ("Harbour Bearings", "(postage)", "", "4.8"),
        ("Harbour Bearings", "(total)", "", "9.4"),
    ]
    sheet = load_workbook(names[1]).worksheets[0]
    assert [cell.value for cell in sheet[2]][:8] == ["Harbour Bearings", "PS50-0.2", 1, 10, 10, 4.6, "EUR", 3]
    assert "1 pack of 10 (10 pieces) at 4.60 EUR " in names[2].read_text(encoding="utf-8")
    assert json.loads(names[3].read_text(encoding="utf-8"))["cost"] == 9.4
    assert "rear right,0.725,0.74,PS50-0.3 + PS50-0.1" in names[4].read_text(encoding="utf-8")
    assert "0.725 to 0.740  fit PS50-0.3 + PS50-0.1" in names[5].read_text(encoding="utf-8")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " ="])
def test_a_part_named_like_a_formula_is_harmless_in_a_spreadsheet(
    run: Run, demo: Path, tmp_path: Path, start: str
) -> None:
    name = f"{start}HYPERLINK(1)"
    assert harmless(name) == f"'{name}"
    edit(demo, "catalogue.csv", "PS50-0.2", name)
    run("order", demo, "--quiet", "-o", tmp_path / "list.csv", "-o", tmp_path / "list.xlsx")
    assert f"'{name.strip()}" in (tmp_path / "list.csv").read_text(encoding="utf-8")
    cell = load_workbook(tmp_path / "list.xlsx").worksheets[0]["B2"]
    assert (cell.data_type, cell.value) == ("s", f"'{name.strip()}")


def test_several_jobs_become_one_order_and_each_is_told_its_part(run: Run, demo: Path) -> None:
    code, out, _ = run("order", DEMO, demo, "--json")
    found = json.loads(out)
    assert code == 0
    assert [job["title"] for job in found["jobs"]] == ["Slate tram no. 3, axle boxes"] * 2
    assert len(found["cards"]) == 8
    # two drawers are put together, postage is paid once per supplier
    assert len({line["supplier"] for line in found["lines"]}) == len(found["suppliers"])


BAD = {
    "a price without a currency among others": (
        [
            (
                "catalogue.csv",
                "PS50-0.2,0.20,+0/-0.04,50.2,62,4.60,10,EUR,",
                "PS50-0.2,0.20,+0/-0.04,50.2,62,4.60,10,,",
            ),
            (
                "job.toml",
                'name = "Harbour Bearings"\npostage = 4.80\ncurrency = "EUR"',
                'name = "Harbour Bearings"\npostage = 4.80',
            ),
        ],
        [],
        "has no currency",
    ),
    "two currencies": ([("catalogue.csv", "1.10,1,EUR", "1.10,1,SEK")], [], "no rate says what one SEK costs"),
    "a pack of nothing": ([("catalogue.csv", "4.60,10,", "4.60,0,")], [], "a count is a whole number from 1"),
    "a negative lead time": (
        [("catalogue.csv", "Harbour Bearings,3", "Harbour Bearings,-3")],
        [],
        "whole number from 0",
    ),
    "a supplier whose terms nobody states": (
        [("job.toml", 'name = "Kettle Lane Tools"', 'name = "Kettel Lane Tools"')],
        [],
        "Kettel Lane Tools?",
    ),
    "a supplier without postage": ([("job.toml", "postage = 3.20\n", "")], [], "0 where there is none"),
    "negative postage": ([("job.toml", "postage = 3.20", "postage = -3.20")], [], "money is from 0 up"),
    "postage as text": ([("job.toml", "postage = 3.20", 'postage = "3.20 EUR"')], [], "money is a number"),
    "two suppliers of one name": (
        [("job.toml", 'name = "Kettle Lane Tools"', 'name = "Harbour Bearings"')],
        [],
        "two suppliers have this name",
    ),
    "a negative final reading": (
        [("job.toml", 'unit = "mm"', 'unit = "mm"\nfinal_reading = -0.01')],
        [],
        "not negative",
    ),
    "a day that is past": ([], ["--need-by", str(date.today() - timedelta(days=1))], "this day is past"),
    "a day that is none": ([], ["--need-by", "1 March"], "not a date"),
    "a budget of nothing": ([], ["--spend", "0"], "a budget of nothing"),
    "a budget below nothing": ([], ["--spend", "-5"], "a budget of nothing"),
    "a budget that is no number": ([], ["--spend", "much"], "not an amount"),
    "an ending that nobody knows": ([], ["-o", "list.pdf"], "ending"),
    "a card with an ending that nobody knows": ([], ["--card", "card.xlsx"], "ending"),
    "a folder that is not there": ([], ["-o", "nowhere/list.csv"], "no such folder"),
    "one file for two things": ([], ["-o", "one.csv", "--card", "one.csv"], "written twice"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_is_told_and_nothing_is_written(name: str, run: Run, demo: Path) -> None:
    edits, options, words = BAD[name]
    for file, old, new in edits:
        edit(demo, file, old, new)
    code, out, err = run("order", demo, "--json", *options)
    assert code == 2
    assert words in err
    assert json.loads(out)["errors"]


def test_a_hole_ends_with_exit_code_1(run: Run, demo: Path) -> None:
    code, out, _ = run("order", demo, "--spend", "1")
    assert code == 1
    assert "What would close it: more money, or ordering after the final reading" in " ".join(out.split())
    assert "Not covered" in out


def test_a_need_by_day_leaves_late_suppliers_out(run: Run, demo: Path) -> None:
    code, out, _ = run("order", demo, "--need-by", date.today() + timedelta(days=2), "--json")
    found = json.loads(out)
    assert code == 1
    assert found["lines"] == []
    assert "too_late" in [reason["code"] for reason in found["reasons"]]


def test_a_card_on_paper_names_every_gap_every_row_and_when_to_stop(run: Run, tmp_path: Path) -> None:
    target, page = tmp_path / "card.pdf", tmp_path / "card.html"
    mill = DEMO.parent / "fulling-mill"
    code, out, _ = run("order", mill, "--quiet", "--card", target, "--card", page, "--date", "2026-05-03")
    assert (code, out) == (0, "")
    text = " ".join(page_text for sheet in PdfReader(target).pages for page_text in sheet.extract_text().split())
    for words in (
        "north end",
        "south end",
        "step cover",
        "27 goes, 31 does not",
        "31 goes, 34 does not",
        "14 goes, 15 does not",
        "fit S-10 + S-05",
        "something moved, stop and measure again",
        "against the fixed face",
        "of different rows none: read with the blades between them",
        "Shims cut",
        "2026-05-03",
    ):
        assert words in text
        assert words in page.read_text(encoding="utf-8")
    again = tmp_path / "again.pdf"
    run("order", mill, "--quiet", "--card", again, "--date", "2026-05-03")
    assert again.read_bytes() == target.read_bytes()


def test_the_bench_sheet_ends_with_the_card_where_asked(tmp_path: Path, run: Run) -> None:
    target, page = tmp_path / "sheet.pdf", tmp_path / "sheet.html"
    for file in (target, page):
        run("sheet", DEMO, "-o", file, "--card")
    text = " ".join(PdfReader(target).pages[-1].extract_text().split())
    assert "Bench card: what goes in, by the final reading" in text
    assert "0.725 to 0.740" in text
    assert "fit PS50-0.3 + PS50-0.1" in page.read_text(encoding="utf-8")


def test_gaps_that_hang_together_and_find_no_answer_are_named_and_end_with_exit_code_1(
    run: Run, tmp_path: Path
) -> None:
    """So much as 0.07 of preload is allowed, 0.001 of play, and the reading is known to ± 0.05: none can be sure."""
    winch = winch_with_a_little_play(tmp_path)
    edit(winch, "job.toml", "0.07 mm ± 0.005 mm", "0.07 mm ± 0.05 mm")
    code, out, _ = run("order", winch)
    assert code == 1
    assert out.startswith("No order can be made")
    assert "left cap and right cap move it together" in " ".join(out.split())
    # nothing is on offer there, so nothing is asked to be bought
    assert "then plan again: shimopt plan JOB." in " ".join(out.split())
    assert "--buy" not in out
    code, out, _ = run("order", winch, DEMO, "--json")
    found = json.loads(out)
    assert (code, found["sure"], found["whole"]) == (1, False, False)
    assert [(left["gap"], left["why"]) for left in found["unanswered"]] == [
        ("preload", "several places"),
        ("backlash", "several places"),
    ]
    assert len(found["cards"]) == 4
    assert any("not kept back" in words for words in found["not_looked_at"])


def test_a_place_that_holds_a_shim_keeps_it_where_it_serves(run: Run) -> None:
    """2 inlet reads 0.18 to 0.20, window 0.15 to 0.25, the final reading off by 0.01 more: inside as it is."""
    code, out, _ = run("order", DEMO.parent / "twelve-valve", "--json")
    cards = {card["gap"]: card["bands"] for card in json.loads(out)["cards"]}
    assert code == 0
    assert [band["stays"] for band in cards["2 inlet"]] == [True]
    # 3 inlet reads 0.08 to 0.10 over a 2.547 ± 0.002: 2.446 ± 0.002 leaves 0.08 - 0.01 + 0.101 - 0.004 = 0.167 or more
    # and 0.10 + 0.01 + 0.101 + 0.004 = 0.215 or less
    assert [(band["stays"], band["stack"][0]["piece"]) for band in cards["3 inlet"]] == [(False, "1i")]
    assert "leave B-2.50 [2i] in" in run("order", DEMO.parent / "twelve-valve")[1]


def test_frames_can_come_out_further_apart_than_by_todays_brackets(run: Run) -> None:
    """By hand, on swing-bridge: upper 3 read snug at 11.5 stays, upper 2 where 8 goes, 9 does not: 11.5 - 8.5 = 3.

    Its rows let upper 1 lie at 12 and upper 2 at 8: 4 apart.
    """
    words = " ".join(run("order", DEMO.parent / "swing-bridge")[1].split())
    assert "But upper frame can come out more uneven than is asked: see Balance." in words
    # 2 thou may be: what a mechanic checks without a computer
    assert "read all again: upper 1, upper 2 and upper 3 have to stand within 2 thou of each other" in words
    assert "read as 8.5 thou it is uneven by 3 thou (4 thou at worst), and 2 thou may be" in words


def test_what_the_order_does_not_look_at_is_said(run: Run, demo: Path) -> None:
    edit(demo, "job.toml", 'unit = "mm"', 'unit = "mm"\ndecision = { chance = 0.95 }')
    words = " ".join(run("order", demo)[1].split())
    # front left at 0.95 keeps 0.461 (PS50-0.5 measured 0.489), front right at 0.705 comes to 0.345 with two PS50-0.2
    assert (
        "With front left read at a middle of 0.95 mm and front right read at a middle of 0.705 mm it is uneven by "
        "0.116 mm" in words
    )
    # by the card rear left then lies at 0.45 by best estimate, 0.475 at most, rear right, in its second row, at
    # 0.725 - 0.275 - 0.085 = 0.365 and 0.725 - 0.025 - 0.30 - 0.10 = 0.30
    assert "rear axle: uneven by 0.085 mm at most by best estimate, 0.175 mm at worst; 0.10 mm may be." in words
    assert "would do with a chance of 95.0 %. The order covers every gap for sure" in words


def test_a_measured_piece_and_a_new_one_of_one_name_are_told_apart(run: Run) -> None:
    assert "fit PS50-0.5 (measured 0.489 mm)" in run("order", DEMO)[1]


def test_a_gap_that_needs_metal_removed_is_told_so(run: Run, demo: Path) -> None:
    """Read 0.10 to 0.15 where 0.20 must be: too small wherever it lies.

    A final reading of 0.10 leaves 0.075 to 0.125, for half a bracket is 0.025: 0.125 more brings that to 0.20.
    """
    edit(demo, "gaps.csv", "rear left,0.40,0.45", "rear left,0.10,0.15")
    code, out, _ = run("order", demo)
    words = " ".join(out.split())
    assert code == 1
    assert "rear left is served at no reading" in words
    assert (
        "rear left: not covered at a final reading of 0.10 to 0.15 mm (chance 100 %). There the gap is "
        "too small with no shim at all. Where reading and seating are right, this gap needs metal removed, 0.125 mm "
        "for all of these readings" in words
    )


def test_a_seat_that_takes_no_shims_is_not_offered_a_piece(run: Run, demo: Path) -> None:
    edit(demo, "job.toml", "most_pieces = 2", 'most_pieces = 2\nshims_allowed = false\nwhy = "hardened face"')
    words = " ".join(run("order", demo)[1].split())
    assert "The seat takes no shims (hardened face), so nothing that is bought helps" in words
    assert "a piece of" not in words


def test_where_nobody_states_a_price_no_sum_is_called_known(demo: Path, tmp_path: Path, run: Run) -> None:
    table = (demo / "catalogue.csv").read_text(encoding="utf-8")
    (demo / "catalogue.csv").write_text(table.replace(",price,", ",note,", 1), encoding="utf-8")
    letter = tmp_path / "order.txt"
    _, out, _ = run("order", demo, "-o", letter)
    assert "cost not known" in out
    assert "not known, for a part has no price" in out
    assert "goods 0" not in out
    assert "top-up" not in out
    text = letter.read_text(encoding="utf-8")
    assert ", at your price\n" in text
    assert "Please confirm the price " in text
    assert "Total" not in text
    found = json.loads(run("order", demo, "--json")[1])
    assert found["cost"] is None
    assert all((bill["goods"], bill["total"], bill["top_up"]) == (None, None, 0) for bill in found["suppliers"])


def test_blades_keep_the_unit_that_they_are_marked_in(run: Run) -> None:
    out = run("order", DEMO.with_name("fulling-mill"), "--unit", "mm")[1]
    assert "6 thou goes, 10 thou does not" in out
    # how long it took may be any number
    assert "0.43" not in re.sub(r"in [\d.]+ s;", "", out)


def test_a_cover_read_by_blades_has_rows_of_blades(run: Run) -> None:
    """The window is 3 to 10 and S-10 is 9.8 to 10.2: where 5 goes and 6 does not, 9.8 - 6 = 3.8 is left at least.

    Where 6 goes and 7 does not it would be 9.8 - 7 = 2.8; with S-05, of 4.8 to 5.2, it is 7.6 to 9.4.
    """
    found = json.loads(run("order", DEMO.with_name("fulling-mill"), "--json")[1])
    rows = found["cards"][2]["blades"]
    told = [(round(row["go"] / 0.0254), [piece["part"] for piece in row["stack"]]) for row in rows]
    assert told[2] == (5, ["S-10"])
    assert sorted(told[3][1]) == ["S-05", "S-10"]


def test_a_gap_without_any_row_says_so_and_nothing_about_end_rows(run: Run, demo: Path) -> None:
    edit(demo, "gaps.csv", "rear left,0.40,0.45", "rear left,0.10,0.15")
    lines = run("order", demo)[1].splitlines()
    at = lines.index("  rear left")
    assert lines[at + 1].startswith("    middle: half-way between the blade that goes and the one that does not")
    assert "not covered: stop" in lines[at + 3]
    # 0.10 to 0.15 is below its window
    assert lines[at + 4].startswith("    no shim helps there, so a new plan changes nothing: look at reading and")
