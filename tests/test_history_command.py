"""`shimopt history` as its user meets it: drawers, parcels, records, tables; what is missing, wrong or too little."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from shimopt.learning.gauge_pairs import pairs_of_job, pairs_of_table
from shimopt.learning.visits import as_first_read
from tests.command import Run

DEMO = Path(__file__).parents[1] / "demo_data"
DEPOT = DEMO / "tram-depot"
HEAD = "part,supplier,lot,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm\n"


def table(folder: Path, *rows: str, head: str = HEAD, name: str = "measured.csv") -> Path:
    path = folder / name
    path.write_text(head + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def thick(supplier: str, *lots: str) -> list[str]:
    """Five pieces a lot, 0.012 mm thick, a micrometre or two apart."""
    return [f"S-20,{supplier},{lot},0.20,0.02,{0.212 + off / 1000:.3f},0.001" for lot in lots for off in range(-2, 3)]


def test_a_maker_whose_pieces_run_thick_is_told_and_nothing_becomes_sure(run_unfolded: Run, tmp_path: Path) -> None:
    code, out, _ = run_unfolded("history", table(tmp_path, *thick("Kestrel", "A", "B", "C", "D", "E")))
    assert code == 0
    assert "This maker's 0.20 mm run 0.012 mm thick" in out
    assert "its label says 0.18 to 0.22 mm" in out
    assert "None of this makes a gap sure" in out


def test_a_plan_takes_no_notice_of_suppliers_and_lots(run: Run, tmp_path: Path) -> None:
    """What is sure rests on labels and measures: with both columns a plan is what it is without."""
    plans = []
    for columns, cells in (("", ""), (",supplier,lot", ",Kestrel Shim Works,A")):
        folder = tmp_path / f"job{len(columns)}"
        shutil.copytree(DEMO / "swing-bridge", folder)
        first, *rows = (folder / "drawer.csv").read_text(encoding="utf-8").splitlines()
        lines = [first + columns, *(row + cells for row in rows)]
        (folder / "drawer.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        _, out, err = run("plan", folder, "--json")
        plans.append((out.replace(str(folder), ""), err))
    assert plans[0] == plans[1]


def test_the_drawer_gets_supplier_and_lot_of_what_is_accepted(run: Run, tmp_path: Path) -> None:
    shutil.copytree(DEMO / "swing-bridge", tmp_path / "job")
    came = table(
        tmp_path,
        "R-05,a,5,0.2,5.1,0.05,0.6265,0.995,Kestrel,K7",
        head="part,piece,thickness_thou,tolerance_thou,measured_thou,measuring_error_thou,inner_in,outer_in,supplier,lot\n",
    )
    assert run("fit", tmp_path / "job", "--measured", came, "--accept")[0] == 0
    head, *rows = (tmp_path / "job" / "drawer.csv").read_text(encoding="utf-8").splitlines()
    assert head.endswith("supplier,lot")
    assert rows[-1].endswith("Kestrel,K7")
    # the piece stands in both tables, and is one
    _, out, _ = run("history", tmp_path / "job", came, "--json")
    assert [size["pieces"] for size in json.loads(out)["suppliers"]] == [1]


def test_what_a_row_leaves_out_is_taken_from_the_catalogue(run: Run, tmp_path: Path) -> None:
    parts = table(
        tmp_path,
        "S-20,0.20,0.02,Kestrel",
        "S-30,0.30,0.02,Kestrel",
        "S-30,0.30,0.02,Osier",
        head="part,thickness_mm,tolerance_mm,supplier\n",
        name="parts.csv",
    )
    pieces = table(tmp_path, "S-20,0.21 0.212", "S-30,0.31", head="part,measured_mm\n")
    _, out, _ = run("history", pieces, "--parts", parts, "--json")
    told = json.loads(out)
    (size,) = told["suppliers"]
    assert (size["supplier"], size["marked"], size["printed"]) == ("Kestrel", 0.2, {"low": 0.18, "high": 0.22})
    # two sell S-30: nobody says whose it is
    assert told["left_out"]["pieces"] == ["S-30, measured.csv row 3"]


def test_no_tolerance_too_few_and_no_error_are_said(run_unfolded: Run, tmp_path: Path) -> None:
    rows = ["S-20,Kestrel,A,0.20,,0.21,", "S-30,Kestrel,A,0.30,0.02,0.31,"]
    _, out, _ = run_unfolded("history", table(tmp_path, *rows))
    assert "No tolerance is printed for them" in out
    assert "Too few to say how thick they run: the label stands until 4 more pieces were measured." in out
    assert "How far the micrometer may be off is not stated for 2 pieces: taken as exact." in out


def test_two_spellings_are_asked_about_and_either_answer_is_taken(run_unfolded: Run, tmp_path: Path) -> None:
    pieces = table(tmp_path, *thick("Kestrel Shims", "A"), *thick("kestrel-shims", "B"))
    code, _, err = run_unfolded("history", pieces)
    assert (code, "is this Kestrel Shims?" in err, '--same "kestrel-shims=Kestrel Shims"' in err) == (2, True, True)
    _, out, _ = run_unfolded("history", pieces, "--same", "kestrel-shims=Kestrel Shims")
    assert "Kestrel Shims, 0.20 mm: 10 pieces of 2 lots" in out
    _, out, _ = run_unfolded("history", pieces, "--apart", "kestrel-shims")
    assert "kestrel-shims, 0.20 mm: 5 pieces of 1 lot" in out
    code, _, err = run_unfolded("history", pieces, "--same", "kestrel-shims")
    assert (code, "a spelling says what it is to be read as" in err) == (2, True)


def test_what_a_record_predicted_and_found_is_a_pair_of_its_gauge(run: Run, tmp_path: Path) -> None:
    """Upper 1 read 17 to 18 thou, R-07 went in: 10 to 11 are predicted, 9 to 10 found. Its drawer states no tolerance:
    nothing is between the two but the gauge. One thou is 25,400 nm.
    """
    folder = tmp_path / "bridge"
    shutil.copytree(DEMO / "swing-bridge", folder)
    who = ["--person", "M. Hale", "--instrument", "feeler set 2", "--date", "2026-05-03"]
    code, _, _ = run("record", folder, "--after", "upper 1=9 to 10 thou", *who)
    assert code == 0
    (found,) = pairs_of_job("bridge", as_first_read(folder / "job.toml"))
    moved = json.loads(run("plan", folder, "--from-start", "--json")[1])["gaps"][0]["after"]
    assert (found.gauge, found.recorded, found.pair.other) == ("feeler set 2", True, 0)
    assert found.pair.first == (moved["low"] * 1e6, moved["high"] * 1e6)
    assert found.pair.second == (9 * 25_400, 10 * 25_400)


def test_pairs_of_blades_and_dials_are_read(tmp_path: Path) -> None:
    read = table(
        tmp_path,
        "feelers,a,0.35 to 0.40,0.40 to 0.45,",
        "dial,b,0.41,0.42,0.01",
        head="gauge,gap,first_mm,second_mm,resolution_mm\n",
    )
    feelers, dial = pairs_of_table(read)
    assert (feelers.pair.first, feelers.pair.second) == ((350_000, 400_000), (400_000, 450_000))
    assert (dial.pair.first, dial.pair.second) == ((405_000, 415_000), (415_000, 425_000))


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",a,0.35 to 0.40,0.35 to 0.40,", "names its gauge"),
        ("f,a,0.40 to 0.35,0.35 to 0.40,", "thinner than the one that does not"),
        ("f,a,0.35,0.36,", "how finely this gauge is read is not stated"),
        ("f,a,0.35 to 0.40,,", "a pair has two readings"),
        ("f,a,0.35 to x,0.35 to 0.40,", "row 2"),
        ("f,a,0.35,0.36,-0.01", "row 2"),
    ],
)
def test_a_wrong_pair_is_told_with_its_place(run_unfolded: Run, tmp_path: Path, row: str, said: str) -> None:
    read = table(tmp_path, row, head="gauge,gap,first_mm,second_mm,resolution_mm\n", name="twice.csv")
    code, _, err = run_unfolded("history", read)
    assert (code, said in err) == (2, True)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("S-20,K,A,0.20,0.02,x,", "measured"),
        ("S-20,K,A,0.20,-0.02,0.2,", "tolerance"),
        ("S-20,K,A,0.20,0.02,0.2,-0.1", "measuring_error"),
        ("S-20,K,A,0.20,0.02,-0.2,", "above zero"),
    ],
)
def test_a_wrong_piece_is_told_with_its_place(run_unfolded: Run, tmp_path: Path, row: str, said: str) -> None:
    code, _, err = run_unfolded("history", table(tmp_path, row))
    assert (code, said in err, "row 2" in err) == (2, True, True)


def test_the_demo_depot_is_told_in_every_unit_and_as_json(run_unfolded: Run) -> None:
    sources = DEPOT / "measured.csv", DEPOT / "read-twice.csv"
    for unit in ("mm", "um", "in", "thou"):
        code, out, _ = run_unfolded("history", *sources, "--unit", unit)
        assert (code, f" {unit}" in out) == (0, True)
    told = json.loads(run_unfolded("history", *sources, "--json")[1])
    dial, feelers = told["gauges"]
    assert (dial["standard_deviation"], dial["pairs"]) == (None, 9)
    assert feelers["low"] < feelers["standard_deviation"] < feelers["high"]


def test_a_piece_that_nobody_marked_is_named(run_unfolded: Run, tmp_path: Path) -> None:
    _, out, _ = run_unfolded("history", table(tmp_path, "x,0.21", head="part,measured_mm\n"))
    assert "nobody says what they are marked: x, measured.csv row 2" in out


def test_nothing_measured_and_nothing_read_twice_is_said(run_unfolded: Run) -> None:
    assert run_unfolded("history", DEMO / "slipway-winch")[:2] == (
        0,
        "Nothing was measured, nothing read twice, and nothing recorded.",
    )
