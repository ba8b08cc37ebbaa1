"""A job whose suppliers charge in several currencies, and what cannot be changed into one.

By hand: one EUR costs 0.86 GBP. Two shims at 1.25 EUR with 2.50 EUR of postage are 5.00 EUR, 4.30 GBP; the same from
the other supplier, two at 1.50 GBP with 1.40 GBP of postage, 4.40 GBP.
"""

from __future__ import annotations

import csv
import io
import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.words.adding_words import adding, rounded
from tests.command import Run

RATES = 'rates = { EUR = { rate = 0.86, source = "bank\'s list, 3 March" } }\n'
JOB = f"""\
title = "Two pawls"
unit = "mm"
catalogues = ["catalogue.csv"]
currency = "GBP"
{RATES}[window]
min = 0.1
max = 0.4
source = "yard's book, page 12"
[[gap]]
name = "port"
value = "0.70 mm ± 0.02 mm"
[[gap]]
name = "starboard"
value = "0.72 mm ± 0.02 mm"
[[supplier]]
name = "Ostrand"
postage = 2.50
[[supplier]]
name = "Quay"
postage = 1.40
currency = "GBP"
"""
CATALOGUE = """\
part,thickness_mm,price,currency,supplier,lead_days
O-45,0.45,1.25,EUR,Ostrand,4
Q-45,0.45,1.50,,Quay,4
"""


def job(folder: Path, *edits: tuple[str, str, str]) -> Path:
    texts = {"job.toml": JOB, "catalogue.csv": CATALOGUE}
    for file, old, new in edits:
        assert old in texts[file]
        texts[file] = texts[file].replace(old, new)
    for file, text in texts.items():
        (folder / file).write_text(text, encoding="utf-8")
    return folder


def test_costs_are_compared_in_the_jobs_currency(tmp_path: Path, run: Run) -> None:
    code, out, _ = run("order", job(tmp_path), "--json")
    found = json.loads(out)
    assert (code, found["cost"], found["currency"]) == (0, 4.3, "GBP")
    (line,), (bill,) = found["lines"], found["suppliers"]
    assert (line["part"], line["pieces"], line["cost"], line["charged"], line["charged_in"]) == (
        "O-45",
        2,
        2.15,
        2.5,
        "EUR",
    )
    assert (bill["total"], bill["charged"], bill["charged_in"]) == (4.3, 5, "EUR")
    assert found["rates"] == [{"currency": "EUR", "rate": 0.86, "source": "bank's list, 3 March"}]
    assert "One EUR costs 0.86 GBP: bank's list, 3 March." in found["assumed"]


def test_a_dearer_euro_gives_the_order_to_the_other(tmp_path: Path, run: Run) -> None:
    # 5.00 EUR at 0.89 are 4.45 GBP
    _, out, _ = run("order", job(tmp_path, ("job.toml", "0.86", "0.89")), "--json")
    found = json.loads(out)
    assert ([line["part"] for line in found["lines"]], found["cost"]) == (["Q-45"], 4.4)


def test_what_is_shown_of_a_converted_order_adds_up(tmp_path: Path, run: Run) -> None:
    """1.60 and 1.10 EUR at 0.86 are 1.376 and 0.946, 2.322 together; 2.50 EUR postage are 2.15: 4.472 in all.

    Rounded each by itself 1.38 and 0.95 would come to 2.33.
    """
    edits = [
        ("job.toml", 'value = "0.72 mm ± 0.02 mm"', 'value = "1.20 mm ± 0.02 mm"'),
        ("catalogue.csv", "1.25,EUR", "1.60,EUR"),
        ("catalogue.csv", "Q-45,0.45,1.50,,Quay,4", "O-90,0.90,1.10,EUR,Ostrand,4"),
    ]
    out = run("order", job(tmp_path, *edits))[1]
    assert "Ostrand: 4.47 GBP (goods 2.32 GBP, postage 2.15 GBP), charged as 5.20 EUR" in " ".join(out.split())
    assert "1 x O-45: 1.38 GBP" in out
    assert "1 x O-90: 0.94 GBP" in out


@given(st.lists(st.fractions(min_value=0, max_value=50, max_denominator=9999), min_size=1, max_size=6))
def test_rounded_amounts_add_to_the_rounded_sum_each_within_a_coin(amounts: list[Fraction]) -> None:
    whole = rounded(sum(amounts, Fraction(0)), 2)
    found = adding(amounts, whole, 2)
    assert sum(found) == whole
    assert all(abs(one - amount) < Fraction(1, 100) for one, amount in zip(found, amounts, strict=True))


def test_each_supplier_is_written_to_in_its_own_currency(tmp_path: Path, run: Run) -> None:
    code, out, _ = run("order", job(tmp_path), "-o", tmp_path / "o.txt", "-o", tmp_path / "o.csv")
    assert code == 0
    assert "Ostrand: 4.30 GBP (goods 2.15 GBP, postage 2.15 GBP), charged as 5.00 EUR" in " ".join(out.split())
    text = (tmp_path / "o.txt").read_text(encoding="utf-8")
    lines = [line.split() for line in text.splitlines()]
    assert ["2", "pieces", "at", "1.25", "EUR", "each", "2.50", "EUR"] in lines
    assert [line for line in lines if line[:1] in (["Goods"], ["Postage"], ["Total"])] == [
        ["Goods", "2.50", "EUR"],
        ["Postage", "2.50", "EUR"],
        ["Total", "5.00", "EUR"],
    ]
    assert "GBP" not in text
    rows = list(csv.DictReader(io.StringIO((tmp_path / "o.csv").read_text(encoding="utf-8"))))
    assert [(row["part"], row["cost"], row["currency"]) for row in rows] == [
        ("O-45", "2.5", "EUR"),
        ("(postage)", "2.5", "EUR"),
        ("(total)", "5.0", "EUR"),
    ]


def test_bundle_prices_are_changed_too_and_shown_as_charged(tmp_path: Path, run: Run) -> None:
    """Two at 0.90 EUR: 1.80 + 2.50 = 4.30 EUR, at 0.86 3.698 GBP, exact in the cost."""
    path = job(
        tmp_path,
        ("catalogue.csv", "price,", "price,price_from,"),
        ("catalogue.csv", "1.25,", "1.25,2 at 0.90,"),
        ("catalogue.csv", "1.50,", "1.50,,"),
    )
    _, out, _ = run("order", path, "--json")
    assert json.loads(out)["cost"] == 3.698
    _, out, _ = run("order", path)
    assert "2 x O-45: 1.55 GBP (0.90 EUR each from 2 on), 4 days" in out


def test_the_only_currency_without_a_rate_is_the_jobs_own(tmp_path: Path, run: Run) -> None:
    _, out, _ = run("order", job(tmp_path, ("job.toml", 'currency = "GBP"\nrates', "rates")), "--json")
    found = json.loads(out)
    assert (found["cost"], found["currency"]) == (4.3, "GBP")


def test_a_job_names_the_currency_of_prices_that_name_none(tmp_path: Path, run: Run) -> None:
    edits = [("catalogue.csv", "EUR", ""), ("job.toml", 'postage = 1.40\ncurrency = "GBP"', "postage = 1.40")]
    _, out, _ = run("order", job(tmp_path, *edits), "--json")
    # two at 1.50 and 1.40: 4.40; two at 1.25 and 2.50: 5.00
    assert (json.loads(out)["cost"], json.loads(out)["currency"]) == (4.4, "GBP")


def test_plan_that_may_buy_counts_in_it_too(tmp_path: Path, run: Run) -> None:
    code, out, _ = run("plan", job(tmp_path), "--buy", "--json")
    found = json.loads(out)
    # without postage: 2 x 1.25 EUR = 2.15 GBP, which is below 3.00 GBP
    assert (code, found["totals"]["cost"]) == (0, 2.15)
    assert "One EUR costs 0.86 GBP: bank's list, 3 March." in run("plan", tmp_path, "--buy")[1]


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        (
            [
                (
                    "job.toml",
                    'currency = "GBP"\nrates = { EUR = { rate = 0.86, source = "bank\'s list, 3 March" } }\n',
                    "",
                )
            ],
            ": catalogue.csv, row 3, column currency: prices are in EUR, GBP, and no rate says what one GBP costs "
            '(here: GBP). Give all prices in one currency, or say in the job what another costs: currency = "EUR", '
            "rates = { GBP = ... }.",
        ),
        (
            [("catalogue.csv", "EUR", "NOK")],
            "row 2, column currency: prices are in GBP, NOK, and no rate says what one NOK costs (here: NOK). Say "
            "what it costs in the job: rates = { NOK = ... }.",
        ),
        (
            [("catalogue.csv", "EUR", "NOK"), ("catalogue.csv", "1.50,,", "1.50,NOK,"), ("job.toml", "0\ncur", "0 #")],
            "row 2, column currency: prices are in NOK, and no rate says what one NOK costs (here: NOK). Say what it",
        ),
        (
            [("job.toml", 'postage = 1.40\ncurrency = "GBP"', "postage = 0")],
            # as the catalogue states them, not as they are counted
            "row 3, column currency: this price has no currency, and others are in EUR (here: 1.5)",
        ),
        # Ostrand's postage is in EUR as its first price is; what its second price is in, nobody says
        (
            [("catalogue.csv", "Q-45,0.45,1.50,,Quay", "Q-45,0.45,1.50,,Ostrand")],
            "catalogue.csv, row 3, column currency: this price has no currency, and others are in EUR (here: 1.5)",
        ),
        # the same in the job's own currency, which needs no rate
        (
            [
                ("catalogue.csv", "Q-45,0.45,1.50,,Quay", "Q-45,0.45,1.50,,Ostrand"),
                ("catalogue.csv", "EUR", "GBP"),
            ],
            "catalogue.csv, row 3, column currency: this price has no currency, and others are in GBP (here: 1.5)",
        ),
        ([("job.toml", "0.86,", "0,")], "[rates], EUR.rate: a rate is a number above 0"),
        ([("job.toml", "0.86,", "0.1234567,")], "with at most 6 decimals"),
        ([("job.toml", 'source = "bank\'s list, 3 March"', 'source = "?"')], "a source says who states"),
        ([("job.toml", "rates = { EUR", "rates = { GBP")], "this is the job's own currency"),
        (
            [("catalogue.csv", "Q-45,0.45,1.50,,Quay", "Q-45,0.45,1.50,GBP,Ostrand")],
            "row 3, column currency: Ostrand charges in EUR, and sends one bill (here: GBP)",
        ),
        # two rows of the same terms
        (
            [("catalogue.csv", "Q-45,0.45,1.50,,Quay", "Q-45,0.45,1.50,GBP,Ostrand,4\nQ-46,0.46,1.50,GBP,Ostrand")],
            "row 4, column currency: Ostrand charges in EUR, and sends one bill (here: GBP)",
        ),
        (
            [("catalogue.csv", "supplier,lead_days", "supplier,pack"), ("catalogue.csv", "Quay,4", "Quay,0")],
            "catalogue.csv, row 3, column pack: a count is a whole number from 1",
        ),
    ],
)
def test_what_cannot_be_changed_is_refused_by_row(
    tmp_path: Path, run: Run, edits: list[tuple[str, str, str]], words: str
) -> None:
    code, out, err = run("order", job(tmp_path, *edits))
    assert (code, out) == (2, "")
    assert words in " ".join(err.split())


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("1 at 0.50", "from how many packs on each costs so much"),
        ("ten at 0.50", "from how many packs on each costs so much"),
        ("10 at 0.80; 20 at 0.80", "with more packs each costs less"),
        ("20 at 0.80; 10 at 0.70", "with more packs each costs less"),
        ("10 at 1.25", "a bundle price is below the price of one pack"),
        ("10 at x", "number"),
    ],
)
def test_a_bundle_price_that_is_none_is_refused_by_row(tmp_path: Path, run: Run, cell: str, words: str) -> None:
    path = job(
        tmp_path, ("catalogue.csv", "lead_days", "price_from"), ("catalogue.csv", "Ostrand,4", f"Ostrand,{cell}")
    )
    (path / "catalogue.csv").write_text((path / "catalogue.csv").read_text().replace("Quay,4", "Quay,"))
    code, _, err = run("order", path)
    assert code == 2
    assert "catalogue.csv, row 2, column price_from: " in err
    assert words in " ".join(err.split())


def test_several_jobs_say_the_same_of_a_currency(tmp_path: Path, run: Run) -> None:
    folders = [tmp_path / name for name in ("one", "two")]
    for folder in folders:
        folder.mkdir()
    job(folders[0])
    job(folders[1], ("job.toml", "0.86", "0.87"))
    code, _, err = run("order", *folders)
    assert (code, "says that one EUR costs 0.86" in err) == (2, True)
    job(folders[1])
    code, out, _ = run("order", *folders, "--json")
    # four shims and postage once: 7.50 EUR
    assert (code, json.loads(out)["cost"]) == (0, 6.45)


@pytest.mark.parametrize("drawer", ["", "part,thickness_mm,on_hand\n"])
def test_an_empty_drawer_is_one(tmp_path: Path, run: Run, drawer: str) -> None:
    path = job(tmp_path, ("job.toml", "catalogues", 'drawer = "drawer.csv"\ncatalogues'))
    (path / "drawer.csv").write_text(drawer, encoding="utf-8")
    code, out, _ = run("order", path, "--json")
    assert (code, json.loads(out)["cost"]) == (0, 4.3)
    (path / "came.csv").write_text("part,on_hand\nO-45,2\n", encoding="utf-8")
    assert run("order", path, "--came", path / "came.csv", "--yes", "--quiet")[0] == 0
    assert "O-45,0.45,2,came row 2" in (path / "drawer.csv").read_text(encoding="utf-8")
    assert run("order", path)[1].startswith("Nothing to order: ")
