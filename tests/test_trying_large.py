"""What is tried out is right however large its numbers are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.choose import descent
from shimopt.job import load_job
from shimopt.planner import decide
from tests.job_files import write_job

DRAWER = "part,thickness_mm,on_hand\nS-1,1.000001,2\nS-2,2.000002,2\n"


def test_misses_whose_sum_is_beyond_64_bits_are_added_rightly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # twelve gaps read 9 m, with an effect of eight decimals: a tick is 1e-8 nm, each miss is about 9e17 ticks, and all
    # of them come to 1.08e19, above the largest number of 64 bits
    monkeypatch.setattr(descent, "_FEW", 0)
    effects = ["-0.00000001", "-1", *["-1"] * 10]
    places = "".join(f'[[place]]\nname = "{name}"\npieces = {{ min = 0, max = 1 }}\n' for name in ("left", "right"))
    gaps = "".join(
        f'[[gap]]\nname = "g{n}"\nvalue = "9000 mm"\neffects = {{ "left" = {effect}, "right" = -1 }}\n'
        'window = { min = 0, max = 0.1, source = "invented" }\n'
        for n, effect in enumerate(effects)
    )
    found = decide(load_job(write_job(tmp_path, 'unit = "mm"\ndrawer = "drawer.csv"\n' + places + gaps, DRAWER)))
    # by hand [nm]: both take the thick one, which takes the most off every gap: eleven come to
    # 8_999_900_000 - 2 × 2_000_002, and one to 8_999_900_000 - 2_000_002 - 2_000_002 / 10^8
    miss = next(level for level in found.levels if level.name == "miss")
    assert miss.proven
    assert miss.value == 11 * 8_995_899_996 + 8_997_899_998 - Fraction(2_000_002, 10**8)
