"""What has to be settled before anything is fitted stands on the order and the bench card, too."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from shimopt.cli.main import cli
from tests.command import Run

DRAWER = "part,thickness_mm,inner_mm,on_hand\nX-30,0.30,26,1\nY-10,0.10,20.2,4\n"
HEAD = 'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.05\nmax = 0.20\nsource = "sheet"\n'


def job(folder: Path, rest: str) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "drawer.csv").write_text(DRAWER)
    (folder / "job.toml").write_text(HEAD + rest)
    return folder


@pytest.fixture
def badly_in(tmp_path: Path) -> Path:
    """A ring of 26 mm bore lies on a shaft of 20 mm; the clearance is right all the same."""
    return job(
        tmp_path / "badly",
        '[[seat]]\nname = "s"\nshaft = "20 mm ± 0.01 mm"\n[[place]]\nname = "a"\nseat = "s"\ninstalled = ["X-30"]\n'
        '[[gap]]\nname = "a"\nseat = "s"\nfeeler = { go = 0.12, no_go = 0.15 }\n',
    )


def test_a_ring_that_is_in_and_hangs_off_centre_is_told_before_the_card_is_used(badly_in: Path) -> None:
    words = " ".join(CliRunner().invoke(cli, ["order", str(badly_in)]).output.split())
    assert "But first something has to be settled at a: see over the rows of the card." in words
    assert "first: a: X-30 is in and stays, and does not suit: hangs off centre" in words
    assert "only once that is settled does a row count" in words


def test_a_job_with_nothing_to_settle_says_nothing_of_it(tmp_path: Path) -> None:
    plain = job(tmp_path / "plain", '[[gap]]\nname = "a"\nfeeler = { go = 0.12, no_go = 0.15 }\n')
    assert "first" not in CliRunner().invoke(cli, ["order", str(plain)]).output.split("Assumed")[0]


def test_a_gap_found_outside_is_not_to_be_run_before_the_work_is_done(tmp_path: Path, run: Run) -> None:
    """0.30 read, 0.05 to 0.20 wanted: Y-10 goes in and 0.20 is predicted; then 0.01 to 0.03 is read, too tight."""
    folder = job(tmp_path / "found", '[[place]]\nname = "a"\n[[gap]]\nname = "a"\nvalue = "0.30 mm"\n')
    code, _, error = run(
        "record", folder, "--after", "a=0.01 to 0.03 mm", "--person", "B. Lead", "--instrument", "dial"
    )
    assert code in (0, 1), error
    page = tmp_path / "letter.html"
    run("letter", folder, "-o", page)
    letter = " ".join(page.read_text(encoding="utf-8").split())
    assert "Do not run it like this: a is 0.03 mm too tight" in letter
    assert "Do not turn it under power where it is too tight (a)" in letter
    assert "Have it measured again after running in" not in letter


def test_only_what_was_changed_and_not_read_is_called_calculated(tmp_path: Path, run: Run) -> None:
    """a gets Y-10 and is not read again; b is left alone: what it reads was read, and the sheet says so."""
    gaps = '[[gap]]\nname = "a"\nvalue = "0.22 mm ± 0.01 mm"\n[[gap]]\nname = "b"\nvalue = "0.12 mm ± 0.01 mm"\n'
    gaps += '[[gap]]\nname = "c"\nvalue = "0.25 mm ± 0.01 mm"\n'
    folder = job(tmp_path / "part", gaps)
    who = ("--person", "B. Lead", "--instrument", "dial")
    assert run("record", folder, "--after", "c=0.14 to 0.16 mm", *who)[0] in (0, 1)
    page = tmp_path / "sheet.html"
    run("sheet", folder, "-o", page)
    sheet = page.read_text(encoding="utf-8")
    assert sheet.count("calculated, not read") == 1


def test_what_lies_on_the_bench_is_not_looked_for_in_the_drawer(tmp_path: Path) -> None:
    """S-10 came out for the reading, its tin is empty."""
    folder = tmp_path / "bench"
    folder.mkdir()
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand,at\nS-10,0.10,0,tin 1\n")
    (folder / "job.toml").write_text(
        HEAD + '[[place]]\nname = "w"\ncame_out = ["S-10"]\n[[gap]]\nname = "w"\nfeeler = { go = 0.24, no_go = 0.26 }\n'
    )
    words = " ".join(CliRunner().invoke(cli, ["order", str(folder)]).output.split())
    assert "on the bench, out for the reading: S-10" in words
    assert "tin 1" not in words


def test_a_piece_on_the_bench_and_its_like_in_the_drawer_are_told_apart(tmp_path: Path) -> None:
    """Of the two S-10 one came out for the reading: both gaps take one, and only one of them is on the bench."""
    folder = tmp_path / "both"
    folder.mkdir()
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-10,0.10,1\n")
    read = "feeler = { go = 0.24, no_go = 0.26 }\n"
    places = '[[place]]\nname = "w"\ncame_out = ["S-10"]\n[[place]]\nname = "v"\n'
    (folder / "job.toml").write_text(HEAD + places + f'[[gap]]\nname = "w"\n{read}[[gap]]\nname = "v"\n{read}')
    words = " ".join(CliRunner().invoke(cli, ["order", str(folder)]).output.split())
    assert words.count("S-10: 1 on the bench, out for the reading, 1 in the drawer") == 2


def test_a_gap_that_is_bought_for_says_what_it_takes(tmp_path: Path) -> None:
    """0.24 to 0.26 less 0.10 is right; the drawer is empty."""
    folder = tmp_path / "bought"
    folder.mkdir()
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\n")
    (folder / "cat.csv").write_text("part,thickness_mm,price\nB-10,0.10,1\n")
    gap = '[[gap]]\nname = "w"\nfeeler = { go = 0.24, no_go = 0.26 }\n'
    (folder / "job.toml").write_text(HEAD.replace("[window]", 'catalogues = ["cat.csv"]\n[window]', 1) + gap)
    words = " ".join(CliRunner().invoke(cli, ["order", str(folder)]).output.split())
    assert "Why w: its rows take B-10 of this order." in words
