"""What a user typed is only ever text: in no table a formula, on no terminal a command."""

from __future__ import annotations

import csv
import json
import unicodedata
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.batch.job_folder import JOB_COLUMNS
from shimopt.tables.csv_text import DANGEROUS, harmless
from tests.batch_files import WINDOW, Batches
from tests.command import Run
from tests.faults.test_every_output import CALLS
from tests.hard_job import write_hard_job
from tests.job_files import write_job
from tests.processes import ran
from tests.terminal import shown_to

ROOT = Path(__file__).parents[1]
ACTS = ("=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(1)", "\uff1dA1", " =A1")
# ESC and C1 start commands of a terminal, BEL ends one, the others turn or hide what is written
SIGNS = "\x1b]0;owned\x07\x1b[31m\x9b31m\u202e\u200b"
UNSAFE = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Batches:
    return Batches(tmp_path, capsys)


def cells(path: Path) -> list[str]:
    with open(path, encoding="utf-8-sig", newline="") as file:
        return [cell for row in csv.reader(file) for cell in row]


def is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).removeprefix("-").isdigit()


def acting(found: list[str]) -> list[str]:
    return [cell for cell in found if cell.lstrip()[:1] in "=+-@\uff1d" and cell.strip() and not is_number(cell)]


@settings(deadline=None)
@given(st.one_of(st.text(), st.from_regex(r"\A\s*[=+\-@'\uff1d]")))
def test_all_at_once_and_one_by_one_it_is_the_same_rule(text: str) -> None:
    text = text.encode("utf-8", "ignore").decode()
    assert pc.match_substring_regex(pa.array([text]), DANGEROUS)[0].as_py() == (harmless(text) != text)


def test_a_batch_writes_no_formula_unless_it_is_asked_for_exact_names(batches: Batches) -> None:
    (batches.folder / "parts.csv").write_text("part,thickness_mm\n=1+1,0.1\n@B,0.2\n", encoding="utf-8")
    rows = "".join(f'"{name}",0.4,0.42\n' for name in ACTS)
    table = f"gap,low_mm,high_mm\n{rows}"
    assert batches.of(table, *WINDOW).code == 0
    assert acting(cells(batches.out)) == []
    assert [row[:1] for row in cells(batches.out)[8::8]] == ["'"] * len(ACTS)
    again = batches.of(table, *WINDOW, "--exact-names").rows
    assert [row["gap"] for row in again] == list(ACTS)
    assert again[0]["stack"] == "@B"
    # a program that reads parquet runs nothing
    exact = batches.folder / "out.parquet"
    batches.call(batches.folder / "gaps.csv", "--parts", batches.folder / "parts.csv", *WINDOW, "-o", exact)
    assert pyarrow.parquet.read_table(exact)["gap"].to_pylist() == list(ACTS)


def test_many_jobs_write_no_formula_unless_they_are_asked_for_exact_names(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "jobs" / "=1+1"
    folder.mkdir(parents=True)
    write_job(folder, f'title = "{ACTS[0]}"\nunit = "mm"\nwindow = {{ min = 1, max = 2, source = "s" }}\n', None)
    for exact, expected in (((), "'"), (("--exact-names",), "")):
        run("batch", "--jobs", tmp_path / "jobs", "-o", tmp_path / "out.csv", "--quiet", *exact)
        assert cells(tmp_path / "out.csv")[len(JOB_COLUMNS)] == f"{expected}=1+1"
    (folder / "job.toml").write_text("=1\n")


def test_an_order_writes_no_formula_unless_it_is_asked_for_exact_names(run: Run, tmp_path: Path) -> None:
    job = 'unit = "mm"\ncatalogues = ["maker.csv"]\nwindow = { min = 0.1, max = 0.2, source = "s" }\n'
    gap = f'[[gap]]\nname = "{ACTS[3]}"\nvalue = "0.35 mm ± 0.01 mm"\n'
    gap += f'[[supplier]]\nname = "{ACTS[1]}"\npostage = 0\n'
    maker = f'part,thickness_mm,price,supplier\n"{ACTS[0]}",0.2,1,"{ACTS[1]}"\n'
    write_job(tmp_path, job + gap, None, maker_csv=maker)
    out = [tmp_path / name for name in ("list.csv", "list.xlsx", "card.csv")]
    for exact in ((), ("--exact-names",)):
        asked = ("-o", out[0], "-o", out[1], "--card", out[2], "--quiet", *exact)
        assert run("order", tmp_path, *asked)[0] == 0
        book = openpyxl.load_workbook(out[1])
        sheet = [cell for row in book.active.iter_rows(min_row=2) for cell in row if isinstance(cell.value, str)]
        # a cell of the type "s" is text, whatever it begins with
        assert {cell.data_type for cell in sheet} == {"s"}
        named = {cell.value for cell in sheet} | set(cells(out[0])) | set(cells(out[2]))
        assert set(ACTS[:2]) <= {name if exact else name.removeprefix("'") for name in named}
        assert (acting(cells(out[0]) + cells(out[2])) == []) == (not exact)


def test_all_that_is_printed_goes_through_one_room() -> None:
    for file in sorted((ROOT / "shimopt").rglob("*.py")):
        text = file.read_text(encoding="utf-8")
        if file.name != "terminal.py":
            for way in (" print(", "click.echo(", "click.secho(", "click.prompt(", "stdout.write(", "stderr.write("):
                assert way not in text, f"{file.name}: {way}"


def write_odd_job(folder: Path) -> None:
    """A job with signs for a terminal in everything that somebody may type."""
    write_hard_job(folder, count=6, title=f"Belt {SIGNS}")
    job = folder / "job.toml"
    typed = json.dumps(f"x{SIGNS}x")
    text = job.read_text(encoding="utf-8").replace('"plain"', typed).replace('"works drawing 44-B"', typed)
    text = text.replace('name = "station 06 of the long conveyor, drive side"', f"name = {typed}")
    catalogue = 'drawer = "drawer.csv"\ncatalogues = ["maker.csv"]'
    text += f"\n[[supplier]]\nname = {json.dumps('North' + SIGNS)}\npostage = 1\n"
    job.write_text(text.replace('drawer = "drawer.csv"', catalogue), encoding="utf-8")
    drawer = folder / "drawer.csv"
    rows = drawer.read_text(encoding="utf-8").replace("S-0.3,", f"S{SIGNS},").replace("bin", f"bin{SIGNS}")
    drawer.write_text(rows, encoding="utf-8")
    (folder / "maker.csv").write_text(
        f"part,thickness_mm,inner_mm,price,supplier\nM{SIGNS},0.25,40.1,1,North{SIGNS}\n", encoding="utf-8"
    )
    arrived = f"part,piece,measured_mm,measuring_error_mm,inner_mm\nR{SIGNS},a{SIGNS},0.3,0.002,40.1\n"
    (folder / "arrived.csv").write_text(arrived, encoding="utf-8")
    (folder / "gaps.csv").write_text(f"gap,low_mm,high_mm\nx{SIGNS},0.6,0.61\n", encoding="utf-8")


ODD = f"odd{SIGNS}"
MORE = (
    ("fit", "--measured", f"{ODD}/arrived.csv"),
    ("fit", "--part", f"nothing{SIGNS}"),
    ("fit", "--seat", f"x{SIGNS}x", "--unit", "mm"),
    ("fit", "--measured", f"{ODD}/arrived.csv", "--accept"),
    ("order", "--came", f"{ODD}/arrived.csv", "--yes"),
    ("record", "--after", f"x{SIGNS}x=0.3", "--person", SIGNS, "--instrument", SIGNS, "--update-drawer"),
    ("record", "--after", f"y{SIGNS}=0.3", "--person", SIGNS, "--instrument", SIGNS),
    ("why", f"y{SIGNS}"),
)
ALONE = (
    ("batch", "--jobs", "."),
    (
        "batch",
        f"{ODD}/gaps.csv",
        "--parts",
        f"{ODD}/drawer.csv",
        "--min",
        "0.2mm",
        "--max",
        "0.5mm",
        "-o",
        f"o{SIGNS}.csv",
    ),
    ("parts", "--catalogue", f"{ODD}/maker.csv"),
    ("make", "0.3mm", "--from", f"{ODD}/drawer.csv"),
    ("new", ODD, "--yes"),
    (f"pl{SIGNS}an",),
    ("plan", f"nowhere{SIGNS}"),
)


REFUSED = [
    ("fit", ODD, "--part", f"nothing{SIGNS}"),
    ("record", ODD, "--after", f"y{SIGNS}=0.3", "--person", SIGNS, "--instrument", SIGNS),
    ("why", ODD, f"y{SIGNS}"),
    ("new", ODD, "--yes"),
    (f"pl{SIGNS}an",),
    ("plan", f"nowhere{SIGNS}"),
]


def test_no_command_sends_a_terminal_what_somebody_typed(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / ODD).mkdir()
    write_odd_job(tmp_path / ODD)
    monkeypatch.chdir(tmp_path)
    calls = [*(call for call in CALLS if "--came" not in call), *MORE]
    screens = [(command, ODD, *more) for command, *more in calls if "--json" not in more and "-" not in more]
    for arguments in (*screens, *ALONE):
        code, out, err = run(*arguments)
        # only what names something that is not there is refused
        assert code in ((2,) if arguments in REFUSED else (0, 1)), (arguments, err)
        sent = {ch for ch in out + err if ch != "\n" and unicodedata.category(ch) in UNSAFE}
        assert sent == set(), arguments


def test_what_is_meant_for_programs_is_exact_in_a_pipe_and_harmless_on_a_terminal(tmp_path: Path) -> None:
    write_odd_job(tmp_path)
    batch = ("batch", "gaps.csv", "--parts", "maker.csv", "--min", "0.2mm", "--max", "0.5mm", "-o", "-")
    for arguments in (("plan", ".", "--json"), batch):
        sent = shown_to(tmp_path, *arguments)
        assert {ch for ch in sent if ch != "\n" and unicodedata.category(ch) in UNSAFE} == set(), arguments
        piped = ran(*arguments, cwd=tmp_path).stdout
        assert "\u202e" in piped
        if arguments[0] == "plan":
            assert json.loads(sent) == json.loads(piped)
