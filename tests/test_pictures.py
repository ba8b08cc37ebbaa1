"""Pictures by structure: what is drawn, in which order, and where, against the numbers by hand."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest

from shimopt.cli import main
from shimopt.job import Window, load_job
from shimopt.lengths import Bracket
from shimopt.planner import decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.pictures.gap_bars import Bar, job_bars, key_of
from shimopt.render.pictures.gap_picture import WIDTH, draw_gap, gap_height, job_picture
from shimopt.render.pictures.gaps_chart import ON_A_PHONE, charts
from shimopt.render.pictures.picture_scales import Range, clear_of, common_ranges
from shimopt.render.pictures.svg import Svg
from shimopt.words.picture_words import swap_words
from shimopt.words.speaker import Speaker
from tests.hard_job import gap_names, write_hard_job
from tests.jobs import gap, job, shim, window

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


def bars_svg(title: str, window: Window, bars: Sequence[Bar], within: Range, unit: str) -> str:
    svg = Svg(WIDTH, gap_height(window, bars, within, Speaker(unit)), title)
    draw_gap(svg, (0, 0), window, bars, within, Speaker(unit))
    return svg.text()


def test_window_and_bars_lie_where_the_numbers_say() -> None:
    """By hand: 0 to 20 thou over 341 px from x = 6: 17.05 px a thou; the window is at 68.2 and 136.4 wide."""
    bars = [Bar("found", thou(17, 18), "found"), Bar("then", thou(10, 11), "after", swap="R-07")]
    picture = bars_svg("a", Window(4 * THOU, 12 * THOU, "s"), bars, Range(thou(0, 0).low, thou(20, 20).low), "thou")
    (band,), (found,), (after,) = (drawn(picture, kind) for kind in ("window", "found", "after"))
    assert (band["x"], band["width"]) == pytest.approx((6 + 68.2, 136.4), abs=0.02)
    assert (found["x"], found["width"]) == pytest.approx((6 + 289.85, 17.05), abs=0.02)
    assert (after["x"], after["width"]) == pytest.approx((6 + 170.5, 17.05), abs=0.02)
    assert after["y"] > found["y"]
    (best,), (target,) = drawn(picture, "after-best"), drawn(picture, "target")
    assert best["cx"] == pytest.approx(6 + 179.03, abs=0.02)
    # the middle of 4 and 12
    assert target["x1"] == pytest.approx(6 + 136.4, abs=0.02)
    assert texts(picture) == ["tight", "loose", "4", "12 thou", "R-07", "found 17 to 18 thou", "then 10 to 11 thou"]
    # the arrow goes from 17.5 to 10.5
    first, *_, last = drawn(picture, "arrow")
    assert (first["x1"], last["x2"]) == pytest.approx((6 + 298.38, 6 + 179.03), abs=0.02)
    assert found["y"] < first["y1"] < last["y2"] < after["y"]


def test_a_line_stands_between_preload_and_play() -> None:
    """By hand: -10 to 10 thou over 341 px: nothing of either is in the middle, at 6 + 170.5."""
    bars = [Bar("found", thou(4, 5), "found"), Bar("then", thou(-6, -5), "after")]
    picture = bars_svg("a", Window(-8 * THOU, -2 * THOU, "s"), bars, Range(thou(-10, 0).low, thou(0, 10).high), "thou")
    zero = drawn(picture, "zero")
    assert all(part["x1"] == part["x2"] == pytest.approx(176.5, abs=0.02) for part in zero)
    assert zero
    assert {"preload", "play", "found play 4 to 5 thou", "then preload", "5 to 6 thou"} <= set(texts(picture))
    beyond = [Bar("found", thou(4, 5), "found")]
    assert not drawn(
        bars_svg("a", Window(0, 2 * THOU, "s"), beyond, Range(thou(-1, 0).low, thou(0, 9).high), "mm"), "zero"
    )


@pytest.mark.parametrize(
    ("was", "then", "said"),
    [
        ((), (0,), "A"),
        ((0,), (), "A out"),
        ((0, 1), (0, 2), "C for B"),
        ((0,), (0,), ""),
        ((1,), (0, 0), "2 x A for B"),
    ],
)
def test_the_arrow_names_what_goes_in_and_for_what(was: tuple[int, ...], then: tuple[int, ...], said: str) -> None:
    say = Speaker("thou", [shim(size, 9, name=name) for name, size in (("A", 1), ("B", 2), ("C", 3))])
    assert swap_words({"here": was}, {"here": then}, "here", say) == said
    assert swap_words({"cap": was}, {"cap": then}, "here", say) == (f"cap: {said}" if said else "")


def test_a_one_sided_window_runs_to_the_edge_and_has_one_limit() -> None:
    picture = bars_svg(
        "a",
        Window(None, 12 * THOU, "s"),
        [Bar("left at", thou(5, 6), "after")],
        Range(thou(0, 0).low, thou(20, 20).low),
        "thou",
    )
    assert len(drawn(picture, "limit")) == 1
    assert drawn(picture, "window")[0]["x"] == 6
    assert "tight" not in texts(picture)


def test_gaps_with_the_same_window_share_a_scale_and_a_slip_does_not_flatten_the_others() -> None:
    of = job([gap("a", 5, 6, window(4, 12)), gap("b", 17, 18, window(4, 12)), gap("slip", 170, 180, window(4, 12))], [])
    bars = {g.name: [Bar("found", g.reading.bracket, "found")] for g in of.gaps}
    ranges = common_ranges(of, bars)
    assert ranges["a"] == ranges["b"] == ranges["slip"]
    assert ranges["b"].high < 40 * THOU
    assert ranges["b"].far == {1}


def test_what_is_far_out_stands_behind_a_break_beside_the_others_scale() -> None:
    """4 to 18 thou and room for a word: 4 - 2.8/3 to 18 + 2.8/3. A bar of 1 thou is as long on both sides of the break.

    The slip stands at the right end, behind two strokes on the axis and two on its arrow.
    """
    bars = [Bar("found", thou(170, 171), "found"), Bar("then", thou(10, 11), "after", swap="R-160")]
    picture = bars_svg("a", window(4, 12), bars, Range(thou(3, 3).low, thou(19, 19).low, frozenset({1})), "thou")
    (found,), (after,), (axis,) = (drawn(picture, kind) for kind in ("found", "after", "axis"))
    assert found["width"] == pytest.approx(after["width"], abs=0.05)
    strokes = drawn(picture, "break")
    assert len(strokes) == 4
    first, last = sorted({one["x1"] for one in drawn(picture, "limit")})
    assert last < min(one["x1"] for one in strokes) < max(one["x2"] for one in strokes) < found["x"]
    assert found["x"] + found["width"] <= axis["x2"]
    assert (last - first) == pytest.approx(8 * after["width"], abs=0.05)
    assert {"found 170 to 171 thou", "R-160"} <= set(texts(picture))


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
        main(["draw", str(DEMO / "swing-bridge"), "-o", str(target), "--unit", "thou", "--width", "1123"])
    assert ended.value.code == 0
    text = target.read_text(encoding="utf-8")
    assert len(drawn(text, "found")) == 2
    assert len(drawn(text, "after")) == 5
    shown = {"upper 1", "found 17 to 18 thou", "then 10 to 11 thou", "left at 9 to 10 thou", "R-07", "W-08"}
    assert shown <= set(texts(text))
    # three columns, so that upper 1, upper 2 and upper 3 stand side by side: one picture is 353 px wide
    tops = [element["y"] for element in drawn(text, "window")]
    assert [tops.count(top) for top in sorted(set(tops))] == [3, 2]
    assert float(ElementTree.fromstring(text).get("width", 0)) <= 297 / 25.4 * 96


def test_a_cover_that_was_only_nipped_is_told_and_not_drawn_as_a_preload() -> None:
    """The mill's step cover was read 6 to 7 thou off the case, with no shims in."""
    found = decide(load_job(DEMO / "fulling-mill"))
    (bar,) = job_bars(found, "thou")["step cover"]
    assert (bar.label, bar.note) == ("then", "without shims the cover stands 6 to 7 thou off")
    assert "without shims the cover stands 6 to 7 thou off" in texts(job_picture(found, "thou"))
    assert not any("preload" in text for text in texts(job_picture(found, "thou")))


def test_the_chart_shows_all_gaps_on_one_axis_from_found_to_after() -> None:
    """By hand: the bridge reads 6 to 18 thou and allows 4 to 12: 4 to 18 and a twentieth of 14 on either side."""
    found = decide(load_job(DEMO / "swing-bridge"))
    bars = job_bars(found, "thou")
    ((chart, _),) = charts("bridge", found.job.gaps, bars, "thou")
    assert len(drawn(chart, "axis")) == 1
    assert [len(drawn(chart, kind)) for kind in ("window", "found", "after", "arrow", "target")] == [5, 2, 5, 2, 5]
    width = (540 - 140 - 8) / (14 + 2 * 0.7)
    assert drawn(chart, "window")[0]["x"] == pytest.approx(140 + 0.7 * width, abs=0.02)
    assert drawn(chart, "window")[0]["width"] == pytest.approx(8 * width, abs=0.02)
    first, _ = drawn(chart, "found")
    assert first["x"] == pytest.approx(140 + (0.7 + 13) * width, abs=0.02)
    assert {"R-07", "W-08", "5", "10", "15 thou", "upper 1"} <= set(texts(chart))


def test_what_is_far_out_stands_behind_a_break_as_long_as_on_the_axis() -> None:
    """A window of 2 is left by 8 (4 widths: on the axis) and by 38 (19: behind the break); both brackets are 2 long.

    The axis goes from 2 to 12, the limits 10 and 12, and a twentieth of that on either side.
    """
    allowed = window(10, 12)
    two = [gap("near", 2, 4, allowed), gap("slip", 50, 52, allowed)]
    bars = {one.name: [Bar("found", one.reading.bracket, "found")] for one in two}
    ((chart, _),) = charts("t", two, bars, "thou")
    (axis,) = drawn(chart, "axis")
    near, slip = drawn(chart, "found")
    limits = drawn(chart, "limit")
    thou_px = limits[1]["x1"] - limits[0]["x1"]
    assert near["width"] == pytest.approx(thou_px, abs=0.05)
    assert slip["width"] == pytest.approx(near["width"], abs=0.05)
    assert slip["x"] + slip["width"] == pytest.approx(axis["x2"], abs=0.05)
    # two strokes on the axis and two on the row of the slip, between the last limit and its bar, and its figures
    assert len(drawn(chart, "break")) == 4
    assert all(limits[1]["x1"] < stroke["x1"] < slip["x"] for stroke in drawn(chart, "break"))
    assert "50 to 52" in texts(chart)
    below = [gap("near", 2, 4, allowed), gap("deep", -50, -48, allowed)]
    bars = {one.name: [Bar("found", one.reading.bracket, "found")] for one in below}
    ((chart, _),) = charts("t", below, bars, "thou")
    assert drawn(chart, "found")[1]["x"] == pytest.approx(drawn(chart, "axis")[0]["x1"], abs=0.05)
    assert "preload 48 to 50" in texts(chart)


def test_a_gap_that_comes_in_from_far_out_has_its_arrow_through_the_break() -> None:
    """Found 60 over a window of 4 to 12, left at 8: the arrow begins beside the figures and names the shim."""
    one = gap("end", 60, 61, window(4, 12))
    bars = {"end": [Bar("found", thou(72, 73), "found"), Bar("then", thou(8, 9), "after", swap="S-64")]}
    ((chart, _),) = charts("t", [one], bars, "thou")
    (arrow,) = drawn(chart, "arrow")
    (found,), (then,) = drawn(chart, "found"), drawn(chart, "after")
    assert arrow["x2"] == pytest.approx(then["x"] + then["width"], abs=0.05)
    assert then["x"] < arrow["x1"] < found["x"]
    assert {"72 to 73", "S-64"} <= set(texts(chart))
    # windows of their own have axes of their own, and nothing is broken
    bars = {"a": [Bar("found", thou(5, 6), "found")], "b": [Bar("found", thou(205, 206), "found")]}
    ((chart, _),) = charts("t", [gap("a", 5, 6, window(4, 12)), gap("b", 205, 206, window(200, 210))], bars, "thou")
    assert (len(drawn(chart, "axis")), len(drawn(chart, "break"))) == (2, 0)


def test_words_stand_beside_their_arrow_and_a_figure_keeps_its_unit() -> None:
    """Found right of the window and left in it: the words went to the far side of the window, with room to spare."""
    bars = [Bar("found", thou(30, 32), "found"), Bar("then", thou(19, 22), "after", swap="B-2.55 [3i] for B-2.45 [1i]")]
    text = bars_svg("x", window(15, 25), bars, Range(Fraction(5 * THOU), Fraction(35 * THOU)), "thou")
    head = drawn(text, "arrow")[-1]["x1"]
    (at,) = [
        float(one.get("x", "nan"))
        for one in ElementTree.fromstring(text).iter(f"{SVG}text")
        if "3i" in (one.text or "")
    ]
    assert abs(at - head) < 120
    long = [bars[0], Bar("then", thou(19, 22), "after", swap="PS50-0.5 (measured 0.489 mm) for a longer name")]
    said = texts(bars_svg("x", window(15, 25), long, Range(Fraction(5 * THOU), Fraction(35 * THOU)), "thou"))
    assert "mm" in next(line for line in said if "0.489" in line)


def test_a_chart_of_forty_gaps_goes_on_pages_and_loses_none(tmp_path: Path) -> None:
    found = decide(load_job(write_hard_job(tmp_path)))
    pages = charts("conveyor", found.job.gaps, job_bars(found, "mm"), "mm")
    # each page knows the gaps that are on it
    assert [len(drawn(chart, "window")) for chart, _ in pages] == [len(gaps) for _, gaps in pages]
    assert [gap.name for _, gaps in pages for gap in gaps] == [gap.name for gap in found.job.gaps]
    assert all(float(ElementTree.fromstring(chart).get("height", 0)) < 480 for chart, _ in pages)
    # a line of a name takes 13 px, a row 3 more: 440 px hold 27 of them
    assert [len(gaps) for _, gaps in pages] == [27, 13]
    # one scale for all of them
    assert len({(one["x"], one["width"]) for chart, _ in pages for one in drawn(chart, "window")}) == 1


def test_an_axis_of_preload_alone_says_so() -> None:
    """8 to 9 thou of preload where 4 to 12 are wanted: no figure without a word for what it is."""
    of = job([gap("a", -9, -8, window(-12, -4))], [])
    bars = {"a": [Bar("left at", of.gaps[0].reading.bracket, "after")]}
    ((chart, _),) = charts("t", of.gaps, bars, "thou")
    name, first, *_ = texts(chart)
    assert (name, first[:8]) == ("a", "preload ")
    assert drawn(chart, "zero") == []
    # the axis lies over the light edge of what is written above it; in a narrow window the picture gets narrower
    assert chart.index('class="axis"') > chart.index('class="window"')
    assert 'style="max-width:100%"' in chart[: chart.index(">")]


@pytest.mark.parametrize(
    ("lines", "middle", "stands"),
    [
        ([100], 150, 150),  # 130 to 170: nothing runs through it
        ([140], 150, 163),  # beside the line, three pixels off
        ([155], 150, 132),
        ([140, 175], 150, 117),  # between the two is too little room
        ([140, 100, 175], 150, 150),  # there is room nowhere: it stays
    ],
)
def test_a_text_stands_off_the_upright_lines(lines: list[float], middle: float, stands: float) -> None:
    """A text of 40 px with room from 90 to 190: its middle from 110 to 170."""
    assert clear_of(lines, middle, 20, (90, 190)) == stands


def test_no_limit_runs_through_the_name_on_an_arrow() -> None:
    """On paper, 12 thou is under the middle of an arrow from 16 to 9; four letters are about 23 px wide."""
    g = gap("a", 16, 17, window(4, 12))
    bars = {"a": [Bar("found", thou(16, 17), "found"), Bar("then", thou(8, 9), "after", swap="S-08")]}
    (chart,) = charts("a", [g], bars, "thou")
    (word,) = [e for e in ElementTree.fromstring(chart.svg).iter(f"{SVG}text") if e.text == "S-08"]
    x, half = float(word.get("x", 0)), 0.6 * 9.5 * 4 / 2
    assert all(abs(limit["x1"] - x) > half for limit in drawn(chart.svg, "limit"))


def test_an_upright_line_is_left_out_where_a_text_lies_on_it() -> None:
    """By hand: `abcd` of 10 px is about 22 px wide, from 39 to 61, and reaches from 31.5 to 43 px down."""
    svg = Svg(100, 100, "t")
    for x in (50, 60, 70):
        svg.upright(x, 10, 90, "limit")
    svg.write(50, 40, "abcd", 10, text_anchor="middle")
    parts = [(line["x1"], line["y1"], line["y2"]) for line in drawn(svg.text(), "limit")]
    assert parts == [(50, 10, 31.5), (50, 43, 90), (60, 10, 31.5), (60, 43, 90), (70, 10, 90)]


@pytest.mark.parametrize("demo", ["swing-bridge", "fulling-mill", "quarry-tram", "slipway-winch", "twelve-valve"])
def test_no_upright_line_runs_through_a_text(demo: str) -> None:
    plan = decide(load_job(DEMO / demo))
    bars = job_bars(plan, plan.job.unit)
    for picture in (job_picture(plan, plan.job.unit), *(c.svg for c in charts("t", plan.job.gaps, bars, "mm"))):
        lines = [line for kind in ("limit", "zero") for line in drawn(picture, kind)]
        written = list(ElementTree.fromstring(picture).iter(f"{SVG}text"))
        assert lines
        for e in written:
            x, y, size = (float(e.get(key, 0)) for key in ("x", "y", "font-size"))
            # letters of a sans take half their height on average; capitals reach 0.72 of it up
            broad = 0.5 * size * len(e.text or "")
            left = x - broad * {"middle": 0.5, "end": 1}.get(e.get("text-anchor", ""), 0)
            for line in lines:
                beside = not left < line["x1"] < left + broad
                assert beside or line["y2"] <= y - 0.72 * size or line["y1"] >= y + 0.2 * size, e.text


@pytest.mark.parametrize("low", [5, 8, 9, 10, 11])
def test_in_a_window_narrower_than_its_label_neither_limit_is_interrupted(low: int) -> None:
    """By hand: 8 of 35 thou on 341 px are 78 px, and `left at 10 to 11 thou` of 12 px is some 126 px wide."""
    bars = [Bar("left at", thou(low, low + 1), "after")]
    picture = bars_svg("a", window(4, 12), bars, Range(thou(0, 0).low, thou(0, 35).high), "thou")
    assert len(drawn(picture, "limit")) == 2
    assert f"{low} to {low + 1} thou" in " ".join(texts(picture))


@pytest.mark.parametrize("demo", ["swing-bridge", "fulling-mill", "slipway-winch", "twelve-valve"])
def test_labels_stand_beside_limits(demo: str) -> None:
    """Where there is room on either side, no limit is interrupted for what is written: each is one line."""
    plan = decide(load_job(DEMO / demo))
    limits = sum((gap.window.min is not None) + (gap.window.max is not None) for gap in plan.job.gaps)
    assert len(drawn(job_picture(plan, plan.job.unit), "limit")) == limits
    # nor on the letter's chart, whose arrow for the winch's backlash crosses a limit: its words stand behind a bar
    pages = letter_content(plan, plan.job.unit, "2026-05-03")["charts"]
    for chart in pages:
        tall = min(band["height"] for band in drawn(chart["svg"], "window"))
        assert all(line["y2"] - line["y1"] == pytest.approx(tall, abs=0.1) for line in drawn(chart["svg"], "limit"))


@pytest.mark.parametrize(
    ("asked", "terminal", "columns"),
    [(300, 80, 1), (745, 80, 1), (746, 80, 2), (1900, 80, 5), (None, 40, 1), (None, 80, 2), (None, 120, 3)],
)
def test_as_many_columns_as_fit(
    asked: int | None, terminal: int, columns: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: n pictures of 353 with 20 between and 10 at each edge take 373 n px; 80 cells of 9.6 px are 768."""
    monkeypatch.setenv("COLUMNS", str(terminal))
    width = ["--width", str(asked)] if asked else []
    with pytest.raises(SystemExit):
        main(["draw", str(DEMO / "swing-bridge"), "-o", str(tmp_path / "a.svg"), *width])
    root = ElementTree.parse(tmp_path / "a.svg").getroot()
    assert float(root.get("width", 0)) == 373 * columns


def test_what_goes_out_has_a_line_of_its_own_where_both_are_too_wide() -> None:
    plan = decide(load_job(DEMO / "twelve-valve"))
    told = texts(job_picture(plan, "mm"))
    assert {"B-2.50 [4e]", "for B-2.60", "B-2.35", "for B-2.40 [6i]"} <= set(told)
    near = [Bar("found", thou(30, 31), "found"), Bar("then", thou(8, 9), "after", swap="R-07 for R-03")]
    assert "R-07 for R-03" in texts(bars_svg("a", window(4, 12), near, Range(thou(0, 0).low, thou(0, 35).high), "thou"))


def test_the_key_says_why_a_cover_has_no_mark_as_found() -> None:
    plan = decide(load_job(DEMO / "fulling-mill"))
    key = key_of(plan.job, job_bars(plan, "thou"))
    assert key.endswith("step cover: its cover was read without shims, no clearance to show.")


def test_packs_that_stand_below_the_scale_are_not_told_across_the_picture() -> None:
    """Both caps of the winch change: the arrow says so in two words."""
    plan = decide(load_job(DEMO / "slipway-winch"))
    texts = [e.text or "" for e in ElementTree.fromstring(job_picture(plan, "mm")).iter(f"{SVG}text")]
    assert texts.count("new packs") == 2
    assert not [text for text in texts if text.startswith("left cap:")]


def test_no_word_of_an_axis_is_cut_off_at_the_edge() -> None:
    """A window without a lower end is shown from nothing on: on a phone, left of that is no room for `preload`."""
    one = gap("crosshead", 20, 21, window(None, 8))
    bars = {"crosshead": [Bar("found", one.reading.bracket, "found")]}
    assert "preload" not in texts(charts("t", [one], bars, "thou", ON_A_PHONE)[0].svg)
    assert {"preload", "play"} <= set(texts(charts("t", [one], bars, "thou")[0].svg))


def test_what_has_no_room_upon_its_arrow_stands_behind_the_bar_that_it_begins_at() -> None:
    """Five shims change places under valves: an arrow of 5 hundredths bears no `B-2.35 for B-2.40`, the row does."""
    found = decide(load_job(DEMO / "twelve-valve"))
    ((chart, _),) = charts("valves", found.job.gaps, job_bars(found, "mm", tags=False), "mm")
    shown = [text for text in texts(chart) if " for " in text]
    assert sorted(shown) == sorted(
        f"B-{a} for B-{b}"
        for a, b in (("2.55", "2.45"), ("2.45", "2.55"), ("2.50", "2.60"), ("2.60", "2.50"), ("2.35", "2.40"))
    )
    bars = {"a": [Bar("found", thou(19, 20), "found"), Bar("then", thou(16, 17), "after", swap="B-2.55 for B-2.45")]}
    ((chart, _),) = charts("t", [gap("a", 19, 20, window(4, 24))], bars, "thou")
    (at,) = [one for one in ElementTree.fromstring(chart).iter(f"{SVG}text") if " for " in (one.text or "")]
    (hollow,), (solid,) = drawn(chart, "found"), drawn(chart, "after")
    middle = float(at.get("x", "nan"))
    assert middle > hollow["x"] + hollow["width"] or middle < solid["x"]
