"""What stands before the work, in the first lines of plan, sheet and letter, and is the first step to take.

Each job is one that was told as if nothing were the matter.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.finding_words import finding_words
from shimopt.words.headline import headline
from shimopt.words.next_steps import next_steps
from shimopt.words.order_words import order_headline
from shimopt.words.speaker import Speaker

DATE = "2026-05-03"


def planned(folder: Path, job: str, drawer: str, unit: str = "thou") -> Decision:
    (folder / "drawer.csv").write_text(drawer)
    (folder / "job.toml").write_text(f'unit = "{unit}"\ndrawer = "drawer.csv"\n{job}')
    return decide(load_job(folder))


def first_line(found: Decision) -> str:
    return headline(found, Speaker.of(found.job))


def steps(found: Decision) -> list[str]:
    return next_steps(found, Speaker.of(found.job))


def said_first(found: Decision, begins: str) -> None:
    """It stands in the first lines of all three, before what is to be done, and nobody is told to run it in."""
    unit = found.job.unit
    sheet, letter = sheet_content(found, unit, DATE), letter_content(found, unit, DATE)
    for told in (sheet["warnings"], letter["warnings"]):
        assert any(words.startswith(begins) for words in told), told
    if any(gap.may_be_tight for gap in found.job.gaps):
        assert " not tight already: " in sheet["answer"]
    else:
        assert sheet["answer"].startswith("Once that is settled, if today's figures stand: ")
    assert sheet["answer"].endswith("Else plan again: nothing of this goes in.")
    assert "as it should be" not in letter["answer"]
    assert "as they should be" not in letter["answer"]
    assert not any("running in" in words for words in letter["watch"])


# -- a preload is wanted, and no blade goes --------------------------------------------------------------------------

BLIND = """\
[window]
preload = [2, 3]
source = "sheet"
[[place]]
name = "hub"
installed = ["B-20"]
[[gap]]
name = "hub"
{}
effects = {{ hub = {} }}
"""
B = "part,thickness_thou,on_hand\nB-20,20,0\nB-05,5,1\nB-03,3,2\nB-02,2,2\n"


@pytest.mark.parametrize(
    ("reading", "effect", "begins"),
    [
        (
            "feeler = { no_go = 1 }",
            -1,
            "hub: no blade goes, it may be tight already: turn it (running torque), or read it with a thinner pack of "
            "known thickness in, before anything goes in or comes out.",
        ),
        ("value = 0", -1, "hub: it reads as nothing, it may be tight already: turn it"),
        ('value = "0 thou ± 0.5 thou"', -1, "hub: it reads as nothing, it may be tight already: turn it"),
    ],
)
def test_where_a_preload_is_wanted_a_gap_that_reads_as_nothing_is_never_inside(
    tmp_path: Path, reading: str, effect: int, begins: str
) -> None:
    """It may stand at preload 2 to 3 already, and B-03 more would crush it."""
    found = planned(tmp_path, BLIND.format(reading, effect), B)
    assert found.outcome.gaps["hub"].verdict == "unproven"
    assert not found.outcome.doable
    assert found.outcome.levels["unproven"] == 1
    assert first_line(found).startswith(begins)
    assert "If hub is not tight already: " in first_line(found)
    assert "inside" not in first_line(found)
    assert steps(found)[0].startswith("Turn hub first (running torque), or open it by a known shim")
    assert not any("finer gauge" in step for step in steps(found))
    said_first(found, begins)
    (gap,) = plan_object(found)["gaps"]
    assert (gap["verdict"], gap["sure"], gap["chance"], gap["gauge"]) == ("unproven", False, None, None)


def test_where_play_is_wanted_it_is_still_read_as_nothing_at_least(tmp_path: Path) -> None:
    # 0 to 1 thou under a window of 2 to 4 with 20 in: 17 is out of reach, so it stays, outside
    text = BLIND.format("feeler = { no_go = 1 }", -1).replace("preload = [2, 3]", "min = 0\nmax = 4")
    assert planned(tmp_path, text, B).outcome.gaps["hub"].verdict == "inside"


# -- what is in and does not suit ------------------------------------------------------------------------------------

UNSUITED = """\
[window]
min = 0.10
max = 0.20
source = "book"
[[seat]]
name = "pin"
shaft = "20 mm ± 0.01 mm"
most_pieces = 2
[[place]]
name = "a"
seat = "pin"
installed = ["X-30"]
[[gap]]
name = "a"
feeler = { go = 0.12, no_go = 0.15 }
[[place]]
name = "b"
seat = "pin"
installed = ["Y-10", "Y-10", "Y-10"]
[[gap]]
name = "b"
feeler = { go = 0.12, no_go = 0.15 }
"""
X = "part,thickness_mm,inner_mm,outer_mm,on_hand\nX-30,0.30,26,40,0\nY-10,0.10,20.1,35,1\nY-30,0.30,20.1,35,1\n"


def test_a_right_clearance_does_not_make_right_what_is_in(tmp_path: Path) -> None:
    found = planned(tmp_path, UNSUITED, X, "mm")
    assert {name: gap.verdict for name, gap in found.outcome.gaps.items()} == {"a": "inside", "b": "inside"}
    assert first_line(found).startswith("a: X-30 is in and stays, and does not suit: hangs off centre: bore 26.00 mm")
    assert "b: 3 x Y-10 are in and stay, and at most 2 may lie there." in first_line(found)
    assert steps(found)[0].startswith("Put right first what is in at a and b: with keep = false")
    said_first(found, "a: X-30 is in and stays, and does not suit")
    said_first(found, "b: 3 x Y-10 are in and stay")
    letter = {gap["name"]: " ".join(gap["sentences"]) for gap in letter_content(found, "mm", DATE)["gaps"]}
    assert not any("That is right" in words for words in letter.values())


@pytest.mark.parametrize("stated", ["", "[stacks]\nmost_pieces = 3\n"])
def test_a_limit_that_nobody_stated_is_no_fault_of_what_is_in(tmp_path: Path, stated: str) -> None:
    """Four are in and right; that a place takes 3 is what shimopt assumes, unless the job says it."""
    job = UNSUITED.replace("most_pieces = 2\n", "").replace(', "Y-10"]', ', "Y-10", "Y-10"]').replace('"X-30"', "")
    found = planned(tmp_path, job + stated, X, "mm")
    letter = letter_content(found, "mm", DATE)
    if stated:
        assert first_line(found).startswith("b: 4 x Y-10 are in and stay, and at most 3 may lie there.")
        return
    words = "4 pieces are in; 3 are assumed where nothing says more: write most_pieces = 4 where the seat bears it"
    told = [(one.place, one.grade, finding_words(one, Speaker.of(found.job))) for one in found.findings]
    assert ("b", "caution", words) in told
    assert first_line(found) == "Nothing to fit: both gaps are inside as read."
    assert not any("keep = false" in step for step in steps(found))
    assert letter["warnings"] == []
    assert "pieces are in" not in str(letter)


def test_what_suits_or_comes_out_is_not_named(tmp_path: Path) -> None:
    suits = UNSUITED.replace('"X-30"', '"Y-30"').replace('"Y-10", "Y-10", "Y-10"', '"Y-10", "Y-10"')
    assert "does not suit" not in first_line(planned(tmp_path, suits, X, "mm"))
    # 0.05 too loose: X-30 comes out, and Y-30 with Y-10 make 0.02 to 0.05 of it
    loose = UNSUITED.split('[[place]]\nname = "b"')[0].replace("go = 0.12, no_go = 0.15", "go = 0.22, no_go = 0.25")
    found = planned(tmp_path, loose, X, "mm")
    assert [piece.line for piece in found.changes.at["a"].out]
    assert "does not suit" not in first_line(found)


NONE_GOES = """\
[window]
min = 0.10
max = 0.20
source = "book"
[[seat]]
name = "circlip end"
shims_allowed = false
why = "a circlip would be pushed out"
[[place]]
name = "lay"
seat = "circlip end"
installed = ["T-20"]
[[gap]]
name = "lay"
feeler = {{ go = {}, no_go = {} }}
"""


@pytest.mark.parametrize(
    # with T-20 in, and without its 0.20
    ("go", "no_go", "without"),
    [(0.05, 0.10, "0.25 to 0.30 mm"), (0.10, 0.15, "0.30 to 0.35 mm")],
)
def test_a_shim_where_none_may_lie_is_asked_about(tmp_path: Path, go: float, no_go: float, without: str) -> None:
    found = planned(tmp_path, NONE_GOES.format(go, no_go), "part,thickness_mm,on_hand\nT-20,0.20,0\n", "mm")
    begins = (
        "lay: T-20 is in, and no shim may lie there (a circlip would be pushed out). Is that the fixed part itself?"
    )
    assert first_line(found).startswith(begins)
    assert f"Else take it out: lay then reads {without}." in first_line(found)
    assert steps(found)[0] == "Find out first why shims are in at lay, where none goes."
    said_first(found, begins)
    letter = " ".join(letter_content(found, "mm", DATE)["gaps"][0]["sentences"])
    assert "That is right" not in letter


# -- readings that cannot be relied on -------------------------------------------------------------------------------

TILT = """\
[window]
min = 3
max = 6
source = "book"
[[gap]]
name = "thrust"
feeler = [{ go = 12, no_go = 13 }, { go = 8, no_go = 9 }, { go = 12, no_go = 13 }, { go = 16, no_go = 17 }]
"""
OTHER = """\
[[gap]]
name = "other"
feeler = { snug = 5, step = 1 }
after_cover = { go = 1, no_go = 2 }
"""
T = "part,thickness_thou,on_hand\nT-05,5,2\nT-08,8,1\nT-03,3,1\n"


def test_a_tilted_face_is_said_first_with_its_figures(tmp_path: Path) -> None:
    found = planned(tmp_path, TILT, T)
    # at the spot that reads 8 to 9, T-08 would leave 0 to 1; the highest low, 16, is 7 over the lowest high, 9
    begins = "thrust: the spots read from 8 to 17 thou, 7 thou more apart than their brackets allow"
    said_first(found, begins)
    assert "Measure thrust again before anything is fitted." in first_line(found)
    assert "come inside" not in first_line(found)
    assert steps(found)[0].startswith("Measure thrust again")


def test_what_is_settled_first_is_over_its_gap_and_is_watched_first(tmp_path: Path) -> None:
    """Thrust is tilted, other reads otherwise closed up: by what was read neither limit is the one to watch."""
    letter = letter_content(planned(tmp_path, TILT + OTHER, T), "thou", "2026-05-03")
    status = {gap["name"]: gap["status"] for gap in letter["gaps"]}
    assert set(status) == {"thrust", "other"}
    assert status["thrust"] == "measured again first"
    assert status["other"].endswith("to be settled first")
    assert letter["watch"][0] == "First of all: thrust and other."
    assert not any(line.startswith("Watch") for line in letter["watch"])


def test_a_reading_closed_up_that_would_bind_is_said_first(tmp_path: Path) -> None:
    found = planned(tmp_path, TILT.split("[[gap]]")[0] + OTHER, T)
    begins = "other: closed up it reads 1 to 2 thou, too tight. One of its two readings is not as in service"
    assert first_line(found).startswith(begins)
    assert steps(found)[0] == "Find out first which of its two readings holds: other."
    said_first(found, begins)


def test_a_stack_that_the_reading_closed_up_leaves_no_room_for(tmp_path: Path) -> None:
    """0.30 to 0.35 as read takes S-20; by 0.10 to 0.15, as it reads closed up, that is preload 0.05 to 0.10."""
    text = (
        '[window]\nmin = 0.05\nmax = 0.15\nsource = "sheet"\n[[gap]]\nname = "w"\n'
        "feeler = { go = 0.30, no_go = 0.35 }\nafter_cover = { go = 0.10, no_go = 0.15 }\n"
    )
    found = planned(tmp_path, text, "part,thickness_mm,on_hand\nS-20,0.20,1\n", "mm")
    begins = (
        "w: closed up it reads 0.10 to 0.15 mm, inside with nothing changed; with what is planned it comes to preload "
        "0.05 to 0.10 mm, too tight."
    )
    assert first_line(found).startswith(begins)
    assert "As it is read: fit " in first_line(found)
    assert "not read as in service" not in first_line(found)
    assert steps(found)[-1].startswith("Only then: fit the stacks as listed")
    said_first(found, begins)
    assert "w reads otherwise closed up: find out which reading holds" in order_words(found)


def order_words(found: Decision) -> str:
    from shimopt.ordering.order import make_order

    return order_headline(make_order([found.job]))


def test_a_reading_that_looks_like_a_slip_is_on_the_sheet_too(tmp_path: Path) -> None:
    gaps = "".join(
        f'[[gap]]\nname = "g{n}"\nvalue = "{value} mm"\n' for n, value in enumerate(("0.32", "3.1", "0.33", "0.31"))
    )
    text = f'[window]\nmin = 0.05\nmax = 0.15\nsource = "sheet"\n{gaps}'
    found = planned(tmp_path, text, "part,thickness_mm,on_hand\nS-20,0.20,9\n", "mm")
    sheet, letter = sheet_content(found, "mm", DATE), letter_content(found, "mm", DATE)
    for told in (sheet["warnings"], letter["warnings"]):
        assert told[0].startswith("g1 reads 3.10 mm, 10 times its neighbours")
        assert told[0].endswith("was 0.31 mm meant?")
        assert told[1] == "Measure g1 again before anything is fitted."


def test_a_pack_that_came_out_of_a_preload_was_only_tighter(tmp_path: Path) -> None:
    """-4 thou ± 0.5, and 2 came out: with it bearings and housing gave way by 2 more, that is all."""
    text = (
        '[[place]]\nname = "top"\ncame_out = ["G-02"]\n[[gap]]\nname = "top"\nvalue = "-4 thou ± 0.5 thou"\n'
        'window = { min = 1, max = 4, source = "book" }\n'
    )
    found = planned(tmp_path, text, "part,thickness_thou,on_hand\nG-02,2,1\n")
    assert "pack_was_too_thick" not in {one.code for one in found.findings}
    assert not any("Look first at what came out" in step for step in steps(found))


def test_a_gaps_name_stays_as_it_was_typed(tmp_path: Path) -> None:
    text = (
        '[window]\nmin = 4\nmax = 18\nsource = "book"\n[[gap]]\nname = "w"\nfeeler = { go = 17, no_go = 18 }\n'
        '[state]\nhardware = "old"\n'
    )
    found = planned(tmp_path, text, T)
    assert sheet_content(found, "thou", DATE)["warnings"] == [
        "w was not read as in service (old hardware): read again before you rely on it."
    ]
    # read again before anybody relies on it: nobody is told to run it in
    assert not any("running in" in words for words in letter_content(found, "thou", DATE)["watch"])


def test_play_that_becomes_preload_is_called_play(tmp_path: Path) -> None:
    text = BLIND.format("feeler = { go = 1, no_go = 2 }", -1).replace("[2, 3]", "[0, 3]")
    found = planned(tmp_path, text, B)
    assert first_line(found).startswith("Add B-03 at hub: play 1 to 2 becomes preload 1 to 2 thou.")


# -- by a chance only, and a tool that is too coarse -----------------------------------------------------------------


def test_what_is_right_by_a_chance_only_says_so(tmp_path: Path) -> None:
    """8 to 10 thou less 5 ± 0.2 is 2.8 to 5.2, where 3 to 5 are allowed."""
    text = (
        'decision = { chance = 0.9 }\n[window]\nmin = 3\nmax = 5\nsource = "book"\n'
        '[[gap]]\nname = "b"\nfeeler = { go = 8, no_go = 10 }\n'
    )
    found = planned(tmp_path, text, "part,thickness_thou,tolerance_thou,on_hand\nM-05,5,0.2,1\n")
    assert found.outcome.gaps["b"].verdict == "inside"
    chance = 100 * float(found.outcome.gaps["b"].chance)
    assert letter_content(found, "thou", DATE)["answer"].startswith(
        f"By calculation it comes right, with a chance of {chance:.1f} %: "
    )
    assert sheet_content(found, "thou", DATE)["places"][0]["then"][0]["doubt"] == "may be out by 0.2 thou"


@pytest.mark.parametrize(
    ("torque", "tool", "good_to"),
    [
        # 12.25 ± 0.25 is ± 2.04 %; a tool that goes to more than 10 N·m may be off by 4 % (ISO 6789)
        ("12 to 12.5 lbf ft", 'tool_max = "60 lbf ft"', "2 %"),
        ("12 to 12.5 lbf ft", "", "2 %"),
        # ± 10 %, and one figure: nothing to say
        ("180 to 220 N·m", 'tool_max = "340 N·m"', None),
        ("5 N·m", 'tool_max = "8 N·m"', None),
    ],
)
def test_a_tool_that_need_not_keep_to_the_torque_is_a_caution(
    tmp_path: Path, torque: str, tool: str, good_to: str | None
) -> None:
    text = TILT.split("[[gap]]")[0] + (
        '[[gap]]\nname = "end"\nfeeler = { go = 4, no_go = 5 }\n'
        f'[[tightening]]\nname = "cap bolts"\ntorque = "{torque}"\n{tool}\n'
    )
    found = planned(tmp_path, text, T)
    said = [finding_words(one, Speaker("thou")) for one in found.findings if one.code == "tool_too_coarse"]
    assert len(said) == (good_to is not None)
    if good_to is not None:
        assert said[0].startswith("cap bolts: the tool may be off by 4 % (ISO 6789)")
        assert said[0].endswith(f"take one good to {good_to}")


def test_a_name_is_not_made_large_behind_another_but(tmp_path: Path) -> None:
    """top comes to 0.5 to 1.5 of at least 1, so that little is to spare, and was read with old parts."""
    text = (
        '[[place]]\nname = "top"\ninstalled = ["G-20", "G-05"]\n[[gap]]\nname = "top"\nvalue = "-4 thou ± 0.5 thou"\n'
        'window = { min = 1, max = 4, source = "book" }\n[state]\nhardware = "old"\n'
    )
    found = planned(tmp_path, text, "part,thickness_thou,on_hand\nG-20,20,0\nG-05,5,0\n")
    assert "But top was not read as in service: read again" in first_line(found)
    assert "Top" not in first_line(found)
