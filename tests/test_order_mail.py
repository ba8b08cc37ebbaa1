"""The order to each supplier, as mail: the expected texts are written by hand from the job's figures."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from tests.conftest import Run

# two gaps of one felt roll: 5 pieces for 7.10 of a smallest order of 10.00. By hand: a stack s serves best estimates of
# s + 0.085 to s + 0.175 (window 0.06 to 0.20, read to 0.025), drive side's is 0.35 to 0.50, tending side's 0.05 less.
# 2 x F-20, F-25, 2 x F-30 come to 7.00: 14.00 too, as many pieces and days. Both leave drive side at 0.475 on the limit
# with F-30 (0.175 + 0.025), 0.045 from the middle, and are three sizes. But without an F-25 of its own drive side has
# F-20 at 0.375 on the limit as well; with it 0.35 to 0.405 stays 0.015 clear of either limit: the second F-25 is bought
ROLL = """\
title = "Felt roll 3"
shop = "Hale Millwrights"
unit = "mm"
drawer = "drawer.csv"
catalogues = ["cat.csv"]
currency = "GBP"
rates = { EUR = 0.86 }
shift = 0.05
window = { min = 0.06, max = 0.20, source = "mill drawing 4471, sheet 2" }
[[gap]]
name = "drive side"
value = "0.425 mm ± 0.025 mm"
[[gap]]
name = "tending side"
value = "0.375 mm ± 0.025 mm"
[[supplier]]
name = "Alder Shims"
postage = 4
smallest_order = 10
[[supplier]]
name = "Kessel Ringe"
postage = 9
smallest_order = 12
currency = "EUR"
"""
PARTS = """\
part,thickness_mm,inner_mm,price,price_from,pack,currency,supplier,lead_days
F-10,0.10,60.2,1.20,10 at 0.80,1,GBP,Alder Shims,5
F-20,0.20,60.2,1.30,10 at 0.90,1,GBP,Alder Shims,5
F-25,0.25,60.2,1.40,,1,GBP,Alder Shims,5
F-30,0.30,60.2,1.50,,1,GBP,Alder Shims,5
K-10,0.10,60.2,1.00,5 at 0.60,1,EUR,Kessel Ringe,3
K-20,0.20,60.2,1.10,5 at 0.70,1,EUR,Kessel Ringe,3
K-30,0.30,60.2,1.10,,1,EUR,Kessel Ringe,3
"""
# each supplier offers the only size that serves one of three gaps
THREE = """\
title = "Three bores"
unit = "mm"
catalogues = ["cat.csv"]
currency = "GBP"
rates = { EUR = 0.50 }
window = { min = 0.06, max = 0.20, source = "drawing 1" }
[[gap]]
name = "a"
feeler = { go = 0.40, no_go = 0.45 }
[[gap]]
name = "b"
feeler = { go = 0.90, no_go = 0.95 }
[[gap]]
name = "c"
feeler = { go = 2.90, no_go = 2.95 }
[[supplier]]
name = "Alder Shims"
postage = 2
[[supplier]]
name = "A house of rings with a name that is longer than any line of any mail has room"
postage = 1.50
currency = "EUR"
[[supplier]]
name = "Third"
postage = 0
"""
OF_THREE = """\
part,thickness_mm,tolerance_mm,inner_mm,outer_mm,material,price,price_from,pack,currency,supplier,lead_days
F-30,0.30,0.01,60.2,70,spring steel,4.00,,5,GBP,Alder Shims,5
K-80,0.8,,,,,3.00,,1,EUR,A house of rings with a name that is longer than any line of any mail has room,
T-140,1.40,,,70,,,,1,GBP,Third,
"""


def written(folder: Path, job: str, parts: str) -> Path:
    folder.mkdir()
    (folder / "job.toml").write_text(job, encoding="utf-8")
    (folder / "cat.csv").write_text(parts, encoding="utf-8")
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand,at\nP-05,0.05,1,tin 1\n", encoding="utf-8")
    return folder


def mail(run: Run, folder: Path, *options: str) -> str:
    run("order", folder, "--quiet", "--date", "2026-11-26", "-o", folder / "order.txt", *options)
    text = (folder / "order.txt").read_text(encoding="utf-8")
    assert all(len(line) <= 80 and line == line.rstrip() for line in text.splitlines())
    return text


def test_an_order_can_be_sent_as_it_stands(tmp_path: Path, run: Run) -> None:
    stated = (
        'contact = "Weir Lane 4, Oxcombe; stores@hale.example"\ndeliver_to = "Dock Gate 2, Oxcombe, hours 7 to 12"\n'
        'order_number = "HM-0417"\n'
    )
    contact = ROLL.replace("unit =", f"{stated}unit =", 1)
    text = mail(run, written(tmp_path / "roll", contact, PARTS), "--no-top-up")
    assert text == (
        """\
To:         Alder Shims
From:       Hale Millwrights
Contact:    Weir Lane 4, Oxcombe; stores@hale.example
Deliver to: Dock Gate 2, Oxcombe, hours 7 to 12
Date:       2026-11-26
Order no.:  HM-0417
Reference:  Felt roll 3

Please send:

  F-20: 0.20 mm thick, bore 60.2 mm
      1 piece at 1.30 GBP                                       1.30 GBP
  F-25: 0.25 mm thick, bore 60.2 mm
      2 pieces at 1.40 GBP each                                 2.80 GBP
  F-30: 0.30 mm thick, bore 60.2 mm
      2 pieces at 1.50 GBP each                                 3.00 GBP

      Goods                                                     7.10 GBP
      Postage                                                   4.00 GBP
      Total                                                    11.10 GBP

Delivery in 5 days, as you state it.
Your smallest order is 10.00 GBP, and these goods come to 7.10 GBP: do
you send them so? If not, please say what you charge for them.
Please confirm the order and the day of delivery.

Hale Millwrights
"""
    )


def test_three_suppliers_get_a_mail_each_with_blanks_for_what_nobody_stated(tmp_path: Path, run: Run) -> None:
    """0.40 to 0.45, less 0.25 to 0.35 is inside: 0.30, 0.80, and 1.40 twice."""
    text = mail(run, written(tmp_path / "three", THREE, OF_THREE))
    first, second, third = text.split("=" * 72)
    for one in (first, second, third):
        blank = "____________________"
        assert f"From:       {blank}\nContact:    {blank}\nDeliver to: {blank}\nDate:       2026-11-26\n" in one
        assert f"Order no.:  {blank}\n" in one
        assert one.rstrip().endswith("the day of delivery.")
    assert (
        """
  K-80: 0.80 mm thick
      1 piece at 3.00 EUR                                       3.00 EUR

      Goods                                                     3.00 EUR
      Postage                                                   1.50 EUR
      Total                                                     4.50 EUR

Please confirm the order and the day of delivery.
"""
        in first
    )
    assert (
        "To:         A house of rings with a name that is longer than any line of\n            any mail has room\n"
        in first
    )
    assert (
        """
  F-30: 0.30 ± 0.01 mm thick, 60.2 x 70 mm (bore x outer), spring steel
      1 pack of 5 (5 pieces) at 4.00 GBP                        4.00 GBP
"""
        in second
    )
    assert (
        """
  T-140: 1.40 mm thick, outer diameter 70 mm
      2 pieces, at your price

Please confirm"""
        in third
    )
    assert "Total" not in third


def test_a_bundle_price_names_from_how_many_on_it_holds(tmp_path: Path, run: Run) -> None:
    """From two on 0.90: the two F-25 come to 1.80."""
    bundle = PARTS.replace("F-25,0.25,60.2,1.40,,", "F-25,0.25,60.2,1.40,2 at 0.90,")
    text = mail(run, written(tmp_path / "roll", ROLL, bundle), "--no-top-up")
    assert "2 pieces at 0.90 GBP each (your price from 2 on)          1.80 GBP\n" in text


def test_the_day_by_which_it_is_wanted_stands_in_it(tmp_path: Path, run: Run) -> None:
    text = mail(run, written(tmp_path / "roll", ROLL, PARTS), "--need-by", "2199-12-24")
    assert "\nWanted by 2199-12-24.\n" in text
    assert "Delivery in" not in text


def test_what_comes_at_last_is_said_of_all_of_it(tmp_path: Path, run: Run) -> None:
    """F-25 takes 9 days and the others 5: nobody promised 9 of them all."""
    slow = PARTS.replace("F-25,0.25,60.2,1.40,,1,GBP,Alder Shims,5", "F-25,0.25,60.2,1.40,,1,GBP,Alder Shims,9")
    text = mail(run, written(tmp_path / "roll", ROLL, slow), "--no-top-up")
    assert "\nDelivery of all of it within 9 days, as you state it.\n" in text


@pytest.mark.parametrize(
    ("size", "unit", "said"),
    [
        ("thickness_thou,tolerance_thou,inner_in\nB,10,0.2,1.502", "thou", "B: 10 ± 0.2 thou thick, bore 1.502 in"),
        # what the maker gives in mm is no short number in thou
        ("thickness_mm,tolerance_mm,inner_in\nB,0.25,,1.502", "thou", "B: 0.25 mm thick, bore 1.502 in"),
    ],
)
def test_sizes_are_written_as_their_maker_would(tmp_path: Path, run: Run, size: str, unit: str, said: str) -> None:
    head, row = size.split("\n")
    job = f"""\
unit = "{unit}"
catalogues = ["cat.csv"]
[[gap]]
name = "a"
window = {{ min = 4, max = 12, source = "drawing 1" }}
feeler = {{ go = 17, no_go = 18 }}
"""
    folder = written(tmp_path / "one", job, f"part,{head},price,supplier\n{row},1.00,Alder\n")
    (folder / "job.toml").write_text(f'{job}[[supplier]]\nname = "Alder"\npostage = 1\n', encoding="utf-8")
    assert f"\n  {said}\n      1 piece at 1.00 " in f"{mail(run, folder)} "


def test_what_fills_a_smallest_order_stands_in_mail_and_list_with_the_same_part(tmp_path: Path, run: Run) -> None:
    folder = written(tmp_path / "roll", ROLL, PARTS)
    run("order", folder, "--quiet", "-o", folder / "list.csv")
    rows = list(csv.DictReader(io.StringIO((folder / "list.csv").read_text(encoding="utf-8"))))
    named = [row["part"] for row in rows]
    assert len(set(named)) == len(named)
    # F-20 twice, F-25 twice, F-30 three times, postage of 4.00: 0.10 short of the smallest order
    assert [row["cost"] for row in rows] == ["2.6", "2.8", "4.5", "4.0", "13.9", ""]
    assert [(row["part"], row["filling_packs"]) for row in rows if row["filling_packs"]] == [
        ("F-20", "1"),
        ("F-30", "1"),
    ]
    assert [(row["thickness_mm"], row["inner_mm"], row["unit_price"]) for row in rows[:1]] == [("0.2", "60.2", "1.3")]
    assert mail(run, folder).count("thick, bore") == sum(bool(row["pieces"]) for row in rows)


def test_a_list_without_a_currency_leaves_a_blank_for_it(tmp_path: Path, run: Run) -> None:
    bare = ROLL.replace('currency = "GBP"\nrates = { EUR = 0.86 }\n', "").replace('currency = "EUR"\n', "")
    text = mail(run, written(tmp_path / "bare", bare, PARTS.replace("GBP", "").replace("EUR", "")))
    assert "\nAll sums in ____________________.\n" in text
    assert "All sums in" not in mail(run, written(tmp_path / "named", ROLL, PARTS))


def test_a_file_that_was_there_is_said_to_be_replaced(tmp_path: Path, run: Run) -> None:
    folder, sent = written(tmp_path / "roll", ROLL, PARTS), tmp_path / "sent.txt"
    # of shop, contact, deliver_to and order_number the job states the first
    missing = "Contact (`contact`), Deliver to (`deliver_to`) and Order no. (`order_number`)"
    blank = f"; blank in it, for the job does not say: {missing}\n"
    assert run("order", folder, "-o", sent)[2] == f"Written: {sent}{blank}"
    assert run("order", folder, "-o", sent)[2] == f"Replaced: {sent}{blank}"
    (folder / "job.toml").write_text(
        f'contact = "Ada"\ndeliver_to = "Mill Lane"\norder_number = "7"\n{ROLL}', encoding="utf-8"
    )
    assert run("order", folder, "-o", sent)[2] == f"Replaced: {sent}\n"
