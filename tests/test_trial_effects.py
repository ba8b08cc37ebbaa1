"""Effects known from two trial readings: what these leave open goes into bracket, chance and verdict."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations_with_replacement, product
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.job import load_job
from shimopt.ordering.order import make_order
from shimopt.planner import Decision, decide

HEAD = 'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = {}\nmax = {}\nsource = "invented"\n'
PLACE = '[[place]]\nname = "{}"\npieces = {{ max = 2 }}\n'
GAP = '[[gap]]\nname = "{}"\nvalue = "{} mm ± 0.005 mm"\n[gap.effects]\n'
ROWS = '{{ stack = 0.30, reading = "{} mm ± {} mm" }}, {{ stack = 0.50, reading = "{} mm ± {} mm" }}'
TRIAL = f"{{}} = {{{{ trial = [{ROWS}] }}}}\n"


def planned(folder: Path, text: str, drawer: str) -> Decision:
    (folder / "drawer.csv").write_text(drawer)
    (folder / "job.toml").write_text(text)
    return decide(load_job(folder))


def one_gap(folder: Path, error: str, window: tuple[float, float] = (0.03, 0.10)) -> Decision:
    text = HEAD.format(*window) + PLACE.format("cap") + GAP.format("backlash", "0.26")
    return planned(
        folder, text + TRIAL.format("cap", "0.25", error, "0.11", error), "part,thickness_mm,on_hand\nS,0.28,1\n"
    )


def test_the_bracket_is_as_wide_as_the_two_readings_leave_it(tmp_path: Path) -> None:
    # by hand: (0.11 - 0.25 ± 0.02) / 0.2 is -0.8 .. -0.6, best -0.7; 0.28 takes 0.168 .. 0.224, best 0.196, off
    # 0.255 .. 0.265, best 0.26
    after = one_gap(tmp_path, "0.01").outcome.gaps["backlash"].after
    assert (after.low, after.best, after.high) == (31_000, 64_000, 97_000)


@pytest.mark.parametrize(
    ("error", "verdict"),
    # known exactly it is 0.059 .. 0.069; to ±0.02 it is -1.1 .. -0.3 or so, so -0.053 .. 0.181
    [("0", "inside"), ("0.01", "inside"), ("0.02", "unproven")],
)
def test_what_is_open_decides_the_verdict_and_the_chance(tmp_path: Path, error: str, verdict: str) -> None:
    found = one_gap(tmp_path, error).outcome.gaps["backlash"]
    assert found.verdict == verdict
    assert (found.chance == 1) is (verdict == "inside")


def test_an_order_covers_no_reading_that_a_weaker_effect_would_leave_outside(tmp_path: Path) -> None:
    # 0.28 at -0.8 .. -0.6 takes 0.168 .. 0.224; read again as 0.255 to 0.265, ± 0.005 each: 0.026 .. 0.102 after
    text = PLACE.format("cap") + GAP.format("backlash", "0.26") + TRIAL.format("cap", "0.25", "0.01", "0.11", "0.01")
    drawer = "part,thickness_mm,on_hand,inner_mm\nS,0.28,1,20\n"
    for limits, covered in (((0.026, 0.102), True), ((0.027, 0.102), False), ((0.026, 0.101), False)):
        found = planned(tmp_path, HEAD.format(*limits) + text, drawer)
        order = make_order([found.job])
        assert (not order.holes) is covered


def corners(low: Fraction, high: Fraction, thin: Fraction, thick: Fraction) -> Iterator[Fraction]:
    return (effect * length for effect in (low, high) for length in (thin, thick))


SIZES = (("A", 200_000, 4_000), ("B", 260_000, 0), ("C", 330_000, 2_000))


@settings(deadline=None, max_examples=40)
@given(
    reads=st.lists(st.integers(20, 60), min_size=1, max_size=2),
    slopes=st.lists(st.integers(-18, -6), min_size=4, max_size=4),
    error=st.integers(0, 15),
    low=st.integers(0, 20),
    width=st.integers(2, 25),
)
def test_every_level_is_what_trying_everything_finds(
    reads: list[int], slopes: list[int], error: int, low: int, width: int
) -> None:
    """Brute force over two places of up to two pieces; corners of effect and thickness are worked out here."""
    text, gaps = HEAD.format(low / 100, (low + width) / 100), []
    text += "".join(PLACE.format(name) for name in ("left", "right"))
    for number, read in enumerate(reads):
        text += GAP.format(f"gap {number}", read / 100)
        effects = []
        for side, slope in zip(("left", "right"), slopes[2 * number : 2 * number + 2], strict=True):
            text += TRIAL.format(side, "0.5", error / 1000, 0.5 + slope / 100, error / 1000)
            ends = [Fraction(slope * 10 + sign * 2 * error, 200) for sign in (-1, 1)]
            effects.append((round(ends[0], 3), round(Fraction(slope, 20), 3), round(ends[1], 3)))
        gaps.append((read * 10_000, effects))
    drawer = "part,thickness_mm,tolerance_mm,on_hand\n"
    drawer += "".join(f"{name},{best / 1e6},{half / 1e6},4\n" for name, best, half in SIZES)
    stacks = [s for n in range(3) for s in combinations_with_replacement(range(3), n)]
    least, most, found = low * 10_000, (low + width) * 10_000, []
    for pair in product(stacks, repeat=2):
        values, after = [Fraction(0)] * 4, list[Fraction]()
        for read, effects in gaps:
            ends = [Fraction(read - 5_000), Fraction(read), Fraction(read + 5_000)]
            for stack, (weak, best, strong) in zip(pair, effects, strict=True):
                thick = sum(SIZES[i][1] for i in stack)
                half = sum(SIZES[i][2] for i in stack)
                moved = [*corners(weak, strong, Fraction(thick - half), Fraction(thick + half))]
                ends = [ends[0] + min(moved), ends[1] + best * thick, ends[2] + max(moved)]
            after.append(ends[1])
            off = max(least - ends[1], ends[1] - most, Fraction(0))
            out = max(least - ends[0], Fraction(0)) + max(ends[2] - most, Fraction(0))
            unsure = off == 0 and out > 0
            values = [v + add for v, add in zip(values, (off > 0, off, unsure, out if unsure else 0), strict=True)]
        # nothing is changed unless fewer gaps are outside then; none is made too tight, or tighter than too tight
        was = [read for read, _ in gaps]
        outside = [sum(not least <= one <= most for one in each) for each in (was, after)]
        tight = any(one < least and one < read for read, one in zip(was, after, strict=True))
        if pair == ((), ()) or (not tight and (not outside[1] or outside[1] < outside[0])):
            found.append(tuple(values))
    with TemporaryDirectory() as folder:
        levels = {level.name: level for level in planned(Path(folder), text, drawer).levels}
    assert tuple(levels[name].value for name in ("outside", "miss", "unproven", "doubt")) == min(found)
    assert all(level.proven for level in levels.values())
