"""Pictures by structure: what is drawn, in which order, and where, against the numbers by hand."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest

from shimopt.cli import main
from shimopt.job import Window
from shimopt.lengths import Bracket
from shimopt.render.pictures.gap_picture import Bar, Range, bars_svg, common_ranges
from tests.hard_job import gap_names, write_hard_job
from tests.jobs import gap, job, window

DEMO = Path(__file__).parents[1] / "demo_data"
SVG = "{http://www.w3.org/2000/svg}"
THOU = 25_400


def thou(low: float, high: float) -> Bracket:
    return Bracket.between(round(low * THOU), round(high * THOU))


def drawn(text: str, kind: str) -> list[dict[str, float]]:
    """The shapes of a kind with their numbers."""
    found = []
    for element in ElementTree.fromstring(text).iter():
        if element.get("class") == kind:
            numbers = {}
            for key, value in element.attrib.items():
                try:
                    numbers[key] = float(value)
                except ValueError:
                    continue
            found.append(numbers)
    return found


def texts(text: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(text).iter(f"{SVG}text")]


def test_window_and_bars_lie_where_the_numbers_say() -> None:
    """By hand: 0 to 20 thou over 221 px from x = 124: 11.05 px a thou; the window is 4 to 12, so 44.2 and 88.4 px."""
    bars = [Bar("found", thou(17, 18), "found"), Bar("after", thou(10, 11), "after")]
    picture = bars_svg("a", Window(4 * THOU, 12 * THOU, "s"), bars, Range(thou(0, 0).low, thou(20, 20).low), "thou")
    (band,), (found,), (after,) = (drawn(picture, kind) for kind in ("window", "found", "after"))
    assert (band["x"], band["width"]) == pytest.approx((124 + 44.2, 88.4), abs=0.02)
    assert (found["x"], found["width"]) == pytest.approx((124 + 187.85, 11.05), abs=0.02)
    assert (after["x"], after["width"]) == pytest.approx((124 + 110.5, 11.05), abs=0.02)
    assert after["y"] > found["y"]
    (best,) = drawn(picture, "after-best")
    assert best["cx"] == pytest.approx(124 + 116.03, abs=0.02)
    assert texts(picture) == ["4", "12 thou", "tight", "loose", "found 17.5 thou", "after 10.5 thou"]


def test_a_one_sided_window_runs_to_the_edge_and_has_one_limit() -> None:
    picture = bars_svg(
        "a",
        Window(None, 12 * THOU, "s"),
        [Bar("left at", thou(5, 6), "after")],
        Range(thou(0, 0).low, thou(20, 20).low),
        "thou",
    )
    assert len(drawn(picture, "limit")) == 1
    assert drawn(picture, "window")[0]["x"] == 124
    assert "tight" not in texts(picture)


def test_gaps_with_the_same_window_share_a_scale_and_a_slip_does_not_flatten_the_others() -> None:
    of = job([gap("a", 5, 6, window(4, 12)), gap("b", 17, 18, window(4, 12)), gap("slip", 170, 180, window(4, 12))], [])
    bars = {g.name: [Bar("found", g.reading.bracket, "found")] for g in of.gaps}
    ranges = common_ranges(of, bars)
    assert ranges["a"] == ranges["b"]
    assert ranges["b"].high < 40 * THOU < ranges["slip"].high


def test_everything_drawn_lies_on_the_picture(tmp_path: Path) -> None:
    target = tmp_path / "gaps.svg"
    with pytest.raises(SystemExit):
        main(["draw", str(write_hard_job(tmp_path)), "-o", str(target)])
    text = target.read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    width, height = float(root.get("width", 0)), float(root.get("height", 0))
    for kind in ("window", "found", "after"):
        for shape in drawn(text, kind):
            assert 0 <= shape["x"] <= shape["x"] + shape["width"] <= width
            assert 0 <= shape["y"] <= height
            assert shape["width"] > 0
    assert len(drawn(text, "window")) == len(drawn(text, "after")) == 40
    # names are folded, never cut
    joined = "".join(texts(text)).replace(" ", "")
    assert all(name.replace(" ", "") in joined for name in gap_names())


def test_the_picture_of_the_bridge(tmp_path: Path) -> None:
    target = tmp_path / "gaps.svg"
    with pytest.raises(SystemExit) as ended:
        main(["draw", str(DEMO / "swing-bridge"), "-o", str(target), "--unit", "thou"])
    assert ended.value.code == 0
    text = target.read_text(encoding="utf-8")
    assert len(drawn(text, "found")) == 2
    assert len(drawn(text, "after")) == 5
    assert {"upper 1", "found 17.5 thou", "after 10.5 thou", "left at 9.5 thou"} <= set(texts(text))
