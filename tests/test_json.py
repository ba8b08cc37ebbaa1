"""The JSON that other programs read: its keys, its exact numbers, and that Python gives the same object."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

import shimopt
from shimopt.lengths import mm_number
from shimopt.render.json.results_json import json_text

DEMO = Path(__file__).parents[1] / "demo_data"
LEVELS = [
    "outside",
    "miss",
    "unproven",
    "doubt",
    "excess",
    "bought",
    "opened",
    "pieces",
    "cautions",
    "spread",
    "target",
    "cost",
]


def test_the_object_has_the_keys_that_other_programs_rely_on() -> None:
    found = shimopt.plan(shimopt.load_job(DEMO / "quarry-tram")).to_dict()
    assert {
        "format",
        "title",
        "lengths_in",
        "doable",
        "gaps",
        "places",
        "balances",
        "totals",
        "levels",
        "findings",
        "reasons",
    } <= set(found)
    assert (found["format"], found["lengths_in"], found["doable"]) == (1, "mm", False)
    for gap in found["gaps"]:
        assert {"name", "reading", "window", "needed", "aim", "after", "verdict", "sure", "chance", "nearest"} <= set(
            gap
        )
        assert set(gap["reading"]) == {"low", "best", "high", "basis"}
    for place in found["places"]:
        assert {"name", "seat", "stack", "thickness"} <= set(place)
        assert all({"part", "piece", "pieces", "to_buy"} <= set(entry) for entry in place["stack"])
    for balance in found["balances"]:
        assert set(balance) >= {"name", "gaps", "spread_before", "spread_after", "within", "met"}
    assert [level["name"] for level in found["levels"]] == LEVELS
    assert all(set(level) == {"name", "value", "bound", "proven", "proof"} for level in found["levels"])
    assert all({"place", "part", "grade", "code", "words"} <= set(finding) for finding in found["findings"])
    assert all(set(reason) == {"about", "code", "words"} for reason in found["reasons"])


def test_the_tram_s_nearest_miss_is_told_and_not_fitted() -> None:
    found = shimopt.plan(shimopt.load_job(DEMO / "quarry-tram")).to_dict()
    gap = next(gap for gap in found["gaps"] if gap["name"] == "rear right")
    # by hand: 0.71 - 2 x 0.085 (0.10 with +0/-0.03) = 0.54 mm, 0.04 over 0.50 mm
    assert gap["nearest"]["off"] == 0.04
    assert gap["nearest"]["after"]["best"] == 0.54
    assert gap["nearest"]["stack"][0]["part"] == "PS50-0.1"
    assert next(place for place in found["places"] if place["name"] == "rear right")["stack"] == []
    assert next(b for b in found["balances"] if b["name"] == "rear axle")["met"] is None


def test_numbers_are_exact_to_the_nanometre() -> None:
    found = shimopt.plan(shimopt.load_job(DEMO / "swing-bridge")).to_dict()
    text = json.loads(json_text(found), parse_float=Decimal)
    upper = text["gaps"][0]
    # by hand: 17 thou = 0.4318 mm, 18 thou = 0.4572 mm, the middle 0.4445 mm; 6 and 13 thou = 0.1524 and 0.3302 mm
    assert upper["reading"] == {
        "low": Decimal("0.4318"),
        "best": Decimal("0.4445"),
        "high": Decimal("0.4572"),
        "basis": "worst case",
    }
    assert upper["needed"] == {"least": Decimal("0.1524"), "most": Decimal("0.3302")}
    assert upper["aim"] == {"least": Decimal("0.1397"), "most": Decimal("0.3429")}


@given(nm=st.integers(-(10**10), 10**10))
def test_a_whole_nanometre_survives_the_way_through_json(nm: int) -> None:
    assert Decimal(json.dumps(mm_number(nm))) == Decimal(nm) / 1_000_000


def test_a_third_of_a_nanometre_is_rounded_half_to_even_at_a_billionth_of_a_millimetre() -> None:
    assert mm_number(Fraction(1, 3)) == 3.33e-07
    assert mm_number(Fraction(1, 2000)) == 0.0  # 0.5e-9 mm lies between 0 and 1e-9: to the even one
    assert mm_number(Fraction(3, 2000)) == 2e-09


def test_reading_a_job_again_gives_the_same_object() -> None:
    texts = {json_text(shimopt.plan(shimopt.load_job(DEMO / "quarry-tram"), buy=True).to_dict()) for _ in range(3)}
    assert len(texts) == 1


def test_public_names_are_those_promised_and_all_can_be_had() -> None:
    assert {"load_job", "plan", "Plan", "Job", "InputError", "FaultError", "ShimoptError"} <= set(shimopt.__all__)
    assert all(getattr(shimopt, name) is not None for name in shimopt.__all__)
    assert set(dir(shimopt)) == set(shimopt.__all__)
    assert (Path(shimopt.__file__).parent / "py.typed").exists()
