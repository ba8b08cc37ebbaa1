"""One rule for readings: what blades can show is bought for, is a row, and is counted; jobs that showed it otherwise.

The sums are worked out beside each check; all lengths as the jobs say.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.command import Run

SIZES = ("15", "20", "25", "30", "35")


def ordered(run: Run, folder: Path, job: str, drawer: str = "", catalogue: str = "") -> dict[str, Any]:
    of = "_thou" if "thou" in job else "_mm"
    (folder / "drawer.csv").write_text(f"part,thickness{of},tolerance{of},on_hand\n{drawer}", encoding="utf-8")
    (folder / "cat.csv").write_text(f"part,thickness{of},tolerance{of},price,currency\n{catalogue}", encoding="utf-8")
    head = (
        'drawer = "drawer.csv"\ncatalogues = ["cat.csv"]\ncurrency = "EUR"\n'
        if catalogue
        else 'drawer = "drawer.csv"\n'
    )
    (folder / "job.toml").write_text(head + job, encoding="utf-8")
    found: dict[str, Any] = json.loads(run("order", folder, "--json")[1])
    return found


def test_nothing_is_bought_for_what_no_pair_of_blades_shows(run: Run, tmp_path: Path) -> None:
    """0.15 goes, 0.17 does not, -0.06 to 0.02: 0.20 leaves -0.053 to -0.027, whatever of today's pair it is.

    0.15 would serve the best estimates 0.150 to 0.157, which between these blades nobody reads.
    """
    job = 'unit = "mm"\nwindow = { min = -0.06, max = 0.02, source = "maker 5" }\n[[gap]]\nname = "wheel"\n'
    job += "feeler = { go = 0.15, no_go = 0.17 }\n"
    found = ordered(run, tmp_path, job, catalogue="".join(f"D-{s},0.{s},0.003,1,EUR\n" for s in SIZES))
    assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("D-20", 1)]
    assert found["sure"]
    assert "taken with blades that step as today's" in " ".join(found["assumed"])
    rows = {(row["go"], row["no_go"]): row["stack"] for row in found["cards"][0]["blades"]}
    assert [one["part"] for one in rows[0.15, 0.17]] == ["D-20"]


def test_a_pair_of_blades_that_may_show_the_gap_is_bought_for(run: Run, tmp_path: Path) -> None:
    """0.75 goes, 0.80 does not; by a shift of 0.02 it may come to 0.73 to 0.82, which 0.70/0.75 and 0.80/0.85 show.

    0.02 to 0.12 asks for 0.63 to 0.68 at 0.70/0.75, for 0.68 to 0.73 at today's pair, and 0.73 to 0.78 above it. Even
    over the pair and the shift, 0.02 / 0.05 of all gaps lie within the shift of 0.80, and a quarter of these go past
    it: 0.4 x 0.25 = 10 % either side.
    """
    job = 'unit = "mm"\nwindow = { min = 0.02, max = 0.12, source = "sheet 9" }\n[[gap]]\nname = "play"\n'
    job += "feeler = { go = 0.75, no_go = 0.80 }\n"
    sizes = "".join(f"D-{s},0.{s},0.003,1,EUR\n" for s in (60, 65, 70, 75, 80))
    found = ordered(run, tmp_path, job, catalogue=sizes)
    assert [line["part"] for line in found["lines"]] == ["D-70"]
    found = ordered(run, tmp_path, f"shift = 0.02\n{job}", catalogue=sizes)
    assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("D-65", 1), ("D-70", 1), ("D-75", 1)]
    rows = {(row["go"], row["no_go"]): row["stack"] for row in found["cards"][0]["blades"]}
    assert [rows[pair][0]["part"] for pair in ((0.70, 0.75), (0.75, 0.80), (0.80, 0.85))] == ["D-65", "D-70", "D-75"]
    today = next(way for way in found["options"] if way["name"] == "exact")
    assert today["chance"] == pytest.approx(0.8)


def test_a_row_that_says_stop_says_what_thickness_would_serve(run: Run, tmp_path: Path) -> None:
    """Only 0.70 is to be had. At 0.70/0.75 it takes 0.75 - 0.12 to 0.70 - 0.02, at 0.80/0.85 0.85 - 0.12 to 0.78."""
    job = 'unit = "mm"\nshift = 0.02\nwindow = { min = 0.02, max = 0.12, source = "sheet 9" }\n[[gap]]\nname = "play"\n'
    ordered(run, tmp_path, job + "feeler = { go = 0.75, no_go = 0.80 }\n", catalogue="D-70,0.70,0.003,1,EUR\n")
    words = " ".join(run("order", tmp_path)[1].split())
    assert "0.70 goes, 0.75 does not not covered: stop; 0.63 to 0.68 mm of shims would serve" in words
    assert "0.80 goes, 0.85 does not not covered: stop; 0.73 to 0.78 mm of shims would serve" in words
    run("order", tmp_path, "--card", tmp_path / "card.txt")
    card = " ".join((tmp_path / "card.txt").read_text(encoding="utf-8").split())
    assert "0.63 to 0.68 mm of shims would serve" in card


def test_a_card_that_serves_nothing_asks_for_the_size_that_is_told_below_it(run: Run, tmp_path: Path) -> None:
    """Blades that step by 1 show 13 to 14 and nothing else: 14 - 12 to 13 - 4 thou serve, above the foot and in it."""
    job = 'unit = "thou"\nwindow = { min = 4, max = 12, source = "sheet 3" }\n[[gap]]\nname = "feed"\n'
    ordered(run, tmp_path, job + "feeler = { go = 13, no_go = 14 }\n", drawer="N-15,15,0,4\n")
    words = " ".join(run("order", tmp_path)[1].split())
    assert "13 to 14 not covered: stop; 2 to 9 thou of shims would serve" in words
    assert "What would close it: a piece of 2 to 9 thou;" in words


def test_a_card_says_which_bores_its_seat_takes(run: Run, tmp_path: Path) -> None:
    """A shaft of 15.99 to 16.01 takes 16.01 and more; up to a play of 0.30 on the thinnest shaft, 16.29."""
    job = 'unit = "mm"\nwindow = { min = 0.02, max = 0.12, source = "sheet 9" }\n'
    job += '[[seat]]\nname = "pin"\nshaft = "16 mm ± 0.01 mm"\nbore_play = 0.30\n'
    job += '[[gap]]\nname = "play"\nseat = "pin"\nfeeler = { go = 0.75, no_go = 0.80 }\n'
    ordered(run, tmp_path, job)
    head = "part,thickness_mm,tolerance_mm,inner_mm,on_hand\n"
    (tmp_path / "drawer.csv").write_text(f"{head}D-70,0.70,0.003,16.1,1\n", encoding="utf-8")
    words = " ".join(run("order", tmp_path)[1].split())
    assert "bores 16.01 to 16.29 mm: a smaller one does not go on, a larger one may hang off centre" in words


def test_beyond_the_range_a_row_fits_what_a_plan_of_that_reading_fits(run: Run, tmp_path: Path) -> None:
    """A cover, at least 6 thou, reads 3 to 5: 5 goes, 7 does not and 2 more leave 7 to 9, inside."""
    job = 'unit = "thou"\nwindow = { min = 6, max = "none", source = "sheet 3" }\n[[gap]]\nname = "sheave"\n'
    job += 'feeler = { go = 3, no_go = 5 }\n[gap.effects]\nsheave = 1\n[[place]]\nname = "sheave"\n'
    drawer = "A-2,2,0,2\nA-5,5,0,1\nA-20,20,0,2\n"
    rows = {row["go"]: row["stack"] for row in ordered(run, tmp_path, job, drawer)["cards"][0]["blades"]}
    thou = {round(go / 0.0254): [one["part"] for one in stack or []] for go, stack in rows.items()}
    assert (thou[3], thou[5]) == (["A-5"], ["A-2"])
    read = job.replace("go = 3, no_go = 5", "go = 5, no_go = 7")
    (tmp_path / "job.toml").write_text(f'drawer = "drawer.csv"\n{read}', encoding="utf-8")
    (place,) = json.loads(run("plan", tmp_path, "--json")[1])["places"]
    assert [one["part"] for one in place["stack"]] == ["A-2"]


def test_what_another_gap_holds_closes_no_hole_and_stays_out_of_the_drawer(run: Run, tmp_path: Path) -> None:
    """Drum holds 0.60 and reads 0.20 to 0.25, of 0.10 to 0.20; roller needs all three C-10 (0.18 to 0.20 with them).

    C-05 alone is left: 0.25 - 0.048 = 0.202 is too much with a perfect gauge, too.
    """
    job = 'unit = "mm"\nwindow = { min = 0.10, max = 0.20, source = "plate" }\n'
    for name, stack, go, no_go in (("roller", ["C-10"] * 3, 0.18, 0.20), ("drum", ["C-30"] * 2, 0.20, 0.25)):
        job += f'[[place]]\nname = "{name}"\ninstalled = {json.dumps(stack)}\n[[gap]]\nname = "{name}"\n'
        job += f"feeler = {{ go = {go}, no_go = {no_go} }}\n"
    drawer = "C-30,0.30,0.004,0\nC-10,0.10,0.003,0\nC-05,0.05,0.002,1\n"
    found = ordered(run, tmp_path, job, drawer)
    assert [(hole["gap"], hole["finer"]) for hole in found["holes"]] == [("drum", None)]
    assert [(one["part"], one["least"], one["most"]) for one in found["leftovers"]] == [("C-05", 1, 1)]


def test_a_table_names_blades_and_all_that_is_nearest_to_them(run: Run, tmp_path: Path) -> None:
    """Play of two caps by value, mesh by blades: 0.15 goes, 0.20 does not is one pair, all that it may be its row."""
    job = 'unit = "mm"\nwindow = { min = 0.02, max = 0.20, source = "box" }\n'
    job += '[[place]]\nname = "left"\n[[place]]\nname = "right"\n'
    job += '[[gap]]\nname = "play"\nvalue = "0.62 mm ± 0.02 mm"\n[gap.effects]\nleft = -1\nright = -1\n'
    job += '[[gap]]\nname = "mesh"\nfeeler = { go = 0.35, no_go = 0.40 }\n[gap.effects]\nleft = -1\n'
    drawer = "D-25,0.25,0.002,1\nH-30,0.30,0.002,1\nH-25,0.25,0.002,1\n"
    (table,) = ordered(run, tmp_path, job, drawer)["tables"]
    for row in table["rows"]:
        play, mesh = row["readings"]
        assert "blades" not in play
        assert (mesh["from"], mesh["to"]) == (0.35, 0.40)
        assert mesh["blades"] == {"go": 0.35, "no_go": 0.40}


def test_with_one_limit_the_stack_that_changes_least_is_bought_and_money_left_over_buys_spares(
    run: Run, tmp_path: Path
) -> None:
    """At least 6 thou, reads 3 to 5: 5 leaves 8 to 10, 20 would leave 23 to 25; all of it costs the smallest order.

    5.00 less 0.50: of what serves in one piece two each come to 4.10, and 0.40 buys none.
    """
    job = 'unit = "thou"\nwindow = { min = 6, max = "none", source = "sheet 3" }\n[[gap]]\nname = "sheave"\n'
    job += 'feeler = { go = 3, no_go = 5 }\n[gap.effects]\nsheave = 1\n[[place]]\nname = "sheave"\n'
    ada = '[[supplier]]\nname = "Ada"\npostage = 2\nsmallest_order = 5\n'
    text = f'catalogues = ["cat.csv"]\ncurrency = "USD"\n{job}{ada}'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    sizes = ((2, "0.50"), (5, "0.50"), (10, "0.50"), (20, "0.55"))
    rows = "".join(f"Ada,A-{size},{size},{price},USD\n" for size, price in sizes)
    (tmp_path / "cat.csv").write_text(f"supplier,part,thickness_thou,price,currency\n{rows}", encoding="utf-8")
    found = json.loads(run("order", tmp_path, "--json")[1])
    assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("A-5", 1)]
    filled = sum(line["cost"] for line in found["top_up"])
    assert 4.50 - filled < 0.50
    bought = json.loads(run("plan", tmp_path, "--buy", "--json")[1])
    assert [one["part"] for one in bought["places"][0]["stack"]] == ["A-5"]


def test_a_piece_comes_out_of_a_place_whose_row_takes_it_out(run: Run, tmp_path: Path) -> None:
    """Keeper (0.10 to 0.15) holds its C-10; giver (0.02 to 0.03) sets it free; taker (0.21 to 0.22) needs one."""
    job = 'unit = "mm"\nwindow = { min = 0.08, max = 0.18, source = "plate" }\n'
    reads = {"keeper": (0.11, 0.13), "giver": (0.02, 0.03), "taker": (0.21, 0.22)}
    for name, (go, no_go) in reads.items():
        held = ["C-30"] if name == "taker" else ["C-30", "C-10"]
        job += f'[[place]]\nname = "{name}"\ninstalled = {json.dumps(held)}\n[[gap]]\nname = "{name}"\n'
        job += f"feeler = {{ go = {go}, no_go = {no_go} }}\n"
    ordered(run, tmp_path, job, "C-30,0.30,0.002,0\nC-10,0.10,0.002,0\n")
    said = " ".join(run("order", tmp_path)[1].split())
    assert "C-10 comes out of giver" in said
    assert "out of keeper" not in said
    assert "keeper and giver" not in said


def test_no_row_leaves_a_spring_in_and_none_is_said_to_stay(run: Run, tmp_path: Path) -> None:
    """A wavy washer is no shim: the plan takes it out, so no row keeps it, at whatever reading."""
    (tmp_path / "drawer.csv").write_text(
        "part,thickness_mm,form,on_hand\nWV-1,0.40,wavy,0\nP-50,0.50,ring,1\n", encoding="utf-8"
    )
    job = 'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.10, max = 0.20, source = "leaflet" }\n'
    job += '[[place]]\nname = "front"\ninstalled = ["WV-1", "P-50"]\n[[gap]]\nname = "front"\n'
    (tmp_path / "job.toml").write_text(f"{job}feeler = {{ go = 0.20, no_go = 0.25 }}\n", encoding="utf-8")
    said = " ".join(run("order", tmp_path)[1].split())
    assert "is in and stays" not in said
    assert "leave P-50 + WV-1 in" not in said
    assert "Read it again without it before anything is fitted or bought" in said
