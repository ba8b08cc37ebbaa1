"""Several jobs in one order: what they share, what stays each one's own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import shimopt
from shimopt.errors import InputError
from shimopt.ordering.order import make_order
from shimopt.render.json.order_json import order_object
from tests.job_files import write_job

DEMO = Path(__file__).parents[1] / "demo_data"

JOB = """
title = "{title}"
unit = "mm"
drawer = "drawer.csv"
catalogues = ["catalogue.csv"]

[[supplier]]
name = "north"
postage = {postage}

[[gap]]
name = "end"
value = "0.40 mm ± 0.01 mm"
window = {{ min = 0.05, max = 0.15, source = "test" }}
"""


def told(*folders: Path) -> dict[str, Any]:
    return order_object(make_order([shimopt.load_job(folder) for folder in folders]))


def fitted(found: dict[str, Any], job: int) -> list[Any]:
    cards = [card for card in found["cards"] if card["job"] == found["jobs"][job]["title"]]
    return [(card["gap"], [band["stack"] for band in card["bands"]]) for card in cards]


def a_job(folder: Path, title: str, *, postage: str = "2", drawer: str = "part,thickness_mm,on_hand\nZ,2,1\n") -> Path:
    folder.mkdir()
    return write_job(
        folder,
        JOB.format(title=title, postage=postage),
        drawer=drawer,
        catalogue_csv="part,thickness_mm,price,supplier,lead_days\nB,0.3,1,north,3\n",
    )


def test_jobs_with_drawers_of_their_own_get_what_each_would_get_alone() -> None:
    """Nobody said that the bridge's rings suit the mill's cover, which states no seat: they do not go there."""
    mill, both = told(DEMO / "fulling-mill"), told(DEMO / "swing-bridge", DEMO / "fulling-mill")
    assert both["cost"] == mill["cost"]
    assert both["sure"]
    for job, marks in ((0, ("R-", "W-")), (1, ("S-",))):
        parts = [entry["part"] for _, stacks in fitted(both, job) for stack in stacks for entry in stack]
        assert parts
        assert all(part.startswith(marks) for part in parts)


def test_what_is_in_a_place_stays_that_part_among_the_parts_of_several_jobs() -> None:
    alone, both = told(DEMO / "twelve-valve"), told(DEMO / "quarry-tram", DEMO / "twelve-valve")
    assert fitted(both, 1) == fitted(alone, 0)


def test_postage_is_paid_once_and_the_part_of_each_job_is_told(tmp_path: Path) -> None:
    """0.40 ± 0.01 and a window of 0.05 to 0.15: a 0.3 each, 1 a piece and 2 for the parcel."""
    found = told(a_job(tmp_path / "one", "one"), a_job(tmp_path / "two", "two"))
    assert (found["cost"], [line["pieces"] for line in found["lines"]]) == (4, [2])
    assert [(job["title"], job["pieces"][0]["pieces"]) for job in found["jobs"]] == [("one", 1), ("two", 1)]


def test_different_terms_of_one_supplier_are_refused(tmp_path: Path) -> None:
    one, two = a_job(tmp_path / "one", "one"), a_job(tmp_path / "two", "two", postage="3")
    with pytest.raises(InputError) as refused:
        told(one, two)
    assert "states other terms of this supplier" in str(refused.value)


def test_a_drawer_that_two_jobs_name_counts_once(tmp_path: Path) -> None:
    drawer = "part,thickness_mm,on_hand\nA,0.3,1\n"
    one, two = a_job(tmp_path / "one", "one", drawer=drawer), a_job(tmp_path / "two", "two", drawer=drawer)
    # two drawers, a piece in each
    assert told(one, two)["cost"] == 0
    (two / "job.toml").write_text(
        (two / "job.toml").read_text(encoding="utf-8").replace('"drawer.csv"', '"../one/drawer.csv"'), encoding="utf-8"
    )
    assert told(one, two)["cost"] == 3


def test_what_came_out_for_the_reading_stays_that_part_among_the_parts_of_several_jobs(tmp_path: Path) -> None:
    """Z-30 lies on the bench of the second job; A-30 of the first comes before it in the common stock."""
    folders = []
    for name, part in (("one", "A-30"), ("two", "Z-30")):
        folder = tmp_path / name
        folder.mkdir()
        place = f'[[place]]\nname = "end"\ncame_out = ["{part}"]\n'
        drawer = f"part,thickness_mm,on_hand\n{part},0.3,1\n"
        folders.append(write_job(folder, JOB.format(title=name, postage="2") + place, drawer=drawer))
        (folder / "catalogue.csv").write_text("part,thickness_mm,price,supplier\nB,5,1,north\n")
    order = make_order([shimopt.load_job(folder) for folder in folders])
    came_out = [[order.stock[i].part.name for place in job.places for i in place.came_out] for job in order.jobs]
    assert came_out == [["A-30"], ["Z-30"]]
