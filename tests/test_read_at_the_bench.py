"""How a gap is read at the bench, as the sheet says it: by what it is, under a cover, and what a reading may hide."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree
from typing import Any

import pytest

from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.reasons.job_facts import NotAsInService
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words
from shimopt.words.read_steps import read_steps
from shimopt.words.speaker import Speaker
from tests.command import Run

ROOT = Path(__file__).parent.parent
ADVICE = ROOT / "tests" / "data" / "advice"
DATE = "2026-05-03"
DRAWER = "part,thickness_thou,on_hand\nS5,5,1\nS3,3,2\nS2,2,2\nB-20,20,0\nC-10,10,0\n"
HEAD = 'unit = "thou"\ndrawer = "drawer.csv"\n[window]\nsource = "invented"\n'


def job_of(folder: Path, text: str, window: str = "min = -2\nmax = 2\n") -> Job:
    (folder / "drawer.csv").write_text(DRAWER)
    (folder / "job.toml").write_text(HEAD + window + text)
    return load_job(folder)


def sheet(job: Job, unit: str = "thou") -> dict[str, Any]:
    return sheet_content(decide(job), unit, DATE)


def finding(job: Job, code: str) -> str:
    (found,) = (one for one in decide(job).findings if one.code == code)
    return finding_words(found, Speaker.of(job))


TAIL = '[[place]]\nname = "tail"\n{}\n[[gap]]\nname = "tail"\ncover_gap = {{ go = 4, no_go = 5{} }}\n'


def test_a_nipped_cover_is_the_right_state_to_read_its_gap_in() -> None:
    """Whoever tightens such a cover as for service, without shims, crushes what it holds by 27 thou."""
    found = decide(load_job(ADVICE / "cover-no-row-serves"))
    assert dict(found.job.gaps[0].state)["clamped"] == "4 bolts nipped evenly, no shims"
    assert not any(isinstance(one.fact, NotAsInService) for one in found.findings)
    paper = sheet_content(found, "thou", DATE)
    (step,) = paper["read"]
    assert step.startswith("worm bearings, no shims in: nip the cover down evenly")
    assert "only until the play is just gone and it still turns" in step
    assert step.endswith("Do not tighten as for service")
    assert paper["gaps"][0]["read"] == "cover stands 27 to 28 thou off"
    assert paper["warnings"] == []


def test_a_gasket_left_out_under_a_cover_asks_for_its_shift_and_not_to_tighten() -> None:
    fact = NotAsInService(state=(("gasket", "none"),), nipped=True)
    said = finding_words(Finding(place="end", grade="caution", fact=fact), Speaker("mm"))
    assert "read it as in service" not in said
    assert said.endswith("state that as its `shift`")


@pytest.mark.parametrize(
    ("place", "reading", "step", "read"),
    [
        ('came_out = ["S5"]', "", "tail, no shims in: nip", "cover stands 4 to 5 thou off"),
        (
            'installed = ["S5"]',
            ", shims_in = true",
            "tail, with the shims in that the job names: nip",
            "cover stands 4 to 5 thou off, shims in",
        ),
    ],
)
def test_the_sheet_says_whether_shims_are_in_under_a_cover(
    tmp_path: Path, place: str, reading: str, step: str, read: str
) -> None:
    paper = sheet(job_of(tmp_path, TAIL.format(place, reading)))
    assert paper["read"][0].startswith(step)
    assert paper["gaps"][0]["read"] == read


def test_what_is_under_no_cover_is_tightened_and_pushed_and_only_that() -> None:
    steps = read_steps(load_job(ROOT / "demo_data" / "fulling-mill"))
    assert [step.split(":")[0] for step in steps] == ["north end and south end"] * 4 + ["step cover, no shims in"]


def test_papers_show_what_was_read_and_by_how_much_it_may_move() -> None:
    """The mill's north end: 30 goes, 31 does not, ± 2 until the final assembly; its cover stood 6 to 7 off."""
    found = decide(load_job(ROOT / "demo_data" / "fulling-mill"))
    read = {gap["name"]: gap["read"] for gap in sheet_content(found, "thou", DATE)["gaps"]}
    assert (read["north end"], read["step cover"]) == ("30 to 31 thou", "cover stands 6 to 7 thou off")
    letter = {gap["name"]: " ".join(gap["sentences"]) for gap in letter_content(found, "thou", DATE)["gaps"]}
    moves = "; until the final assembly it may move by 2 thou."
    assert letter["north end"].startswith(f"Measured 30 to 31 thou{moves}")
    assert letter["step cover"].startswith(f"Without shims the cover stands 6 to 7 thou off{moves}")


CAP = """\
[[place]]
name = "rear cap"
installed = ["C-10", "S3"]
[[gap]]
name = "rear cap"
{}
effects = {{ "rear cap" = {} }}
"""


@pytest.mark.parametrize(
    ("effect", "shim"),
    # a shim out opens an end float; under a cap it is a shim more that opens
    [(-1, "with a thinner pack of known thickness in"), (1, "with a thicker pack of known thickness in")],
)
@pytest.mark.parametrize("reading", ["feeler = { no_go = 1 }", 'value = "0.00 mm"', 'value = "0.00 mm ± 0.01 mm"'])
def test_what_reads_as_nothing_is_read_again_opened(tmp_path: Path, effect: int, shim: str, reading: str) -> None:
    job = job_of(tmp_path, CAP.format(reading, effect), "min = -1\nmax = 4\n")
    assert finding(job, "no_preload_assumed").endswith(f"read it again {shim}")
    assert f"rear cap: read as from nothing, which may hide a preload: read it again {shim}" in read_steps(job)


def test_a_reading_of_nothing_with_a_tolerance_says_from_where_to_where(tmp_path: Path) -> None:
    job = job_of(tmp_path, CAP.format('value = "0 thou ± 1 thou"', -1), "min = -1\nmax = 4\n")
    assert finding(job, "no_preload_assumed").startswith(
        "read as preload 1 to play 1 thou, assuming that there is no more preload"
    )


@pytest.mark.parametrize(
    ("place", "shims_in", "how"),
    [
        ('installed = ["B-20"]', ", shims_in = true", "take a shim out until a blade goes, and read it like that"),
        ("", "", "read that play instead"),
    ],
)
def test_a_cover_that_may_rest_on_the_case_is_on_the_sheet(tmp_path: Path, place: str, shims_in: str, how: str) -> None:
    text = TAIL.replace("go = 4, no_go = 5", "no_go = 1").format(place, shims_in)
    job = job_of(tmp_path, text)
    assert read_steps(job)[-1].endswith(f"there is play of a size that nobody knows: {how}")
    assert finding(job, "cover_free_assumed").endswith(how)


def test_there_is_room_for_what_the_instrument_gives() -> None:
    gearbox = sheet(load_job(ADVICE / "thin-against-gear"), "mm")
    assert gearbox["noted"] == []
    assert gearbox["gaps"][0]["blanks"] == [
        "case depth",
        "gasket",
        "cover spigot",
        "laygear over washers",
        "rear thrust washer",
    ]
    assert gearbox["read"] == ["layshaft: measure again what it is built up of"]
    wheel = sheet(load_job(ROOT / "tests" / "data" / "crown-wheel"), "mm")
    assert [gap["blanks"] for gap in wheel["gaps"]] == [
        ["place 1", "place 2", "place 3", "place 4", "smallest"],
        ["running torque"],
    ]
    assert sheet(load_job(ROOT / "demo_data" / "swing-bridge"))["noted"] == ["goes", "does not go"]


STATE = '[[gap]]\nname = "end"\nfeeler = {{ go = 1, no_go = 2 }}\n[state]\n{} = "{}"\n'


@pytest.mark.parametrize(
    ("key", "told"),
    [("gasket", text) for text in ("no gasket", "not there", "removed", "missing", "left off", "not fitted yet")]
    + [("gasket", text) for text in ("absent", "dry fit, no gasket", "paper, used", "none", "old one", "out")]
    + [("clamped", text) for text in ("half torque", "a third of the torque", "10 Nm of 40 Nm", "pre-torque")]
    + [("clamped", text) for text in ("finger tight (torque later)", "first stage of torque", "snug, 3 in bolts")]
    + [("clamped", "final minus one turn")],
)
def test_a_state_that_is_not_yet_as_in_service_is_seen(tmp_path: Path, key: str, told: str) -> None:
    job = job_of(tmp_path, STATE.format(key, told), "min = 0\nmax = 3\n")
    assert told in finding(job, "not_as_in_service")


@pytest.mark.parametrize(
    ("key", "told"),
    [("gasket", text) for text in ("paper, new, dry", "no. 12 paper, new", "new, without sealer", "fitted")]
    + [("clamped", text) for text in ("20 N·m", "torque of 20 Nm", "240 in-lb", "final torque", "as in service")],
)
def test_a_state_as_in_service_is_no_caution(tmp_path: Path, key: str, told: str) -> None:
    job = job_of(tmp_path, STATE.format(key, told), "min = 0\nmax = 3\n")
    assert "not_as_in_service" not in {one.code for one in decide(job).findings}


def test_what_was_read_after_a_fitting_is_not_called_read_on_trial(tmp_path: Path, run: Run) -> None:
    """The worm's cover was nipped on trial; 5 to 6 thou of preload were read after its shims went in."""
    folder = tmp_path / "job"
    copytree(ADVICE / "cover-no-row-serves", folder)
    found = "worm bearings=preload 5 to 6 thou"
    who = ("--person", "M. Hale", "--instrument", "torque gauge", "--date", DATE)
    assert run("record", folder, "--after", found, *who)[0] != 2
    paper = sheet_content(decide(load_job(folder)), "thou", DATE)
    assert paper["heading"] == f"read after fitting ({DATE})"
    assert paper["state"] == []
    assert paper["gaps"][0]["read"] == "preload 5 to 6 thou"
    on_trial = sheet(load_job(ADVICE / "cover-no-row-serves"))
    assert on_trial["heading"] == "read"
    assert on_trial["state"] == ["Clamped: 4 bolts nipped evenly, no shims."]
