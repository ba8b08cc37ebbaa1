"""Readings, decisions, heat and torques that cannot be: what the reader says, and where."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job_files import edited, the_problem, write_job

JOB = """\
title = "Winch"
unit = "mm"
drawer = "drawer.csv"
# top

[window]
min = 0.1
max = 0.3
source = "sheet 7"

[[gap]]
name = "drum"
value = 0.4
"""
DRAWER = "part,thickness_mm,on_hand\nS-10,0.1,4\n"
HEAT = 'heat = {{ housing = {{ material = "{}", length = {} }}, from = "{}", to = "{}"{} }}'

# what takes the place of the reading; where the reader points; words of its rule
READINGS = {
    "no pulls": ("indicator = { readings = [], resolution = 0.01 }", "indicator", "at least one reading"),
    "pulls not named": ("indicator = { resolution = 0.01 }", "indicator.readings", "`readings` is missing"),
    "a resolution of zero": ("indicator = { readings = [0.2], resolution = 0 }", "indicator", "is above zero"),
    "a negative error": ("indicator = { readings = [0.2], error = -0.01 }", "indicator.error", "not negative"),
    "a lever at ninety degrees": (
        "indicator = { readings = [0.2], lever_angle = 90 }",
        "indicator",
        "from 0 to below 90 degrees",
    ),
    "a lever at a text": (
        'indicator = { readings = [0.2], lever_angle = "30" }',
        "indicator.lever_angle",
        "this is a number",
    ),
    "a lever at no number": ("indicator = { readings = [0.2], lever_angle = nan }", "indicator.lever_angle", "number"),
    "a key of an indicator that nobody knows": (
        "indicator = { readings = [0.2], resolutoin = 0.01 }",
        "indicator.resolutoin",
        "not a known key",
    ),
    "a pull that is no length": ('indicator = { readings = ["0.2"] }', "indicator.readings.1", "carries its own unit"),
    "no dimensions": ("built_up = []", "", "at least one dimension"),
    "a dimension neither added nor taken": ('built_up = [{ name = "bore" }]', "built_up.1", "either added or taken"),
    "a dimension both added and taken": (
        'built_up = [{ name = "bore", add = 1, take = 1 }]',
        "built_up.1",
        "either added or taken",
    ),
    "a dimension without a name": ("built_up = [{ add = 1 }]", "built_up.1.name", "`name` is missing"),
    "a negative dimension": ('built_up = [{ name = "bore", add = -1 }]', "built_up.1", "a dimension is not negative"),
    "a gasket crushed to nothing": (
        'built_up = [{ name = "gasket", add = 1, crush = 100 }]',
        "built_up.1.crush",
        "below 100 per cent",
    ),
    "a gasket crushed by less than nothing": (
        'built_up = [{ name = "gasket", add = 1, crush = "2 ± 3 %" }]',
        "built_up.1.crush",
        "from 0 to below 100",
    ),
    "dimensions that come to less than nothing": (
        'built_up = [{ name = "bore", add = 1 }, { name = "ring", take = 1.2 }]',
        "built_up",
        "0.20 mm less",
    ),
    "a cover gap of two kinds": ("cover_gap = { go = 0.2, no_go = 0.3, value = 0.2 }", "cover_gap", "not both"),
    "a cover gap of nothing": ("cover_gap = {}", "cover_gap", "names its blades"),
    "a negative cover gap": ("cover_gap = { value = -0.2 }", "cover_gap", "not negative"),
    "a negative blade error": ("feeler = { go = 0.3, no_go = 0.4, blade_error = -0.01 }", "feeler.blade_error", "not"),
    "leaves without an error": ("feeler = { go = 0.3, no_go = 0.4, leaves = 2 }", "feeler", "error of a blade"),
    "no leaves": ("feeler = { go = 0.3, no_go = 0.4, blade_error = 0.01, leaves = 0 }", "feeler.leaves", "1 to 50"),
    "a shape of a feeler": ('feeler = { go = 0.3, no_go = 0.4 }\nshape = "normal"', "", "how a stated ± is spread"),
    "two readings": ("value = 0.4\nindicator = { readings = [0.2] }", "", "exactly one reading"),
    "a negative shift": ('value = 0.4\nshift = "-0.01 mm"', "shift", "not negative"),
    "a decision that nobody knows": ('value = 0.4\ndecision = "likely"', "decision", "sure, or asks for a chance"),
    "a chance of one": ("value = 0.4\ndecision = { chance = 1 }", "decision", "above 0.5 and below 1"),
    "a chance in per cent": ("value = 0.4\ndecision = { chance = 95 }", "decision", "above 0.5 and below 1"),
    "a chance that is worse than none": ("value = 0.4\ndecision = { chance = 0.5 }", "decision", "above 0.5"),
    "a chance that is no number": ("value = 0.4\ndecision = { chance = nan }", "decision", "a chance is a number"),
    "an unknown material": (
        "value = 0.4\n" + HEAT.format("unobtainium", 120, "20 degC", "80 degC", ""),
        "heat.housing",
        "is not in the table",
    ),
    "colder than absolute zero": (
        "value = 0.4\n" + HEAT.format("steel 1040", 120, "-300 degC", "80 degC", ""),
        "heat.from",
        "absolute zero",
    ),
    "a temperature without a unit": (
        "value = 0.4\n" + HEAT.format("steel 1040", 120, "20", "80 degC", ""),
        "heat.from",
        "carries its unit",
    ),
    "a part of no length": (
        "value = 0.4\n" + HEAT.format("steel 1040", 0, "20 degC", "80 degC", ""),
        "heat.housing.length",
        "above zero",
    ),
    "a coefficient in millionths": (
        'value = 0.4\nheat = { shaft = { coefficient = 21.5, length = 120 }, from = "20 degC", to = "80 degC" }',
        "heat.shaft.coefficient",
        "per kelvin",
    ),
    "heat without a temperature": (
        'value = 0.4\nheat = { shaft = { material = "steel 1040", length = 120 }, from = "20 degC" }',
        "heat.to",
        "`to` is missing",
    ),
    "nothing that expands": ('value = 0.4\nheat = { from = "20 degC", to = "80 degC" }', "heat", "nothing is named"),
    "windows that exclude each other": (
        "value = 0.4\n"
        + HEAT.format(
            "aluminium 356.0", 120, "20 degC", "80 degC", ', window = { min = 0.0, max = 0.1, source = "s" }'
        ),
        "heat.window",
        "no clearance is inside both cold and hot",
    ),
}


@pytest.mark.parametrize(("reading", "where", "rule"), READINGS.values(), ids=READINGS)
def test_a_reading_that_cannot_be_is_refused_with_its_place(
    tmp_path: Path, reading: str, where: str, rule: str
) -> None:
    problem = the_problem(write_job(tmp_path, edited(("value = 0.4", reading), of=JOB), DRAWER))
    assert problem.where == '[[gap]] 1 "drum"' + (f", {where}" if where else "")
    assert rule in problem.rule
    assert problem.remedy


TOP = {
    "a basis that nobody knows": ('basis = "sure"', "basis", "one of a few words"),
    "a negative shift": ("shift = -1", "shift", "not negative"),
    "a micrometer that is off by a text": ('micrometer = "good"', "micrometer", "this is not a length"),
    "a micrometer with error and range": (
        'micrometer = { error = 0.004, range = "0 to 25 mm" }',
        "micrometer",
        "an error that is not stated",
    ),
    "a micrometer of no range": ('micrometer = { range = "small" }', "micrometer", "not the range of a micrometer"),
    "a micrometer of a metre": ('micrometer = { range = "900 to 999 mm" }', "micrometer", "up to 500 mm"),
    "a key of the state that nobody knows": ('state = { clampd = "20 N·m" }', "state", "not a known key"),
    "hardware neither old nor new": ('state = { hardware = "used" }', "state", "one of a few words"),
    "a torque without a unit": ('tightening = [{ name = "nut", torque = "12 to 18" }]', "tightening", "not a torque"),
    "a torque in seconds": ('tightening = [{ name = "nut", torque = "12 s" }]', "tightening", "unit of torque"),
    "a torque upside down": (
        'tightening = [{ name = "nut", torque = "18 to 12 N·m" }]',
        "tightening",
        "lower torque comes first",
    ),
    "no torque": ('tightening = [{ name = "nut" }]', "tightening", "`torque` is missing"),
}


@pytest.mark.parametrize(("line", "where", "rule"), TOP.values(), ids=TOP)
def test_what_stands_at_the_top_and_cannot_be_is_refused_with_its_place(
    tmp_path: Path, line: str, where: str, rule: str
) -> None:
    problem = the_problem(write_job(tmp_path, edited(("# top", line), of=JOB), DRAWER))
    assert where in problem.where
    assert rule in problem.rule
    assert problem.remedy


def test_dimensions_may_come_to_a_preload_where_one_is_expected(tmp_path: Path) -> None:
    from shimopt.job import load_job

    reading = 'built_up = [{ name = "bore", add = 1 }, { name = "ring", take = 1.2 }]'
    text = edited(("value = 0.4", reading), ("min = 0.1", "min = -0.3"), of=JOB)
    job = load_job(write_job(tmp_path, text, DRAWER))
    assert job.gaps[0].reading.bracket.best == -200_000
