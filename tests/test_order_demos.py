"""The orders of the demos: worked out by hand, and a final build simulated from their files with sums of its own."""

from __future__ import annotations

import copy
import csv
import json
import random
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import Any

import pytest

import shimopt
from shimopt.cli.main import main
from shimopt.ordering.order import make_order
from shimopt.render.json.order_json import order_object

DEMO = Path(__file__).parents[1] / "demo_data"
THOU = Fraction(254, 10_000)  # mm


def ordered(name: str, **options: Any) -> dict[str, Any]:
    return order_object(make_order([shimopt.load_job(DEMO / name)], **options))


# -- by hand


def test_the_fulling_mill_by_hand() -> None:
    """All in thou; pieces ± 0.2, final readings ± 0.5 as today's, today's brackets widened by 2.

    A stack of t (± 0.2 a piece) that closes a gap with window 4 to 12 serves readings 4 + 0.5 + t + 0.2n to
    12 - 0.5 + t - 0.2n; one that opens the cover's gap, window 3 to 10, serves minus 3.5 - t + 0.2n to 9.5 - t - 0.2n.

    north end, 28 to 33: 20 serves 24.7 to 31.3, 25 serves 29.7 to 36.3, 10 + 10 24.9 to 31.1, 20 + 5 29.9 to 36.1.
    south end, 15 to 20: 10 serves 14.7 to 21.3, 5 + 5 14.9 to 21.1, 5 alone 9.7 to 16.3.
    step cover, 4 to 9: 10 serves 0.7 to 6.3 of the cover's reading, 10 + 5 5.9 to 11.1; nothing else reaches 9.

    So a 10 lies at the south end, a 10 and the 5 at the cover, and one 10 must be bought; north needs a 20 and a 25
    (the 5 is taken). Singles of Ostler and Daughter: 1.10 + 1.40 + 1.60 = 4.10, above their smallest order of 3, and
    2.75 postage: 6.85. Penhale's packs begin at 3.00 + 3.90 + 5.50.

    Where both serve, the row leaves the gap nearer to the middle of its window, 8: at the north end the 25 takes over
    from the 20 at 8 + 22.5 = 30.5. Blades a thou apart show 28.5, 29.5 and so on, each of them all that is nearest: at
    30.5 both leave as much, and the 20 comes first, so it is fitted up to 31. At the cover 10 serves up to 5.5, the
    last that they show below 6.3: up to 6.
    """
    found = ordered("fulling-mill")
    assert found["sure"]
    assert [(line["supplier"], line["part"], line["packs"], line["cost"]) for line in found["lines"]] == [
        ("Ostler and Daughter", "S-10", 1, 1.1),
        ("Ostler and Daughter", "S-20", 1, 1.4),
        ("Ostler and Daughter", "S-25", 1, 1.6),
    ]
    assert (found["cost"], found["arrives_in_days"], found["holes"]) == (6.85, 11, [])
    cards = {
        card["gap"]: [(band["from"], band["to"], sorted(e["part"] for e in band["stack"])) for band in card["bands"]]
        for card in found["cards"]
    }
    thou = 0.0254
    assert cards == {
        "north end": [
            (pytest.approx(28 * thou), pytest.approx(31 * thou), ["S-20"]),
            (pytest.approx(31 * thou), pytest.approx(33 * thou), ["S-25"]),
        ],
        "south end": [(pytest.approx(15 * thou), pytest.approx(20 * thou), ["S-10"])],
        # gaps under a cover are minus what is read there
        "step cover": [
            (pytest.approx(-9 * thou), pytest.approx(-6 * thou), ["S-05", "S-10"]),
            (pytest.approx(-6 * thou), pytest.approx(-4 * thou), ["S-10"]),
        ],
    }


def test_what_the_fulling_mills_order_is_worth_by_hand() -> None:
    """For the best estimates alone (30.5, 17.5, 6.5) a 20 and a 10 do: 2.50, topped up to 3, and 2.75 postage.

    The final north end is 30.5 with an even error of ± 0.5 and an even move of ± 2 (a density of 1/4 from -1.5 to 1.5):
    the 20 serves up to 31.3, by blades 30.5 and all that is nearest to it: 1/2 + 0.5 / 4 = 0.625. South end and cover
    are served everywhere.
    One neighbour each side: only 5 (a pack for 3.00 and 5.50 postage) is not bought yet.
    Afterwards the 10s are all in; of 5, 20 and 25 one each is left or used.
    """
    found = ordered("fulling-mill")
    assert [(o["name"], o["cost"], o["arrives_in_days"]) for o in found["options"]] == [
        ("exact", 5.75, 11),
        ("sure", 6.85, 11),
        ("neighbours", 15.35, 11),
    ]
    assert [o["chance"] for o in found["options"]] == [pytest.approx(0.625, abs=1e-9), 1, 1]
    assert [(e["part"], e["least"], e["most"]) for e in found["leftovers"]] == [
        ("S-05", 0, 1),
        ("S-20", 0, 1),
        ("S-25", 0, 1),
    ]


def test_with_little_time_the_fulling_mill_orders_from_the_near_shop() -> None:
    """Within 10 days only Penhale delivers: 5s for 3.00, 20s for 3.90, 5.50 postage.

    The south end then takes 5 or 5 + 5 (9.7 to 16.3 and 14.9 to 21.1), so that the drawer's 10 is left for the cover.
    """
    found = ordered("fulling-mill", within_days=10)
    assert [(line["part"], line["packs"]) for line in found["lines"]] == [("S-05", 1), ("S-20", 1)]
    assert (found["cost"], found["sure"]) == (12.4, True)


def test_a_feeler_card_names_neighbouring_blades_out_to_the_uncertainty() -> None:
    """27 to 28 is read at 27.5, half a thou below the range: the gap may still be 28."""
    card = ordered("fulling-mill")["cards"][0]
    rows = [
        (round(row["go"] / 0.0254), round(row["no_go"] / 0.0254), row["stack"][0]["part"]) for row in card["blades"]
    ]
    assert rows == [(n, n + 1, "S-20" if n <= 30 else "S-25") for n in range(27, 34)]


# -- a final build, from the files alone


def length(text: str, unit: Fraction) -> Fraction:
    return Fraction(Decimal(text)) * unit


def sizes_in(folder: Path, unit: str) -> dict[tuple[str, float | None], tuple[Fraction, Fraction]]:
    """Thinnest and thickest of every piece [mm], by name and by what it was measured as."""
    scale = {"mm": Fraction(1), "thou": THOU}[unit]
    sizes = {}
    for file in ("drawer.csv", "catalogue.csv"):
        for row in csv.DictReader((folder / file).read_text(encoding="utf-8").splitlines()):
            size = length(row[f"thickness_{unit}"], scale)
            low, high = (
                [length(part, scale) for part in row[f"tolerance_{unit}"].split("/")[::-1]]
                if "/" in row[f"tolerance_{unit}"]
                else [-length(row[f"tolerance_{unit}"], scale), length(row[f"tolerance_{unit}"], scale)]
            )
            if row.get(f"measured_{unit}"):
                measured, error = (length(row[f"{key}_{unit}"], scale) for key in ("measured", "measuring_error"))
                sizes[row["part"], float(measured)] = (measured - error, measured + error)
            else:
                sizes[row["part"], None] = (size + low, size + high)
    return sizes


def drawer_of(folder: Path) -> Counter[tuple[str, float | None]]:
    rows = csv.DictReader((folder / "drawer.csv").read_text(encoding="utf-8").splitlines())
    return Counter(
        {(r["part"], float(r["measured_mm"]) if r.get("measured_mm") else None): int(r["on_hand"]) for r in rows}
    )


# gap: effect, window [mm], final readings from .. to [mm], how far the gap may lie below and above them
BUILDS = {
    "quarry-tram": (
        "mm",
        {
            "front left": (-1, ("0.2", "0.5"), ("0.9", "0.95"), ("0.025", "0.025")),
            "front right": (-1, ("0.2", "0.5"), ("0.7", "0.75"), ("0.025", "0.025")),
            "rear left": (-1, ("0.2", "0.5"), ("0.4", "0.45"), ("0.025", "0.025")),
            # today's best estimate, 0.71, lies off the middle; the final one is told as the middle of two blades
            "rear right": (-1, ("0.2", "0.5"), ("0.69", "0.74"), ("0.025", "0.025")),
        },
    ),
    "fulling-mill": (
        "thou",
        {
            "north end": (-1, ("4", "12"), ("28", "33"), ("0.5", "0.5")),
            "south end": (-1, ("4", "12"), ("15", "20"), ("0.5", "0.5")),
            "step cover": (1, ("3", "10"), ("-9", "-4"), ("0.5", "0.5")),
        },
    ),
}


def simulate(demo: str, found: dict[str, Any]) -> None:
    """Every reading of every gap on a grid, all gaps' rows combined; then 2000 builds with pieces as they turn out."""
    unit, gaps = BUILDS[demo]
    scale = {"mm": Fraction(1), "thou": THOU}[unit]
    sizes = sizes_in(DEMO / demo, unit)
    box = drawer_of(DEMO / demo)
    for line in (*found["lines"], *found["top_up"]):
        box[line["part"], None] += line["pieces"]
    cards = {card["gap"]: card["bands"] for card in found["cards"]}
    assert set(cards) == set(gaps)

    def row_at(gap: str, reading: Fraction) -> list[tuple[str, float | None]]:
        rows = [b for b in cards[gap] if Fraction(b["from"]) <= reading <= Fraction(b["to"])]
        assert rows, f"the card of {gap} has no row for {float(reading)}"
        return [
            (e["part"], None if e["measured"] is None else float(e["measured"]))
            for e in rows[0]["stack"]
            for _ in range(e["pieces"])
        ]

    # every reading, at every corner of the reading and of the pieces
    for gap, (effect, window, readings, doubt) in gaps.items():
        least, most = (length(end, scale) for end in window)
        start, end = (length(at, scale) for at in readings)
        below, above = (length(by, scale) for by in doubt)
        for step in range(201):
            at = start + (end - start) * step / 200
            stack = row_at(gap, at)
            for corner in product(*(sizes[piece] for piece in stack)):
                for true in (at - below, at + above):
                    assert least <= true + effect * sum(corner, Fraction(0)) <= most
    # whatever the gaps ask for together is in the box
    for rows in product(*(cards[gap] for gap in gaps)):
        asked = Counter(
            (e["part"], None if e["measured"] is None else float(e["measured"]))
            for row in rows
            for e in row["stack"]
            for _ in range(e["pieces"])
        )
        assert asked <= box
    # final builds as they happen: gaps, readings and pieces anywhere in their brackets
    rng = random.Random(7)
    for _ in range(2_000):
        left = Counter(box)
        for gap, (effect, window, readings, doubt) in gaps.items():
            start, end = (length(at, scale) for at in readings)
            below, above = (length(by, scale) for by in doubt)
            at = start + (end - start) * Fraction(rng.randrange(1001), 1000)
            true = at - below + (below + above) * Fraction(rng.randrange(1001), 1000)
            stack = row_at(gap, at)
            left.subtract(stack)
            thick = sum(
                (
                    low + (high - low) * Fraction(rng.randrange(1001), 1000)
                    for low, high in (sizes[piece] for piece in stack)
                ),
                Fraction(0),
            )
            assert length(window[0], scale) <= true + effect * thick <= length(window[1], scale)
        assert min(left.values()) >= 0


def told_by(demo: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    with pytest.raises(SystemExit):
        main(["order", str(DEMO / demo), "--json"])
    return dict(json.loads(capsys.readouterr().out, parse_float=Decimal))


@pytest.mark.parametrize("demo", BUILDS)
def test_a_simulated_final_build_never_lacks_a_stack(demo: str, capsys: pytest.CaptureFixture[str]) -> None:
    simulate(demo, told_by(demo, capsys))


def test_the_simulation_notices_a_wrong_row_a_missing_row_and_a_missing_piece(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A 25 at the north end's 28 could leave 28 - 0.5 - 25.2 = 2.3 of the 4 that must be."""
    found = told_by("fulling-mill", capsys)
    wrong, gapped, short = copy.deepcopy(found), copy.deepcopy(found), copy.deepcopy(found)
    wrong["cards"][0]["bands"][0]["stack"][0]["part"] = "S-25"
    del gapped["cards"][0]["bands"][1]
    del short["lines"][0]
    for spoilt in (wrong, gapped, short):
        with pytest.raises(AssertionError):
            simulate("fulling-mill", spoilt)
