"""Sheet and card of one job never count on one piece twice: what the card may need, step 4 gives to no other place."""

from __future__ import annotations

import re
from collections import Counter
from functools import reduce
from operator import or_
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.ordering.order import make_order
from shimopt.planner import decide
from shimopt.render.papers.sheet import sheet_content
from tests.job_files import write_job

# arm's rows fit H-28 or H-32; left and right are set by one of each, and no card is sure of them
JOB = """\
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "sheet"
[[place]]
name = "left"
[[place]]
name = "right"
[[place]]
name = "arm"
[[gap]]
name = "arm"
feeler = {{ go = 0.42, no_go = 0.46 }}
[[gap]]
name = "play"
value = "0.75 mm ± {known} mm"
effects = {{ left = -1, right = -1 }}
[[gap]]
name = "place of wheel"
value = "0.17 mm ± 0.01 mm"
effects = {{ left = 0.5, right = -0.5 }}
"""
THIRD = '[[gap]]\nname = "third"\nvalue = "0.17 mm ± 0.01 mm"\neffects = { left = 0.4, right = -0.4 }\n'
DRAWER = "part,thickness_mm,on_hand\nH-30,0.30,1\nH-28,0.28,{count}\nH-32,0.32,{count}\n"


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize(("known", "third"), [("0.01", ""), ("0.06", ""), ("0.01", THIRD)])
def test_what_the_card_may_need_goes_nowhere_else(tmp_path: Path, known: str, third: str, count: int) -> None:
    """Of each name at most so many as lie in the drawer, between step 4 and the most that any row of each card fits."""
    plan = decide(load_job(write_job(tmp_path, JOB.format(known=known) + third, DRAWER.format(count=count))))
    sheet = sheet_content(plan, "mm", "2026-05-03", make_order([plan.job]))
    used = Counter(piece["name"] for place in sheet["places"] for piece in place["pieces"])
    for card in sheet["card"]["cards"]:
        used += reduce(or_, (Counter(re.findall(r"H-\d\d", row["fit"])) for row in card["rows"]), Counter[str]())
    there = Counter({"H-30": 1, "H-28": count, "H-32": count})
    assert used <= there
    if (known, third, count) == ("0.06", "", 1):
        assert [place["pieces"] for place in sheet["places"]] == [[], [], []]
        assert "left and right: read, then plan again." in sheet["answer"]
    if (known, count) == ("0.06", 2):
        # with another of each, arm's card and the plan's stacks go together
        assert sheet["places"][0]["pieces"]


def test_a_place_for_which_the_card_has_no_row_is_not_sent_to_it(tmp_path: Path) -> None:
    """Three readings have no columns on a card: it says that they are planned again."""
    plan = decide(load_job(write_job(tmp_path, JOB.format(known="0.01") + THIRD, DRAWER.format(count=1))))
    sheet = sheet_content(plan, "mm", "2026-05-03", make_order([plan.job]))
    said = {place["name"]: place["nothing"] for place in sheet["places"]}
    assert said["arm"].startswith("by the card at the end")
    assert "by the card" not in said["left"] + said["right"]
