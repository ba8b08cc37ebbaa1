"""Readings written into the files of a job: what is wrong with a file refuses no reading, and newer ones stand."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from shimopt.bench.reading_said import Said
from shimopt.bench.reading_written import ToWrite, write_readings
from shimopt.bench.tasks import TASKS
from shimopt.watch import Watch
from tests.bench_server import WINDOW, laid_job

SIXTEEN = Said((("go", "16"), ("no_go", "17")))
TABLE = f'gaps = "gaps.csv"\nunit = "thou"\ndrawer = "drawer.csv"\n\n{WINDOW}'


def test_a_table_that_is_half_saved_refuses_no_reading_and_takes_it_once_it_is_whole(tmp_path: Path) -> None:
    file, table = laid_job(tmp_path, TABLE), tmp_path / "gaps.csv"
    table.write_text('gap,low_thou,high_thou\nrow one,"14,15\n', encoding="utf-8")
    found = write_readings(file, [ToWrite(1, "row one", SIXTEEN, None)])
    assert (found.written, found.refused, len(found.problems)) == ((), (), 1)
    table.write_text("gap,low_thou,high_thou\nrow one,14,15\n", encoding="utf-8")
    assert write_readings(file, [ToWrite(1, "row one", SIXTEEN, None)]).written == (1,)
    assert table.read_text(encoding="utf-8") == "gap,low_thou,high_thou\nrow one,16,17\n"


def test_what_is_wrong_with_a_reading_itself_is_refused_and_the_others_are_written(tmp_path: Path) -> None:
    file, table = laid_job(tmp_path, TABLE), tmp_path / "gaps.csv"
    table.write_text("gap,low_thou,high_thou\nrow one,14,15\n", encoding="utf-8")
    dial = Said(readings=("14", "15"))
    found = write_readings(file, [ToWrite(1, "row one", dial, None), ToWrite(2, "row one", SIXTEEN, None)])
    assert (found.written, [seq for seq, _ in found.refused]) == ((2,), [1])


TURNS = """# the box
unit = "thou"
drawer = "drawer.csv"

[window]
min = 4
max = 12
source = "sheet 7"

# looked at on Tuesday
[[place]]
name = "lid"   # the old one

# read by Hale
[[gap]]
name = "lid"
feeler = { go = 14, no_go = 15 }  # with the new bolts

# looked at on Wednesday
[[place]]
name = "end"

# read by Ida
[[gap]]
name = "end"
value = 9  # lamp
# the end
"""


@pytest.mark.parametrize("text", [TURNS, TURNS.replace("\n", "\r\n")])
def test_tables_that_take_turns_stay_in_their_order_each_below_its_comment(tmp_path: Path, text: str) -> None:
    file = laid_job(tmp_path, text)
    file.write_bytes(text.encode())
    found = write_readings(file, [ToWrite(1, "lid", SIXTEEN, None), ToWrite(2, "end", Said(value="8"), None)])
    assert found.written == (1, 2), found
    now = text.replace("go = 14, no_go = 15", "go = 16, no_go = 17").replace("= 9", "= 8")
    assert file.read_bytes().decode() == now


def test_a_head_within_a_text_is_no_table(tmp_path: Path) -> None:
    text = TURNS.replace("# the box\n", 'notes = """\n[[gap]]\nno table\n"""\n')
    file = laid_job(tmp_path, text)
    assert write_readings(file, [ToWrite(1, "lid", SIXTEEN, None)]).written == (1,)
    now = tomllib.loads(file.read_text(encoding="utf-8"))
    was = tomllib.loads(text)
    was["gap"][0]["feeler"] = {"go": 16, "no_go": 17}
    assert now == was


def test_a_plan_that_was_dropped_writes_nothing(tmp_path: Path) -> None:
    file = laid_job(tmp_path)
    before = file.read_bytes()
    assert write_readings(file, [ToWrite(1, "east", SIXTEEN, None)], lambda: True).written == ()
    assert file.read_bytes() == before
    # the planning process asks its watch, which is stopped where the task is dropped
    watch = Watch()
    watch.stop()
    told: list[object] = []

    def heard(one: object) -> None:
        told.append(one)
        raise InterruptedError

    with pytest.raises(InterruptedError):
        TASKS["plan"](watch, heard, str(file), (str(file),), [ToWrite(1, "east", SIXTEEN, None)])
    assert file.read_bytes() == before
