"""The door for Python: what it promises, and that its frames hold what the JSON holds."""

from __future__ import annotations

import doctest
import inspect
import json
import re
import subprocess
import sys
from datetime import date
from decimal import Decimal
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import shimopt
from shimopt.errors import InputError
from shimopt.render.json.results_json import json_text
from tests.job_files import JOB, write_job
from tests.readme import README

DEMO = Path("demo_data")
DEMOS = ["fulling-mill", "quarry-tram", "slipway-winch", "swing-bridge", "twelve-valve"]
PUBLIC = [
    "came",
    "fit",
    "job_from",
    "letter",
    "load_job",
    "load_stock",
    "one_gap",
    "order",
    "plan",
    "plan_many",
    "record",
    "why",
]
ANSWERS = ["Arrival", "Job", "OneGap", "Order", "Plan", "Recording"]
ERRORS = ["FaultError", "InputError", "Problem", "ShimoptError"]
PARTS = pd.DataFrame({"part": ["A", "B"], "thickness_mm": [0.1, 0.2], "on_hand": [4, 4]})
ROTOR = {
    "title": "Rotor <b>of</b> the mill",
    "unit": "mm",
    "window": {"min": 0.1, "max": 0.2, "source": "sheet 3"},
    "gap": [{"name": "fore & aft", "feeler": {"go": 0.42, "no_go": 0.44}}, {"name": "aft", "value": 0.15}],
}


def test_the_public_surface_is_this_and_nothing_else() -> None:
    assert sorted(shimopt.__all__) == sorted([*PUBLIC, *ANSWERS, *ERRORS, "__version__"])
    assert dir(shimopt) == sorted(shimopt.__all__)
    for name in shimopt.__all__:
        assert getattr(shimopt, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'plann'"):
        _ = shimopt.plann


@pytest.mark.parametrize("name", [*PUBLIC, *ANSWERS])
def test_what_is_public_says_what_it_means_and_its_examples_run(name: str) -> None:
    thing = getattr(shimopt, name)
    told = inspect.getdoc(thing) or ""
    if name in PUBLIC:
        assert "Raises" in told
        assert "Parameters: " in told
    methods = [] if inspect.isfunction(thing) else [m for key, m in vars(thing).items() if not key.startswith("_")]
    assert all(inspect.getdoc(method) for method in methods if callable(method) or isinstance(method, property))
    runner = doctest.DocTestRunner()
    examples = doctest.DocTestFinder(recurse=True).find(thing, name, module=False, globs={name: thing})
    for example in examples:
        assert runner.run(example).failed == 0


@pytest.mark.parametrize("name", PUBLIC)
def test_every_function_has_an_example(name: str) -> None:
    assert ">>> " in (inspect.getdoc(getattr(shimopt, name)) or "")


def test_no_function_takes_more_than_a_few_things_without_their_names() -> None:
    for name in PUBLIC:
        kinds = [p.kind for p in inspect.signature(getattr(shimopt, name)).parameters.values()]
        assert kinds.count(inspect.Parameter.POSITIONAL_OR_KEYWORD) <= 2


def test_asking_for_a_plan_or_a_job_does_not_load_pandas() -> None:
    code = (
        "import sys, shimopt\n"
        "plan = shimopt.plan('demo_data/swing-bridge')\n"
        "repr(plan), plan.to_dict()\n"
        "print('pandas' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.split() == ["False"]


@pytest.mark.parametrize("name", DEMOS)
def test_frames_hold_what_the_json_holds(name: str) -> None:
    plan = shimopt.plan(DEMO / name)
    told = plan.to_dict()
    gaps = plan.gaps.astype(object).where(plan.gaps.notna(), None)
    for row, gap in zip(gaps.to_dict("records"), told["gaps"], strict=True):
        assert row["gap"] == gap["name"]
        for key, part in (("read", "reading"), ("after", "after")):
            assert [row[f"{key}_{end}_mm"] for end in ("low", "best", "high")] == [
                gap[part][end] for end in ("low", "best", "high")
            ]
        assert [row[f"{end}_mm"] for end in ("min", "max", "target")] == [
            gap["window"][end] for end in ("min", "max", "target")
        ]
        assert row["verdict"] == gap["verdict"]
        assert row["chance"] == pytest.approx(gap["chance"], abs=1e-6)
    for row, place in zip(plan.places.to_dict("records"), told["places"], strict=True):
        assert (row["place"], row["thickness_best_mm"]) == (place["name"], place["thickness"]["best"])
        assert row["pieces"] == sum(piece["pieces"] for piece in place["stack"])
    pieces = [(move["part"], move["from"], move["to"]) for move in told["moves"]]
    assert [tuple(row) for row in plan.moves[["part", "from", "to"]].to_numpy().tolist()] == pieces


def test_a_plan_may_be_asked_for_by_path_job_and_mapping() -> None:
    texts = set()
    for job in (DEMO / "quarry-tram", str(DEMO / "quarry-tram"), shimopt.load_job(DEMO / "quarry-tram")):
        told = shimopt.plan(job, True).to_dict()
        texts.add(json_text(told | {"seconds": 0}))
    assert len({json.dumps(json.loads(text)["places"]) for text in texts}) == 1
    with pytest.raises(InputError, match="The job has no gaps"):
        shimopt.plan({"unit": "mm"})


def test_a_job_in_memory_is_planned_explained_fitted_and_written_about(tmp_path: Path) -> None:
    job = shimopt.job_from(ROTOR | {"seat": [{"name": "journal", "shaft": 16}]}, PARTS)
    plan = shimopt.plan(job)
    # by hand: 0.42..0.44 less 0.30 is 0.12..0.14; less 0.2 would be 0.22..0.24, over the window
    assert plan.places["stack"].tolist() == ["B + A", ""]
    assert plan.gaps.loc[0, ["after_low_mm", "after_high_mm"]].tolist() == [0.12, 0.14]
    assert plan.doable
    assert "fore & aft" in shimopt.why(plan, "fore & aft")
    assert "aft" in shimopt.why(job)
    assert set(shimopt.fit(job)["part"]) == {"A", "B"}
    page = shimopt.letter(plan, tmp_path / "letter.html", written=date(2026, 5, 3))
    again = shimopt.letter(job, tmp_path / "again.html", written=date(2026, 5, 3))
    assert page.read_bytes() == again.read_bytes()
    assert shimopt.letter(plan, tmp_path / "letter.pdf").read_bytes().startswith(b"%PDF")


def test_a_job_in_memory_is_ordered_for() -> None:
    offers = pd.DataFrame({"part": ["A", "B"], "thickness_mm": [0.1, 0.2], "price": [1.0, 1.5], "supplier": ["S", "S"]})
    given = ROTOR | {"supplier": [{"name": "S", "postage": 4.5}]}
    order = shimopt.order(shimopt.job_from(given, shimopt.load_stock(catalogues=[offers])), need_by=None)
    assert order.whole
    # by hand: 0.42 to 0.44, known to 0.01, less 0.3 is 0.11 to 0.15, inside 0.10 to 0.20; one size less is over, and
    # A + B at 2.50 is cheaper than three A at 3.00; with postage 7.00
    assert order.lines[["part", "pieces"]].values.tolist() == [["A", 1], ["B", 1]]
    assert order.to_dict()["cost"] == 7.0
    assert repr(order).startswith("<Order for 1 job: ")
    assert len(repr(order)) < 200


def test_a_parcel_is_held_against_its_order_and_goes_into_the_drawer_once() -> None:
    """Ordered are A and B, as above; a B of 0.05 is off its label, and 0.42 to 0.44 less 0.15 is too loose."""
    offers = pd.DataFrame({"part": ["A", "B"], "thickness_mm": [0.1, 0.2], "price": [1.0, 1.5], "supplier": ["S", "S"]})
    given = ROTOR | {"supplier": [{"name": "S", "postage": 4.5}]}
    drawer = pd.DataFrame({"part": ["C"], "thickness_mm": [0.9], "on_hand": [1]})
    job = shimopt.job_from(given, shimopt.load_stock(drawer, catalogues=[offers]))
    order = shimopt.order(job)
    bad = pd.DataFrame({"part": ["A", "B"], "on_hand": [1, 1], "measured_mm": [0.1, 0.05]})
    for ordered in (order, None):
        short = shimopt.came(job, bad, ordered=ordered)
        assert (short.complete, short.enough, short.accepted) == (False, False, None)
        assert short.lines[["part", "wrong"]].values.tolist() == [["A", 0], ["B", 1]]
        assert short.again is not None
        assert len(short.again.lines) == 1
        assert not short.order.whole
    good = shimopt.came(job, pd.DataFrame({"part": ["A", "B"], "on_hand": [1, 1]}), ordered=order, update_drawer=True)
    assert (good.complete, good.enough, good.again) == (True, True, None)
    assert repr(good) == "<Arrival of 2 pieces: complete, enough>"
    assert good.lines[["part", "as_ordered", "missing"]].values.tolist() == [["A", 1, 0], ["B", 1, 0]]
    assert good.pieces[["part", "kind", "fits"]].values.tolist() == [
        ["A", "as ordered", True],
        ["B", "as ordered", True],
    ]
    assert good.accepted is not None
    assert [row["part"] for row in good.accepted.rows] == ["A", "B"]
    assert good.to_dict()["accepted"] == [dict(row) for row in good.accepted.rows]
    again = shimopt.came(job, pd.DataFrame({"part": ["A", "B"], "on_hand": [1, 1]}), ordered=order, update_drawer=True)
    assert again.accepted is not None
    assert not again.accepted.rows


@pytest.mark.parametrize("name", DEMOS)
def test_what_a_notebook_shows_is_short(name: str) -> None:
    plan = shimopt.plan(DEMO / name)
    assert repr(plan.job.drawer_of).startswith(("<MemoryDrawer, rows: ", "<CsvDrawer '"))
    assert len(repr(plan)) < 200
    assert len(repr(plan.job)) < 200
    long = shimopt.job_from(ROTOR | {"title": "x" * 2000}, PARTS)
    assert len(repr(long)) < 200
    assert len(repr(shimopt.plan(long))) < 200


def test_a_notebook_shows_the_answer_and_the_gaps_and_no_markup_of_the_user() -> None:
    html = shimopt.plan(shimopt.job_from(ROTOR, PARTS))._repr_html_()
    assert escape("Rotor <b>of</b> the mill") in html
    assert "<b>of</b>" not in html
    assert "fore &amp; aft" in html


BAD: dict[str, tuple[Any, str]] = {
    "a limit of nothing": (lambda job: shimopt.plan(job, time_limit=0), "time_limit"),
    "an order's limit of nothing": (lambda job: shimopt.order(job, time_limit=-1), "time_limit"),
    "no steps": (lambda job: shimopt.plan(job, steps=0), "steps"),
    "no nodes, as steps were called": (lambda job: shimopt.plan(job, nodes=0), "steps"),
    "no such gap": (lambda job: shimopt.why(job, "uper 1"), "gap"),
    "no such part": (lambda job: shimopt.fit(job, parts=["S-06"]), "parts"),
    "no such seat": (lambda job: shimopt.fit(job, seats=["plain"]), "seats"),
    "a letter of no kind": (lambda job: shimopt.letter(job, "letter.doc"), "output"),
    "a day that is past": (lambda job: shimopt.order(job, need_by=date(2020, 1, 1)), "need_by"),
    "money that is none": (lambda job: shimopt.order(job, spend=Decimal("NaN")), "spend"),
    "a parcel that is no table": (lambda job: shimopt.came(job, 3), "measured"),
    "a parcel for no drawer": (
        lambda _: shimopt.came(shimopt.job_from(ROTOR), PARTS, update_drawer=True),
        "update_drawer",
    ),
    "no such unit": (lambda job: shimopt.why(job, unit="furlong"), "unit"),
    "a letter in no such unit": (lambda job: shimopt.letter(job, job / "letter.html", unit="ell"), "unit"),
    "no such paper": (lambda job: shimopt.letter(job, job / "letter.html", paper="a5"), "paper"),
    "one part by its name alone": (lambda job: shimopt.fit(job, parts="S-06"), "parts"),
    "pieces in hand that are no table": (lambda job: shimopt.fit(job, measured=3), "measured"),
    "a drawer that is no table": (lambda _: shimopt.load_stock(3), "drawer"),
    "one catalogue by its name alone": (lambda _: shimopt.load_stock(catalogues="din98"), "catalogues"),
    "no reading": (lambda job: shimopt.record(job, {}, person="M. Hale", instrument="blades"), "after"),
    "a reading that is none": (
        lambda job: shimopt.record(job, {"upper 1": "x"}, person="M. Hale", instrument="blades"),
        'after["upper 1"]',
    ),
}


@pytest.mark.parametrize(("call", "where"), BAD.values(), ids=BAD.keys())
def test_a_wrong_call_is_told_in_the_words_of_the_call(call: Any, where: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        call(write_job(tmp_path, JOB))
    assert [problem.where for problem in caught.value.problems] == [where]
    assert "--" not in str(caught.value)


def test_a_letter_does_not_replace_the_job(tmp_path: Path) -> None:
    write_job(tmp_path, JOB)
    (tmp_path / "letter.html").symlink_to(tmp_path / "job.toml")
    with pytest.raises(InputError, match="one of the job's own files"):
        shimopt.letter(tmp_path, tmp_path / "letter.html")


def test_readings_after_fitting_are_recorded_by_number_and_by_text(tmp_path: Path) -> None:
    write_job(tmp_path, JOB)
    plan = shimopt.plan(tmp_path)
    after = {"upper 1": np.float64(8.5), "upper 2": "9 thou"}
    done = shimopt.record(plan, after, person="M. Hale", instrument="blades", read=date(2026, 5, 3))
    assert done.compared["gap"].tolist() == ["upper 1", "upper 2"]
    assert shimopt.load_job(tmp_path).records[-1].date == "2026-05-03"


def test_a_job_in_memory_goes_on_from_its_record_with_what_is_left_in_the_drawer() -> None:
    plan = shimopt.plan(shimopt.job_from(ROTOR, PARTS))
    done = shimopt.record(plan, {"fore & aft": 0.13}, person="M. Hale", instrument="blades", update_drawer=True)
    assert done.compared["likely"].tolist() == ["agrees"]
    assert len(repr(done)) < 200
    after = shimopt.job_from(ROTOR | {"record": [done.table]}, plan.job.drawer_of)
    # one A and one B went in, of four each
    assert [(line.part.name, line.on_hand) for line in after.stock] == [("A", 3), ("B", 3)]
    later = shimopt.plan(after)
    assert later.moves.empty
    # the same reading on the same day is the same record: nothing is taken out twice
    again = shimopt.record(later, {"fore & aft": 0.13}, person="M. Hale", instrument="blades", update_drawer=True)
    assert again.recorded.again
    assert [line.on_hand for line in after.drawer_of.stock()] == [3, 3]


def test_the_readme_s_lines_of_python_run_and_say_what_they_print(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    [block] = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    exec(block, names)
    [said] = re.findall(r"# (<Plan .*>)", block)
    assert repr(names["plan"]) == said
    assert names["plan"].places["stack"].tolist() == ["B + A"]
    assert "drum" in capsys.readouterr().out
    assert (tmp_path / "letter.pdf").is_file()
    assert len([line for line in block.splitlines() if line]) <= 14


def test_pieces_in_hand_are_checked_from_a_frame_as_from_a_file(tmp_path: Path) -> None:
    pieces = pd.DataFrame({"part": ["W-08", "W-08"], "piece": ["a", "b"], "measured_mm": [0.203, 0.151]})
    pieces["measuring_error_mm"], pieces["material"] = 0.002, "stainless steel"
    pieces.to_csv(tmp_path / "arrived.csv", index=False)
    in_memory = shimopt.fit(DEMO / "swing-bridge", measured=pieces)
    pd.testing.assert_frame_equal(in_memory, shimopt.fit(DEMO / "swing-bridge", measured=tmp_path / "arrived.csv"))
    # W-08 is marked 8 thou, 0.2032 mm, in stainless strip ±0.015 mm (ISO 9445-1): a is that, b is 0.05 mm too thin
    assert in_memory.groupby("piece")["as_labelled"].first().to_dict() == {"a": True, "b": False}
