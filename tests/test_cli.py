"""The command line as its user meets it: exit codes, files, units, widths, quiet ends."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from shimopt.cli import main
from tests.command import Run
from tests.processes import started
from tests.terminal import shown_to

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_data"


def test_the_bridge_can_be_done_and_exits_with_0(run: Run) -> None:
    code, out, err = run("plan", DEMO / "swing-bridge")
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "Fit R-07 at upper 1 and W-08 at lower 2, leave 3 alone: all 5 gaps come inside."


def test_the_job_file_itself_can_be_named(run: Run) -> None:
    assert run("plan", DEMO / "swing-bridge" / "job.toml")[:2][0] == 0


def test_the_tram_cannot_be_done_and_exits_with_1(run: Run) -> None:
    code, out, _ = run("plan", DEMO / "quarry-tram")
    assert code == 1
    told = " ".join(out.split())
    assert told.startswith("The drawer cannot do it for 1 of 4 gaps: rear right stays 0.21 mm too loose (the best")


def test_buying_makes_the_tram_doable_and_says_what_to_buy(run: Run) -> None:
    code, out, _ = run("plan", DEMO / "quarry-tram", "--buy", "--json")
    plan = json.loads(out)
    assert code == 0
    assert plan["totals"]["to_buy"] == sum(e["to_buy"] for p in plan["places"] for e in p["stack"]) == 1
    # by hand: one pack of ten PS50-0.3 costs 5.10, one of PS50-0.2 4.60 but leaves front right 0.545 mm, over 0.50 mm
    assert plan["totals"]["cost"] == 5.1


def test_quiet_prints_nothing_and_the_exit_code_answers(run: Run) -> None:
    assert run("plan", DEMO / "quarry-tram", "--quiet") == (1, "", "")


@pytest.mark.parametrize(
    ("unit", "shown"), [("mm", "0.10 to 0.30 mm"), ("in", "0.004 to 0.012 in"), ("thou", "4 to 12 thou")]
)
def test_the_screen_speaks_the_unit_asked_for(run: Run, unit: str, shown: str) -> None:
    _, out, _ = run("plan", DEMO / "swing-bridge", "--unit", unit, "--full")
    assert f"All lengths in {'inches' if unit == 'in' else unit}." in out
    if unit == "mm":
        shown = "0.1016 to 0.3048 mm"  # 4 x 0.0254 and 12 x 0.0254
    assert f"window {shown}" in out
    _, out, _ = run("plan", DEMO / "swing-bridge", "--unit", unit)
    assert f" In {'inches' if unit == 'in' else unit}. Allowed {shown.removesuffix(f' {unit}')} (" in out


@pytest.mark.parametrize("job", ["swing-bridge", "quarry-tram"])
@pytest.mark.parametrize("unit", ["mm", "in", "thou"])
def test_every_screen_fits_into_80_columns(run: Run, job: str, unit: str) -> None:
    from rich.cells import cell_len

    for extra in ([], ["--buy"], ["--full"]):
        _, out, _ = run("plan", DEMO / job, "--unit", unit, *extra)
        assert max(cell_len(line) for line in out.splitlines()) <= 80


def test_another_drawer_can_be_used(run: Run, tmp_path: Path) -> None:
    drawer = tmp_path / "other.csv"
    drawer.write_text("part,thickness_thou,on_hand\nQ,6,9\n")
    _, out, _ = run("plan", DEMO / "swing-bridge", "--drawer", drawer)
    assert re.search(r"upper 1 .* Q +drawer", out)


def test_json_written_to_a_file_is_the_json_printed(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "plan.json"
    code, out, _ = run("plan", DEMO / "swing-bridge", "-o", target, "--quiet")
    assert (code, out) == (0, "")
    _, printed, _ = run("plan", DEMO / "swing-bridge", "--json")
    _, dash, _ = run("plan", DEMO / "swing-bridge", "-o", "-")
    assert target.read_text(encoding="utf-8") == printed == dash
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]


def test_a_text_file_holds_the_screen(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "plan.txt"
    assert run("plan", DEMO / "swing-bridge", "-o", target, "--quiet")[0] == 0
    _, printed, _ = run("plan", DEMO / "swing-bridge")
    assert target.read_text(encoding="utf-8") == printed


@pytest.mark.parametrize(("name", "command"), [("p.pdf", "sheet"), ("p.SVG", "draw"), ("p.xlsx", "order")])
def test_a_file_that_another_command_writes_is_told_that_command(
    run: Run, tmp_path: Path, name: str, command: str
) -> None:
    code, _, err = run("plan", DEMO / "swing-bridge", "-o", tmp_path / name)
    assert (code, f"shimopt {command} JOB -o {name}" in err) == (2, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["job.toml", "drawer.csv", "gaps.csv", "catalogue.csv"])
def test_no_input_is_ever_overwritten(run: Run, tmp_path: Path, name: str) -> None:
    job = shutil.copytree(DEMO / "quarry-tram", tmp_path / "job")
    before = (job / name).read_bytes()
    (tmp_path / "link").symlink_to(job / name)
    for target in (job / name, tmp_path / "link"):
        code, _, err = run("plan", job, "-o", target)
        assert code == 2
        assert "one of the job's own files" in err
        assert (job / name).read_bytes() == before


def test_the_output_must_be_a_file_that_can_be_written(run: Run, tmp_path: Path) -> None:
    for target in ("/dev/null", tmp_path, tmp_path / "no-such-folder" / "plan.json"):
        code, _, err = run("plan", DEMO / "swing-bridge", "-o", target)
        assert code == 2
        assert str(target) in err


def test_a_write_that_fails_midway_leaves_the_old_file(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "plan.json"
    target.write_text("old")

    def full_disk(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    code, _, err = run("plan", DEMO / "swing-bridge", "-o", target)
    assert code == 2
    assert "No space left on device" in err
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]


def test_wrong_input_is_data_too(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text('unit = "furlong"\ndrawer = "drawer.csv"\n')
    code, out, err = run("plan", tmp_path, "--json")
    errors = json.loads(out)
    assert code == 2
    assert errors["format"] == 1
    assert len(errors["errors"]) >= 2
    assert all(set(error) == {"file", "where", "value", "rule", "remedy", "field"} for error in errors["errors"])
    assert err.count("\n") == len(errors["errors"])


@pytest.mark.parametrize(
    "arguments", [["plan"], ["plann", "x"], ["plan", "x", "--frob"], ["plan", "x", "--unit", "ell"]]
)
def test_a_wrong_call_exits_with_2_and_points_to_help(run: Run, arguments: list[str]) -> None:
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert "--help" in err
    code, out, _ = run(*arguments, "--json")
    assert code == 2
    assert json.loads(out)["errors"][0]["rule"]


@pytest.mark.parametrize(("typed", "meant"), [("plna", "plan"), ("leter", "letter"), ("recrod", "record")])
def test_a_command_typed_wrong_is_told_the_nearest_one_and_the_name_stands_once(
    run: Run, typed: str, meant: str
) -> None:
    _, _, err = run(typed, "x")
    assert f"did you mean {meant}?" in err.casefold()
    for arguments in ([typed, "x"], ["plan"], ["plan", "x", "--frob"], ["why", str(DEMO / "swing-bridge"), "nowhere"]):
        code, _, err = run(*arguments)
        assert (code, err.startswith("shimopt"), "shimopt: shimopt" in err) == (2, True, False)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("--qiet", "Did you mean --quiet? See: shimopt plan"), ("--cho", "--choices? See"), ("--frobn", ". See")],
)
def test_an_option_typed_wrong_is_told_the_nearest_one(run: Run, typed: str, meant: str) -> None:
    code, _, err = run("plan", DEMO / "swing-bridge", typed)
    assert (code, meant in err, "?." in err) == (2, True, False)


def test_an_old_name_of_an_option_goes_on_working_and_no_help_shows_it(run: Run) -> None:
    asked = ["make", "10 thou", "--unit", "um"]
    drawer = DEMO / "swing-bridge" / "drawer.csv"
    new = run(*asked, "--drawer", drawer, "--most-pieces", "2")
    assert new == run(*asked, "--from", drawer, "--most", "2")
    assert new[0] == 0
    # 10 thou is 254 um (NIST SP 811)
    assert "254 um" in new[1]
    _, told, _ = run("make", "--help")
    assert "--from" not in told
    assert "--most " not in told


def test_a_fault_of_our_own_exits_with_3_and_says_what_to_report(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    import shimopt.planner

    def wrong(*_: object, **__: object) -> object:
        raise ZeroDivisionError("made on purpose")

    monkeypatch.setattr(shimopt.planner, "outcome_of", wrong)
    code, out, err = run("plan", DEMO / "swing-bridge")
    assert (code, out) == (3, "")
    assert "report" in err
    assert "Traceback" not in err


def test_interrupted_ends_quietly_with_130(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    import shimopt.planner

    def interrupt(*_: object, **__: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr(shimopt.planner, "choose", interrupt)
    code, out, err = run("plan", DEMO / "swing-bridge")
    assert (code, out, err.strip()) == (130, "", "")


def test_a_closed_pipe_ends_quietly() -> None:
    done = subprocess.run(
        f"{sys.executable} -m shimopt plan demo_data/swing-bridge | head -n 1",
        shell=True,
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.stderr == ""
    assert done.stdout.count("\n") == 1


class _Gone(io.StringIO):
    """A stream whose reader has quit."""

    def write(self, _: str) -> int:
        raise BrokenPipeError


@pytest.mark.parametrize("arguments", [[], ["--help"], ["pln"], ["plan"], ["plan", "no-such-job", "--json"]])
def test_help_and_errors_to_a_closed_pipe_end_quietly(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    silenced: list[int] = []
    monkeypatch.setattr("sys.stdout", _Gone())
    monkeypatch.setattr("sys.stderr", _Gone())
    monkeypatch.setattr(sys.modules["shimopt.cli.main"], "silence_output", lambda: silenced.append(1))
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert (left.value.code, silenced) == (0, [1])


def test_a_real_ctrl_c_prints_nothing() -> None:
    program = (
        "import time, shimopt.planner as planner\n"
        "planner.decide = lambda *a, **k: (print('ready', flush=True), time.sleep(30))\n"
        f"from shimopt.cli import main; main(['plan', {str(DEMO / 'swing-bridge')!r}])"
    )
    process = started(program=program, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout.readline() == "ready\n"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert (process.returncode, out, err.strip()) == (130, "", "")


def test_an_ascii_terminal_gets_an_ascii_screen() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "shimopt", "plan", "demo_data/swing-bridge"],
        cwd=ROOT,
        capture_output=True,
        check=False,
        timeout=60,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert done.returncode == 0
    assert done.stdout.decode("ascii").count(" ok ") == 5


def test_a_terminal_shows_bold_and_no_color_takes_colour_away() -> None:
    command, size = ("plan", "demo_data/swing-bridge"), {"COLUMNS": "80", "TERM": "xterm-256color"}
    shown = shown_to(ROOT, *command, env=size)
    assert "\x1b[1m" in shown
    # never red, green or yellow: 31 to 33, 91 to 93
    assert not any(f"\x1b[{code}m" in shown for code in (31, 32, 33, 91, 92, 93))
    plain = shown_to(ROOT, *command, env={**size, "NO_COLOR": "1"})
    assert not any(f"{code}m" in plain for code in range(30, 38))


def test_the_version_is_the_package_s(run: Run) -> None:
    import shimopt

    code, out, _ = run("--version")
    assert code == 0
    assert shimopt.__version__ in out


def test_help_loads_no_solver_and_no_tables() -> None:
    code = (
        "import sys\nfrom shimopt.cli import main\n"
        "try: main(['plan', '--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('ortools', 'pandas', 'pint', 'pydantic', 'openpyxl', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def _shell(command: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, check=False, timeout=60, env={**os.environ, **env}
    )


def test_a_closed_standard_output_ends_quietly() -> None:
    done = _shell(f"{sys.executable} -m shimopt plan demo_data/swing-bridge >&-")
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_full_disk_behind_standard_output_is_no_fault_of_ours() -> None:
    done = _shell(f"{sys.executable} -m shimopt plan demo_data/swing-bridge --json >/dev/full")
    assert done.returncode == 2
    assert b"cannot be written (No space left on device)" in done.stderr


def test_json_is_utf_8_whatever_the_terminal_speaks(tmp_path: Path) -> None:
    job = shutil.copytree(DEMO / "swing-bridge", tmp_path / "job")
    text = (job / "job.toml").read_text(encoding="utf-8").replace("Swing bridge drive", "Bridge № 7")
    (job / "job.toml").write_text(text, encoding="utf-8")
    done = _shell(f"{sys.executable} -m shimopt plan {job} --json", PYTHONIOENCODING="latin-1")
    assert json.loads(done.stdout.decode("utf-8"))["title"].startswith("Bridge № 7")


@pytest.mark.parametrize("asked", [["-o", "-"], ["--output", "-"], ["--output=-"], ["--json"]])
def test_problems_are_data_wherever_the_plan_would_be(run: Run, asked: list[str]) -> None:
    code, out, _ = run("plan", "no-such-job", *asked)
    assert code == 2
    assert json.loads(out)["errors"][0]["file"] == "no-such-job"


def test_what_to_buy_is_told_with_packs_supplier_and_price(run: Run) -> None:
    _, out, _ = run("plan", DEMO / "quarry-tram", "--buy")
    # by hand: one piece more than the drawer's, sold in packs of ten for 5.10 EUR
    assert "  PS50-0.3: 1 piece, 1 pack of 10 from Harbour Bearings for 5.10 EUR." in out


def test_a_gap_that_the_job_s_own_priority_leaves_outside_is_not_blamed_on_the_drawer(run: Run, tmp_path: Path) -> None:
    (tmp_path / "d.csv").write_text("part,thickness_thou,on_hand\nS-07,7,3\n")
    (tmp_path / "job.toml").write_text(
        'unit = "thou"\ndrawer = "d.csv"\npriority = ["pieces"]\n[window]\nmin = 4\nmax = 12\nsource = "x"\n'
        '[[gap]]\nname = "a"\nfeeler = { go = 17, no_go = 18 }\n'
    )
    code, out, _ = run("plan", tmp_path)
    assert code == 1
    assert out.startswith("The job's own priority leaves gaps outside")
    assert "S-07 would do it, but the job puts pieces first" in " ".join(out.split())


def test_a_plan_that_is_not_sure_and_not_even_is_not_said_to_be_done(run: Run, tmp_path: Path) -> None:
    (tmp_path / "d.csv").write_text("part,thickness_thou,on_hand\nS-50,50,1\n")
    (tmp_path / "job.toml").write_text(
        'unit = "thou"\ndrawer = "d.csv"\n[window]\nmin = 4\nmax = 12\nsource = "x"\n'
        '[[gap]]\nname = "a"\nfeeler = { go = 11, no_go = 13 }\n[[gap]]\nname = "b"\nvalue = 5\n'
        '[[balance]]\nname = "ab"\ngaps = ["a", "b"]\nwithin = 2\n'
    )
    code, out, _ = run("plan", tmp_path)
    first = " ".join(out.split("untitled")[0].split())
    assert code == 1
    # as likely above 12 as below
    assert "a is perhaps inside and ab stays more uneven than asked" in first
    assert "come inside" not in first


@pytest.mark.parametrize("command", ["plan", "order"])
def test_a_time_limit_that_is_no_number_is_refused(run: Run, command: str) -> None:
    code, out, err = run(command, DEMO / "swing-bridge", "--time-limit", "nan")
    assert (code, out) == (2, "")
    assert "--time-limit" in err
    assert "no number of seconds" in err


def test_many_unproven_gaps_are_asked_for_in_a_sentence_that_reads_well(run: Run, tmp_path: Path) -> None:
    # by hand: 0.08 to 0.20 stands out of 0.10 to 0.25 by 0.02 below, its middle 0.14 lies inside; S is too thick
    rows = "".join(f"g{number},0.08,0.20\n" for number in range(6))
    _job_of(tmp_path, rows)
    _, out, _ = run("plan", tmp_path)
    assert "Read g0, g1, g2, g3 and 2 more with a finer gauge." in out


def test_many_suspect_readings_take_one_step_and_no_more(run: Run, tmp_path: Path) -> None:
    # each reads six times its window and more, which is what the README calls suspect
    _job_of(tmp_path, "".join(f"g{number},2.50,2.52\n" for number in range(9)))
    _, out, _ = run("plan", tmp_path)
    after = " ".join(out.split())
    assert "Measure g0, g1, g2 and 6 more again before anything is fitted." in after


def _job_of(folder: Path, rows: str) -> None:
    (folder / "gaps.csv").write_text("gap,low_mm,high_mm\n" + rows, encoding="utf-8")
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\nS,0.5,1\n", encoding="utf-8")
    (folder / "job.toml").write_text(
        'unit = "mm"\ngaps = "gaps.csv"\ndrawer = "drawer.csv"\n[window]\nmin = 0.10\nmax = 0.25\nsource = "sheet 1"\n',
        encoding="utf-8",
    )


@pytest.mark.parametrize("word", ["w" * 300, "a/" * 3000, "nul\x00"])
def test_a_word_that_can_be_no_path_is_no_command_either(run: Run, word: str) -> None:
    code, _, err = run(word)
    assert code == 2
    assert "there is no such command" in err


def test_who_asks_for_help_on_a_command_gets_it(run: Run) -> None:
    """`order` is a topic too, and has a page; `plan` is none."""
    assert run("help", "plan")[:2] == (0, run("plan", "--help")[1])
    assert run("help", "order")[1].startswith("Order once\n")
    assert run("help", "help")[:2] == (0, run("help", "--help")[1])


def test_a_topic_typed_wrong_is_told_the_nearest_one(run_unfolded: Run) -> None:
    assert "Did you mean words?" in run_unfolded("help", "wordz")[2]


def test_a_paper_that_is_written_says_so(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "sheet.html"
    code, out, err = run("sheet", "demo_data/swing-bridge", "-o", str(path))
    assert (code, out, err) == (0, "", f"Written: {path}\n")


def test_a_paper_without_a_file_says_what_to_add(run_unfolded: Run) -> None:
    code, _, err = run_unfolded("letter", "demo_data/swing-bridge")
    assert code == 2
    assert "Add -o FILE. Where to write: a name that ends in .pdf or .html. See: shimopt letter --help." in err


def test_a_folder_with_another_job_file_names_it(run_unfolded: Run) -> None:
    code, _, err = run_unfolded("plan", "demo_data/pump-line")
    assert code == 2
    assert "there is no such job file. The folder holds line.toml: name that, like " in err
    for folder, remedy in (
        ("tram-depot", "a new job is started elsewhere"),
        ("year", "The folder holds jobs: name one"),
    ):
        assert remedy in run_unfolded("plan", f"demo_data/{folder}")[2]
