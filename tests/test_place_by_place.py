"""Places that act together, built up place by place: nothing that keeps to the limits is left out.

Expected values are worked out from the written rules by `brute_force_places`, or over all thicknesses at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from fractions import Fraction
from itertools import combinations_with_replacement, product
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.beginnings import Limits
from shimopt.choose.chooser import Chooser
from shimopt.choose.equal_packs import blocks_of
from shimopt.choose.place_by_place import kept_combinations, least_with_pieces_enough
from shimopt.job import Job, load_job
from shimopt.job.levels import Level
from shimopt.planner import chosen_stacks
from shimopt.proof.layers import TooManyLeftError
from shimopt.proof.proven import Proof
from shimopt.seats import screen
from tests.brute_force_places import _Judge, _levels
from tests.faults.fuzzer import write_coupled
from tests.job_files import write_job
from tests.place_strategies import jobs_of_places

# four places that move four gaps, whose windows cannot all be met
FOUR = """
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.1, max = 0.2, source = "drawn by lot" }
place = [{ name = "p0" }, { name = "p1" }, { name = "p2" }, { name = "p3" }]
[[gap]]
name = "g0"
value = "-0.03 mm ± 0.03 mm"
effects = { p1 = -1, p2 = 0.5 }
[[gap]]
name = "g1"
value = "0.86 mm ± 0.00 mm"
effects = { p0 = -0.68, p3 = 0.5, p2 = 0.5, p1 = -1 }
[[gap]]
name = "g2"
value = "-0.17 mm ± 0.03 mm"
effects = { p1 = 0.5, p3 = -1, p0 = 1, p2 = 1 }
[[gap]]
name = "g3"
value = "0.74 mm ± 0.01 mm"
effects = { p0 = -0.68, p2 = 0.5, p3 = "-1/3", p1 = 0.5 }
"""
DRAWER = """part,thickness_mm,tolerance_mm,on_hand
S-0.07,0.07,0.002,4
S-0.03,0.03,0.005,1
S-0.02,0.02,0.000,1
S-0.05,0.05,0.001,9
S-0.1,0.1,0.003,4
S-0.3,0.3,0.000,9
S-0.07 x,0.07,0.002,4
"""


def packs_are_equal(job: Job, stacks: Mapping[str, Stack]) -> bool:
    """Equal packs hold the same parts, piece for piece, or what is in them now."""
    return all(
        len({tuple(sorted(job.stock[i].part.name for i in stacks[name])) for name in names}) == 1
        or all(stacks[name] == job.place[name].installed for name in names)
        for names in job.equal
    )


@settings(deadline=None, max_examples=75, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places(), st.data())
def test_all_that_keeps_to_the_limits_is_there(job: Job, data: st.DataObject) -> None:
    chooser = Chooser(job, screen(job), False)
    model, _ = chooser.model()
    judge, found = _Judge(job), {}
    for chosen in product(*model.groups):
        stacks = {name: model.columns[c].stack for name, c in zip(model.place_of, chosen, strict=True) if name}
        used = Counter(i for stack in stacks.values() for i in stack)
        if all(n <= chooser.supply[i] for i, n in used.items()) and packs_are_equal(job, stacks):
            found[chosen] = _levels(judge, stacks)
    one = found[data.draw(st.sampled_from(sorted(found)))]
    asked = data.draw(
        st.lists(st.sampled_from([level for level in Level if level.of in ("gap", "stack")]), unique=True)
    )
    sizes = {level: chooser.scale.tick if level.is_length else Fraction(1) for level in asked}
    limits = {level: int(one[level] / sizes[level]) for level in asked}
    kept = kept_combinations(model, blocks_of(model, model.groups), Limits(limits)).columns.tolist()
    assert len(kept) == len({tuple(row) for row in kept})
    assert {tuple(row) for row in kept} <= found.keys()
    for chosen, levels in found.items():
        if all(levels[level] <= limits[level] * sizes[level] for level in asked):
            assert list(chosen) in kept


@settings(deadline=None, max_examples=75, suppress_health_check=[HealthCheck.too_slow])
@given(jobs_of_places(), st.data())
def test_were_there_pieces_enough_no_combination_would_come_to_less(job: Job, data: st.DataObject) -> None:
    chooser = Chooser(job, screen(job), False)
    model, _ = chooser.model()
    judge, found = _Judge(job), {}
    for chosen in product(*model.groups):
        stacks = {name: model.columns[c].stack for name, c in zip(model.place_of, chosen, strict=True) if name}
        if packs_are_equal(job, stacks):
            found[chosen] = _levels(judge, stacks)
    known = [level for level in Level if model.levels.get(level) and level.of in ("gap", "stack")]
    assume(known)
    name, one = data.draw(st.sampled_from(known)), found[data.draw(st.sampled_from(sorted(found)))]
    held = {*data.draw(st.lists(st.sampled_from(known), unique=True)), name}
    if not one["outside"]:
        held.add(Level.OUTSIDE)
    sizes = {level: chooser.scale.tick if level.is_length else Fraction(1) for level in held}
    limits = {level: int(one[level] / sizes[level]) for level in held}
    within = [of for of in found.values() if all(of[level] <= limits[level] * sizes[level] for level in held)]
    try:
        answer = least_with_pieces_enough(model, blocks_of(model, model.groups), limits, name, 10_000)
    except TooManyLeftError:
        # while a gap may be outside nothing is known of what is not sure
        assert name in ("unproven", "doubt")
        return
    assert answer is not None
    least, combination = answer
    best = min(of[name] for of in within) / sizes[name]
    # what is not sure is only known where no gap may be outside, and not of gaps that may be tight
    assert least <= best if {"unproven", "doubt"} & held else least == best
    assert len(combination.columns) == 1


def test_of_two_places_only_what_brings_their_gap_inside_is_kept(tmp_path: Path) -> None:
    text = (
        'unit = "mm"\ndrawer = "drawer.csv"\nplace = [{ name = "a" }, { name = "b" }]\n'
        '[[gap]]\nname = "g"\nvalue = "1 mm ± 0 mm"\neffects = { a = -1, b = -1 }\n'
        'window = { min = 0.1, max = 0.2, source = "invented" }\n'
    )
    job = load_job(write_job(tmp_path, text, "part,thickness_mm,on_hand\nS-1,0.4,2\nS-2,0.45,2\n"))
    model, _ = Chooser(job, screen(job), False).model()
    kept = kept_combinations(model, blocks_of(model, model.groups), Limits({"outside": 0})).columns.tolist()
    thick = {sum(Fraction(model.thickness(c)) for c in row) * model.scale.tick for row in kept}
    # by hand: 0.8 to 0.9 mm have to go in, which is one or two of each size, shared between the places in any way
    assert thick == {Fraction(800_000), Fraction(850_000), Fraction(900_000)}
    # 0.4 + 0.4 in one place, or one in each; 0.4 + 0.45 so, and crosswise; as 0.4 + 0.4
    assert len(kept) == 3 + 4 + 3
    with pytest.raises(TooManyLeftError):
        kept_combinations(model, blocks_of(model, model.groups), Limits({"outside": 0}), most=9)


def _least_over_all_thicknesses(job: Job, most: int = 3) -> tuple[int, int]:
    """How many gaps must be outside and what they then miss [nm], each place having the drawer for itself.

    None may come to be too tight for another, nor tighter than it was.
    """
    pieces = [int(line.part.thickness.best) for line in job.stock for _ in range(min(line.on_hand, most))]
    sizes = sorted({sum(some) for n in range(most + 1) for some in _some(pieces, n)})
    held = np.meshgrid(*([np.array(sizes)] * len(job.places)), indexing="ij", sparse=True)
    at = {place.name: thick for place, thick in zip(job.places, held, strict=True)}
    outside, missed, safe = np.zeros(1, np.int8), np.zeros(1, np.int64), np.ones(1, bool)
    for gap in job.gaps:
        # thirds and hundredths: all that is looked at is a whole number of these
        clearance = sum(
            (int(300 * effect) * at[name] for name, effect in gap.effects), int(300 * gap.reading.bracket.best)
        )
        off = np.maximum(np.maximum(300 * gap.window.min - clearance, clearance - 300 * gap.window.max), 0)
        outside, missed = outside + (off > 0), missed + off
        safe = safe & (clearance >= 300 * min(gap.window.min, int(gap.reading.bracket.best)))
    fewest = int(outside[safe].min())
    return fewest, int(missed[safe & (outside == fewest)].min()) // 300


def _some(pieces: list[int], n: int) -> set[tuple[int, ...]]:
    there = Counter(pieces)
    combinations = combinations_with_replacement(sorted(there), n)
    return {some for some in combinations if all(some.count(size) <= there[size] for size in some)}


@pytest.mark.parametrize("drawn", ["c11", None], ids=["by lot", "four"])
def test_windows_that_fight_are_decided_in_whole_numbers(
    drawn: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "job"
    if drawn is None:
        folder.mkdir()
        write_job(folder, FOUR, DRAWER)
    else:
        write_coupled(folder, Random(drawn))
    job = load_job(folder)

    def second(*_: object) -> None:
        pytest.fail("a second opinion was asked for")

    monkeypatch.setattr("shimopt.choose.asked_of_solvers.second_opinion", second)
    levels = chosen_stacks(job).choice.levels
    assert {level.proof for level in levels} == {Proof.EXACT}
    outside, miss = _least_over_all_thicknesses(job)
    values = {level.name: level.value for level in levels}
    assert (values["outside"], values["miss"]) == (outside, miss)
