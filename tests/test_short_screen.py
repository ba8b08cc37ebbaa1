"""The short screen of a plan: about ten lines in which nothing that can hurt is left out."""

from __future__ import annotations

import re
import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, reject, settings
from rich.cells import cell_len

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Piece
from shimopt.errors import InputError
from shimopt.job import Job, Window, load_job
from shimopt.lengths import Bracket
from shimopt.planner import Decision, decide
from shimopt.reasons.job_facts import ClosedUpDiffers, SeatsAsked
from shimopt.render.pictures.gap_bars import job_bars
from shimopt.render.pictures.gaps_chart import charts
from shimopt.render.screens.layout import ASCII, UNICODE
from shimopt.render.screens.shared_scale import SharedScale
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import short_why_lines
from shimopt.words.finding_words import finding_words
from shimopt.words.findings_list import brief_cautions
from shimopt.words.first_words import first_words, suspect_words
from shimopt.words.headline import headline
from shimopt.words.next_steps import next_steps, steps_said_above, surer_steps
from shimopt.words.speaker import Speaker
from shimopt.words.trial_words import trial_doubted
from tests import screens
from tests.command import Run
from tests.jobs import gap, job, shim, window
from tests.place_strategies import jobs_of_places
from tests.strategies import jobs
from tests.terminal import shown_to

ROOT = Path(__file__).parents[1]


def shown(of: Job | Decision, width: int = 80, unit: str = "thou") -> str:
    plan = of if isinstance(of, Decision) else decide(of)
    return screens.as_text(short_lines(plan, unit, width, UNICODE))


def unfolded(text: str) -> str:
    return " ".join(text.split())


def reviewed(file: str) -> str:
    return (screens.FOLDER / file).read_text(encoding="utf-8")


def test_every_screen_is_as_it_was_reviewed_none_runs_over_and_every_reviewed_one_is_still_made() -> None:
    """`python -m tests.screens` writes them anew: read what changed."""
    made = dict(screens.screens())
    for file, text in made.items():
        assert text == reviewed(file), file
        width = file.rpartition("-")[2].removesuffix(".txt")
        assert width == "ascii" or max(map(cell_len, text.splitlines())) <= int(width), file
    assert {file.name for file in screens.FOLDER.iterdir()} == set(made)


@pytest.mark.parametrize("width", screens.WIDTHS)
@pytest.mark.parametrize("command", screens.COMMANDS)
def test_every_screen_of_a_command_is_as_it_was_reviewed_and_does_not_run_over(command: str, width: int) -> None:
    text = screens.printed(command, width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert text == (screens.FOLDER_OF_COMMANDS / f"{command}-{width}.txt").read_text(encoding="utf-8")


# -- how long it is --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "most"), [("swing-bridge", 20), ("ring-comes-out", 10), ("twelve-valve", 30)])
def test_a_plan_takes_few_lines(name: str, most: int) -> None:
    assert len(reviewed(f"plan-{name}-80.txt").splitlines()) <= most


def row_of(count: int, reads: tuple[int, ...], on_hand: int) -> Job:
    """So many gaps with a window of 4 to 12 thou, that read these in turn (bracket of 1), and two sizes."""
    lows = [reads[n % len(reads)] for n in range(count)]
    gaps = [gap(f"bearing {n + 1}", low, low + 1, window(4, 12)) for n, low in enumerate(lows)]
    return job(gaps, [shim(7, on_hand), shim(3, on_hand)])


@pytest.mark.parametrize(("count", "most"), [(1, 12), (5, 25), (20, 60), (60, 60)])
@pytest.mark.parametrize("reads", [(17, 9), (3, 14, 11), (17, 3, 14, 19, 13)])
@pytest.mark.parametrize("on_hand", [100, 1, 0])
def test_a_job_of_so_many_gaps_takes_so_many_lines(count: int, most: int, reads: tuple[int, ...], on_hand: int) -> None:
    """Right and wrong ones, with a drawer that has enough, one of each, or nothing."""
    assert len(shown(row_of(count, reads, on_hand)).splitlines()) <= most


def test_a_thousand_gaps_show_what_is_wrong_and_then_counts() -> None:
    """17 takes 7, 9 needs none, 2 is too tight: 400, 400 and 200 of a thousand."""
    text = shown(row_of(1000, (17, 9, 17, 9, 2), 1000))
    assert len(text.splitlines()) <= 60
    assert re.search(r"^bearing 5 +2 to 3 +nothing +same ✗ 1\.5 too tight", text, re.MULTILINE)
    # the 8 first are shown
    assert "192 more outside: shimopt plan JOB --full" in text
    assert re.search(r"^400 gaps +S-7 +✓ inside$", text, re.MULTILINE)
    assert re.search(r"^400 gaps +leave +✓ inside$", text, re.MULTILINE)
    assert re.search(r"^200 gaps +nothing +✗ outside$", text, re.MULTILINE)
    # all have one window, said above the table, and no per cent stands on the screen
    assert text.count("4 to 12") == 1
    assert "Per cent" not in text


def test_what_is_not_shown_of_a_thousand_gaps_is_not_pointed_to_and_no_sentence_names_a_hundred() -> None:
    """A hundred gaps need a 7; two are on hand, and 3 + 3 for one: 97 lack one. Of forty that got one, four."""
    of = row_of(100, (17,), 2)
    text = unfolded(shown(of))
    assert "97 gaps lack a size: shimopt plan JOB --full says which." in text
    assert "above" not in text
    plan = decide(row_of(100, (17,), 40))
    why = screens.as_text(short_why_lines(plan, "thou", 80))
    assert re.search(r"\((bearing \d+(, | and )){4}\d+ more got it instead\)", unfolded(why)) is not None
    assert len(why.splitlines()) <= 100
    few = unfolded(shown(row_of(10, (17,), 1)))
    assert "lack a size: see above which." in few


def test_words_that_all_names_share_are_told_once() -> None:
    """Twenty names of 36 cells took 2 lines a row at 80 columns; what tells them apart stands in the table."""
    gaps = [gap(f"conveyor north lower strand idler {n}", 17, 18, window(4, 12)) for n in range(1, 21)]
    text = shown(job(gaps, [shim(7, 12), shim(3, 3)]))
    assert "… stands for: conveyor north lower strand\n" in text
    assert len(re.findall(r"^… idler \d+ +1[78]", text, re.MULTILINE)) == 20
    assert len(text.splitlines()) <= 60
    # few names, or names that differ from their second word on, stand whole
    assert "…" not in shown(job(gaps[:5], [shim(7, 12)]))
    apart = [gap(f"conveyor {n}th lower strand of the works", 17, 18, window(4, 12)) for n in range(4, 24)]
    assert "…" not in shown(job(apart, [shim(7, 12)]))


def test_twenty_gaps_of_long_names_most_of_them_wrong_take_sixty_lines() -> None:
    """Names of 33 to 42 cells that share no beginning; most lack a size, two are ten times off and say it together."""
    things = ("idler bracket", "clutch throwout collar", "worm wheel hub", "saddle slipper")
    sides = ("front", "rear", "upper", "lower", "outer")
    names = [f"{side} {thing}, north strand" for thing in things for side in sides]
    lows = [1 if at in (5, 7) else (17, 9, 26)[at % 3] for at in range(20)]
    gaps = [gap(name, low, low + 1, window(4, 12)) for name, low in zip(names, lows, strict=True)]
    text = shown(job(gaps, [shim(7, 3), shim(16, 2), shim(3, 1)]))
    assert len(text.splitlines()) <= 60
    assert (
        "front clutch throwout collar, north strand and upper clutch throwout collar, north strand: each reads 1.5"
        in (unfolded(text))
    )


FIVE = """\
title = "Mangle of the steam laundry, five roller ends"
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "maker's card, 1938"
[[gap]]
name = "top left"
feeler = { go = 0.30, no_go = 0.35 }
[[gap]]
name = "top right"
value = "3.0 mm"
[[gap]]
name = "middle"
feeler = [{ go = 0.30, no_go = 0.35 }, { go = 0.55, no_go = 0.60 }]
[[gap]]
name = "bottom left"
value = "0.033 mm"
[[gap]]
name = "bottom right"
feeler = { no_go = 0.05 }
"""


def test_five_gaps_of_which_most_are_suspect_stay_short(tmp_path: Path) -> None:
    """Two slips of ten times, a tilted face and a reading of nothing: each is told, and told once."""
    (tmp_path / "job.toml").write_text(FIVE)
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nR-05,0.05,2\nR-10,0.10,3\nR-20,0.20,4\n")
    text = shown(load_job(tmp_path), unit="mm")
    assert len(text.splitlines()) <= 28
    told = unfolded(text)
    for said in (
        "was 0.30 mm meant?",
        "was 0.33 mm meant?",
        "the spots read from 0.30 to 0.60 mm",
        "assuming that there is no preload",
    ):
        assert told.count(said) == 1
    assert told.count("Measure top right, bottom left and middle again before anything is fitted") == 1
    # no drawer is to blame for what looks like a slip
    assert (
        "fitted. No shim can do it: bottom right stays 0.075 mm too tight; top right and bottom left are outside"
        in told
    )


# each asks for care in its own way
SUSPECT = (
    'value = "3.0 mm"',
    "feeler = [{ go = 0.30, no_go = 0.35 }, { go = 0.55, no_go = 0.60 }]",
    "feeler = { no_go = 0.05 }",
    "indicator = { readings = [0.41, 0.44], resolution = 0.01, error = 0.008 }",
    "cover_gap = { go = 0.27, no_go = 0.30 }\nstate = { clamped = 'final' }",
    "feeler = { go = 0.30, no_go = 0.35 }\nstate = { clamped = 'finger tight', gasket = 'none' }",
    "feeler = { go = 0.40, no_go = 0.45 }\nafter_cover = { go = 0.20, no_go = 0.25 }",
    'value = "0.12 mm ± 0.04 mm"\nwindow = { min = "none", max = 0.1, source = "table 4 of the works handbook" }',
    'value = "0.02 mm"\nwindow = { preload = [0.02, 0.05], source = "bearing maker\'s leaflet, 1951" }',
)


@pytest.mark.parametrize("held", ["[]", '["R-20"]', '["R-20", "R-10", "R-05"]', '["W-30"]'])
def test_twenty_jobs_of_five_gaps_that_all_ask_for_care_take_25_lines(tmp_path: Path, held: str) -> None:
    (tmp_path / "drawer.csv").write_text(
        "part,thickness_mm,inner_mm,on_hand,at,form\nR-05,0.05,25.2,2,roll,\nR-10,0.10,25.2,1,tin 1,\n"
        "R-20,0.20,25.2,4,tin 1,\nW-30,0.30,31,3,tin 2,wavy\nR-31,0.31,40,1,tin 2,\n"
    )
    for first in range(5):
        rows = ['state = { clamped = "final", gasket = "final", hardware = "new" }']
        rows += ["[[seat]]\nname = 'shaft'\nshaft = '25 mm'" if first % 2 else ""]
        for n in range(3 if held > '["R' else 5):
            name = f"{('north', 'south')[n % 2]} end {n + 1}"
            seat = "seat = 'shaft'\n" if first % 2 and n else ""
            rows.append(f"[[place]]\nname = '{name}'\n{seat}installed = {held if n % 2 else '[]'}")
            rows.append(f"[[gap]]\nname = '{name}'\n{SUSPECT[(first + n * (1 + first % 2)) % len(SUSPECT)]}")
        rows += ["[[balance]]\nname = 'frame'\ngaps = ['north end 1', 'north end 3']"]
        rows += ["within = 0.05"]
        top = 'title = "Countershaft of the ropeway, north and south"\nunit = "mm"\ndrawer = "drawer.csv"\n'
        window = 'window = { min = 0.1, max = 0.2, source = "maker\'s card, 1938" }\n'
        (tmp_path / "job.toml").write_text(top + window + "\n".join(rows))
        plan = decide(load_job(tmp_path))
        text = shown(plan, unit="mm")
        assert len(text.splitlines()) <= 25, text
        # what is grave stands there all the same
        say = Speaker.of(plan.job, "mm")
        assert headline(plan, say) in unfolded(text)
        for words in suspect_words(plan, say):
            assert words[:40] in unfolded(text)
        for words, light in brief_cautions(plan, say):
            assert light or words[:40] in unfolded(text)


def test_five_gaps_that_each_have_another_grave_trouble_take_25_lines_and_say_what_to_read_whole(
    tmp_path: Path,
) -> None:
    pack, top = (
        '["R-20", "R-10", "R-05"]',
        'unit = "mm"\ndrawer = "drawer.csv"\n[[seat]]\nname = "shaft"\nshaft = "25 mm"\n',
    )
    rows = [
        ("", pack, "feeler = { go = 0.60, no_go = 0.65 }"),
        ("", pack, SUSPECT[3]),
        ("seat = 'shaft'", pack, SUSPECT[1]),
        ("", '["W-30"]', SUSPECT[5]),
        ("seat = 'shaft'", '["R-20"]', SUSPECT[6]),
    ]
    job = "".join(
        f"[[place]]\nname = 'journal {n}'\n{seat}\ninstalled = {held}\n[[gap]]\nname = 'journal {n}'\n{read}\n"
        for n, (seat, held, read) in enumerate(rows, start=1)
    )
    window = 'window = { min = 0.1, max = 0.2, source = "maker\'s card, 1938" }\n'
    (tmp_path / "job.toml").write_text(window + top + job)
    (tmp_path / "drawer.csv").write_text(
        "part,thickness_mm,inner_mm,on_hand,form\nR-05,0.05,25.2,2,\nR-10,0.10,25.2,1,\nR-20,0.20,25.2,4,\n"
        "W-30,0.30,31,3,wavy\nR-31,0.31,40,1,\n"
    )
    plan = decide(load_job(tmp_path))
    text = shown(plan, unit="mm")
    assert len(text.splitlines()) <= 25, text
    # which gaps they are stands there, and where each is told whole
    for words in ("journal 4: read with W-30 in", "journal 5: closed up it reads", "Measure journal 3 again before"):
        assert words in text
    assert "Before anything is fitted, read all of this: shimopt plan JOB --full" in text
    # a narrow screen says as much of each as a wide one
    assert unfolded(text).partition("Before anything")[0] in unfolded(shown(plan, 40, unit="mm"))


SCRIPTS = """\
title = "Ось подъёмника / 軸 / Άξονας"
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.10, max = 0.20, source = "Φύλλο 7" }
"""
IN = {
    "αριστερό άκρο": (0.30, ["環0.2"]),
    "правый конец": (0.05, ["S-3", "Кольцо-01"]),
    "後ろ 左": (0.12, ["Кольцо-01"]),
    "rear right": (0.26, []),
    "mid": (0.00, ["S-3"]),
}


def test_five_gaps_with_pieces_in_and_long_names_stay_short(tmp_path: Path) -> None:
    """Each row takes two lines at 80 columns, one reading begins at nothing, and no place names a seat."""
    rows = [
        f"[[gap]]\nname = '{name}'\nfeeler = {{ go = {go}, no_go = {go + 0.02:.2f} }}\n"
        f"[[place]]\nname = '{name}'\ninstalled = {held}\n"
        for name, (go, held) in IN.items()
    ]
    (tmp_path / "job.toml").write_text(SCRIPTS + "".join(rows), encoding="utf-8")
    drawer = "part,thickness_mm,on_hand,at\nКольцо-01,0.1,3,полка 1\n環0.2,0.2,2,棚 2\nS-3,0.3,1,tin 3\n"
    (tmp_path / "drawer.csv").write_text(drawer, encoding="utf-8")
    text = shown(load_job(tmp_path), unit="mm")
    assert len(text.splitlines()) <= 25
    told = unfolded(text)
    # what a reading of nothing may hide is said, and what to do about it once
    assert "assuming that there is no preload, which no blade can show." in told
    assert told.count("or read it with a thinner pack of known thickness in") == 1
    assert "any piece may be planned there" in told


def test_five_gaps_after_a_bad_record_stay_short(tmp_path: Path, run: Run) -> None:
    """The bridge, fitted as planned; lower 2 then reads 13 where 6.5 was predicted: where to look is said once."""
    folder = shutil.copytree(ROOT / "demo_data" / "swing-bridge", tmp_path / "bridge")
    after = {"upper 1": 10.5, "upper 2": 9.5, "upper 3": 11, "lower 1": 6.7, "lower 2": 13}
    read = [word for name, value in after.items() for word in ("--after", f"{name}={value}")]
    who = ("--person", "Ada Smith", "--instrument", "blades", "--date", "2026-11-27")
    run("record", str(folder), *read, *who)
    text = shown(load_job(folder))
    assert "Found outside after fitting" in text
    assert len(text.splitlines()) <= 25
    assert unfolded(text).count("look for a wrong shim, and whether it is clamped") == 1


def test_two_gaps_that_act_together_stay_short() -> None:
    text = unfolded(reviewed("plan-slipway-winch-80.txt"))
    assert len(reviewed("plan-slipway-winch-80.txt").splitlines()) <= 24
    # said once each: that it is read again, why, and when
    for said in ("read again once preload is set", "still had up to 0.075 mm of play", "Set preload first"):
        assert text.count(said) == 1


# -- nothing that can hurt is left out -------------------------------------------------------------------------------

_SLOW = settings(deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])


def source(piece: Piece, place: str, say: Speaker) -> str:
    if piece.other == BENCH and piece.out_of == place:
        return "bench, came out here"
    if piece.other == DRAWER:
        return say.stock[piece.line].part.at or "drawer"
    return {BENCH: f"bench, out of {piece.out_of}", ORDER: "to buy"}.get(piece.other, piece.other)


_REMEDY = r"[.?] Measure it again|: if it may be tight|: any piece of it may be planned|: set .* first, read this again"


def tells_all(of: Job, buy: bool) -> None:
    """Every change, every first line, every caution and every next step, at any width."""
    try:
        plan = decide(of, buy=buy)
    except InputError:
        reject()  # what cannot be planned has no screen
    say = Speaker.of(of, "thou", buys=buy)
    wide = screens.as_text(short_lines(plan, "thou", 120, UNICODE))
    lines, text = [unfolded(line) for line in wide.splitlines()], unfolded(wide)
    sources = {source(piece, change.place, say) for change in plan.changes for piece in change.into}
    # of many places it is said once where all comes from
    told = next((one for one in sources if re.search(rf"All pieces (from |from the )?{re.escape(one)}\.", text)), "")
    assert not told or sources == {told}
    # where there is no room no line is empty
    below = lines[lines.index("") :] if "" in lines else lines
    for change in plan.changes:
        row = next((line for line in below if line.startswith((f"{change.place} ", f"{change.place}:"))), "")
        for lines_of in (change.out, change.into):
            if lines_of:
                assert say.stack(tuple(piece.line for piece in lines_of), change.place) in row
        assert told or all(source(piece, change.place, say) in row for piece in change.into)
        if change.stays and change.changed:
            assert say.stack(change.stays, change.place, plan.stacks[change.place]) in row
    steps = next_steps(plan, say, whole=False)
    around = (headline(plan, say), *first_words(plan, say), *steps)
    # what is light may be left out, and then it is said that there is more
    left_out, above = bool(re.search(r"(more|\(…\)): shimopt plan JOB --full", text)), trial_doubted(plan).values()
    light = {*surer_steps(plan, say), *steps_said_above(plan)} if left_out else set()
    for words in around:
        assert words in light or words.casefold() in text.casefold()
    why = unfolded(screens.as_text(short_why_lines(plan, "thou", 120))).casefold()
    fitted = {(place, plan.job.stock[i].part.name) for place, stack in plan.stacks.items() for i in stack}
    for finding in plan.findings:
        about = not finding.part or (finding.place, finding.part) in fitted
        if about and (finding.grade == "caution" or (finding.grade == "stop" and not finding.part)):
            words = finding_words(finding, say)
            # for want of room what the first lines say too is left out, and the others are cut to their beginning
            if left_out and (isinstance(finding.fact, (SeatsAsked, ClosedUpDiffers)) or finding.fact in above):
                continue
            if "(…)" in text:
                assert words[:25] in text
                continue
            # what is to be done about it stands there too, or in the first lines or among the next steps
            assert re.split(_REMEDY, finding_words(finding, say))[0] in text
            assert finding_words(finding, say) in text or any(finding.place in words for words in around)
            # why, gap by gap, keeps them too
            assert re.split(r"[.?] Measure it again", finding_words(finding, say))[0].casefold() in why
    assert all(words.casefold() in why for words in (headline(plan, say), *first_words(plan, say)))
    if not plan.outcome.to_buy:
        assert len(short_lines(plan, "thou", 80, UNICODE)) <= (25 if len(of.gaps) <= 5 else 60)
    for width in (40, 57, 80):
        for line, _ in (*short_lines(plan, "thou", width, UNICODE), *short_why_lines(plan, "thou", width)):
            assert cell_len(line) <= width


@_SLOW
@given(jobs_of_places(buying=True))
def test_places_that_act_together_are_told_whole(of: Job) -> None:
    tells_all(of, True)


@_SLOW
@given(jobs())
def test_gaps_with_places_of_their_own_are_told_whole(of: Job) -> None:
    tells_all(of, False)


def test_the_engine_and_the_winch_say_what_comes_out_goes_in_and_where_from() -> None:
    """The shims are worked by hand in test_moves."""
    engine, winch = reviewed("plan-twelve-valve-80.txt"), reviewed("plan-slipway-winch-80.txt")
    assert re.search(r"^1 inlet +0\.30 to 0\.32 +B-2\.45 \[1i\] +B-2\.55 \[3i\] +3 inlet ", engine, re.MULTILINE)
    assert re.search(r"^6 inlet +0\.12 to 0\.14 +B-2\.40 \[6i\] +B-2\.35 +shim box ", engine, re.MULTILINE)
    assert re.search(r"^left cap +BC-0\.20 +BC-0\.30 +BC-0\.05 +tin 4$", winch, re.MULTILINE)


SHORT_OF_PLACE = """unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "card"
[[place]]
name = "left"
[[gap]]
name = "left"
value = "0.15 mm"
[[gap]]
name = "mid"
value = "0.40 mm"
"""


def test_a_gap_that_no_place_moves_is_told_with_what_to_write(tmp_path: Path, run: Run) -> None:
    """R-25 would leave 0.15, but the job names a place for `left` only."""
    (tmp_path / "job.toml").write_text(SHORT_OF_PLACE)
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nR-25,0.25,1\n")
    code, out, _ = run("plan", tmp_path)
    assert (code, out.splitlines()[0]) == (1, "No place moves mid: mid stays 0.20 mm too loose.")
    assert "No place moves it." in out
    assert "→ No place moves mid: write a [[place]] of the same name in the job, or `effects`." in unfolded(out)
    # with it, it is served
    (tmp_path / "job.toml").write_text(SHORT_OF_PLACE + '[[place]]\nname = "mid"\n')
    assert run("plan", tmp_path)[0] == 0


def test_a_reading_that_begins_at_nothing_keeps_its_caution(tmp_path: Path, run: Run) -> None:
    """Under a cover the thinnest blade did not go: where the cover rests, nobody knows how much play there is."""
    (tmp_path / "job.toml").write_text(
        'unit = "thou"\ndrawer = "drawer.csv"\n[window]\npreload = [2, 3]\nsource = "sheet"\n'
        '[[place]]\nname = "cap"\ninstalled = ["B-20", "B-05"]\n'
        '[[gap]]\nname = "cap"\ncover_gap = { no_go = 1, shims_in = true }\n'
    )
    (tmp_path / "drawer.csv").write_text("part,thickness_thou,on_hand\nB-20,20,0\nB-05,5,0\nB-03,3,4\n")
    out = unfolded(run("plan", tmp_path)[1])
    assert "! cap: the thinnest blade did not go" in out
    assert "take a shim out until a blade goes" in out
    # the first line holds only as far as that, and why says so too
    assert "But this holds only if the cover did not rest on its case yet when cap was read as nothing." in out
    assert "take a shim out until a blade goes" in unfolded(run("why", tmp_path)[1])


def test_what_is_in_and_does_not_suit_is_to_be_settled_in_its_row(tmp_path: Path, run: Run) -> None:
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.10\nmax = 0.20\nsource = "book"\n'
        '[[seat]]\nname = "end"\nshaft = "20 mm"\n[[place]]\nname = "a"\nseat = "end"\ninstalled = ["X-30"]\n'
        '[[gap]]\nname = "a"\nvalue = "0.15 mm"\n'
    )
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,inner_mm,on_hand\nX-30,0.30,26,0\n")
    out = run("plan", tmp_path)[1]
    # the first line is for it alone, then the answer
    assert re.match(r"a: X-30 is in and stays, and does not suit: [^\n]*(\n[^N][^\n]*)*\nNothing to fit", out)
    assert re.search(r"^a +0\.15 +X-30 +leave +same \? once settled", out, re.MULTILINE)
    (tmp_path / "job.toml").write_text(
        (tmp_path / "job.toml").read_text() + '[[place]]\nname = "b"\n[[gap]]\nname = "b"\nvalue = "0.15 mm"\n'
    )
    why = run("why", tmp_path)[1]
    assert re.search(r"\na\n  Read [^\n]*\n  First +Something has to be settled here", why)
    assert "b is inside and left alone." in why


def test_what_is_not_inside_comes_first() -> None:
    text = shown(job([gap("a", 9, 10, window(4, 12)), gap("b", 40, 41, window(4, 12))], [shim(3, 1)]))
    assert text.index("\nb ") < text.index("\na ")


# -- digits ----------------------------------------------------------------------------------------------------------


def test_numbers_have_as_many_digits_as_the_readings_and_one_more_at_most() -> None:
    """By hand: 17 to 18 less 7.33 ± 0.02 is 9.65 to 10.69, outward 9.6 to 10.7; 9.5 is half a thou: a digit for all."""
    tolerant = shim(7.33, 1, half=508)
    assert "17 to 18  S-7.33  drawer  9.6 to 10.7 ✓" in shown(job([gap("a", 17, 18, window(4, 12))], [tolerant]))
    two = job([gap("a", 17, 18, window(4, 12)), gap("b", 9.5, 10, window(4, 12))], [tolerant])
    assert "17.0 to 18.0  S-7.33  drawer  9.6 to 10.7 ✓" in shown(two)
    assert re.search(r"b +9\.5 to 10\.0 ", shown(two))


def test_a_bracket_is_rounded_outward() -> None:
    nm = Bracket(Fraction(110_001), Fraction(120_000), Fraction(130_001))
    assert nm.outward("mm", 2) == Bracket(Fraction(110_000), Fraction(120_000), Fraction(140_000))
    assert nm.outward("mm", 6) == nm
    below = Bracket(Fraction(-110_001), Fraction(-105_000), Fraction(-100_001))
    assert below.outward("mm", 2) == Bracket(Fraction(-120_000), Fraction(-105_000), Fraction(-100_000))


def test_a_chance_is_told_only_below_all() -> None:
    sure = shown(job([gap("a", 17, 18, window(4, 12))], [shim(7, 1)]))
    assert "%" not in sure
    assert re.search(r"\? \d\d\.\d %", shown(job([gap("a", 10, 14, window(4, 12))], [])))


# -- the scale -------------------------------------------------------------------------------------------------------


FOUR_TO_TWELVE = Window(4, 12, "test")


def _scale(points: list[int], allowed: Window = FOUR_TO_TWELVE) -> SharedScale:
    return SharedScale.of(allowed, [Fraction(point) for point in points], 30, ASCII)


def test_all_gaps_of_one_window_share_its_columns() -> None:
    scale = _scale([17, 10, 9, 6])
    drawn = [scale.drawn(Fraction(read), Fraction(after)) for read, after in ((17, 10), (9, 9), (14, 6))]
    assert len({(line.index("["), line.index("]")) for line in drawn}) == 1
    assert re.fullmatch(r"\[-+X-+\]\.+o *", drawn[0])
    assert re.fullmatch(r"\[-+X-+\] *", drawn[1])


def test_what_lies_far_out_stands_behind_a_break() -> None:
    """Twelve windows away: without a break the window would be three cells wide."""
    line = _scale([100, 10]).drawn(Fraction(100), Fraction(10))
    assert line.endswith("//o")
    assert line.index("]") - line.index("[") >= 10
    assert _scale([-90, 10]).drawn(Fraction(-90), Fraction(10)).startswith("o//")


def test_the_limits_stand_above_their_marks() -> None:
    scale = SharedScale.of(Window(4 * 25_400, 12 * 25_400, "test"), [Fraction(17 * 25_400)], 30, ASCII)
    head, line = scale.head("thou"), scale.drawn(Fraction(17 * 25_400), Fraction(10 * 25_400))
    assert head.index("4") == line.index("[")
    assert abs(head.index("12") - line.index("]")) <= 1
    # of preload the line above says which it is
    assert SharedScale.of(Window(-4, 4, "test"), [Fraction(0)], 30, ASCII).head("thou") == ""


def test_a_preload_lies_left_of_play_as_in_every_picture() -> None:
    """Preload 1 to 7, play 7 read: 2.7 of preload stands a quarter of the way from 1 to 7, the play right of it."""
    scale = _scale([7, -3], Window(-7, -1, "test"))
    line = scale.drawn(Fraction(7), Fraction(-27, 10))
    assert re.fullmatch(r" *\[-+X-+\]\.+(//)?o *", line)
    share = (line.index("]") - line.index("X")) / (line.index("]") - line.index("["))
    assert 0.15 < share < 0.4
    head = SharedScale.of(Window(-7 * 25_400, -25_400, "test"), [Fraction(7 * 25_400)], 40, ASCII).head("thou")
    assert head.split() == ["7", "1"]
    # the picture of the same gap: play is drawn right of the preload
    winch = decide(load_job(ROOT / "demo_data" / "slipway-winch"))
    ((chart, _),) = charts("t", winch.job.gaps[:1], job_bars(winch, "mm"), "mm")
    found, then = (re.search(rf'class="{kind}" x="([\d.]+)"', chart) for kind in ("found", "after"))
    assert found is not None
    assert then is not None
    assert float(then[1]) < float(found[1])
    row = next(line for line in reviewed("plan-slipway-winch-80.txt").splitlines() if line.startswith("preload"))
    assert row.index("●") < row.index("○")


def test_a_cover_that_was_only_nipped_is_not_drawn_as_a_preload() -> None:
    """The step cover stood off 27.5 without shims: no clearance, so the scale has what it comes to alone."""
    row = next(line for line in reviewed("plan-fulling-mill-120.txt").splitlines() if line.startswith("step cover "))
    assert "●" in row
    assert "○" not in row


def test_a_window_with_one_limit_runs_on_to_the_edge() -> None:
    assert _scale([5, 9], Window(4, None, "test")).drawn(Fraction(9), Fraction(5)).endswith("-")
    assert _scale([5, 9], Window(None, 7, "test")).drawn(Fraction(9), Fraction(5)).startswith("-")


# -- on a terminal ---------------------------------------------------------------------------------------------------


def test_per_cents_and_marks_are_explained_where_they_stand_and_only_there(run: Run) -> None:
    seen = {job: run("plan", f"demo_data/{job}")[1] for job in ("fulling-mill", "twelve-valve", "swing-bridge")}
    assert [job for job, out in seen.items() if "Per cent: how likely it is inside." in out] == ["fulling-mill"]
    assert [job for job, out in seen.items() if "]: the mark on the piece." in out] == ["twelve-valve"]


def test_verdict_and_instruction_have_a_colour_beside_their_words() -> None:
    size = {"COLUMNS": "80", "TERM": "xterm-256color", "COLORTERM": "truecolor"}
    said = shown_to(ROOT, "plan", "demo_data/fulling-mill", env=size)
    # orange for what is not inside
    assert re.search(r"\x1b\[[\d;]*38;2;184;92;0m✗ 18\.5 too loose", said)
    assert re.search(r"\x1b\[[\d;]*38;2;24;121;201mS-10 \+ S-05", said)
    plain = shown_to(ROOT, "plan", "demo_data/fulling-mill", env={**size, "NO_COLOR": "1"})
    assert "38;2" not in plain
    assert "✗ 18.5 too loose" in plain


@pytest.mark.parametrize("colour", ["#1879c9", "#b85c00"])
def test_every_colour_reads_on_white_and_on_black(colour: str) -> None:
    """Contrast by WCAG 2.2, relative luminance: (lighter + 0.05) / (darker + 0.05) of at least 4.5 to 1."""
    from shimopt.cli.terminal import _STYLES

    assert any(colour in style for style in _STYLES.values())
    assert {re.sub(r"^bold ", "", style) for style in _STYLES.values()} == {"#1879c9", "#b85c00"}
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    light = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    assert 1.05 / (light + 0.05) >= 4.5
    assert (light + 0.05) / 0.05 >= 4.5
