"""A window of play without a smallest clearance ends at 0: no preload is built that nobody limits.

That is common practice of the trade, with no source: play is play only above nothing, and how much preload a bearing
takes is a figure of its own. The sums are worked out beside each check.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from tests.command import Run

_AT_MOST = 'unit = "mm"\ndrawer = "d.csv"\n[window]\nmin = "none"\nmax = 0.10\nsource = "s"\n'


def planned(folder: Path, job: str, drawer: str) -> Decision:
    (folder / "d.csv").write_text(f"part,thickness_mm,on_hand{drawer}", encoding="utf-8")
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return decide(load_job(folder))


def test_what_preloads_a_gap_of_play_is_not_fitted(tmp_path: Path, run: Run) -> None:
    # at most 0.10 of play; 0.25 to 0.30 read, and only 0.50 there: that would be 0.20 to 0.25 of preload
    job = f'{_AT_MOST}[[gap]]\nname = "a"\nfeeler = {{ go = 0.25, no_go = 0.30 }}\n'
    plan = planned(tmp_path, job, "\nD-50,0.50,1\n")
    assert plan.stacks["a"] == ()
    assert plan.outcome.gaps["a"].verdict == "outside"
    for said in (str(letter_content(plan, "mm", "2026-01-01")), run("plan", tmp_path)[1], run("why", tmp_path, "a")[1]):
        words = " ".join(said.split()).casefold()
        assert "nothing states how much preload it may have" in words
        assert "at most 0.10" in words
    code, out, _ = run("order", tmp_path, "--json")
    order = json.loads(out)
    assert (code, order["sure"]) == (1, False)
    assert order["cards"][0]["bands"] == []
    assert [hole["cause"] for hole in order["holes"]] == ["sizes"]
    assert "nothing states how much" in order["holes"][0]["words"]
    run("order", tmp_path, "--card", tmp_path / "card.csv")
    assert "D-50" not in (tmp_path / "card.csv").read_text(encoding="utf-8")
    # 0.20 leaves 0.05 to 0.10 of play
    assert planned(tmp_path, job, "\nD-20,0.20,1\n").outcome.gaps["a"].verdict == "inside"


def test_nor_where_places_act_together(tmp_path: Path, run: Run) -> None:
    # p closes a and b, q opens a: 0.50 at p would bring both below 0.10, and to 0.35 and 0.25 of preload
    job = f'{_AT_MOST}[[place]]\nname = "p"\n[[place]]\nname = "q"\n'
    job += '[[gap]]\nname = "a"\nvalue = "0.15 ± 0.03 mm"\neffects = { p = -1, q = 1 }\n'
    job += '[[gap]]\nname = "b"\nvalue = "0.25 ± 0.02 mm"\neffects = { p = -1 }\n'
    plan = planned(tmp_path, job, "\nD-50,0.50,2\n")
    assert set(plan.stacks.values()) == {()}
    for said in (str(letter_content(plan, "mm", "2026-01-01")), run("plan", tmp_path)[1], run("why", tmp_path)[1]):
        assert "nothing states how much preload it may have" in " ".join(said.split()).casefold()
    code, out, _ = run("order", tmp_path, "--json")
    assert (code, json.loads(out)["tables"]) == (1, [])
    # stated, it is built
    allowed = job.replace('min = "none"', "min = -0.40")
    assert planned(tmp_path, allowed, "\nD-50,0.50,2\n").outcome.levels["outside"] == 0


def test_a_window_with_a_hot_one_ends_at_nothing_hot_too(tmp_path: Path) -> None:
    # cast iron over steel closes by (11.3 - 10.6 = 0.7 millionths) x 1 m x 100 K: here 0.05 mm by figures stated
    heat = (
        "heat = { housing = { coefficient = 1e-5, length = 50 }, shaft = { coefficient = 2e-5, length = 50 }, "
        'from = "0 C", to = "100 C", window = { min = "none", max = 0.20, source = "hot" } }\n'
    )
    job = f'{_AT_MOST}[[gap]]\nname = "a"\nvalue = 0.03\n{heat}'
    window = planned(tmp_path, job, "\nD-50,0.50,2\n").job.gaps[0].window
    # 50 mm x 1e-5 x 100 K = 0.05 mm less when hot: cold it keeps 0.05 at least
    assert (window.min, window.max, window.ended) == (50_000, 100_000, False)


def test_no_clearance_has_play_cold_and_hot(tmp_path: Path) -> None:
    # it closes by 50 mm x 1e-5 x 100 K = 0.05 mm when hot, and at most 0.02 is allowed cold
    heat = (
        "heat = { housing = { coefficient = 1e-5, length = 50 }, shaft = { coefficient = 2e-5, length = 50 }, "
        'from = "0 C", to = "100 C", window = { min = "none", max = 0.20, source = "hot" } }\n'
    )
    job = f'{_AT_MOST.replace("0.10", "0.02")}[[gap]]\nname = "a"\nvalue = 0.01\n{heat}'
    with pytest.raises(InputError) as wrong:
        planned(tmp_path, job, "\nD-50,0.50,2\n")
    [problem] = wrong.value.problems
    assert "0.05 mm or more and 0.02 mm or less" in problem.rule
    assert "state so much as `min`" in problem.remedy


@pytest.mark.parametrize(
    ("window", "least", "target"),
    [
        ('{ min = "none", max = 0.10, source = "s" }', 0, None),
        ('{ min = "none", max = 0.10, target = 0.04, source = "s" }', 0, 40_000),
        # who aims at a preload knows of it
        ('{ min = "none", max = 0.10, target = -0.04, source = "s" }', None, -40_000),
        ('{ min = "none", max = -0.10, source = "s" }', None, None),
        ('{ min = "none", max = 0, source = "s" }', None, None),
        ('{ min = 0.05, max = "none", source = "s" }', 50_000, None),
    ],
)
def test_where_a_window_ends(tmp_path: Path, window: str, least: int | None, target: int | None) -> None:
    job = f'unit = "mm"\ndrawer = "d.csv"\n[[gap]]\nname = "a"\nvalue = 0.05\nwindow = {window}\n'
    plan = planned(tmp_path, job, "\nD-50,0.50,2\n")
    found = plan.job.gaps[0].window
    assert (found.min, found.target) == (least, target)
