"""What is inside stays as it is: where that leaves others outside or unsure, it is said, with what opening it gives.

What would come of it is worked out by hand here, and the plan with `keep = false` is asked too.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.reasons.kept_back import OpenedToo
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.plan_screen import screen_lines
from tests.command import Run
from tests.job_files import write_job

KEPT = Path(__file__).parent / "data" / "kept"


def screen(job: Path) -> str:
    return " ".join(text.strip() for text, _ in screen_lines(decide(load_job(job)), "mm", 5000, UNICODE))


def test_a_tappet_that_stays_though_its_shim_would_serve_another_is_told(tmp_path: Path) -> None:
    # 1 reads 0.30 with B-230 in, and stays. 2 reads 0.15 with 2.35 in: bare 2.50, so 2.30 makes it 0.20. 1 bare is
    # 2.60, so 2.35 makes it 0.25; 3 is 2.80 bare, and 2.50 makes it 0.30: allowed is 0.20 to 0.30
    job = KEPT / "three-tappets"
    said = screen(job)
    assert "Not all come right while 1 keeps what is in: 2 stays 0.05 mm too tight." in said
    assert "2: B-230 would do it; it is in 1, and stays there." in said
    assert "surely inside: 1: B-235, 2: B-230." in said
    assert "Write keep = false at 1 and plan again: changed too, 2 comes surely inside." in said
    for false in ("ran out", "got it instead", "cannot all be served", "cannot do it", "of shim that suits"):
        assert false not in said
    decision = decide(load_job(job))
    letter = letter_content(decision, "mm", "2026-05-03")
    told = next(gap for gap in letter["gaps"] if gap["name"] == "2")
    text = " ".join(told["sentences"])
    assert "while 1 keeps what is in" in letter["answer"]
    assert "B-230 would do it, but that is in 1 and stays there." in text
    assert "if 1 were changed too, which is right as it is." in text
    assert text.count("stays in") == 1
    assert "That is 0.05 mm too tight." in text
    assert "bought" not in text
    (place,) = (one for one in sheet_content(decision, "mm", "2026-05-03")["places"] if one["name"] == "2")
    assert "B-230 would do it, but is in 1 and stays there" in place["nothing"]
    # and so it is
    opened = shutil.copytree(job, tmp_path / "opened")
    text = (opened / "job.toml").read_text(encoding="utf-8")
    (opened / "job.toml").write_text(text.replace('["B-230"]', '["B-230"]\nkeep = false'), encoding="utf-8")
    then = decide(load_job(opened))
    assert then.outcome.doable
    (reason,) = (one for one in decision.reasons if isinstance(one, OpenedToo))
    assert dict(reason.stacks) == {name: then.stacks[name] for name in ("1", "2")}


def test_what_opening_does_not_help_is_not_told(tmp_path: Path) -> None:
    job = shutil.copytree(KEPT / "three-tappets", tmp_path / "job")
    text = (job / "job.toml").read_text(encoding="utf-8")
    # 2 is 2.35 + 0.60 = 2.95 bare now: it needs 2.65 to 2.75, and there is no such shim
    (job / "job.toml").write_text(text.replace("value=0.15", "value=0.60"), encoding="utf-8")
    said = screen(job)
    assert "keep = false" not in said
    assert "The drawer cannot do it" in said


def test_a_chance_that_opening_would_raise_is_told_and_nothing_is_called_the_best() -> None:
    said = screen(KEPT / "chance-asked")
    assert "no stack that is left does better" not in said
    assert "With keep = false there it would come inside: w: S-22." in said
    assert "inside by its best estimate; it stays" in said


ROLLER = """
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "near"
installed = ["T-50", "T-20"]
[[place]]
name = "far"
installed = ["T-50"]
[[gap]]
name = "float"
feeler = { go = 0.15, no_go = 0.20 }
window = { min = 0.08, max = 0.25, source = "card" }
effects = { near = -1, far = -1 }
[[gap]]
name = "centre"
value = "0.30 mm ± 0.02 mm"
window = { min = 0.45, max = 0.55, source = "card" }
effects = { far = 1 }
"""


def test_windows_that_hold_once_what_stays_comes_out_do_not_fight(run_unfolded: Run, tmp_path: Path) -> None:
    """T-20 from near to far: float 0.15 to 0.20 as before, centre 0.30 + 0.20 = 0.50 ± 0.023, inside 0.45 to 0.55."""
    drawer = "part,thickness_mm,tolerance_mm,on_hand\nT-50,0.50,0.004,0\nT-20,0.20,0.003,0\n"
    path = write_job(tmp_path, ROLLER, drawer)
    plan, why = (run_unfolded(command, path)[1] for command in ("plan", "why"))
    assert plan.startswith("Not all come right while near keeps what is in: centre stays 0.15 mm too tight.")
    assert "With keep = false there it would come surely inside: near: T-50, far: T-50 + T-20." in plan
    letter = tmp_path / "letter.html"
    run_unfolded("letter", path, "-o", letter)
    for text in (plan, why, letter.read_text(encoding="utf-8")):
        for false in ("cannot both", "cannot all be met", "No shim makes both", "whatever"):
            assert false not in text
    freed = write_job(tmp_path, ROLLER.replace('"T-20"]', '"T-20"]\nkeep = false'), drawer)
    assert run_unfolded("plan", freed)[0] == 0
    # with nothing in, float is 1.375 and centre -0.20: centre asks for 1.80 at far, float bears 1.295 in all
    fought = write_job(tmp_path, ROLLER.replace("min = 0.45, max = 0.55", "min = 1.60, max = 1.70"), drawer)
    assert "The windows of float and centre cannot both hold" in run_unfolded("plan", fought)[1]


def test_what_is_sure_today_and_would_not_be_is_told_with_the_way_out(run_unfolded: Run, tmp_path: Path) -> None:
    """1i holds 2.397 ± 0.002 and reads 0.15 to 0.20, allowed to 0.25. With 2.35 ± 0.005 instead it is

    0.15 + 0.040 = 0.190 to 0.20 + 0.054 = 0.254: sure today, not then. 5i, 0.355 to 0.375 with 2.25 in, wants 2.397:
    0.355 - 0.147 - 0.003 = 0.205 to 0.375 - 0.147 + 0.003 = 0.231; with 2.35 it would be 0.255 and more.
    """
    seat = '[[seat]]\nname = "bucket"\nbore = "28 mm"\nmost_pieces = 1\nfewest_pieces = 1\n'
    places = "".join(
        f'[[place]]\nname = "{name}"\nseat = "bucket"\ninstalled = [{part}]\n'
        f'[[gap]]\nname = "{name}"\nfeeler = {{ go = {go}, no_go = {no_go} }}\n'
        'window = { min = 0.14, max = 0.25, source = "s" }\n'
        for name, part, go, no_go in (
            ("1i", '{ part = "B-2.40", measured = "2.397 mm ± 0.002 mm" }', 0.15, 0.20),
            ("5i", '"B-2.25"', 0.355, 0.375),
        )
    )
    drawer = (
        "part,thickness_mm,tolerance_mm,outer_mm,on_hand\nB-2.40,2.40,0.005,27.9,0\nB-2.35,2.35,0.005,27.9,1\n"
        "B-2.25,2.25,0.001,27.9,0\n"
    )
    path = write_job(tmp_path, f'unit = "mm"\ndrawer = "drawer.csv"\n{seat}{places}', drawer)
    assert "1i is no longer surely inside then" in run_unfolded("plan", path)[1]
