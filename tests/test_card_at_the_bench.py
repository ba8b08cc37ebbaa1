"""A card that is followed without a computer: what each pair of blades comes to, which blades count, what else to do.

By hand, of the job below: read 0.80 to 0.85, shift 0.05, so that blades may show 0.75 to 0.80, 0.80 to 0.85 and 0.85 to
0.90 and a step beyond. With 0.70 in (nobody states its tolerance) they leave 0.05 to 0.10, 0.10 to 0.15, 0.15 to 0.20;
what is allowed is 0.05 to 0.25.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.readings.indicator import Dial, indicator_reading
from tests.command import Run

JOB = """\
title = "Crank"
unit = "mm"
drawer = "drawer.csv"
shift = 0.05
window = { min = 0.05, max = 0.25, source = "drawing 12" }
[[gap]]
name = "crank"
feeler = { go = 0.80, no_go = 0.85 }
"""


def job(folder: Path, drawer: str = "C-70,0.70,1\n", text: str = JOB) -> Path:
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "drawer.csv").write_text(f"part,thickness_mm,on_hand\n{drawer}", encoding="utf-8")
    return folder


def card(run: Run, folder: Path) -> str:
    run("order", folder, "--quiet", "--card", folder / "card.txt")
    return " ".join((folder / "card.txt").read_text(encoding="utf-8").split())


def test_a_row_of_several_blades_says_what_each_pair_comes_to(tmp_path: Path, run: Run) -> None:
    said = card(run, job(tmp_path))
    # 0.90 goes, 0.95 does not is a step beyond, and leaves 0.20 to 0.25: four pairs, of which the ends are told
    assert "0.75 goes, 0.95 does not fit C-70, then 0.05 to 0.10 by its first two blades, to 0.20 to 0.25" in said
    assert "Any two blades within" in said
    # up to 0.20 nothing serves 0.90 to 0.95: three pairs
    said = card(run, job(tmp_path, text=JOB.replace("max = 0.25", "max = 0.20")))
    assert "0.75 goes, 0.90 does not fit C-70, then 0.05 to 0.10 / 0.10 to 0.15 / 0.15 to 0.20" in said


def test_two_blades_of_different_rows_count_for_none(tmp_path: Path, run: Run) -> None:
    said = card(run, job(tmp_path, "C-70,0.70,1\nC-65,0.65,1\n", JOB.replace("max = 0.25", "max = 0.15")))
    assert "of different rows none: read with the blades between them" in said


def test_a_piece_off_its_label_is_fitted_where_what_is_allowed_holds(tmp_path: Path, run: Run) -> None:
    said = card(run, job(tmp_path))
    # all of the window is used: what the blades leave with 0.70 is 0.05 to 0.25
    assert "pieces found to be: C-70 0.70 mm exactly; with others take what they are thicker in all off what" in said
    assert (
        "then reads (0.01 mm thicker, 0.01 mm less), and fit them where that is still allowed; else plan again" in said
    )


COVER = """\
title = "Worm"
unit = "thou"
drawer = "drawer.csv"
window = { min = -3, max = -2, source = "drawing 14" }
[[gap]]
name = "worm"
"""


@pytest.mark.parametrize(
    ("reading", "side"),
    [
        # the cover stands 27 to 28 off: 25 under it leave a preload of 2 to 3, 26 one of 1 to 2, so less of it
        ("cover_gap = { go = 27, no_go = 28 }", "looser"),
        # 22 to 23 less 25 is a preload of 2 to 3, less 26 one of 3 to 4, so more of it
        ("feeler = { go = 22, no_go = 23 }", "tighter"),
    ],
)
def test_a_piece_off_its_label_makes_a_preload_looser_or_tighter_not_more_or_less(
    tmp_path: Path, run: Run, reading: str, side: str
) -> None:
    (tmp_path / "job.toml").write_text(f"{COVER}{reading}\n", encoding="utf-8")
    (tmp_path / "drawer.csv").write_text("part,thickness_thou,on_hand\nW-25,25,1\n", encoding="utf-8")
    said = card(run, tmp_path)
    assert "fit W-25, then preload 2 to 3" in said
    assert f"with others it comes out {side} by what they are thicker in all: fit them where that is still" in said
    assert "what it then reads" not in said


def test_the_answer_says_whose_marking_it_rests_on(tmp_path: Path, run: Run) -> None:
    folder = job(tmp_path, "")
    text = JOB.replace('drawer = "drawer.csv"', 'catalogues = ["cat.csv"]')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    for tolerance, rests in (("", True), ("0.001", False)):
        # with 0.001 either way the window has to be as much wider
        wide = text.replace("min = 0.05, max = 0.25", "min = 0.04, max = 0.26")
        (folder / "job.toml").write_text(wide, encoding="utf-8")
        (folder / "cat.csv").write_text(f"part,thickness_mm,tolerance_mm,price\nC-70,0.70,{tolerance},1\n", "utf-8")
        out = " ".join(run("order", folder)[1].split())
        assert "one order is surely enough for 1 gap" in out
        assert (", as far as C-70 is as marked." in out) == rests


def test_no_command_stands_on_the_paper_for_the_bench(tmp_path: Path, run: Run) -> None:
    """Equal packs that were read by a dial get no card: what to do instead is told without a command."""
    dial = "indicator = { readings = [0.40, 0.40, 0.40], resolution = 0.01, error = 0.3 }"
    more = f'[[gap]]\nname = "left"\n{dial}\n[[gap]]\nname = "right"\n{dial}\n'
    folder = job(tmp_path, text=f'equal = ["left", "right"]\n{JOB}{more}')
    said = card(run, folder)
    assert "left: what goes into left must equal another pack" in said
    assert "then plan again." in said
    assert "`shimopt" not in said
    assert "`shimopt plan JOB`" in " ".join(run("order", folder)[1].split())


@pytest.mark.parametrize(
    ("readings", "within"),
    [
        # of three pulls within r the spread is at most r / sqrt(3), which is that of one pull apart from two alike
        ([410_000, 420_000, 410_000], "3 pulls or more of today's dial within 0.01 mm of each other"),
        # 0, 5, 10: s = 5, as of three within 5 x sqrt(3) = 8.66; rows without room to spare for 10
        (
            [410_000, 415_000, 420_000],
            "3 pulls or more of today's dial within 0.008 mm of each other, or just as today's",
        ),
        ([410_000, 410_000, 410_000], "3 pulls or more of today's dial all alike"),
    ],
)
def test_rows_of_a_dial_count_by_its_pulls(tmp_path: Path, run: Run, readings: list[int], within: str) -> None:
    dial = f"indicator = {{ readings = {[one / 10**6 for one in readings]}, resolution = 0.01, error = 0.008 }}"
    text = JOB.replace("feeler = { go = 0.80, no_go = 0.85 }", dial)
    if "just as" in within:
        # 0.415 less 0.15 to 0.30: so the row of the middle ends on a limit of the window
        low = indicator_reading(Dial(readings, 10_000, 8_000)).bracket.low - 250_000
        text = text.replace("min = 0.05", f"min = {float(low / 10**6)}")
    said = card(run, job(tmp_path, "C-25,0.25,1\nC-30,0.30,1\n", text))
    assert f"Rows count for {within}" in said
    # any three pulls so far apart leave no more open than today's
    apart = 0 if "alike" in within else int(float(within.split("within ")[1].split()[0]) * 10**6)
    today = indicator_reading(Dial(readings, 10_000, 8_000)).bracket
    for third in range(0, apart + 1, 1_000):
        found = indicator_reading(Dial([410_000, 410_000 + apart, 410_000 + third], 10_000, 8_000)).bracket
        assert found.high - found.low <= today.high - today.low + 1


def test_todays_own_pulls_are_among_those_that_count(tmp_path: Path, run: Run) -> None:
    """19.1, 19.4, 19.2 are 0.3 apart, and the one row has 2 thou of room: any three pulls 0.3 apart keep inside."""
    dial = "indicator = { readings = [19.1, 19.4, 19.2], resolution = 0.1, error = 0.2 }"
    text = 'unit = "thou"\ncatalogues = ["cat.csv"]\nwindow = { min = 4, max = 12, source = "d" }\n'
    text += f'[[gap]]\nname = "idler"\n{dial}\n'
    folder = tmp_path / "dial"
    folder.mkdir()
    (folder / "job.toml").write_text(text, "utf-8")
    (folder / "cat.csv").write_text("part,thickness_thou,price\nQ-11,11,1\n", "utf-8")
    assert "Rows count for 3 pulls or more of today's dial within 0.3 thou of each other;" in card(run, folder)
    thou = 25_400
    for third in (19.1, 19.15, 19.25, 19.4):
        pulls = [round(one * thou) for one in (19.1, 19.4, third)]
        found = indicator_reading(Dial(pulls, thou // 10, thou // 5)).bracket
        assert found.low - 11 * thou >= 4 * thou
        assert found.high - 11 * thou <= 12 * thou
