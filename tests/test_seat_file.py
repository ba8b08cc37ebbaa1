"""The keys of a `[[seat]]`: what they mean, and what the reader says of each that is wrong."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shimopt.errors import InputError, Problem
from shimopt.job import Seat, load_job
from shimopt.job.seat_schema import SeatTable
from tests.job_files import check, edited, the_problem, write_job

SHAFT = 'shaft = "0.6248 in ± 0.0002 in"'
SEAT = '[[seat]] 1 "plain end"'


def seat(folder: Path, keys: str) -> Seat:
    """The seat of a job whose only seat has these keys."""
    return load_job(write_job(folder, edited((SHAFT, keys)))).seats[0]


def test_all_keys_of_a_seat(tmp_path: Path) -> None:
    found = seat(
        tmp_path,
        """\
shaft = "16 h6"
bore = { min = "24.98 mm", max = "25.02 mm" }
face = { inner = "17 mm", outer = "24 mm ± 0.1 mm" }
groove = [{ diameter = "15 mm", from = "0 mm", to = "2 mm" }, { diameter = "14 mm", from = "5 mm", to = "6 mm" }]
fillet = "0.5 mm"
chamfer = "0.3 mm"
next_ring = "26 H7"
keyway = true
tab = false
moving_face = true
load = "2 kN"
most_pieces = 4
fewest_pieces = 2
thinnest = "0.05 mm"
forms = ["ring", "tabbed"]
materials = "steel"
order = "thin outside"
bore_play = "0.3 mm"
keep_clear = "0.4 mm"
least_carried = 0.7
least_contact_width = "40 %"
most_over_groove = 0.25
least_wall = 2.5
limit_pressure = "GJL-250"
least_hardness = "40 HRC"
grades = { thin_wall = "note" }
""",
    )
    # 16 h6 is 15.989 to 16.000, 26 H7 is 26.000 to 26.021 (ISO 286, public tables: IT6 11 µm to 18, IT7 21 µm to 30)
    assert found.shaft is not None
    assert found.next_ring is not None
    assert found.face is not None
    assert found.bore is not None
    assert (found.shaft.low, found.shaft.high) == (15_989_000, 16_000_000)
    assert (found.next_ring.low, found.next_ring.high) == (26_000_000, 26_021_000)
    assert (found.bore.low, found.bore.high) == (24_980_000, 25_020_000)
    assert (found.face.inner.low, found.face.outer.low) == (17_000_000, 23_900_000)
    assert found.grooves is not None
    assert [(g.diameter.best, g.start, g.end) for g in found.grooves] == [
        (15_000_000, 0, 2_000_000),
        (14_000_000, 5_000_000, 6_000_000),
    ]
    assert (found.fillet, found.chamfer, found.thinnest) == (500_000, 300_000, 50_000)
    assert (found.keyway, found.tab, found.moving_face, found.load) == (True, False, True, 2000)
    assert (found.most_pieces, found.fewest_pieces) == (4, 2)
    assert (found.forms, found.materials, found.order) == (("ring", "tabbed"), ("steel",), "thin outside")
    assert (found.bore_play, found.limits.clear) == (300_000, 400_000)
    assert (found.limits.carried, found.limits.width) == (Fraction(7, 10), Fraction(2, 5))
    assert (found.limits.over_groove, found.limits.wall) == (Fraction(1, 4), Fraction(5, 2))
    assert found.limits.pressure is not None
    # VDI 2230:2003, GJL-250: 900 N/mm²
    assert (found.limits.pressure.value, found.limits.pressure.source) == (900, "GJL-250, VDI 2230:2003")
    assert found.limits.hardness == "40 HRC"
    assert found.grades == (("thin_wall", "note"),)


def test_a_feature_that_is_not_there_is_told_from_one_that_nobody_described(tmp_path: Path) -> None:
    none = seat(tmp_path, 'bore = "none"\nnext_ring = "none"\ngroove = "none"\nfillet = "none"')
    assert (none.absent, none.grooves, none.fillet) == (frozenset({"bore", "next_ring"}), (), 0)
    silent = load_job(write_job(tmp_path)).seats[0]
    assert (silent.absent, silent.grooves, silent.fillet) == (frozenset(), None, None)


def test_a_load_in_pounds_is_a_load_in_newtons(tmp_path: Path) -> None:
    # 1 lbf = 4.4482216152605 N exactly (NIST SP 811)
    assert seat(tmp_path, 'load = "100 lbf"').load == Fraction("444.82216152605")
    assert seat(tmp_path, "load = 1200.5").load == Fraction("1200.5")


def test_a_seat_states_its_fewest_and_its_most_pieces(tmp_path: Path) -> None:
    stacks = ("[[seat]]", "[stacks]\nmost_pieces = 6\n\n[[seat]]")
    job = load_job(write_job(tmp_path, edited(stacks, (SHAFT, f"{SHAFT}\nmost_pieces = 5\nfewest_pieces = 4"))))
    assert (job.places[0].fewest_pieces, job.places[0].most_pieces) == (4, 5)
    assert (job.places[1].fewest_pieces, job.places[1].most_pieces) == (0, 6)


def test_a_seat_that_takes_more_pieces_than_a_stack_may_have_is_refused(tmp_path: Path) -> None:
    # a stack has at most 3 pieces where nothing else is said
    problem = the_problem(write_job(tmp_path, edited((SHAFT, f"{SHAFT}\nfewest_pieces = 4"))))
    check(
        problem,
        file="job.toml",
        where=f"{SEAT}, fewest_pieces",
        value="4",
        rule=["more pieces than a stack"],
        remedy=["raise most_pieces"],
    )


# the keys; where the reader points, what it found there, words of its rule and remedy
WRONG = {
    "a capital letter for a shaft": ('shaft = "16 H6"', "shaft", "16 H6", "small letter", "did you mean h6?"),
    "a small letter for a counterbore": ('bore = "25 h7"', "bore", "25 h7", "capital letter", "did you mean H7?"),
    "a class that is not in the tables": ('shaft = "16 k6"', "shaft", "16 k6", "not known here", "D to H"),
    "a size beyond the tables": ('shaft = "300 h6"', "shaft", "300 h6", "up to 250 mm", "write the limits"),
    "limits upside down": (
        "shaft = { min = 10, max = 9 }",
        "shaft",
        "{ min = 10, max = 9 }",
        "min is not above max",
        "check",
    ),
    "limits with one end": ("shaft = { min = 10 }", "shaft", "{ min = 10 }", "min and max", "write it like"),
    "a shaft of nothing": ("shaft = 0", "shaft", "0", "above zero", "measure"),
    "a face without an outside": ("face = { inner = 1 }", "face.outer", "", "`outer` is missing", "add outer"),
    "a face inside out": ("face = { inner = 9, outer = 8 }", "face", "{ inner = 9, outer = 8 }", "not smaller", "swap"),
    "a key of a face that nobody knows": (
        "face = { inner = 1, outer = 8, outter = 3 }",
        "face.outter",
        "3",
        "not a known key",
        "did you mean outer?",
    ),
    "a face that is no table": ('face = "24 mm"', "face", "24 mm", "a table", "in braces"),
    "a groove that ends before it begins": (
        "groove = { diameter = 5, from = 3, to = 2 }",
        "groove",
        "{ diameter = 5, from = 3, to = 2 }",
        "ends further",
        "swap",
    ),
    "a groove without an end": ("groove = { diameter = 5, from = 3 }", "groove.to", "", "`to` is missing", "add to"),
    "a key of a groove that nobody knows": (
        "groove = { diameter = 5, form = 1, to = 2, from = 0 }",
        "groove.form",
        "1",
        "not a known key",
        "did you mean from?",
    ),
    "a fillet below zero": ("fillet = -1", "fillet", "-1", "not negative", "without a sign"),
    "a keyway that is no yes or no": ('keyway = "yes"', "keyway", "yes", "true or false", "without quotes"),
    "a load without a unit": ('load = "1200"', "load", "1200", "newtons", "1.2 kN"),
    "a load in kilograms": ('load = "120 kg"', "load", "120 kg", "newtons", "1.2 kN"),
    "a load of nothing": ("load = 0", "load", "0", "above zero", "1.2 kN"),
    "a load that is no number": ("load = nan", "load", "nan", "above zero", "1.2 kN"),
    "a form that nobody knows": (
        'forms = ["rings"]',
        "forms.1",
        "rings",
        "ring, slotted, tabbed",
        "did you mean ring?",
    ),
    "an order that nobody knows": (
        'order = "thick outside"',
        "order",
        "thick outside",
        "thin between thick, thin outside",
        "did you mean",
    ),
    "a share over one": ("least_carried = 1.2", "least_carried", "1.2", "0 to 1", "60 %"),
    "a share in words": ('least_carried = "most"', "least_carried", "most", "0 to 1", "60 %"),
    "a wall below nothing": ("least_wall = -1", "least_wall", "-1", "0 to 1,000", "like 3"),
    "a material without a pressure": (
        'limit_pressure = "GJL-25"',
        "limit_pressure",
        "GJL-25",
        "not in the table",
        "did you mean GJL-250?",
    ),
    "a pressure below zero": ("limit_pressure = -3", "limit_pressure", "-3", "above zero, in N/mm²", "like 490"),
    "a hardness without a scale": ('least_hardness = "350"', "least_hardness", "350", "not a hardness", "350 HV"),
    "a hardness in a word": ('least_hardness = "hard"', "least_hardness", "hard", "with its scale", "350 HV"),
    "a finding that nobody knows": (
        'grades = { thinn_wall = "note" }',
        "grades",
        '{ thinn_wall = "note" }',
        "no finding",
        "mean thin_wall?",
    ),
    "a grade that nobody knows": (
        'grades = { thin_wall = "no" }',
        "grades",
        '{ thin_wall = "no" }',
        "stop, caution, note",
        "did you mean note?",
    ),
    "thinner than nothing": ("thinnest = 0", "thinnest", "0", "above zero", "measure"),
    "fewest pieces of nothing": ("fewest_pieces = 0", "fewest_pieces", "0", "1 to 50", "like 3"),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_with_a_seat_is_told_with_its_place(tmp_path: Path, case: str) -> None:
    keys, where, value, rule, remedy = WRONG[case]
    problem = the_problem(write_job(tmp_path, edited((SHAFT, keys))))
    check(problem, file="job.toml", where=f"{SEAT}, {where}", value=value, rule=[rule], remedy=[remedy])


_KEYS = [key for key in SeatTable.model_fields if key != "name"]
_VALUES = st.one_of(
    st.sampled_from(
        [
            "none",
            "16 h6",
            "16 H7",
            "1 mm",
            "GJL-250",
            "350 HV",
            "60 %",
            "2 kN",
            "ring",
            "",
            " ",
            "٣ h6",
            "1" * 5000,
            "1" + " " * 5000 + "x",
            True,
            False,
            0,
            -1,
            1,
            0.5,
            10**30,
            float("nan"),
        ]
    ),
    st.text(max_size=12),
    st.integers(),
    st.floats(),
)
_TABLES = st.dictionaries(
    st.sampled_from(["inner", "outer", "diameter", "from", "to", "min", "max", "thin_wall", "x"]), _VALUES, max_size=4
)


@settings(deadline=None, max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.dictionaries(st.sampled_from(_KEYS), st.one_of(_VALUES, _TABLES, st.lists(_VALUES | _TABLES, max_size=2))))
def test_whatever_stands_in_a_seat_it_is_read_or_refused_in_words(tmp_path: Path, keys: dict[str, object]) -> None:
    lines = [f"{key} = {_toml(value)}" for key, value in keys.items()]
    write_job(tmp_path, edited((SHAFT, "\n".join(lines))))
    problems: tuple[Problem, ...] = ()
    try:
        load_job(tmp_path)
    except InputError as error:
        problems = error.problems
    assert all(problem.rule and problem.remedy for problem in problems)


def _toml(value: object) -> str:
    """A value as it stands in a TOML file, in one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, bool | str):
        return json.dumps(value, ensure_ascii=False)
    return str(value)


@pytest.mark.parametrize(
    ("keys", "rule"),
    [
        ("fewest_pieces = 3\nmost_pieces = 2", "fewest_pieces is above most_pieces"),
        ('shaft = "16 mm"\ngroove = { diameter = "16.5 mm", from = 0, to = 20 }', "not smaller than the shaft"),
        ('face = { inner = "17 mm", outer = "18 mm" }\nchamfer = "0.5 mm"', "takes the whole face away"),
    ],
)
def test_keys_that_contradict_one_another_are_refused(tmp_path: Path, keys: str, rule: str) -> None:
    problem = the_problem(write_job(tmp_path, edited((SHAFT, keys))))
    assert problem.where == SEAT
    assert rule in problem.rule
