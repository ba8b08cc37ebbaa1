"""What a batch answers: stacks, clearances, verdicts and reasons, worked out by hand; tables in all their forms."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pyarrow.parquet
import pytest

import shimopt
from tests.batch_files import COLUMNS, WINDOW, Batches
from tests.terminal import Person

ROOT = Path(__file__).parents[1]
LINE = ROOT / "demo_data" / "pump-line"
HEAD = "gap,low_mm,high_mm\n"


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Batches:
    return Batches(tmp_path, capsys)


# window 0.10 to 0.25 mm, target 0.175 mm; shims of 0.10, 0.20 and 0.50 mm, taken as exact, at most three
@pytest.mark.parametrize(
    ("low", "high", "stack", "after", "verdict", "reason"),
    [
        # 0.41 less 0.20 is 0.21 mm
        ("0.40", "0.42", "S-20", (0.2, 0.21, 0.22), "inside", "Too loose as read; the stack brings it inside"),
        ("0.16", "0.18", "", (0.16, 0.17, 0.18), "inside", "Already inside, so nothing is fitted."),
        # 0.24 mm is inside, its bracket is not; 0.14 mm is surely inside
        ("0.22", "0.26", "S-10", (0.12, 0.14, 0.16), "inside", "Its bracket stands out of the window as read"),
        # a bracket of 0.20 mm never lies in a window of 0.15 mm: out by 0.05 mm in all, with a shim too
        (
            "0.08",
            "0.28",
            "",
            (0.08, 0.18, 0.28),
            "unproven",
            "Inside by its best estimate only; no stack makes it surer",
        ),
        ("0.30", "0.50", "S-20", (0.1, 0.2, 0.3), "unproven", "Too loose as read; the stack brings its best"),
        # as read it could be 0.30 mm, 0.05 mm out; with 0.10 mm it could be 0.06 mm, 0.04 mm out
        ("0.16", "0.30", "S-10", (0.06, 0.13, 0.2), "unproven", "Its bracket stands out of the window as read; with"),
        ("0.02", "0.04", "", (0.02, 0.03, 0.04), "outside", "Too tight; more shim cannot help"),
        # three of 0.50 mm close 1.50 mm
        ("1.80", "1.82", "", (1.8, 1.81, 1.82), "outside", "Many times too loose, and no stack comes near it"),
    ],
)
def test_a_gap_is_decided_as_by_hand(
    batches: Batches, low: str, high: str, stack: str, after: tuple[float, ...], verdict: str, reason: str
) -> None:
    [row] = batches.of(f"{HEAD}a,{low},{high}\n").rows
    assert list(row) == COLUMNS
    assert (row["gap"], row["stack"], row["verdict"]) == ("a", stack, verdict)
    assert tuple(float(row[f"after_{end}_mm"]) for end in ("low", "best", "high")) == after
    assert row["reason"].startswith(reason)


@pytest.mark.parametrize(
    ("window", "row", "reason"),
    [
        # 0.26 mm less the thinnest, 0.10 mm, is 0.16 mm: under 0.20 mm
        (("0.20 mm", "0.25 mm"), "0.26,0.26", "Too loose, but even the thinnest stack would make it too tight"),
        # 0.57 mm: 0.30 mm leaves 0.27 mm, 0.40 mm leaves 0.17 mm; the window is from 0.20 to 0.25 mm
        (("0.20 mm", "0.25 mm"), "0.57,0.57", "Too loose, and no stack falls into it"),
    ],
)
def test_why_a_gap_stays_outside(batches: Batches, window: tuple[str, str], row: str, reason: str) -> None:
    ended = batches.of(f"{HEAD}a,{row}\n", "--min", window[0], "--max", window[1])
    assert (ended.rows[0]["verdict"], ended.rows[0]["stack"], ended.code) == ("outside", "", 1)
    assert ended.rows[0]["reason"].startswith(reason)


def test_counts_on_hand_do_not_matter(batches: Batches) -> None:
    (batches.folder / "parts.csv").write_text("part,thickness_mm,on_hand\nS-10,0.10,0\nS-20,0.20,1\n")
    ended = batches.of(f"{HEAD}a,0.40,0.40\nb,0.40,0.40\nc,0.30,0.30\n")
    assert [row["stack"] for row in ended.rows] == ["S-20", "S-20", "S-10"]
    assert ended.code == 0


def test_the_parts_of_a_stack_stand_thick_to_thin(batches: Batches) -> None:
    # 0.875 mm asks for 0.70 mm
    assert batches.of(f"{HEAD}a,0.875,0.875\n").rows[0]["stack"] == "S-50+S-20"


def test_a_row_s_own_window_comes_before_that_of_the_call(batches: Batches) -> None:
    rows = "a,0.4,0.4,,,\nb,0.4,0.4,0.35,none,\nc,0.4,0.4,none,0.25,\nd,0.4,0.4,,,0.11\n"
    ended = batches.of(f"gap,low_mm,high_mm,min_mm,max_mm,target_mm\n{rows}")
    # b is inside from 0.35 mm up; c has to be under 0.25 mm, without a target S-20 comes before S-50; d aims at
    # 0.11 mm, but no second piece is fitted for a target
    assert [row["stack"] for row in ended.rows] == ["S-20", "", "S-20", "S-20"]


def test_same_names_are_separate_gaps(batches: Batches) -> None:
    ended = batches.of(f"{HEAD}a,0.40,0.40\na,0.30,0.30\n")
    assert [(row["gap"], row["stack"]) for row in ended.rows] == [("a", "S-20"), ("a", "S-10")]


@pytest.mark.parametrize(
    ("table", "names"),
    [
        ("gap;low_mm;high_mm\r\na;0,40;0,42\r\n", ["a"]),
        ("gap\tlow_thou\thigh_in\na\t15.75\t0.01654\n", ["a"]),  # 0.40005 to 0.420116 mm
        ("\ufeffgap,low_um,high_um,colour\n\na,400,420,red\n,,,\n", ["a"]),
        ('Gap , LOW_MM,high_mm\n"a, left ""x""",0.40,4.2e-1\n', ['a, left "x"']),
        ("gap,low_mm,high_mm,,\na,0.40,0.42,,\n", ["a"]),
        ("gap,low_mm,high_mm\na, 0.40 ,10.5/25", ["a"]),
    ],
)
def test_tables_are_read_as_people_save_them(batches: Batches, table: str, names: list[str]) -> None:
    ended = batches.of(table)
    if "10.5/25" in table:
        assert ended.rows[0]["verdict"] == "refused"  # a fraction is of whole numbers
        return
    assert [row["gap"] for row in ended.rows] == names
    assert {row["stack"] for row in ended.rows} == {"S-20"}
    assert ("Not read: column colour of gaps.csv." in ended.out) == ("colour" in table)


def test_the_seats_of_a_job_are_kept(batches: Batches) -> None:
    job = batches.folder / "job.toml"
    job.write_text(
        'unit = "mm"\ndrawer = "rings.csv"\n[window]\nmin = 0.10\nmax = 0.25\nsource = "s"\n'
        '[[seat]]\nname = "thin shaft"\nshaft = 20\n[[seat]]\nname = "thick shaft"\nshaft = 30\n'
        '[[seat]]\nname = "hard face"\nshims_allowed = false\nwhy = "hardened"\n'
        '[[seat]]\nname = "bare shaft"\nshaft = 40\n'
    )
    (batches.folder / "rings.csv").write_text("part,thickness_mm,inner_mm\nR20,0.20,20.2\nR30,0.20,30.2\n")
    table = batches.folder / "gaps.csv"
    table.write_text(
        "gap,low_mm,high_mm,seat\na,0.4,0.4,thin shaft\nb,0.4,0.4,thick shaft\nc,0.4,0.4,hard face\n"
        "d,0.4,0.4,\ne,0.4,0.4,no such\nf,0.4,0.4,bare shaft\n"
    )
    rows = batches.call(table, "--job", job, "-o", batches.out).rows
    assert [row["stack"] for row in rows] == ["R20", "R30", "", "R20", "", ""]
    assert rows[0]["reason"].endswith("seat checked only in part.")
    assert rows[3]["reason"].endswith("seat not checked.")
    assert rows[2]["reason"] == "Too loose, but its seat takes no shims."
    assert rows[4]["reason"].startswith("there is no such seat (here: no such)")
    assert rows[5]["reason"].startswith("Too loose, and no part suits its seat")
    with_seat = batches.call(table, "--job", job, "--seat", "thick shaft", "-o", batches.out).rows
    assert with_seat[3]["stack"] == "R30"


def test_what_the_call_says_comes_before_the_job(batches: Batches) -> None:
    table = batches.folder / "gaps.csv"
    table.write_text(f"{HEAD}a,0.90,0.90\n")
    line = LINE / "line.toml"
    # by the job's drawer 0.70 mm, two pieces; a bare number is in the job's unit
    assert batches.call(table, "--job", line, "-o", batches.out).rows[0]["stack"] == "P-50+P-20"
    assert batches.call(table, "--job", line, "--most-pieces", "1", "-o", batches.out).rows[0]["stack"] == "P-80"
    assert batches.call(table, "--job", line, "--max", "1", "-o", batches.out).rows[0]["stack"] == ""
    parts = batches.folder / "parts.csv"
    assert batches.call(table, "--job", line, "--parts", parts, "-o", batches.out).rows[0]["stack"] == "S-50+S-20"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('priority = ["spread"]', "the job puts other levels first"),
        ("decision = { chance = 0.95 }", "the job lets a chance decide"),
    ],
)
def test_a_job_that_decides_otherwise_is_refused(batches: Batches, line: str, words: str) -> None:
    job = batches.folder / "job.toml"
    job.write_text(f'unit = "mm"\ndrawer = "parts.csv"\n{line}\n[window]\nmin = 0.10\nmax = 0.25\nsource = "s"\n')
    (batches.folder / "gaps.csv").write_text(f"{HEAD}a,0.4,0.4\n")
    ended = batches.call(batches.folder / "gaps.csv", "--job", job, "-o", batches.out)
    assert ended.code == 2
    assert words in ended.err


def test_a_folder_of_tables_is_answered_in_natural_order(batches: Batches) -> None:
    tables = batches.folder / "gaps"
    tables.mkdir()
    pyarrow.parquet.write_table(
        pyarrow.table({"gap": ["c"], "low_mm": [0.4], "high_mm": [0.42]}), tables / "10.parquet"
    )
    (tables / "2.csv").write_text("gap,low_um,high_um\na,400,420\nb,300,320\n")
    (tables / "notes.txt").write_text("not a table")
    ended = batches.call(tables, "--parts", batches.folder / "parts.csv", *WINDOW, "-o", batches.out)
    assert [(row["gap"], row["stack"]) for row in ended.rows] == [("a", "S-20"), ("b", "S-10"), ("c", "S-20")]
    refused = batches.call(tables, "--parts", batches.folder / "parts.csv", *WINDOW, "-o", tables / "out.csv")
    assert (refused.code, refused.rows) == (2, [])


def test_parquet_out_holds_what_csv_out_holds(batches: Batches) -> None:
    table = f"{HEAD}a,0.40,0.42\nb,0.4x,0.42\nc,0.02,0.03\n"
    rows = batches.of(table).rows
    out = batches.folder / "out.parquet"
    ended = batches.call(
        batches.folder / "gaps.csv", "--parts", batches.folder / "parts.csv", *WINDOW, "-o", out, "--json"
    )
    found = pyarrow.parquet.read_table(out).to_pylist()
    assert [{key: "" if value is None else str(value) for key, value in row.items()} for row in found] == [
        {
            key: str(float(value)) if value and key.startswith(("after", "chance")) else value
            for key, value in row.items()
        }
        for row in rows
    ]
    said = json.loads(ended.out)
    assert {key: said[key] for key in ("gaps", "inside", "outside", "refused", "pieces", "doable")} == {
        "gaps": 3,
        "inside": 1,
        "outside": 1,
        "refused": 1,
        "pieces": 1,
        "doable": False,
    }


def test_the_table_can_go_to_standard_output(batches: Batches) -> None:
    ended = batches.call(LINE / "gaps.csv", "--job", LINE / "line.toml", "-o", "-")
    lines = ended.out.splitlines()
    assert lines[0] == ",".join(COLUMNS)
    assert lines[1].startswith("pump 0001,P-20,0.205,0.22,0.235,inside,1,")
    assert len(lines) == 8
    assert ended.code == 1


def test_a_frame_goes_in_and_a_frame_comes_out(batches: Batches) -> None:
    frame = pd.DataFrame(
        {"gap": ["a", "b", "c"], "low_mm": [0.40, float("nan"), 0.3], "high_mm": ["0.42", "0.4", Decimal("0.32")]},
        index=[7, 5, 7],
    )
    found = shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min="0.10 mm", max="0.25 mm")
    assert list(found.columns) == COLUMNS
    assert list(found.index) == [7, 5, 7]
    assert found["stack"].tolist() == ["S-20", "", "S-10"]
    assert found["verdict"].tolist() == ["inside", "refused", "inside"]
    assert found["after_best_mm"].tolist()[::2] == [0.21, 0.21]
    assert found["after_best_mm"].isna().tolist() == [False, True, False]


def test_a_frame_has_the_same_types_whatever_its_rows(batches: Batches) -> None:
    call = {"parts": batches.folder / "parts.csv", "min": "0.10 mm", "max": "0.25 mm"}
    many = shimopt.plan_many(pd.DataFrame({"gap": ["a"], "low_mm": [0.4], "high_mm": [0.42]}), **call)
    none = shimopt.plan_many(pd.DataFrame({"gap": [], "low_mm": [], "high_mm": []}), **call)
    assert many.dtypes.tolist() == none.dtypes.tolist()
    assert many["verdict"].cat.categories.tolist() == ["inside", "unproven", "outside", "refused"]
    assert (many["after_low_mm"].dtype, many["stack"].dtype) == ("float64", "string")


def test_blades_that_go_and_do_not_go_are_low_and_high() -> None:
    """And parts may be a frame. By hand, 0.40 to 0.42 less 0.20 is 0.20 to 0.22, inside 0.10 to 0.25."""
    frame = pd.DataFrame({"gap": ["a"], "go_mm": [0.40], "no_go_mm": [0.42]})
    parts = pd.DataFrame({"part": ["S-20"], "thickness_mm": [0.2]})
    (row,) = shimopt.plan_many(frame, parts=parts, min="0.10 mm", max="0.25 mm").to_dict("records")
    assert (row["stack"], row["verdict"], row["after_low_mm"], row["after_high_mm"]) == ("S-20", "inside", 0.2, 0.22)


def test_a_refused_row_of_blades_is_told_of_blades() -> None:
    frame = pd.DataFrame({"gap": ["a", "b", "c"], "go_mm": [0.44, None, 0.4], "no_go_mm": [0.42, 0.42, 0.42]})
    parts = pd.DataFrame({"part": ["S-20"], "thickness_mm": [0.2]})
    found = shimopt.plan_many(frame, parts=parts, min="0.10 mm", max="0.25 mm")
    assert found["verdict"].tolist() == ["refused", "refused", "inside"]
    assert found["reason"].tolist()[:2] == [
        "go is above no_go. Swap them.",
        "go_mm is blank. A gap is read from go to no_go: fill it in.",
    ]


def test_a_bare_number_without_a_job_is_refused_as_such(batches: Batches) -> None:
    frame = pd.DataFrame({"gap": ["a"], "low_mm": [0.4], "high_mm": [0.42]})
    with pytest.raises(shimopt.InputError) as refused:
        shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min=0, max="0.25 mm")
    assert [problem.rule for problem in refused.value.problems] == [
        "a bare number is in the job's unit, and no job is named"
    ]


def test_a_float_is_its_shortest_decimal_text(batches: Batches) -> None:
    """0.1 + 0.2 is 0.30000000000000004: finer than a nanometre, and rounded to it; in thou 1.1 is 27 940 nm exactly."""
    frame = pd.DataFrame({"gap": ["a", "b"], "low_thou": [1.1, 0.1 + 0.2], "high_thou": [1.1, 0.3]})
    found = shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min="0 mm", max="0.25 mm")
    assert found["after_best_mm"].tolist() == [0.02794, 0.00762]


def test_from_python_what_is_wrong_is_told_of_arguments(batches: Batches) -> None:
    frame = pd.DataFrame({"gap": ["a"], "low_mm": [0.4], "high_mm": [0.42]})
    for call in (
        {},
        {"parts": batches.folder / "parts.csv"},
        {"parts": batches.folder / "parts.csv", "min": "0.1"},
        {"parts": batches.folder / "parts.csv", "min": "0.3 mm", "max": "0.1 mm", "seat": "x"},
    ):
        with pytest.raises(shimopt.InputError) as refused:
            shimopt.plan_many(frame, **call)
        assert "--" not in str(refused.value)


def test_a_frame_of_blades_is_asked_for_the_blade_that_it_lacks(batches: Batches) -> None:
    for has, lacks in (("go_mm", "no_go_mm"), ("no_go_mm", "go_mm")):
        frame = pd.DataFrame({"gap": ["a"], has: [0.4]})
        with pytest.raises(shimopt.InputError) as refused:
            shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min="0.10 mm", max="0.25 mm")
        assert [problem.where for problem in refused.value.problems] == [f"column {lacks}"]
        assert "low" not in str(refused.value)
        assert "high" not in str(refused.value)


_WITHOUT_PYARROW = """
import contextlib, io, json, sys
class Without:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "pyarrow":
            raise ImportError(name)
sys.meta_path.insert(0, Without())
from shimopt.cli import main
ends = []
for words in json.loads(sys.argv[1]):
    err = io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(err):
        try:
            main(words)
        except SystemExit as ended:
            ends.append((ended.code, err.getvalue()))
print(json.dumps(ends))
"""


def test_what_needs_pyarrow_says_which_extra_and_all_else_works_without_it(batches: Batches) -> None:
    """As where only the core is installed: nothing of pyarrow can be imported."""
    demo, folder = str(ROOT / "demo_data" / "swing-bridge"), batches.folder
    gaps, parts, table = (str(folder / name) for name in ("gaps.csv", "parts.csv", "p.parquet"))
    (folder / "p.parquet").write_bytes(b"PAR1")
    works = [["plan", demo], ["plan", demo, "--json"], ["fit", demo], ["parts", "--inner", "16mm"], ["order", demo]]
    needs = [
        ["batch", gaps, "--parts", parts, "--min", "0.1mm", "--max", "0.2mm", "-o", str(folder / "o.csv")],
        ["parts", "--catalogue", table],
    ]
    command = [sys.executable, "-c", _WITHOUT_PYARROW, json.dumps([*works, *needs])]
    ends = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    assert len(ends) == len(works) + len(needs)
    assert [err for code, err in ends[: len(works)] if code not in (0, 1)] == []
    assert [(code, ".[batch]" in err) for code, err in ends[len(works) :]] == [(2, True)] * len(needs)


def test_a_frame_without_rows_gives_one_without_rows(batches: Batches) -> None:
    frame = pd.DataFrame({"gap": [], "low_mm": [], "high_mm": []})
    found = shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min="0.10 mm", max="0.25 mm")
    assert (list(found.columns), len(found)) == (COLUMNS, 0)


def test_a_frame_with_a_wrong_column_is_refused(batches: Batches) -> None:
    frame = pd.DataFrame({"gap": ["a"], "low": [0.4], "high_mm": [0.42]})
    with pytest.raises(shimopt.InputError, match="a length column ends in its unit"):
        shimopt.plan_many(frame, parts=batches.folder / "parts.csv", min="0.10 mm", max="0.25 mm")


def test_help_and_plain_commands_load_no_tables_of_millions() -> None:
    code = (
        "import sys\nimport shimopt\nfrom shimopt.cli import main\n"
        "try: main(['batch', '--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('pyarrow', 'pandas', 'numpy', 'ortools', 'dask', 'distributed') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_batch_of_a_file_loads_no_solver() -> None:
    code = (
        "import sys\nfrom shimopt.cli import main\n"
        f"try: main(['batch', {str(LINE / 'gaps.csv')!r}, '--job', {str(LINE / 'line.toml')!r}, '-o', '-'])\n"
        "except SystemExit: pass\n"
        "print([m for m in ('ortools', 'dask', 'distributed') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_terminal_shows_how_far_it_is_in_no_colour_that_means_good_or_bad() -> None:
    command = ("batch", LINE / "gaps.csv", "--job", LINE / "line.toml", "-o", "-")
    with Person(ROOT, *command, env={"TERM": "xterm-256color"}) as person:
        assert person.ends() == 1
        shown = person.shown
    assert "7 gaps, 1 refused" in shown
    assert "100%" in shown
    # never red, green or yellow: 31 to 33, 91 to 93
    assert not any(f"\x1b[{code}m" in shown for code in (31, 32, 33, 91, 92, 93))
