"""What a shop knows of its gauges and sizes counts in chances, and in nothing that is called sure."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from scipy import stats

import shimopt
from shimopt.arithmetic.agreement import compare
from shimopt.errors import InputError
from shimopt.probability import Even, Normal, probability, standard_uncertainty
from shimopt.readings import Dial, Spot, feeler_reading, indicator_reading
from tests.command import Run
from tests.job_files import write_job

WINDOW = {"min": "0.10 mm", "max": "0.20 mm", "source": "made up"}
PARTS = [{"part": f"S-{size}", "thickness_mm": f"0.{size}", "on_hand": 2} for size in (10, 15, 20, 25, 30)]


def planned(**keys: object) -> dict[str, object]:
    gap = {"name": "end", "feeler": {"go": "0.35 mm", "no_go": "0.40 mm"}}
    job = {"unit": "mm", "window": WINDOW, "gap": [gap], **keys}
    return shimopt.plan(shimopt.job_from(job, pd.DataFrame(PARTS))).to_dict()


def test_a_feeler_reading_is_even_between_its_blades_and_normal_beside() -> None:
    """0.30 to 0.40 and 0.05: up to 0.32 a normal distribution averaged over the blades, by quadrature."""
    reading = feeler_reading([Spot(go=300_000, no_go=400_000)]).repeating(50_000)
    assert reading.errors == (Even(Fraction(50_000)), Normal(Fraction(50_000) ** 2))
    by_hand = sum(stats.norm.cdf(-30_000 - (k - 999.5) / 20 * 1_000, 0, 50_000) for k in range(2_000)) / 2_000
    assert float(probability(reading.errors, None, Fraction(-30_000))) == pytest.approx(by_hand, abs=1e-6)
    assert reading.bracket == feeler_reading([Spot(go=300_000, no_go=400_000)]).bracket


def test_of_a_dial_it_takes_the_place_of_what_pulls_or_practice_say() -> None:
    """Four pulls, resolution 0.01, error 0.008, s = 0.006: u² = 0.006²/4 + 0.005²/3 + 0.008²/3, JCGM 100, 4.3 and 5."""
    pulls = [410_000, 415_000, 420_000, 411_000]
    reading = indicator_reading(Dial(pulls, resolution=10_000, error=8_000)).repeating(6_000)
    by_hand = (0.006**2 / 4 + 0.005**2 / 3 + 0.008**2 / 3) ** 0.5
    assert standard_uncertainty(reading.errors) / 1e6 == pytest.approx(by_hand, rel=1e-9)
    once = indicator_reading(Dial(pulls[:1], resolution=10_000, error=8_000)).repeating(6_000)
    assert standard_uncertainty(once.errors) / 1e6 == pytest.approx(
        (0.006**2 + 0.005**2 / 3 + 0.008**2 / 3) ** 0.5, rel=1e-9
    )
    # round a wheel the smallest alone counts, however many were pulled
    wheel = indicator_reading(Dial(pulls, resolution=10_000, error=8_000, round_wheel=True)).repeating(6_000)
    assert standard_uncertainty(wheel.errors) == standard_uncertainty(once.errors)
    # at 60 degrees the dial shows twice what the gap is, and errs by half of what it errs by
    lever = indicator_reading(Dial(pulls, 10_000, 8_000, lever_angle=Decimal(60))).repeating(6_000)
    assert standard_uncertainty(lever.errors) / 1e6 == pytest.approx(by_hand / 2, rel=1e-9)


def test_what_is_sure_stays_and_what_is_a_chance_counts_it() -> None:
    """S-20 or S-25 come to 0.15 ± 0.025: 0.025 away from either limit. Normal with 0.05 beside it, far from sure."""
    bare, known = planned(), planned(repeatability={"feeler": "0.05 mm"})
    for one in (bare, known):
        assert one["doable"] is True
    (before,), (after,) = bare["gaps"], known["gaps"]  # type: ignore[misc]
    assert (after["verdict"], after["after"]) == (before["verdict"], before["after"])
    assert before["chance"] == 1
    middle = after["after"]["best"]
    by_hand = (
        sum(
            stats.norm.cdf(0.20, at, 0.05) - stats.norm.cdf(0.10, at, 0.05)
            for at in (middle - 0.025 + (k + 0.5) / 40_000 for k in range(2_000))
        )
        / 2_000
    )
    assert after["chance"] == pytest.approx(by_hand, abs=1e-6)
    assert after["reading_detail"]["repeatability"] == 0.05


def test_a_chance_that_is_asked_is_refused_by_a_gauge_that_repeats_badly() -> None:
    asked = {"decision": {"chance": 0.9}}
    assert planned(**asked)["doable"] is True
    poor = planned(**asked, repeatability={"feeler": "0.05 mm"})
    assert poor["doable"] is False
    (gap,) = poor["gaps"]  # type: ignore[misc]
    assert gap["gauge"]["code"] == "reading"


def test_after_a_record_the_chance_counts_it_still_and_so_does_what_is_plausible() -> None:
    """Nothing else errs but blades of ± 0.025 twice and a gauge of 0.05 twice: 19 times in 20 they are less apart than
    half the width that holds 95 % of two even and one normal error (standard deviation 0.05 times root 2), by sampling.
    """
    import numpy as np
    import pandas as pd

    gap = {"name": "end", "feeler": {"go": "0.35 mm", "no_go": "0.40 mm"}}
    keys = {"unit": "mm", "window": WINDOW, "gap": [gap], "repeatability": {"feeler": "0.05 mm"}}
    stock = pd.DataFrame(PARTS)
    job = shimopt.job_from(keys, stock)
    found = shimopt.record(job, {"end": "0.25 to 0.30 mm"}, person="N. N.", instrument="feelers", read=date(2026, 5, 3))
    rng = np.random.default_rng(1)
    apart = rng.uniform(-0.025, 0.025, (2, 10**6)).sum(axis=0) + rng.normal(0, 0.05 * 2**0.5, 10**6)
    after = shimopt.job_from({**keys, "record": [found.table]}, stock)
    now = {place.name: place.installed for place in after.places}
    (recorded,) = after.records[0].gaps.values()
    assert after.before is not None
    assert recorded.read is not None
    (row,) = compare(after.before, now, {"end": recorded.predicted}, {"end": recorded.read})
    assert float(row.plausible) / 1e6 == pytest.approx(np.quantile(abs(apart), 0.95), rel=0.01)
    assert after.gaps[0].reading.errors == (Even(Fraction(25_000)), Normal(Fraction(50_000) ** 2))


@pytest.mark.parametrize("wrong", ["0 mm", "-0.01 mm", "about 0.01"])
def test_a_repeatability_is_a_length_above_zero(wrong: str) -> None:
    with pytest.raises(InputError, match="repeatability"):
        planned(repeatability={"feeler": wrong})


KESTREL = {"supplier": "Kestrel", "marked": "0.20 mm", "mean": "0.214 mm", "lot": "0.003 mm", "piece": "0.004 mm"}


def fitted(parts: list[dict[str, object]], read: str, **keys: object) -> dict[str, Any]:
    gap = {"name": "end", "value": read}
    job = {"unit": "mm", "window": WINDOW, "gap": [gap], **keys}
    found: dict[str, Any] = shimopt.plan(shimopt.job_from(job, pd.DataFrame(parts))).to_dict()
    return found


def s_20(**cells: object) -> dict[str, object]:
    return {"part": "S-20", "thickness_mm": "0.20", "tolerance_mm": "0.02", "on_hand": 2, "supplier": "Kestrel"} | cells


@pytest.mark.parametrize(("read", "pieces"), [("0.33 mm ± 0.02 mm", 1), ("0.54 mm ± 0.02 mm", 2)])
def test_sizes_that_run_thick_count_in_the_chance_and_in_nothing_sure(read: str, pieces: int) -> None:
    """Even over ± 0.02 less n pieces of 0.214: 0.004 each, and n times 0.003 that their lot has in common."""
    bare, known = fitted([s_20()], read), fitted([s_20()], read, true_size=[KESTREL])
    (before,), (after,) = bare["gaps"], known["gaps"]
    assert bare["places"] == known["places"]
    assert sum(one["pieces"] for one in known["places"][0]["stack"]) == pieces
    for key in ("after", "verdict", "sure", "needed", "aim"):
        assert before[key] == after[key]
    middle, spread = float(read[:4]) - pieces * 0.214, (pieces * 0.004**2 + (pieces * 0.003) ** 2) ** 0.5
    at = [middle - 0.02 + (k + 0.5) / 50_000 for k in range(2_000)]
    by_hand = sum(stats.norm.cdf(0.20, one, spread) - stats.norm.cdf(0.10, one, spread) for one in at) / 2_000
    assert after["chance"] == pytest.approx(by_hand, abs=1e-6)
    assert before["chance"] != pytest.approx(after["chance"], abs=1e-3)


def test_a_chance_decides_by_them() -> None:
    """0.315 less 0.20 ± 0.02: too tight by the label from 0.215 of 0.22 on, less 0.214 it is nearly always near 0.101.

    0.395 less 0.20 ± 0.02: too loose by the label below 0.195 of 0.18 to 0.22, less 0.214 it is 0.181.
    """
    asked = {"decision": {"chance": 0.95}}
    told = [
        fitted([s_20()], read, **asked, **keys)["gaps"][0]
        for read in ("0.315 mm ± 0.001 mm", "0.395 mm ± 0.001 mm")
        for keys in ({}, {"true_size": [KESTREL]})
    ]
    by_hand = (35 / 40, stats.norm.cdf(0.001 / 0.005), 25 / 40, stats.norm.cdf(0.019 / 0.005))
    assert [one["chance"] for one in told] == pytest.approx(by_hand, abs=0.003)
    assert [one["verdict"] for one in told] == ["unproven", "unproven", "unproven", "inside"]
    assert told[-1]["sure"] is False


@pytest.mark.parametrize(
    "cells",
    [
        {"measured_mm": "0.201", "measuring_error_mm": "0.002"},
        {"supplier": "Osier"},
        {"supplier": ""},
        {"thickness_mm": "0.21"},
    ],
)
def test_they_are_of_unmeasured_pieces_of_this_supplier_and_marking(cells: dict[str, object]) -> None:
    parts = [s_20(**cells)]
    bare, known = (fitted(parts, "0.36 mm ± 0.02 mm", **keys) for keys in ({}, {"true_size": [KESTREL]}))
    assert bare["gaps"] == known["gaps"]
    assert "sizes_learnt" not in str(known)


def test_a_lot_that_was_measured_is_counted_by_its_own_figures() -> None:
    """0.36 ± 0.02 less one of lot K9 at 0.206, its own spreads 0.001 and 0.004; of another lot the supplier's."""
    lot = KESTREL | {"of_lot": "K9", "mean": "0.206 mm", "lot": "0.001 mm"}
    at = [0.34 + (k + 0.5) / 50_000 for k in range(2_000)]
    for cells, mean, spread in (({"lot": "K9"}, 0.206, 17e-6**0.5), ({"lot": "K1"}, 0.214, 0.005), ({}, 0.214, 0.005)):
        (found,) = fitted([s_20(**cells)], "0.36 mm ± 0.02 mm", true_size=[KESTREL, lot])["gaps"]
        limits = (stats.norm.cdf(end, [one - mean for one in at], spread) for end in (0.20, 0.10))
        by_hand = float((next(limits) - next(limits)).mean())
        assert found["chance"] == pytest.approx(by_hand, abs=1e-5)


def test_two_lots_of_one_supplier_share_what_is_not_known_of_it() -> None:
    """0.56 ± 0.02 less one of each of two lots: 0.003 of their spreads of 0.005 is the supplier's, and counts twice.

    Beside it each lot has √(0.005² - 0.003²) = 0.004 of its own, and each piece 0.004.
    """
    lots = [
        KESTREL | {"of_lot": lot, "mean": "0.206 mm", "lot": "0.005 mm", "offset": "0.003 mm"} for lot in ("1", "2")
    ]
    parts = [s_20(lot="1", part="A", on_hand=1), s_20(lot="2", part="B", on_hand=1)]
    (found,) = fitted(parts, "0.56 mm ± 0.02 mm", true_size=lots)["gaps"]
    spread = (0.006**2 + 2 * 0.004**2 + 2 * 0.004**2) ** 0.5
    at = [0.54 + (k + 0.5) / 50_000 for k in range(2_000)]
    limits = (stats.norm.cdf(end, [one - 0.412 for one in at], spread) for end in (0.20, 0.10))
    by_hand = float((next(limits) - next(limits)).mean())
    assert found["chance"] == pytest.approx(by_hand, abs=1e-5)
    with pytest.raises(InputError, match="what all lots share is more than what a lot has in common"):
        fitted(parts, "0.56 mm", true_size=[lots[0] | {"offset": "0.006 mm"}])


def test_whether_the_gauge_is_good_enough_counts_them_where_a_chance_decides() -> None:
    """Two of S-20 beside one: 95 % on one side of a triangle over ± 0.04 by the label, 0.04 (1 - √0.1).

    By records normal: 1.645 √(2 × 0.004² + (2 × 0.003)²).
    """
    asked = {"decision": {"chance": 0.95}}
    bare, known = (
        fitted([s_20()], "0.36 mm ± 0.0001 mm", **asked, **keys)["gaps"][0]["gauge"]["uncertainty"]
        for keys in ({}, {"true_size": [KESTREL]})
    )
    assert bare == pytest.approx(0.04 * (1 - 0.1**0.5), abs=1e-4)
    assert known == pytest.approx(1.645 * (2 * 0.004**2 + 0.006**2) ** 0.5, abs=1e-4)


@pytest.mark.parametrize(
    ("mean", "told"), [("0.214 mm", "0.014 mm thick"), ("0.192 mm", "0.008 mm thin"), ("0.204 mm", "")]
)
def test_a_plan_and_fit_say_that_a_maker_runs_thick(run_unfolded: Run, tmp_path: Path, mean: str, told: str) -> None:
    """Said from a quarter of the ± 0.02 on that are printed, 0.005, and not of what was measured."""
    size = "\n".join(f'{key} = "{cell}"' for key, cell in (KESTREL | {"mean": mean}).items())
    job = f"""unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "sheet 4"
[[seat]]
name = "hub"
shaft = "20 mm"
[[gap]]
name = "end"
seat = "hub"
value = "0.34 mm ± 0.02 mm"
[[true_size]]
{size}
"""
    row = "part,thickness_mm,tolerance_mm,on_hand,supplier,measured_mm\nS-20,0.20,0.02,1,Kestrel,"
    folder = write_job(tmp_path, job, f"{row}\n")
    screens = [run_unfolded(command, folder)[1] for command in ("plan", "why", "fit")]
    words = f"Kestrel's 0.20 mm run {told}, by your records"
    assert [words in screen for screen in screens] == [bool(told)] * 3
    runs = json.loads(run_unfolded("fit", folder, "--json")[1])["runs_off"]
    assert [(one["parts"], one["words"]) for one in runs] == ([(["S-20"], words)] if told else [])
    write_job(tmp_path, job, f"{row}0.201\n")
    assert "by your records" not in run_unfolded("plan", folder)[1]


def test_a_slipped_unit_is_refused_and_what_history_writes_is_read(run_unfolded: Run, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the mean is far from what is marked"):
        fitted([s_20()], "0.36 mm", true_size=[KESTREL | {"mean": "0.214 in"}])
    with pytest.raises(InputError, match="one size of one supplier stands there twice"):
        fitted([s_20()], "0.36 mm", true_size=[KESTREL, KESTREL | {"mean": "0.213 mm"}])
    demo = Path(__file__).parents[1] / "demo_data" / "tram-depot" / "measured.csv"
    _, out, _ = run_unfolded("history", demo, "-o", tmp_path / "sizes.toml")
    assert "9 sizes known better than the label: -o sizes.toml writes them" in out
    drawer = "part,thickness_mm,tolerance_mm,on_hand,supplier,lot\nAR-20,0.20,0.02,1,Kestrel Shim Works,K142\n"
    sizes = (tmp_path / "sizes.toml").read_text(encoding="utf-8")
    job = f"""unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "sheet 4"
[[gap]]
name = "end"
value = "0.34 mm ± 0.02 mm"
{sizes}"""
    _, out, _ = run_unfolded("plan", write_job(tmp_path, job, drawer), "--full")
    assert "AR-20: chances count them as thick as your records say that their suppliers' pieces run" in out
    # as lot K142 was measured, not as all their lots
    assert "Kestrel Shim Works's 0.20 mm run 0.012 mm thick" in out or "run 0.013 mm thick" in out
