"""Cases from manuals, each as a job file with its source. The drawers are invented."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from shimopt.job import load_job
from shimopt.lengths import UNITS
from shimopt.planner import Decision, decide
from tests.job_files import write_job

THOU = UNITS["thou"]


def planned(folder: Path, job: str, drawer: str) -> Decision:
    return decide(load_job(write_job(folder, job, drawer)))


def thick(found: Decision, place: str) -> Fraction:
    """Thickness of a stack [thou]."""
    return found.outcome.thickness[place].best / THOU


def after(found: Decision, gap: str) -> Fraction:
    return found.outcome.gaps[gap].after.best / THOU


def test_the_side_covers_of_a_pump_get_equal_shims(tmp_path: Path) -> None:
    # US Army TM 5-3805-261-34: total of both covers = mean gap + 0.008 in, split equally. The covers are pulled down
    # without shims, so that the play is minus the mean gap. Invented: mean gap 0.016 in, so 0.024 in, 0.012 a side
    found = planned(
        tmp_path,
        """
        title = "Pump side covers, after US Army TM 5-3805-261-34"
        unit = "thou"
        drawer = "drawer.csv"
        equal = ["left cover", "right cover"]
        [[place]]
        name = "left cover"
        [[place]]
        name = "right cover"
        [[gap]]
        name = "side play"
        value = -16
        effects = { "left cover" = 1, "right cover" = 1 }
        window = { min = 7, max = 9, target = 8, source = "US Army TM 5-3805-261-34: 0.008 in" }
        """,
        "part,thickness_thou,on_hand\nC-2,2,4\nC-5,5,6\nC-7,7,2\nC-10,10,3\n",
    )
    assert (thick(found, "left cover"), thick(found, "right cover")) == (12, 12)
    assert found.stacks["left cover"] == found.stacks["right cover"]
    assert after(found, "side play") == 8
    assert found.proven
    assert found.outcome.doable


def test_a_spacer_makes_up_a_gasket_and_a_preload(tmp_path: Path) -> None:
    # US Army TM 10-3930-660-34: 0.150 - 0.027 + 0.003 + 0.020 = 0.146 in, the 0.003 in being preload. Written as a gap:
    # what the spacer has to fill, 0.143 in, closed by it to a preload of 0.003 in, which is a gap of -0.003 in
    found = planned(
        tmp_path,
        """
        title = "Spacer, after US Army TM 10-3930-660-34"
        unit = "in"
        drawer = "drawer.csv"
        [stacks]
        most_pieces = 4
        [[gap]]
        name = "bearing"
        value = 0.143
        window = { min = -0.0035, max = -0.0025, target = -0.003, source = "US Army TM 10-3930-660-34" }
        """,
        "part,thickness_in,on_hand\nSP-100,0.100,1\nSP-040,0.040,2\nSP-005,0.005,3\nSP-003,0.003,2\nSP-001,0.001,3\n",
    )
    assert thick(found, "bearing") == 146
    assert after(found, "bearing") == -3
    assert found.outcome.doable


def test_a_pinion_of_another_depth_mark_takes_another_pack(tmp_path: Path) -> None:
    # US Army TM 10-3930-660-34: pack 0.030 in, old mark -2, new mark -5. The manual goes to 0.032 in, then to 0.027 in:
    # the pack without the old mark is 0.030 + 0.002 = 0.032 in, with the new one 0.032 - 0.005 = 0.027 in. Written as a
    # gap: the new pinion stands 0.003 in too far in, which a thinner pack gives back
    found = planned(
        tmp_path,
        """
        title = "Pinion depth, after US Army TM 10-3930-660-34"
        unit = "thou"
        drawer = "drawer.csv"
        [[place]]
        name = "pinion"
        installed = ["P-20", "P-10"]
        [[gap]]
        name = "pinion"
        value = -3
        window = { min = 0, max = 0, source = "US Army TM 10-3930-660-34" }
        """,
        "part,thickness_thou,on_hand\nP-20,20,0\nP-10,10,0\nP-5,5,2\nP-2,2,2\n",
    )
    assert thick(found, "pinion") == 27
    assert found.outcome.levels["opened"] == 1
    assert found.outcome.doable


def test_a_cam_thrust_shim_of_15_leaves_5(tmp_path: Path) -> None:
    # common practice, no source: measured 0.020 in, most allowed 0.006 in, a 0.015 in shim leaves 0.005 in
    found = planned(
        tmp_path,
        """
        title = "Cam thrust"
        unit = "thou"
        drawer = "drawer.csv"
        [[gap]]
        name = "cam thrust"
        value = 20
        window = { min = "none", max = 6, source = "common practice" }
        """,
        "part,thickness_thou,on_hand\nT-10,10,1\nT-15,15,1\n",
    )
    assert thick(found, "cam thrust") == 15
    assert after(found, "cam thrust") == 5


def test_an_upper_kingpin_pack_is_5_more_than_the_lower(tmp_path: Path) -> None:
    # US Army TM 10-3930-660-34: the upper kingpin pack is 0.005 in more than the lower. The offset is between packs, so
    # it is a gap of value 0 that the upper pack opens and the lower one closes. Invented: 0.037 in of play to take up
    found = planned(
        tmp_path,
        """
        title = "Kingpin packs, after US Army TM 10-3930-660-34"
        unit = "thou"
        drawer = "drawer.csv"
        [[place]]
        name = "upper"
        [[place]]
        name = "lower"
        [[gap]]
        name = "kingpin play"
        value = 37
        effects = { upper = -1, lower = -1 }
        window = { min = 1, max = 3, source = "invented" }
        [[gap]]
        name = "upper over lower"
        value = 0
        effects = { upper = 1, lower = -1 }
        window = { min = 5, max = 5, source = "US Army TM 10-3930-660-34: 0.005 in" }
        """,
        "part,thickness_thou,on_hand\nK-5,5,3\nK-10,10,3\nK-20,20,1\n",
    )
    assert thick(found, "upper") - thick(found, "lower") == 5
    assert (thick(found, "upper"), thick(found, "lower")) == (20, 15)
    assert after(found, "kingpin play") == 2


def test_a_replaced_bucket_shim_is_the_old_and_the_measured_less_the_wanted(tmp_path: Path) -> None:
    # common practice, no source: new = old + measured - wanted. 2.50 + 0.32 - 0.20 = 2.62, and of the two sizes at hand
    # 2.60 (leaving 0.22) lies nearer than 2.65 (leaving 0.17)
    found = planned(
        tmp_path,
        """
        title = "Bucket clearance"
        unit = "mm"
        drawer = "drawer.csv"
        [stacks]
        most_pieces = 1
        [[place]]
        name = "valve"
        installed = ["B-2.50"]
        [[gap]]
        name = "valve"
        value = 0.32
        window = { min = 0.15, max = 0.25, source = "invented" }
        """,
        "part,thickness_mm,on_hand\nB-2.50,2.50,0\nB-2.60,2.60,1\nB-2.65,2.65,1\n",
    )
    assert found.outcome.thickness["valve"].best == 2_600_000
    assert found.outcome.gaps["valve"].after.best == 220_000


def test_a_rotor_is_centred_with_the_total_split_as_equally_as_sizes_allow(tmp_path: Path) -> None:
    # by hand: total 0.40 mm of play to 0.10 takes 0.30 mm; the rotor stands 0.06 mm off to the left, which half of
    # the difference makes good: 0.21 left and 0.09 right would be dead centre
    found = planned(
        tmp_path,
        """
        title = "Rotor"
        unit = "mm"
        drawer = "drawer.csv"
        [[place]]
        name = "left"
        [[place]]
        name = "right"
        [[gap]]
        name = "float"
        value = 0.40
        effects = { left = -1, right = -1 }
        window = { min = 0.08, max = 0.12, source = "invented" }
        [[gap]]
        name = "off centre"
        value = -0.06
        effects = { left = 0.5, right = -0.5 }
        window = { min = -0.02, max = 0.02, source = "invented" }
        """,
        "part,thickness_mm,on_hand\nR-0.10,0.10,3\nR-0.20,0.20,2\n",
    )
    assert found.outcome.thickness["left"].best == 200_000
    assert found.outcome.thickness["right"].best == 100_000
    assert found.outcome.gaps["off centre"].after.best == -10_000
