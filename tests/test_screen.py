"""The screen holds for any name, any width and any window, and shows where the clearance lies."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from shimopt.job import Balance, Job, Window
from shimopt.lengths import Bracket
from shimopt.planner import decide
from shimopt.proof.proven import Proof
from shimopt.render.screens.layout import ASCII, UNICODE, columns, drawn_scale, folded
from shimopt.render.screens.plan_screen import screen_lines
from tests.jobs import gap, job, shim, window


def screen(of: Job, unit: str = "thou", width: int = 80) -> str:
    return "\n".join(text for text, _ in screen_lines(decide(of), unit, width, UNICODE))


ANY_NAME = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=120).filter(lambda s: s.strip() != "")


@settings(deadline=None)  # it plans a job: a busy machine is no fault
@given(name=ANY_NAME, part=ANY_NAME, width=st.integers(60, 100))
def test_no_name_breaks_the_width_or_sends_a_control_character(name: str, part: str, width: int) -> None:
    shown = screen(job([gap(name, 17, 18, window(4, 12))], [shim(7, 1, name=part)]), width=width)
    for line in shown.split("\n"):
        assert cell_len(line) <= width
        assert all(ch.isprintable() or unicodedata.category(ch) == "Zs" for ch in line)


def test_a_terminal_escape_in_a_name_is_shown_not_obeyed() -> None:
    shown = screen(job([gap("\x1b[2Jred\x07", 17, 18, window(4, 12))], [shim(7, 1)]))
    assert "\x1b" not in shown
    assert "\\x1b[2Jred\\x07" in shown


def test_a_title_that_ends_in_a_sign_gets_no_full_stop_more() -> None:
    of = job([gap("a", 17, 18, window(4, 12))], [shim(7, 1)])
    for title, told in (("Is it worth it?", "Is it worth it? All"), ("Arms.", "Arms. All"), ("Arms", "Arms. All")):
        assert f"{told} lengths in thou." in screen(replace(of, title=title))


def test_markup_in_a_name_is_text() -> None:
    assert "[bold]a[/bold]" in screen(job([gap("[bold]a[/bold]", 5, 6, window(4, 12))], [shim(7, 1)]))


@pytest.mark.parametrize("unit", ["mm", "um", "in", "thou"])
def test_every_number_stands_in_the_unit_that_is_named(unit: str) -> None:
    shown = screen(job([gap("a", 17, 18, window(4, 12))], [shim(7, 1)]), unit)
    named = {"in": "inches"}.get(unit, unit)
    assert f"All lengths in {named}." in shown
    for head in ("read", "then"):
        assert f"{head}, {unit}" in shown
    # at the head of its column, or where the numbers are long on the line of what is fitted
    assert re.search(rf"needs[^\n]* {unit}\b", shown)
    # 7 thou by hand: 0.1778 mm, 177.8 um, 0.007 in
    assert {"mm": "(0.1778 mm)", "um": "(177.8 um)", "in": "(0.007 in)", "thou": "(7 thou)"}[unit] in shown


def _scale(before: tuple[int, int], after: tuple[int, int], allowed: Window) -> str:
    return drawn_scale(Bracket.between(*before), Bracket.between(*after), allowed, ASCII, 40)


def test_the_scale_shows_a_clearance_moving_from_above_into_the_window() -> None:
    line = _scale((17, 18), (10, 11), Window(4, 12, "test"))
    assert line.index("[") < line.index("X") < line.index("]") < line.index("o")


def test_the_scale_shows_a_clearance_below_its_window() -> None:
    line = _scale((1, 2), (1, 2), Window(4, 12, "test"))
    assert line.index("X") < line.index("[") < line.index("]")


def test_a_one_sided_window_runs_on_to_the_edge() -> None:
    assert _scale((5, 6), (5, 6), Window(4, None, "test")).endswith("-")
    assert _scale((5, 6), (5, 6), Window(None, 7, "test")).startswith("-")


def test_an_exact_reading_on_an_exact_window_is_one_point() -> None:
    line = _scale((5, 5), (5, 5), Window(5, 5, "test"))
    assert line.count("X") == 1


@given(
    ends=st.tuples(*[st.integers(-50, 50)] * 6).map(lambda e: [sorted(e[:2]), sorted(e[2:4]), sorted(e[4:])]),
    width=st.integers(10, 60),
)
def test_the_scale_keeps_its_width_and_the_order_of_what_it_shows(ends: list[list[int]], width: int) -> None:
    before, after = (Bracket.between(*e) for e in ends[:2])
    line = drawn_scale(before, after, Window(*ends[2], "test"), ASCII, width)
    assert len(line) == width
    assert "X" in line
    if "o" in line and before.best != after.best:
        assert (line.index("o") < line.index("X")) == (before.best < after.best)


@given(
    text=st.text(st.characters(exclude_categories=["C", "Z", "M"], include_characters=" "), max_size=200),
    width=st.integers(10, 90),
)
def test_folding_keeps_every_character_and_the_width(text: str, width: int) -> None:
    lines = folded(text, width, "", "  ")
    assert all(cell_len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_columns_give_the_name_lines_of_its_own_where_numbers_leave_no_room() -> None:
    rows = [("name of a gap", "1" * 20, "2" * 20), ("b", "3", "4")]
    laid = columns(rows, 50)
    assert laid[0] == ["name of a gap", f"  {'1' * 20}  {'2' * 20}"]


def test_a_one_sided_window_is_said_in_words() -> None:
    assert "window at least 4 thou" in screen(job([gap("a", 14, 15, window(4, None))], []))
    assert "window at most 12 thou" in screen(job([gap("a", 14, 15, window(None, 12))], []))


def test_what_is_not_proven_is_not_called_proven() -> None:
    found = decide(job([gap("a", 17, 18, window(4, 12))], [shim(7, 1)]))
    from dataclasses import replace

    levels = tuple(replace(level, proof=Proof.NONE, bound=Fraction(0)) for level in found.levels)
    doubtful = replace(found, levels=levels)
    text = "\n".join(line for line, _ in screen_lines(doubtful, "thou", 80, UNICODE))
    assert "Not proven best at every level" in text
    assert "pieces fitted 1 (not proven, at least 0)" in text.replace("\n    ", " ")


def test_a_hundred_gaps_and_a_balance_of_them_all_fit_the_width() -> None:
    names = [f"cylinder {n}, valve {m}" for n in range(1, 13) for m in range(1, 9)]
    many = job([gap(n, 6, 7, window(4, 12)) for n in names], [], balances=[Balance("all", tuple(names))])
    assert max(cell_len(line) for line in screen(many).split("\n")) <= 80


def test_a_reading_ten_times_its_neighbours_stands_at_the_top_with_its_likely_meaning() -> None:
    # a lost decimal point: 170 for 17 thou
    shown = screen(
        job(
            [gap("a", 16, 17, window(4, 12)), gap("b", 17, 18, window(4, 12)), gap("c", 170, 171, window(4, 12))],
            [shim(7, 3)],
        )
    )
    top = " ".join(shown.split("\n\n")[0].split())
    assert "✗ c reads 170.5 thou, 10 times its neighbours (about 17 thou): a decimal point may have slipped" in top
    assert "was 17.05 thou meant?" in top


@given(
    text=st.text("ab  c", max_size=40),
    width=st.integers(8, 20),
    first=st.sampled_from(["", "  ", "    "]),
    rest=st.sampled_from(["", "  ", "    "]),
)
def test_plain_text_is_folded_as_text_of_all_scripts_is(text: str, width: int, first: str, rest: str) -> None:
    """Plain letters are folded a line at a time, others word by word: an e with an accent takes one cell like an e."""
    plain, accented = folded(text, width, first, rest), folded(text.replace("a", "é"), width, first, rest)
    assert [line.replace("é", "a") for line in accented] == plain
    longest = max(map(len, text.split(" ")))
    if longest + max(len(first), len(rest)) <= width:
        assert all(len(line) <= width for line in plain)
