"""What the reader says of written-out places, effects and installed pieces that cannot be, case by case."""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt import InputError
from shimopt.job import load_job
from shimopt.planner import decide
from tests.job_files import check, edited, the_problem, write_job

JOB = """\
unit = "mm"
drawer = "drawer.csv"
equal = ["left", "right"]

[window]
min = 0.10
max = 0.20
source = "sheet 3"

[[seat]]
name = "cap"
shaft = 40

[[seat]]
name = "cover"
shaft = 60

[[place]]
name = "left"
seat = "cap"
pieces = { min = 0, max = 4 }
installed = ["S-30"]

[[place]]
name = "right"
seat = "cap"
installed = ["S-30", { part = "S-10", measured = "0.103 mm" }]

[[gap]]
name = "backlash"
value = 0.3
effects = { left = 0.68, right = -0.68 }
"""
DRAWER = """\
part,piece,thickness_mm,inner_mm,on_hand
S-30,,0.30,40.1,2
S-10,,0.10,40.1,2
S-20,a,0.20,40.1,0
S-20,b,0.21,40.1,1
C-10,,0.10,60.1,2
"""
PLACE_2 = '[[place]] 2 "right"'

CASES = {
    "an effect on an unknown place": (
        ("right = -0.68", "rigth = -0.68"),
        '[[gap]] 1 "backlash", effects',
        "rigth",
        "no such place",
        "right?",
    ),
    "all effects zero": (
        ("left = 0.68, right = -0.68", "left = 0, right = 0.0"),
        '[[gap]] 1 "backlash", effects',
        "{ left = 0, right = 0.0 }",
        "all effects are zero",
        "-1 closes the gap",
    ),
    "no effect at all": (
        ("{ left = 0.68, right = -0.68 }", "{}"),
        '[[gap]] 1 "backlash", effects',
        "{  }",
        "at least one place",
        "",
    ),
    "an effect that is no number": (
        ("left = 0.68", 'left = "much"'),
        '[[gap]] 1 "backlash", effects.left',
        "much",
        "not a number",
        "0.35",
    ),
    "an effect beyond all reason": (
        ("left = 0.68", "left = 1e6"),
        '[[gap]] 1 "backlash", effects.left',
        "1E+6",
        "within ±1000",
        "check",
    ),
    "an effect table without a figure": (
        ("left = 0.68", "left = { }"),
        '[[gap]] 1 "backlash", effects.left',
        "{  }",
        "stated or computed",
        "bevel",
    ),
    "a bevel gear with one number of teeth": (
        ("left = 0.68", 'left = { bevel = { teeth = [20], pressure_angle = 20, on = "wheel" } }'),
        '[[gap]] 1 "backlash", effects.left.bevel.teeth',
        "",
        "pinion and of the wheel",
        "[20, 40]",
    ),
    "an unknown key of a bevel gear": (
        ("left = 0.68", 'left = { bevel = { teeth = [20, 40], pressure = 20, pressure_angle = 20, on = "wheel" } }'),
        '[[gap]] 1 "backlash", effects.left.bevel.pressure',
        "20",
        "not a known key",
        "pressure_angle",
    ),
    "trial packs that are alike": (
        ("left = 0.68", "left = { trial = [{ stack = 0.3, reading = 0.2 }, { stack = 0.3, reading = 0.1 }] }"),
        '[[gap]] 1 "backlash", effects.left',
        "",
        "cannot be told apart",
        "differ by more",
    ),
    "a bevel gear whose shim moves next to nothing": (
        # 2 tan 20 degrees sin(atan 2) = 0.65109, times 0.0005 = 0.0003, at three decimals 0
        ("left = 0.68", 'left = { bevel = { teeth = [20, 40], pressure_angle = 20, on = "wheel", share = 0.0005 } }'),
        '[[gap]] 1 "backlash", effects.left',
        "",
        "comes to 0 at three decimals",
        "figure",
    ),
    "trial readings that are alike": (
        ("left = 0.68", "left = { trial = [{ stack = 0.3, reading = 0.2 }, { stack = 0.5, reading = 0.2 }] }"),
        '[[gap]] 1 "backlash", effects.left',
        "",
        "comes to 0 at three decimals",
        "leave the place out",
    ),
    "an effect of thirty decimals": (
        ("left = 0.68", "left = 0.680000000000000000000000000001"),
        '[[gap]] 1 "backlash", effects.left',
        "0.680000000000000000000000000001",
        "at most eight decimals",
        'such as "1/3"',
    ),
    "effects that together divide too finely": (
        # both are primes: 9967 × 99991 is ten times what whole numbers are allowed to carry
        ("left = 0.68, right = -0.68", 'left = "1/9967", right = "1/99991"'),
        '[[gap]] 1 "backlash", effects.right',
        "1/99991",
        "finer than whole numbers can carry",
        "one denominator",
    ),
    "equal packs at an unknown place": (
        ('"left", "right"]\n\n', '"left", "middle"]\n\n'),
        "equal",
        "middle",
        "no such place",
        "middle",
    ),
    "one equal pack": (('"left", "right"]\n\n', '"left"]\n\n'), "equal", "", "at least two places", "equal = "),
    "a place twice in the equal packs": (
        ('"left", "right"]\n\n', '"left", "left"]\n\n'),
        "equal",
        "",
        "stands twice",
        "once",
    ),
    "an unknown part installed": (
        ('installed = ["S-30"]', 'installed = ["S-31"]'),
        '[[place]] 1 "left", installed.1',
        "S-31",
        "neither drawer nor catalogues",
        # S-30 is another thickness, whatever its name is like
        "row in the drawer: part S-31, its thickness, on_hand = 0",
    ),
    "a thickness installed that a part of the drawer has": (
        ('installed = ["S-30"]', 'installed = ["0.3 mm"]'),
        '[[place]] 1 "left", installed.1',
        "0.3 mm",
        "neither drawer nor catalogues",
        "name it as the drawer does: S-30",
    ),
    "an installed part whose name is misspelt": (
        ('installed = ["S-30"]', 'installed = ["s30"]'),
        '[[place]] 1 "left", installed.1',
        "s30",
        "neither drawer nor catalogues",
        "did you mean S-30?",
    ),
    "a measured piece of an unknown part": (
        ('part = "S-10", measured', 'part = "X-99", measured'),
        f"{PLACE_2}, installed.2",
        "X-99",
        "neither drawer nor catalogues",
        "thickness 0.103 mm, on_hand = 0",
    ),
    "a single piece in the drawer and in the machine": (
        ('installed = ["S-30"]', 'installed = [{ part = "S-20", piece = "b" }]'),
        '[[place]] 1 "left", installed.1',
        "S-20 [b]",
        "in the drawer too",
        "on_hand to 0",
    ),
    "a piece that could be several": (
        ('installed = ["S-30"]', 'installed = ["S-20"]'),
        '[[place]] 1 "left", installed.1',
        "S-20",
        "not alike",
        "piece",
    ),
    "a tag that no piece has": (
        ('installed = ["S-30"]', 'installed = [{ part = "S-20", piece = "c" }]'),
        '[[place]] 1 "left", installed.1',
        "S-20 [c]",
        "no such piece",
        "a, b",
    ),
    "an installed piece of no thickness": (
        ('"0.103 mm"', '"0 mm"'),
        f"{PLACE_2}, installed.2.measured",
        "0 mm",
        "above zero",
        "measure",
    ),
    "a place named like a store": (
        ('name = "left"\nseat', 'name = "bench"\nseat'),
        '[[place]] 1 "bench", name',
        "bench",
        "no store",
        "another name",
    ),
    "more pieces at least than at most": (
        ("min = 0, max = 4", "min = 5, max = 4"),
        '[[place]] 1 "left", pieces',
        "{ min = 5, max = 4 }",
        "above max",
        "swap",
    ),
    "a place on an unknown seat": (
        ('seat = "cap"\npieces', 'seat = "cup"\npieces'),
        '[[place]] 1 "left", seat',
        "cup",
        "no such seat",
        "cap?",
    ),
    "two places of one name": (
        ('name = "right"\nseat', 'name = "left"\nseat'),
        None,
        "left",
        "two places have this name",
        "a name of its own",
    ),
    "keep that is no yes or no": (
        ('installed = ["S-30"]', 'keep = "no"\ninstalled = ["S-30"]'),
        '[[place]] 1 "left", keep',
        "no",
        "true or false",
        "without quotes",
    ),
    "an unknown key of a place": (
        ('installed = ["S-30"]', 'instaled = ["S-30"]'),
        '[[place]] 1 "left", instaled',
        "",
        "not a known key",
        "installed?",
    ),
}


def test_the_good_job_is_good(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, JOB, DRAWER))
    assert [place.name for place in job.places] == ["left", "right"]
    assert [[job.stock[i].part.name for i in place.installed] for place in job.places] == [["S-30"], ["S-10", "S-30"]]


@pytest.mark.parametrize("case", CASES)
def test_what_cannot_be_is_named_with_its_place_and_remedy(tmp_path: Path, case: str) -> None:
    (old, new), where, value, rule, remedy = CASES[case]
    folder = write_job(tmp_path, edited((old, new), of=JOB), DRAWER)
    if where is None:
        with pytest.raises(InputError) as caught:
            load_job(folder)
        assert any(rule in problem.rule and remedy in problem.remedy for problem in caught.value.problems)
        return
    problems = [the_problem(folder)] if case != "a place named like a store" else None
    if problems is None:
        with pytest.raises(InputError) as caught:
            load_job(folder)
        problems = [problem for problem in caught.value.problems if problem.where == where]
    check(problems[0], file="job.toml", where=where, value=value, rule=[rule], remedy=[remedy])


def test_a_single_piece_cannot_be_installed_twice(tmp_path: Path) -> None:
    one = '{ part = "S-20", piece = "a" }'
    job = edited(('installed = ["S-30"]', f"installed = [{one}, {one}]"), of=JOB)
    problem = the_problem(write_job(tmp_path, job, DRAWER))
    check(
        problem,
        file="job.toml",
        where='[[place]] 1 "left", installed.2',
        value="S-20 [a]",
        rule=["was in two places"],
        remedy=["one piece"],
    )


def test_two_like_pieces_can_be_installed(tmp_path: Path) -> None:
    job = load_job(
        write_job(tmp_path, edited(('installed = ["S-30"]', 'installed = ["S-30", "S-30"]'), of=JOB), DRAWER)
    )
    assert len(job.places[0].installed) == 2


def test_equal_packs_need_a_part_that_suits_all_seats(tmp_path: Path) -> None:
    job = edited(('seat = "cap"\npieces', 'seat = "cover"\npieces'), ('installed = ["S-30"]', "installed = []"), of=JOB)
    with pytest.raises(InputError) as caught:
        decide(load_job(write_job(tmp_path, job, DRAWER)))
    assert "no part suits the seats of all these places" in caught.value.problems[0].rule
