"""Files at random: a reader raises nothing but its own error, and what it reads can be planned."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.watch import Watch
from tests.file_strategies import ODD_CELLS, as_toml, spoilt_bytes, spoilt_text, toml_values
from tests.job_files import edited, write_job

FULL_JOB = (
    edited(("drawer =", 'gaps = "gaps.csv"\ncatalogues = ["maker.csv"]\nbalance_within = 2\ndrawer ='))
    + """
[[gap]]
name = "upper 3"
feeler = [{ go = 9, no_go = 10 }, { snug = 11, step = 1 }]
window = { min = "0.1 mm", max = "none", source = "letter" }

[[balance]]
name = "upper"
gaps = ["upper 1", "upper 2"]
within = 3
offset = { "upper 2" = 1 }

[stacks]
most_pieces = 2
"""
)
DRAWER = (
    "part,piece,thickness_thou,tolerance_thou,measured_thou,measuring_error_thou,inner_in,on_hand,note\n"
    "S-05,,5,+0/-0.5,,,0.63,4,\nS-10,,10,0.2,,,0.7 ± 0.01,2,thick\nS-10,a,10,,9.9,0.1,,1,\n,,2.5,,,,,3,\n"
)
MAKER = "part,thickness_thou,price,currency,pack,supplier,lead_days\nS-20,20,1.25,EUR,10,north,3\nS-05,5,0.5,EUR,1,,\n"
GAPS = (
    "gap,low_thou,high_thou,best_thou,min_thou,max_thou,target_thou,seat,balance\n"
    "lower 1,8,9,8.2,5,none,6,plain end,low\nlower 2,14,15,,,,,,low\n"
)
SEPARATORS = " =,;\n\t\"'[]{}.#"

quick = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
# each writes and reads a workbook, or reads sixteen jobs
fewer = settings(quick, max_examples=40)


def survives(files: Mapping[str, str | bytes | None], *, planned: bool = True) -> Job | None:
    """Read a job of these files, and plan it where it can be read; nothing but InputError may come out."""
    everything: dict[str, str | bytes | None] = {
        "job": FULL_JOB,
        "drawer": DRAWER,
        "maker_csv": MAKER,
        "gaps_csv": GAPS,
        **files,
    }
    with TemporaryDirectory() as folder:
        write_job(Path(folder), **everything)  # type: ignore[arg-type]
        try:
            job = load_job(folder)
        except InputError as error:
            _told(error)
            return None
    for buy in (False, True) if planned else ():
        try:
            decide(job, buy=buy, watch=Watch(steps=200))
        except InputError as error:
            _told(error)
    return job


def _told(error: InputError) -> None:
    """Every problem names a file, a rule and a remedy, on one line."""
    assert error.problems
    for problem in error.problems:
        assert problem.file
        assert problem.rule
        assert problem.remedy
        assert "\n" not in str(problem)


def test_the_files_that_are_spoilt_below_are_good() -> None:
    job = survives({})
    assert job is not None
    assert (len(job.gaps), len(job.stock), len(job.balances)) == (5, 6, 2)


@fewer
@given(st.binary(max_size=200))
def test_any_bytes_as_any_file(raw: bytes) -> None:
    for name in ("job", "drawer", "maker_csv", "gaps_csv"):
        survives({name: raw})
        # a spreadsheet or a marked file that goes on as anything
        for start in (b"PK\x03\x04", b"\xff\xfe", b"\xef\xbb\xbf"):
            survives({name: start + raw}, planned=False)


@quick
@given(st.text(max_size=200))
def test_any_text_as_any_file(text: str) -> None:
    for name in ("job", "drawer", "maker_csv", "gaps_csv"):
        survives({name: text.encode(errors="replace")})


@quick
@given(spoilt_bytes(FULL_JOB.encode()))
def test_a_job_with_a_few_bytes_spoilt(job: bytes) -> None:
    survives({"job": job})


@quick
@given(spoilt_text(FULL_JOB, SEPARATORS))
def test_a_job_with_a_few_words_spoilt(job: str) -> None:
    survives({"job": job.encode()})


@quick
@given(st.data())
def test_a_job_with_a_value_of_any_kind_under_any_key(data: st.DataObject) -> None:
    lines = FULL_JOB.splitlines()
    keyed = [number for number, line in enumerate(lines) if " = " in line]
    for _ in range(data.draw(st.integers(1, 3))):
        number = data.draw(st.sampled_from(keyed))
        lines[number] = f"{lines[number].split(' = ')[0]} = {as_toml(data.draw(toml_values()))}"
    survives({"job": "\n".join(lines).encode()})


@quick
@given(
    st.dictionaries(
        st.sampled_from(
            [
                "title",
                "unit",
                "drawer",
                "catalogues",
                "gaps",
                "priority",
                "window",
                "stacks",
                "seat",
                "gap",
                "balance",
                "int",
                "[[a",
            ]
        ),
        toml_values(),
    )
)
def test_a_job_of_values_of_any_kind_alone(tables: dict[str, object]) -> None:
    text = "\n".join(f"{as_toml(key)} = {as_toml(value)}" for key, value in tables.items())
    survives({"job": text.encode()})


@quick
@given(st.sampled_from([("drawer", DRAWER), ("maker_csv", MAKER), ("gaps_csv", GAPS)]), st.data())
def test_a_table_with_a_few_bytes_spoilt(table: tuple[str, str], data: st.DataObject) -> None:
    name, good = table
    survives({name: data.draw(spoilt_bytes(good.encode()))})


@settings(quick, max_examples=150)
@given(st.sampled_from([("drawer", DRAWER), ("maker_csv", MAKER), ("gaps_csv", GAPS)]), st.data())
def test_a_table_with_a_few_cells_spoilt(table: tuple[str, str], data: st.DataObject) -> None:
    name, good = table
    survives({name: data.draw(spoilt_text(good, ",\n")).encode()})


def extreme_rows(columns: dict[str, list[str]]) -> st.SearchStrategy[str]:
    """A table of cells that can be read, at the ends of what can be."""
    rows = st.lists(st.tuples(*(st.sampled_from(cells) for cells in columns.values())), min_size=1, max_size=4)
    return rows.map(lambda found: "\n".join(",".join(row) for row in [tuple(columns), *found]) + "\n")


EXTREME_SIZES = ["0.001", "0.00004", "1/3", "5", "9.9999", "10", "390000"]
EXTREME_PARTS = {
    "part": ["", "S-05", "S-10", "S-20", "×", "a\tb"],
    "piece": ["", "a", "b", "1", "2"],
    "thickness_thou": EXTREME_SIZES,
    "tolerance_thou": ["", "0", "0.00002", "+0/-0.00003"],
    "inner_in": ["", "0.00001", "0.6250", "0.7 ± 0.1", "300"],
    "on_hand": ["0", "1", "3", "50", "1000000"],
}
EXTREME_OFFERS = {
    "part": ["S-05", "S-10", "S-20", "T", "U"],
    "thickness_thou": EXTREME_SIZES,
    "price": ["", "0", "0.000001", "1.25", "1e9", "1e20"],
    "pack": ["", "1", "7", "1000000"],
    "supplier": ["", "north", "south"],
}
EXTREME_GAPS = {
    "gap": ["a", "b", "c", "×", "upper"],
    "low_thou": ["-390000", "-1", "0", "8", "8.00004"],
    "high_thou": ["8.00004", "9", "390000"],
    "min_thou": ["", "none", "-390000", "0", "8"],
    "max_thou": ["", "8", "12", "390000"],
    "seat": ["", "plain end"],
    "balance": ["", "low"],
}


@settings(quick, max_examples=40)
@given(extreme_rows(EXTREME_PARTS), extreme_rows(EXTREME_OFFERS), extreme_rows(EXTREME_GAPS))
def test_tables_at_the_ends_of_what_can_be_read(drawer: str, maker: str, gaps: str) -> None:
    for files in ({"drawer": drawer}, {"maker_csv": maker}, {"gaps_csv": gaps}):
        survives(files)
    survives({"drawer": drawer, "maker_csv": maker, "gaps_csv": gaps})


def test_a_level_whose_search_stopped_early_may_be_brought_down_by_a_later_one() -> None:
    """Found by chance: the search for the spread came upon a smaller excess than the search for it had."""
    survives(
        {
            "drawer": "part,piece,thickness_thou,tolerance_thou,inner_in,on_hand\n,,0.001,,,0\n",
            "maker_csv": "part,thickness_thou,price,pack,supplier\nS-05,0.00004,,,north\nS-05,390000,,,\n"
            "S-10,0.001,,,\n",
            "gaps_csv": "gap,low_thou,high_thou,min_thou,max_thou,seat,balance\na,-390000,8.00004,none,,,low\n"
            "b,-390000,390000,none,,,low\n",
        }
    )


@cache
def workbook() -> bytes:
    """The drawer as a workbook."""
    book, buffer = Workbook(), io.BytesIO()
    assert book.active is not None
    for line in DRAWER.splitlines():
        cells = line.split(",")
        book.active.append([float(cell) if cell.replace(".", "").isdigit() else cell or None for cell in cells])
    book.save(buffer)
    return buffer.getvalue()


@fewer
@given(spoilt_bytes(workbook()))
def test_a_workbook_with_a_few_bytes_spoilt(drawer: bytes) -> None:
    survives({"drawer": drawer})


@fewer
@given(
    st.sampled_from(["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels"]),
    st.data(),
)
def test_a_workbook_with_its_inside_spoilt(part: str, data: st.DataObject) -> None:
    source, target = zipfile.ZipFile(io.BytesIO(workbook())), io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name in source.namelist():
            inside = source.read(name)
            if name == part:
                inside = data.draw(
                    st.one_of(spoilt_bytes(inside), spoilt_text(inside.decode(), '<>" =/').map(str.encode))
                )
            archive.writestr(name, inside)
    survives({"drawer": target.getvalue()})


@fewer
@given(
    st.lists(
        st.lists(
            st.one_of(
                st.sampled_from(ODD_CELLS),
                st.text(max_size=5),
                st.integers(),
                st.floats(),
                st.booleans(),
                st.dates(),
                st.none(),
            ),
            min_size=9,
            max_size=9,
        ),
        min_size=1,
        max_size=4,
    )
)
def test_a_workbook_with_cells_of_any_kind(rows: list[list[object]]) -> None:
    book, buffer = Workbook(), io.BytesIO()
    assert book.active is not None
    book.active.append(DRAWER.splitlines()[0].split(","))
    for row in rows:
        # openpyxl itself refuses to write control characters
        book.active.append(["" if isinstance(cell, str) and not cell.isprintable() else cell for cell in row])
    book.save(buffer)
    survives({"drawer": buffer.getvalue()})
