"""What the trial assembly says against a reading: shims in or out, its state, a second reading closed up."""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.ordering.order import make_order
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.words.card_words import card_rows
from shimopt.words.finding_words import finding_words
from shimopt.words.headline import headline
from shimopt.words.order_limits_words import caution_lines
from shimopt.words.order_words import order_headline
from shimopt.words.reason_words import reason_words
from shimopt.words.short_words import assumed_words
from shimopt.words.speaker import Speaker
from tests.command import Run
from tests.job_files import write_job
from tests.test_said_as_it_is import paper

HEAD = 'unit = "thou"\ndrawer = "drawer.csv"\n'
WINDOW = '[window]\nmin = {}\nmax = {}\nsource = "invented"\n'
DRAWER = "part,thickness_thou,on_hand\nS5,5,{}\nS3,3,2\nS2,2,2\n"


def job_of(folder: Path, text: str, *, window: tuple[float, float] = (-2, 2), fives: int = 1) -> Job:
    (folder / "drawer.csv").write_text(DRAWER.format(fives))
    (folder / "job.toml").write_text(HEAD + WINDOW.format(*window) + text)
    return load_job(folder)


def said(decision: Decision, code: str) -> str:
    (found,) = (finding for finding in decision.findings if finding.code == code)
    return finding_words(found, Speaker.of(decision.job))


COVER = '[[place]]\nname = "tail"\n{}\n[[gap]]\nname = "tail"\ncover_gap = {{ go = 4, no_go = 5{} }}\n'


def test_a_cover_read_without_shims_asks_which_is_true_where_shims_are_said_to_be_in(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        job_of(tmp_path, COVER.format('installed = ["S5"]', ""))
    (problem,) = refused.value.problems
    assert problem.field == "gap[0].cover_gap"
    assert 'came_out = ["S5"]' in problem.remedy
    assert "shims_in = true" in problem.remedy


@pytest.mark.parametrize("place", [COVER.split("[[gap]]")[0].format(""), ""])
def test_a_cover_read_with_shims_that_nobody_names_asks_which_were_in(tmp_path: Path, place: str) -> None:
    with pytest.raises(InputError) as refused:
        job_of(tmp_path, place + "[[gap]]" + COVER.split("[[gap]]")[1].format(", shims_in = true"))
    (problem,) = refused.value.problems
    assert problem.field == "gap[0].cover_gap"
    assert problem.rule.endswith("yet no installed at place 'tail' says which were in")
    assert "leave shims_in out" in problem.remedy


@pytest.mark.parametrize(
    ("place", "reading", "fit"),
    [
        # read 4 to 5 without shims: a pack of 5 leaves 0 to 1 of play
        ('came_out = ["S5"]', "", 5),
        # read 4 to 5 with the 5 in: 5 more leave 0 to 1, so 10 in all
        ('installed = ["S5"]', ", shims_in = true", 10),
    ],
)
def test_what_came_out_is_not_counted_twice(tmp_path: Path, place: str, reading: str, fit: int) -> None:
    found = decide(job_of(tmp_path, COVER.format(place, reading)))
    (stack,) = found.stacks.values()
    assert sum(found.job.stock[i].part.thickness.best for i in stack) == fit * 25_400
    after = found.outcome.gaps["tail"].after
    assert (after.low, after.high) == (0, 25_400)


def test_what_came_out_lies_at_hand_and_goes_into_the_drawers_count(tmp_path: Path) -> None:
    job = job_of(tmp_path, COVER.format('came_out = ["S5"]', ""), fives=0)
    assert {line.part.name: line.on_hand for line in job.stock}["S5"] == 1
    found = decide(job)
    assert found.outcome.doable
    assert said(found, "came_out_at_hand").startswith("S5 came out for the reading, and counts as in the drawer")


@pytest.mark.parametrize(
    ("came_out", "words"),
    [
        # 5 and 5 and 5 came out, 4 to 5 is nothing: it ran with 15 - (4 to 5) = 10 to 11, 5.5 above 5
        ('["S5", "S5", "S5"]', "with 3 x S5 in, as it came apart, it had 10 to 11 thou, 5.5 thou too loose"),
        # 2 came out: 2 - (4 to 5) = -3 to -2, by best estimate 4.5 below 2
        ('["S2"]', "with S2 in, as it came apart, it had preload 2 to 3 thou, 4.5 thou too tight"),
        # 5 and 3: 3 to 4, right as it was
        ('["S5", "S3"]', ""),
        ("[]", ""),
    ],
)
def test_how_it_ran_is_told_by_what_came_out(tmp_path: Path, came_out: str, words: str) -> None:
    found = decide(job_of(tmp_path, COVER.format(f"came_out = {came_out}", ""), window=(2, 5), fives=3))
    told = [finding_words(one, Speaker.of(found.job)) for one in found.findings if one.code == "ran_outside"]
    assert told == ([f"{words}: look what that has done to it"] if words else [])
    letter = " ".join(letter_content(found, "thou", "2026-05-03")["gaps"][0]["sentences"])
    assert ("as it came apart" in letter) is bool(words)


GAP = '[[place]]\nname = "end"\ncame_out = ["{}"]\n[[gap]]\nname = "end"\nfeeler = {{ go = {}, no_go = {} }}\n'


def test_a_pack_thicker_than_the_gap_it_came_out_of_is_said(tmp_path: Path) -> None:
    # 5 thou came out of a gap of 3 to 4 thou: 1 thou under nothing even at its widest
    found = decide(job_of(tmp_path, GAP.format("S5", 3, 4), window=(0, 4)))
    words = said(found, "pack_was_too_thick")
    assert "S5 (5 thou) came out of end" in words
    # what a hidden preload looks like is the first cause named
    assert "4 thou at most without: either it was pressed (a preload of 1 thou at least" in words
    assert "cannot have been in" not in words
    first = headline(found, Speaker.of(found.job))
    assert "But end reads less than what came out of it took up: read again before you rely on it." in first
    assert "service" not in first


def test_a_pack_that_just_went_in_is_nothing_to_say(tmp_path: Path) -> None:
    found = decide(job_of(tmp_path, GAP.format("S5", 4, 5), window=(0, 4)))
    assert "pack_was_too_thick" not in {finding.code for finding in found.findings}


STATE = '[[gap]]\nname = "end"\nfeeler = {{ go = 17, no_go = 18 }}\n{}[state]\n{}\n'


@pytest.mark.parametrize(
    "state",
    [
        'clamped = "finger tight"',
        'clamped = "finger tight, no torque"',
        'clamped = "not final"',
        'clamped = "2 bolts"',
        'gasket = "none"',
        'gasket = "old one"',
        'hardware = "old"',
        'clamped = "every second bolt at 20 Nm"',
        'gasket = "to come"',
        'gasket = "wanting"',
        'surfaces = "with old sealant"',
        'surfaces = "dirty"',
        'temperature = "hot"',
        'temperature = "60 degC"',
        'temperature = "straight from the oven"',
    ],
)
def test_a_trial_in_another_state_than_service_is_a_caution(tmp_path: Path, state: str) -> None:
    found = decide(job_of(tmp_path, STATE.format("", state), window=(4, 20)))
    (caution,) = (finding for finding in found.findings if finding.code == "not_as_in_service")
    assert (caution.place, caution.grade) == ("end", "caution")
    assert "read in another state than in service" in said(found, "not_as_in_service")


@pytest.mark.parametrize(
    "state",
    [
        'clamped = "20 N·m"',
        'clamped = "cover bolts at 20 lbf ft"',
        'clamped = "final"',
        'gasket = "paper, new, dry"',
        'hardware = "new"',
        'surfaces = "clean and dry, old sealant scraped off"',
        'temperature = "cold"',
        'temperature = "20 degC"',
        'temperature = "68 F, no longer warm"',
    ],
)
def test_a_trial_as_in_service_is_not(tmp_path: Path, state: str) -> None:
    found = decide(job_of(tmp_path, STATE.format("", state), window=(4, 20)))
    assert "not_as_in_service" not in {finding.code for finding in found.findings}


def test_a_gasket_that_was_not_there_is_told_beside_one_that_the_sum_counts_crushed(tmp_path: Path) -> None:
    """By hand: 420 and four fifths of 30, less 427, are 17, though no gasket was in when the case was measured."""
    crushed = """[[gap]]
name = "end"
built_up = [
  { name = "depth", add = 420 },
  { name = "gasket", add = 30, crush = "20 % ± 1 %" },
  { name = "shoulder", take = 427 },
]
[state]
gasket = "none"
"""
    found = decide(job_of(tmp_path, crushed, window=(4, 20)))
    assert found.job.gap["end"].reading.bracket.best == 17 * 25_400
    assert said(found, "not_as_in_service").startswith(
        "read in another state than in service (gasket: none, although the sum counts a crushed one), and nothing says"
    )
    # a sum without a gasket has none to contradict
    bare = decide(job_of(tmp_path, crushed.replace(', crush = "20 % ± 1 %"', "").replace("30", "24"), window=(4, 20)))
    assert said(bare, "not_as_in_service").startswith("read in another state than in service (gasket: none), and")


def test_a_stated_shift_covers_another_state(tmp_path: Path) -> None:
    found = decide(job_of(tmp_path, STATE.format("shift = 2\n", 'hardware = "old"'), window=(4, 20)))
    assert "not_as_in_service" not in {finding.code for finding in found.findings}


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        # 17 to 18 as read: a tenth of the window 0 to 19 is 1.9, and 1 is left; of 0 to 30, 12 of 3 are left
        ((0, 19), True),
        ((0, 30), False),
    ],
)
def test_it_stands_in_the_first_line_where_little_is_to_spare(
    tmp_path: Path, limits: tuple[int, int], told: bool
) -> None:
    found = decide(job_of(tmp_path, STATE.format("", 'hardware = "old"'), window=limits))
    assert ("not read as in service: read again" in headline(found, Speaker.of(found.job))) is told


TWICE = '[[gap]]\nname = "end"\nfeeler = {{ go = 10, no_go = 11 }}\nafter_cover = {{ go = {}, no_go = {} }}\n'


def test_a_second_reading_closed_up_that_tells_another_story_says_what_closed_it(tmp_path: Path) -> None:
    found = decide(job_of(tmp_path, TWICE.format(6, 7), window=(8, 12)))
    words = said(found, "closed_up_differs")
    # 10 - 7 to 11 - 6; nothing is fitted, so closed up it stays at 6 to 7, under its window
    assert "closed up it reads 6 to 7 thou" in words
    assert "closes it by 3 to 5 thou" in words
    assert "its stack comes to 6 to 7 thou, not inside" in said(found, "closed_up_planned")
    first = headline(found, Speaker.of(found.job))
    assert first.startswith(
        "end: closed up it reads 6 to 7 thou, too tight. One of its two readings is not as in service"
    )


def test_a_second_reading_that_agrees_says_nothing(tmp_path: Path) -> None:
    found = decide(job_of(tmp_path, TWICE.format(11, 12), window=(8, 12)))
    assert "closed_up_differs" not in {finding.code for finding in found.findings}


def test_a_cover_gap_has_no_second_reading(tmp_path: Path) -> None:
    text = '[[gap]]\nname = "end"\ncover_gap = { go = 4, no_go = 5 }\nafter_cover = { go = 4, no_go = 5 }\n'
    with pytest.raises(InputError, match="Take it out of a reading under a cover"):
        job_of(tmp_path, text)


@pytest.mark.parametrize(
    "reading", ["feeler = { no_go = 2 }", "feeler = { go = 0, no_go = 2 }", "value = 0", "indicator = { readings = 0 }"]
)
def test_a_reading_of_nothing_may_hide_a_preload(tmp_path: Path, reading: str) -> None:
    found = decide(job_of(tmp_path, f'[[gap]]\nname = "end"\n{reading}\n', window=(0, 8)))
    assert "spring balance" in said(found, "no_preload_assumed")


ORDERED = '[[gap]]\nname = "end"\nfeeler = {{ go = 17, no_go = 18 }}\n[state]\nhardware = "{}"\n'


@pytest.mark.parametrize("hardware", ["old", "new"])
def test_a_trial_that_is_in_doubt_vouches_for_no_other_final_reading(tmp_path: Path, hardware: str) -> None:
    """Window 12 to 15 by hand: 17 to 18 takes S3. One blade off, 16 to 17 less S3 is 13 to 14: the trial says 17 to 18.

    Together they leave only 17, which a trial as in service lets count; one with old hardware does not.
    """
    order = make_order([job_of(tmp_path, ORDERED.format(hardware), window=(12, 15))])
    rows = {
        (row.go // 25_400, row.no_go // 25_400): (row.stack is not None, row.contradicts) for row in order.cards[0].rows
    }
    doubted = hardware == "old"
    assert rows == {(16, 17): (not doubted, doubted), (17, 18): (True, False), (18, 19): (not doubted, doubted)}
    assert ("But end was not read as in service (old hardware)" in order_headline(order)) is doubted
    assert any("read in another state" in words for _, words, _ in caution_lines(order, Speaker("thou"))) is doubted
    stops = [row.fit for row in card_rows(order, 0, Speaker("thou", order.stock)) if row.hole]
    assert all("plan again from this reading" in fit for fit in stops)
    assert len(stops) == 2 * doubted


SUM = """[[place]]
name = "cap"
[[gap]]
name = "end"
built_up = [{ name = "a", add = 10 }, { name = "b", take = 15 }]
"""


def test_a_sum_below_nothing_is_allowed_where_shims_open_the_gap(tmp_path: Path) -> None:
    found = decide(job_of(tmp_path, SUM + "effects = { cap = 1 }\n", window=(1, 4), fives=2))
    assert found.outcome.gaps["end"].after.best > 0
    with pytest.raises(InputError, match="less than nothing"):
        job_of(tmp_path, SUM + "effects = { cap = -1 }\n", window=(1, 4))


TWO_PACKS = """
[[place]]
name = "left"
came_out = ["S5"]
[[place]]
name = "right"
{right}
[[gap]]
name = "bevel"
value = "4 thou"
effects = {{ left = {left}, right = 1 }}
window = {{ min = {least}, max = 9, source = "invented" }}
"""


@pytest.mark.parametrize(
    ("left", "right", "least", "too_thick"),
    [
        # without it the gap reads 4, so with 5 in it was 4 - 5 = -1: that cannot have been
        ("-1", "", "2", True),
        # with 5 out at the left and 3 at the right it was 4 - 5 + 3 = 2
        ("-1", 'came_out = ["S3"]', "2", False),
        # 4 - 5 = -1 is a preload of 1, which a window without a smallest clearance allows
        ("-1", "", '"none"', False),
    ],
)
def test_a_pack_can_have_been_in_where_another_opened_the_gap_or_it_may_be_preloaded(
    tmp_path: Path, left: str, right: str, least: str, too_thick: bool
) -> None:
    found = decide(job_of(tmp_path, TWO_PACKS.format(left=left, right=right, least=least)))
    assert ("pack_was_too_thick" in {finding.code for finding in found.findings}) is too_thick


BOTH = """
[[place]]
name = "w"
came_out = ["S3", "S2"]
[[place]]
name = "v"
came_out = ["S3"]
[[gap]]
name = "bevel"
value = "{} thou ± 0.5 thou"
effects = {{ w = -1, v = -1 }}
window = {{ min = 1, max = 9, source = "invented" }}
"""


@pytest.mark.parametrize(("reads", "too_thick"), [(7, True), (7.5, False)])
def test_two_packs_that_cannot_both_have_been_in_are_said(tmp_path: Path, reads: float, too_thick: bool) -> None:
    # either went in alone; by hand 3 + 2 and 3 are 8 together: into 7.5 at most they did not go, into 8 they just did
    found = decide(job_of(tmp_path, BOTH.format(reads)))
    codes = {finding.code for finding in found.findings}
    assert "pack_was_too_thick" not in codes
    assert ("packs_were_too_thick" in codes) is too_thick
    if too_thick:
        assert said(found, "packs_were_too_thick").startswith(
            "S3 + S2 came out of w and S3 out of v: together they close the gap by 8 thou, and it reads 7.5 thou at "
            "most without: either it was pressed (a preload of 0.5 thou at least, which no blade shows), or reading, "
            "pack or assembly is wrong"
        )
        assert "read again before you rely on it" in headline(found, Speaker.of(found.job))


def test_a_need_far_below_the_thinnest_there_is_points_at_the_reading(tmp_path: Path) -> None:
    # by hand, into 19.5 to 20: 20.4 takes 0.4 to 0.9 thou, 20.6 takes 0.6 to 1.1; half of the thinnest, 2, is 1
    text = '[[gap]]\nname = "end"\nvalue = "{} thou ± 0.1 thou"\n'
    for read, doubted in ((20.4, True), (20.6, False)):
        found = decide(job_of(tmp_path, text.format(read), window=(19.5, 20)))
        (reason,) = (one for one in found.reasons if one.code == "too_tight_with_thinnest")
        assert ("look there first" in reason_words(reason, Speaker.of(found.job))) is doubted


def test_closed_up_it_may_be_a_preload(tmp_path: Path) -> None:
    text = '[[gap]]\nname = "end"\nvalue = "1 thou"\nafter_cover = { value = "-1 thou" }\n'
    words = said(decide(job_of(tmp_path, text, window=(-3, 2))), "closed_up_differs")
    assert "closed up it reads preload 1 thou" in words


def test_where_nothing_came_out_nothing_is_said_of_it(tmp_path: Path) -> None:
    text = '[[place]]\nname = "tail"\n[[gap]]\nname = "tail"\ncover_gap = { go = 4, no_go = 5 }\n'
    found = decide(job_of(tmp_path, text, window=(1, 4), fives=2))
    assert not {"pack_was_too_thick", "packs_were_too_thick"} & {finding.code for finding in found.findings}


NIPPED = """
unit = "thou"
drawer = "drawer.csv"
[[gap]]
name = "cover"
cover_gap = {{ go = 22, no_go = 23 }}
window = {{ min = 2, max = 5, source = "s" }}
state = {{ {} }}
"""


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ('clamped = "final"', "clamped: final, where a cover is only nipped to be read"),
        ('clamped = "14 lbf ft"', "clamped: 14 lbf ft, where a cover is only nipped to be read"),
        ('clamped = "nipped evenly"', ""),
        ('clamped = "finger tight"', ""),
        ('gasket = "new, under the cover"', "gasket: new, under the cover, which a nipped cover does not crush"),
        ('gasket = "new, not crushed"', "gasket: new, not crushed, which a nipped cover does not crush"),
        ('gasket = "new, crushed by tightening once"', ""),
        ('gasket = "O-ring in its groove"', ""),
    ],
)
def test_a_cover_is_read_nipped_and_with_a_gasket_that_is_crushed(
    tmp_path: Path, run_unfolded: Run, state: str, said: str
) -> None:
    """22 to 23 off and 26 of shims: 3 to 4 of play. A thou squeezed by torque makes the pack a thou too thin.

    A gasket of 30 that service crushes by 20 % takes 6 of the play: 2 to 3 of preload where 2 of play are the least.
    """
    path = write_job(tmp_path, NIPPED.format(state), "part,thickness_thou,on_hand\nC-20,20,1\nC-6,6,1\n")
    plan = run_unfolded("plan", path)[1]
    card = run_unfolded("order", path)[1]
    if not said:
        assert "3 to 4 \u2713" in plan
        assert "nipped" not in plan
        return
    assert said in plan
    assert "once settled" in plan
    assert said in card
    if "clamped" in said:
        assert "the pack comes out thinner by what that squeezes. Read it again, only nipped." in plan
        assert "Read cover again with the cover only nipped." in plan
        assert "rows count only for a reading under a nipped cover, not as today's" in card


def test_a_shift_that_covers_the_state_says_what_it_has_to_cover(tmp_path: Path) -> None:
    read = '[[gap]]\nname = "end"\nfeeler = {{ go = 8, no_go = 9 }}\nshift = "{}"\n'
    state = '[state]\nclamped = "finger tight"\ngasket = "none"\nsurfaces = "oiled"\n'
    found = decide(job_of(tmp_path, state + read.format("±0.4 thou")))
    counted = "counts on ±0.4 thou (`shift`) for clamped: finger tight; gasket: none"
    assert said(found, "shift_counted_on") == counted
    assert f"end {counted}: is that enough?" in assumed_words(found, chances=True)
    assert not any(one.code == "not_as_in_service" for one in found.findings)
    # nothing else than in service: nothing to be said
    state = state.replace("finger tight", "final torque").replace("none", "new")
    service = decide(job_of(tmp_path, state + read.format("±0.4 thou")))
    assert not any(one.code == "shift_counted_on" for one in service.findings)


@pytest.mark.parametrize(("read", "asked"), [("4 to 5", True), ("-1 to 0.5", False)])
def test_after_fitting_somebody_asks_whether_it_was_read_closed_up(
    run_unfolded: Run, tmp_path: Path, read: str, asked: bool
) -> None:
    """8 to 9 open and 3 to 4 closed up; 4 taken off leaves 4 to 5 as read open, and -1 to 0 as read closed up."""
    text = '[[gap]]\nname = "end"\nfeeler = { go = 8, no_go = 9 }\nafter_cover = { go = 3, no_go = 4 }\n'
    job_of(tmp_path, text, window=(-2, 6))
    typed = f"end={read}" if asked else "end=preload 1 to play 0.5 thou"
    run_unfolded("record", tmp_path, "--after", typed, "--fitted", "end=2 x S2", "--person", "A", "--instrument", "b")
    plan = run_unfolded("plan", tmp_path)[1]
    assert ("end: before, closed up, it read 3 to 4 thou, otherwise than open." in plan) is asked


def test_what_may_hold_its_preload_already_is_not_called_too_loose(tmp_path: Path, run_unfolded: Run) -> None:
    """A hub that wants 2 to 4 thou of preload, and no blade goes: by hand its best estimate, 0.75 thou of play, is 2.75
    too loose, but a hub with 3 thou of preload reads just the same: four more of 3 to 5 thou would ruin it."""
    (tmp_path / "drawer.csv").write_text(
        "part,thickness_thou,tolerance_thou,on_hand\nP-03,3,0.1,2\nP-04,4,0.1,2\nP-05,5,0.1,1\nP-20,20,0.2,0\n"
    )
    (tmp_path / "job.toml").write_text(
        'unit = "thou"\ndrawer = "drawer.csv"\n[[place]]\nname = "pack"\ninstalled = ["P-20"]\n[[gap]]\nname = "hub"\n'
        'feeler = { no_go = 1.5 }\nwindow = { preload = [2, 4], source = "card" }\neffects = { "pack" = 1 }\n'
    )
    said = run_unfolded("plan", tmp_path)[1]
    assert said.startswith("hub: no blade goes, it may be tight already: turn it (running torque), or read it with a")
    assert "Whether anything is wrong with hub nobody knows before that." in said
    letter = paper(run_unfolded, tmp_path, "letter")
    assert "The preload cannot be said to be right or wrong yet: hub." in letter
    sheet, full = paper(run_unfolded, tmp_path, "sheet"), run_unfolded("plan", tmp_path, "--full")[1]
    assert "Nothing is changed before that is known; then plan again." in sheet
    assert "not tight already" not in sheet
    assert "outside" not in sheet
    assert "✗ outside" not in full
    for told in (said, run_unfolded("why", tmp_path)[1], letter, sheet, full):
        assert "may be tight already" in told
        for false in ("too loose", "P-05 + P-04 + P-03", "would still miss", "cannot do it", "cannot be put right"):
            assert false not in told
