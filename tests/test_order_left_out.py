"""What an order leaves out is never called enough; what must not be bought yet is not written as if it could go out.

By hand: drum reads 0.55 to 0.60 and may have 0.10 to 0.25; with R-40, 0.397 to 0.403 thick, it has 0.147 to 0.203. pawl
reads 0.30 to 0.35; with R-15 it has 0.147 to 0.203. far reads 3.00 to 3.05, which is seven times what its neighbours
read: a decimal point may have slipped, and nothing on offer is 2.80 to 2.90 thick.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.command import Run

JOB = """\
title = "Winch drum"
unit = "mm"
shop = "Hale Millwrights"
catalogues = ["cat.csv"]
currency = "GBP"
window = { min = 0.10, max = 0.25, source = "drawing 2" }
[[gap]]
name = "drum"
feeler = { go = 0.55, no_go = 0.60 }
[[gap]]
name = "pawl"
feeler = { go = 0.30, no_go = 0.35 }
"""
FAR = """\
[[gap]]
name = "far"
feeler = { go = 3.00, no_go = 3.05 }
"""
SUPPLIER = """\
[[supplier]]
name = "Alder Shims"
postage = 2
"""
CATALOGUE = """\
part,thickness_mm,tolerance_mm,price,supplier,lead_days
R-15,0.15,0.003,0.60,Alder Shims,5
R-40,0.40,0.003,0.70,Alder Shims,5
"""


def job(folder: Path, more: str = FAR) -> Path:
    (folder / "job.toml").write_text(JOB + more + SUPPLIER, encoding="utf-8")
    (folder / "cat.csv").write_text(CATALOGUE, encoding="utf-8")
    (folder / "came.csv").write_text("part,on_hand\nR-15,1\nR-40,1\n", encoding="utf-8")
    return folder


def test_a_parcel_is_not_enough_for_what_its_order_leaves_out(tmp_path: Path, run: Run) -> None:
    folder = job(tmp_path)
    code, out, _ = run("order", folder, "--came", folder / "came.csv")
    said = " ".join(out.split())
    assert said.startswith(
        "Complete: both pieces came as ordered. With the drawer as it is now it is enough for all that"
    )
    assert "The order does not serve far at every final reading." in said
    assert "every gap at every final reading" not in said
    assert code == 1
    found = json.loads(run("order", folder, "--came", folder / "came.csv", "--json")[1])
    assert (found["complete"], found["enough"], found["whole"]) == (True, True, False)


def test_a_parcel_that_serves_every_gap_says_so(tmp_path: Path, run: Run) -> None:
    folder = job(tmp_path, "")
    code, out, _ = run("order", folder, "--came", folder / "came.csv")
    assert code == 0
    assert "it is enough: every gap at every final reading." in " ".join(out.split())


def test_gaps_that_an_order_does_not_answer_are_named(tmp_path: Path, run: Run) -> None:
    """A pack that is to equal another, with readings 0.60 apart and windows of 0.15: no two alike serve both."""
    apart = (
        'equal = ["left", "right"]\n',
        '[[gap]]\nname = "left"\nfeeler = { go = 0.40, no_go = 0.45 }\n'
        '[[gap]]\nname = "right"\nfeeler = { go = 1.00, no_go = 1.05 }\n',
    )
    folder = job(tmp_path, apart[1])
    (folder / "job.toml").write_text(apart[0] + (folder / "job.toml").read_text(encoding="utf-8"), encoding="utf-8")
    code, out, _ = run("order", folder, "--came", folder / "came.csv")
    assert code == 1
    assert "The order does not answer left and right." in " ".join(out.split())


@pytest.mark.parametrize("more", [FAR, ""])
def test_an_order_that_waits_says_so_in_all_that_is_sent(tmp_path: Path, run: Run, more: str) -> None:
    folder = job(tmp_path, more)
    _, screen, told = run("order", folder, "-o", folder / "o.txt", "-o", folder / "o.csv")
    assert screen.startswith("Buy nothing yet") == bool(more)
    text = (folder / "o.txt").read_text(encoding="utf-8")
    assert text.startswith("NOT TO BE SENT YET. First:\nfar reads 3.025 mm, 7 times its" if more else "To: ")
    with (folder / "o.csv").open(encoding="utf-8") as file:
        first, *rows = csv.DictReader(file)
    assert ("NOT TO BE SENT YET" in first["part"]) == bool(more)
    assert ([row["part"] for row in rows][-2:], first["pieces"]) == (["(postage)", "(total)"], "" if more else "1")
    files = [line for line in told.splitlines() if "o.csv" in line or "o.txt" in line]
    assert ["not to be sent yet" in line for line in files] == [bool(more)] * 2
    # the list is read again all the same
    code, out, _ = run("order", folder, "--came", folder / "came.csv", "--ordered", folder / "o.csv")
    assert (code, out.startswith("Complete: both pieces")) == (1 if more else 0, True)


def test_what_is_blank_in_an_order_is_said_where_it_is_written(tmp_path: Path, run_unfolded: Run) -> None:
    folder = job(tmp_path, "")
    _, _, told = run_unfolded("order", folder, "-o", folder / "o.txt")
    assert told == (
        f"Written: {folder / 'o.txt'}; blank in it, for the job does not say: Contact (`contact`), "
        "Deliver to (`deliver_to`) and Order no. (`order_number`)\n"
    )
