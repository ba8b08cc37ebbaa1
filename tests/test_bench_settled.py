"""Nothing is held or recorded by a plan that does not know what was read, and nothing is read under a record."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from shimopt.bench import reading_written, shown_plan
from shimopt.bench.folder_scan import jobs_below
from shimopt.bench.reading_said import Said, said_in
from shimopt.bench.reading_written import ToWrite, Written, write_readings
from shimopt.bench.readings import Given, Readings
from shimopt.bench.readings_log import ReadingsLog
from shimopt.bench.shown_plan import planned, refuse_other
from shimopt.bench.tasks import FURTHER, TASKS
from shimopt.cli.batch_command import plan_settled
from shimopt.errors import FaultError, InputError
from shimopt.watch import PLAN_STEPS, Watch
from tests.bench_server import ROOT, WINDOW, job_text, laid_job, ran
from tests.command import Run
from tests.stocks import in_file as stock_in_file
from tests.stocks import shim

RECORD = '\n[[record]]\ndate = "2026-03-01"\nperson = "M. Hale"\n'


def in_file(file: Path) -> Any:
    return tomllib.loads(file.read_text(encoding="utf-8"))


def test_what_was_taken_and_is_not_written_yet_is_named(tmp_path: Path) -> None:
    file = laid_job(tmp_path)

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings, said = Readings(log), said_in({"go": "20", "no_go": "21"})
        taken, _ = await readings.take("winch", file, Given("here", "a" * 16, 1, "east", said))
        (missing,) = readings.not_in_plan("winch")
        assert missing.where == "east"
        assert missing.rule == "20 goes, 21 does not was read, and does not stand in the job's file yet"
        readings.wrote("winch", Written(written=(taken.seq,)), (), ())
        assert readings.not_in_plan("winch") == ()
        log.close()

    ran(doing())


def test_while_benches_differ_no_command_says_what_to_fit(tmp_path: Path, run: Run) -> None:
    text = job_text(east="feeler = { go = 17, no_go = 18 }").replace('"drawer.csv"', '"stock:main"')
    file, kept = laid_job(tmp_path / "shop" / "winch", text), tmp_path / ".shimopt-bench"
    stock_in_file(file.parent, shim("S-07", 0.1778, 4), shim("S-10", 0.254, 4))
    other = laid_job(tmp_path / "other")
    ((id_, _), *_) = (one for one in jobs_below(tmp_path).items() if one[1] == file)
    words = "two readings differ (17 goes, 18 does not; 21 goes, 22 does not)"
    line = f"east: {words}. Choose one on the bench page before anything is fitted."

    async def doing() -> None:
        log = ReadingsLog(kept / "readings.jsonl")
        readings = Readings(log)
        for bench, go in (("a" * 16, 17), ("b" * 16, 21)):
            said = said_in({"go": str(go), "no_go": str(go + 1)})
            taken, _ = await readings.take(id_, file, Given("here", bench, 1, "east", said))
        with (kept / "readings.jsonl").open("ab") as end:
            # a reading that is on its way to the disk
            end.write(b'{"seq": 9, "ki')
        code, out, _ = run("plan", file)
        assert (code, " ".join(out.split())) == (1, line)
        code, out, _ = run("plan", file, "--json")
        assert (code, [one["where"] for one in json.loads(out)["to_choose"]]) == (1, ["east"])
        assert run("plan", file, "-o", tmp_path / "plan.txt", "--quiet")[0] == 1
        assert " ".join((tmp_path / "plan.txt").read_text(encoding="utf-8").split()) == line
        paper, came = tmp_path / "paper.html", tmp_path / "came.csv"
        came.write_text("part,measured_thou\nS-07,7\n", encoding="utf-8")
        before = file.read_text(encoding="utf-8")
        read = ["--after", "east=7 thou", "--person", "M. Hale", "--instrument", "blades"]
        for command in (
            ["letter", "-o", paper],
            ["sheet", "-o", paper],
            ["order", "--card", paper],
            ["order", "--came", came],
            ["record", *read],
            ["hold"],
            ["why"],
        ):
            code, out, err = run(command[0], file, *command[1:])
            assert (code, out, line in err, paper.exists()) == (2, "", True, False), command
        assert f"{file}, east: {words}." in run("order", other, file)[2]
        assert file.read_text(encoding="utf-8") == before
        told = plan_settled(str(file), "winch", False)
        assert (told.exit_code, told.gaps, told.error) == (2, None, line)
        # of the job beside it nothing is to be chosen
        assert run("plan", other)[0] == 0
        assert plan_settled(str(other), "other", False).exit_code == 0
        await readings.choose(id_, "east", taken.seq)
        log.close()

    ran(doing())
    code, out, _ = run("plan", file, "--json")
    assert (code, "to_choose" in json.loads(out)) == (0, False)


def test_a_reading_over_what_somebody_changed_by_hand_since_its_page_was_shown_is_one_of_two(tmp_path: Path) -> None:
    file = laid_job(tmp_path)

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings = Readings(log)

        async def given(counter: int, go: int, seen: str) -> Written:
            said = said_in({"go": str(go), "no_go": str(go + 1)})
            await readings.take("winch", file, Given("here", "a" * 16, counter, "east", said, seen=seen))
            written = write_readings(file, readings.to_write("winch"))
            readings.wrote("winch", written, (), ())
            return written

        shown = readings.shown("winch", file)[0]["seen"]
        assert len((await given(1, 20, shown)).written) == 1
        # tapped again before the page shows the first: what stands there is its own
        assert len((await given(2, 21, shown)).written) == 1
        by_hand = file.read_text(encoding="utf-8").replace("go = 21, no_go = 22", "go = 30, no_go = 31")
        shown = readings.shown("winch", file)[0]["seen"]
        file.write_text(by_hand, encoding="utf-8")
        await given(3, 22, shown)
        assert file.read_text(encoding="utf-8") == by_hand
        assert [one["said"] for one in readings.shown("winch", file)[0]["differs"]] == [
            "22 goes, 23 does not",
            "30 goes, 31 does not",
        ]
        log.close()

    ran(doing())


def test_a_reading_that_is_kept_is_taken_whatever_its_answer_comes_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = laid_job(tmp_path)

    def faulty(*_: object) -> None:
        raise FaultError("made")

    monkeypatch.setattr("shimopt.bench.readings.alone_data", faulty)

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings, said = Readings(log), said_in({"go": "20", "no_go": "21"})
        taken, _ = await readings.take("winch", file, Given("here", "a" * 16, 1, "east", said))
        answer = readings.answer("winch", file, taken)
        assert (answer["taken"], answer["alone"], answer["errors"]) == (True, None, [])
        file.write_text("half sav", encoding="utf-8")
        assert readings.number("winch", file, "east") == 0
        log.close()

    ran(doing())


def test_what_changes_a_file_and_not_what_the_plan_does_refuses_nothing(tmp_path: Path) -> None:
    file = laid_job(tmp_path)

    def shown() -> str:
        return planned(Watch(60), str(file))[1]

    before = shown()
    with (tmp_path / "drawer.csv").open("a", encoding="utf-8") as drawer:
        drawer.write("S-90,90,4\n")
    after = shown()
    assert after != before
    refuse_other(str(file), before, after)
    # the pieces that it takes are gone: the job itself nobody changed
    pieces = (tmp_path / "drawer.csv").read_text(encoding="utf-8")
    (tmp_path / "drawer.csv").write_text(pieces.replace("S-10,10,4\n", ""), encoding="utf-8")
    with pytest.raises(InputError, match="drawer or tables changed since"):
        refuse_other(str(file), before, shown())
    (tmp_path / "drawer.csv").write_text(pieces, encoding="utf-8")
    # one blade more, and the same pieces go in
    file.write_text(file.read_text(encoding="utf-8").replace("17", "17.2"), encoding="utf-8")
    with pytest.raises(InputError, match="changed the job since"):
        refuse_other(str(file), before, shown())


OUT_OF_TIME = 0.0


def test_a_plan_that_the_clock_ended_is_called_so_wherever_it_is_shown_held_or_recorded(tmp_path: Path) -> None:
    # a job of which what is found at once is not what is found in the end
    file = shutil.copytree(ROOT / "demo_data" / "fulling-mill", tmp_path / "mill") / "job.toml"
    path, said = str(file), "This is the best plan so far"

    def told(seconds: float) -> Any:
        return TASKS["plan"](Watch(seconds, PLAN_STEPS), lambda _: None, path, (path,), ())

    late, whole = told(OUT_OF_TIME), told(60)
    assert late["data"]["answer"][0].startswith(said)
    assert late["row"]["answer"].startswith(said)
    assert not any(said in line for line in (*whole["data"]["answer"], whole["row"]["answer"]))
    for made in (FURTHER["gap"](Watch(OUT_OF_TIME), path, 1), FURTHER["record_page"](Watch(OUT_OF_TIME), path)):
        assert made["said"][0].startswith(said)
    assert FURTHER["record_page"](Watch(60), path)["version"] == whole["version"]
    asked: dict[str, Any] = {"person": "M. Hale", "instrument": "blades", "after": {"1": "10 to 11 thou"}, "fitted": {}}
    asked |= {"update_drawer": False, "version": whole["version"]}
    # what is recorded is what was shown, or nothing
    with pytest.raises(InputError, match="not worked out to its end"):
        FURTHER["record"](Watch(OUT_OF_TIME), path, asked)
    with pytest.raises(InputError, match="not worked out to its end"):
        FURTHER["record"](Watch(60), path, asked | {"version": late["version"]})
    assert "record" not in in_file(file)
    lines = FURTHER["record"](Watch(OUT_OF_TIME), path, asked | {"version": late["version"]})["said"]
    assert [lines[0].startswith(said), lines[1].startswith("Recorded on")] == [True, True]
    assert len(in_file(file)["record"]) == 1


def test_what_is_held_by_a_plan_that_the_clock_ended_is_said_to_be_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a plan of one gap is there before any clock is looked at
    monkeypatch.setattr(shown_plan, "ended_by", lambda watch, _: watch)
    file = laid_job(tmp_path, job_text(east="feeler = { go = 17, no_go = 18 }").replace('"drawer.csv"', '"stock:main"'))
    (tmp_path / "drawer.csv").unlink()
    stock_in_file(tmp_path, shim("S-10", 0.254, 2), shim("S-02", 0.0508, 2))
    shown = FURTHER["record_page"](Watch(OUT_OF_TIME), str(file))
    asked = {"until": "", "person": "", "request": "r" * 24, "version": shown["version"]}
    lines = FURTHER["hold"](Watch(OUT_OF_TIME), str(file), asked)
    assert lines[0].startswith("This is the best plan so far")
    assert "S-10" in lines[1]


EIGHTEEN = Said((("go", "18"), ("no_go", "19")))


def test_no_reading_goes_under_a_record(tmp_path: Path) -> None:
    file = laid_job(tmp_path, job_text(east="feeler = { go = 17, no_go = 18 }") + RECORD)
    before = file.read_bytes()
    found = write_readings(file, [ToWrite(1, "east", EIGHTEEN, None)])
    assert [(seq, "record page" in str(why[0])) for seq, why in found.refused] == [(1, True)]
    # what stands there already was written before the record
    seventeen = Said((("go", "17"), ("no_go", "18")))
    assert write_readings(file, [ToWrite(2, "east", seventeen, None)]).written == (2,)
    assert file.read_bytes() == before
    # nor into its table of gaps
    table = tmp_path / "gaps.csv"
    table.write_text("gap,low_thou,high_thou\nrow one,14,15\n", encoding="utf-8")
    file.write_text(f'gaps = "gaps.csv"\nunit = "thou"\ndrawer = "drawer.csv"\n\n{WINDOW}{RECORD}', encoding="utf-8")
    found = write_readings(file, [ToWrite(3, "row one", EIGHTEEN, None)])
    assert [seq for seq, _ in found.refused] == [3]
    assert "14,15" in table.read_text(encoding="utf-8")


def test_one_reading_that_cannot_be_written_holds_up_none_of_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = laid_job(tmp_path, job_text(east="feeler = { go = 17, no_go = 18 }", west="feeler = { go = 8, no_go = 9 }"))
    put = reading_written._put

    def failing(table: Any, *now: Any) -> None:
        if table["name"] == "east":
            raise FaultError("the job file would not have kept what was in it")
        put(table, *now)

    monkeypatch.setattr(reading_written, "_put", failing)
    found = write_readings(file, [ToWrite(1, "east", EIGHTEEN, None), ToWrite(2, "west", EIGHTEEN, None)])
    assert (found.written, found.refused, [one.where for one in found.problems]) == ((2,), (), ["east"])
    assert [gap["feeler"]["go"] for gap in in_file(file)["gap"]] == [17, 18]
