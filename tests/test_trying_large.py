"""What is tried out is right however large its numbers are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.choose import level_after_level
from shimopt.errors import InputError
from shimopt.job import load_job
from shimopt.planner import decide
from tests.job_files import write_job

DRAWER = "part,thickness_mm,on_hand\nS-1,1.000001,2\nS-2,2.000002,2\n"


def twelve_gaps(folder: Path, value: str) -> Path:
    """Gaps that two places move, with an effect of eight decimals: a tick is 1e-8 nm; one more comes inside."""
    effects = ["-0.00000001", "-1", *["-1"] * 10]
    places = "".join(f'[[place]]\nname = "{name}"\npieces = {{ min = 0, max = 1 }}\n' for name in ("left", "right"))
    gaps = "".join(
        f'[[gap]]\nname = "g{n}"\nvalue = "{value}"\nchecked = true\neffects = {{ "left" = {effect}, "right" = -1 }}\n'
        'window = { min = 0, max = 0.1, source = "invented" }\n'
        for n, effect in enumerate(effects)
    )
    # 4.05 less two of the thick ones; without it nothing would be changed
    served = gaps[gaps.rindex("[[gap]]") :].replace("g11", "served").replace(value, "4.05 mm")
    gaps += served
    return write_job(folder, 'unit = "mm"\ndrawer = "drawer.csv"\n' + places + gaps, DRAWER)


def test_misses_of_many_digits_are_added_rightly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # each miss is about 4e16 ticks, and all of them come to 4.8e17
    monkeypatch.setattr(level_after_level, "_FEW", 0)
    found = decide(load_job(twelve_gaps(tmp_path, "400 mm")))
    # by hand [nm]: both take the thick one, which takes the most off every gap: eleven come to
    # 399_900_000 - 2 × 2_000_002, and one to 399_900_000 - 2_000_002 - 2_000_002 / 10^8
    miss = next(level for level in found.levels if level.name == "miss")
    assert miss.proven
    assert miss.value == 11 * 395_899_996 + 397_899_998 - Fraction(2_000_002, 10**8)


def test_misses_whose_sum_is_beyond_64_bits_are_refused_by_name(tmp_path: Path) -> None:
    # read 9 m: each miss is about 9e17 ticks, all of them 1.08e19, above the largest number of 64 bits
    with pytest.raises(InputError, match=r"gap g1.*more than whole numbers can carry.*fewer decimals"):
        decide(load_job(twelve_gaps(tmp_path, "9000 mm")))
