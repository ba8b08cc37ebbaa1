"""What would make a gap sure, or another plan better: said only where it was tried, and the letter blames no other.

Every figure by hand, beside the job.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.headline import headline
from shimopt.words.next_steps import next_steps
from shimopt.words.reason_words import reason_words
from shimopt.words.short_notes import notes
from shimopt.words.speaker import Speaker
from shimopt.words.why_words import why_answers
from tests.job_files import write_job

HEAD = 'unit = "mm"\ndrawer = "drawer.csv"\n'
WINDOW = 'window = { min = 0.05, max = 0.15, source = "s" }\n'
TRIAL = (
    '[[place]]\nname = "w"\n[[gap]]\nname = "g"\nvalue = "0.60 mm ± 0.005 mm"\n'
    'window = { min = 0.05, max = 0.139, source = "s" }\neffects = { w = { trial = ['
    '{ stack = 0.20, reading = "0.40 mm ± 0.01 mm" }, { stack = 0.40, reading = "0.20 mm ± 0.01 mm" }] } }\n'
)
LETTER = ("the gauge", "more finely", "the shims", "how far a shim moves")


def planned(folder: Path, job: str, drawer: str) -> Decision:
    return decide(load_job(write_job(folder, HEAD + job, drawer)))


def steps(found: Decision) -> str:
    return " ".join(next_steps(found, Speaker.of(found.job)))


def gap(value: str) -> str:
    return f'[[gap]]\nname = "g"\nvalue = "{value}"\n{WINDOW}'


@pytest.mark.parametrize(
    ("job", "drawer", "said", "told"),
    [
        # 0.36 ± 0.02 less 0.30 is 0.04 to 0.08; read to 0.001 it is 0.059 to 0.061
        (gap("0.36 mm ± 0.02 mm"), "S-30,0.30,0,1", "Read g with a finer gauge.", {"the gauge", "more finely"}),
        # 0.40 less 0.30 ± 0.06 is 0.04 to 0.16; measured to 0.002 it is 0.098 to 0.102
        (gap("0.40 mm"), "S-30,0.30,0.06,1", "Measure the pieces of g with a micrometer.", {"the shims"}),
        # ± 0.02 and ± 0.04 about 0.10: 0.04 to 0.16; each alone stays beside a limit at 0.135: 0.075 to 0.195
        (
            gap("0.435 mm ± 0.02 mm"),
            "S-30,0.30,0.04,1",
            "Read g with a finer gauge, and measure the pieces with a micrometer.",
            {"more finely", "the shims"},
        ),
        # the effect is known to 0.9 to 1.1: 0.50 of shim does 0.45 to 0.55, ± 0.05 about 0.10 of 0.05 to 0.139
        (TRIAL, "S-50,0.50,0.002,2", "Take the trial readings of g again, further apart", {"how far a shim moves"}),
    ],
)
def test_what_would_make_it_sure_is_said_and_nothing_else(
    tmp_path: Path, job: str, drawer: str, said: str, told: set[str]
) -> None:
    found = planned(tmp_path, job, f"part,thickness_mm,tolerance_mm,on_hand\n{drawer}\n")
    assert found.outcome.gaps["g"].verdict == "unproven"
    assert said in steps(found)
    letter = letter_content(found, "mm", "2026-05-03")
    text = " ".join([*letter["warnings"], letter["answer"]]).casefold()
    assert {words for words in LETTER if words in text} == told


def test_a_reading_that_no_gauge_gives_is_no_remedy(tmp_path: Path) -> None:
    # 0.3501 less 0.30 is 0.0501: to be sure it would have to be read to a tenth of a micrometre
    found = planned(tmp_path, gap("0.3501 mm ± 0.01 mm"), "part,thickness_mm,on_hand\nS-30,0.30,2\n")
    assert "finer gauge" not in steps(found)
    # 0.3601 - 0.15 = 0.2101 and 0.3401 - 0.05 = 0.2901
    assert "g needs 0.2101 to 0.2901 mm of shim that suits to be sure." in steps(found)
    reasons = letter_content(found, "mm", "2026-05-03")["gaps"][0]["sentences"]
    # a chance of about a half is not called probable
    assert any("It is perhaps inside." in sentence for sentence in reasons)


def test_one_piece_more_is_no_advice_against_a_seats_own_number(tmp_path: Path) -> None:
    # two gaps 0.10 apart, even to 0.02: 0.10 more in one of them, and only pieces of 0.05 are there
    seat = '[[seat]]\nname = "s"\n{}[window]\nmin = 0.05\nmax = 0.40\nsource = "s"\n[stacks]\nmost_pieces = 1\n'
    gaps = "".join(f'[[gap]]\nname = "{n}"\nseat = "s"\nvalue = {v}\n' for n, v in (("a", 0.20), ("b", 0.30)))
    job = seat + gaps + '[[balance]]\nname = "row"\ngaps = ["a", "b"]\nwithin = 0.02\n'
    drawer = "part,thickness_mm,on_hand\nS-05,0.05,4\n"
    told = steps(planned(tmp_path, job.format(""), drawer))
    assert "One piece more in a place than is allowed now would bring row within: allow it only where the seat" in told
    assert "One piece more" not in steps(planned(tmp_path, job.format("most_pieces = 1\n"), drawer))


def test_what_comes_before_any_shim_is_a_step_too() -> None:
    found = decide(load_job(Path(__file__).parent / "data" / "advice" / "no-shims-allowed"))
    told = steps(found)
    assert "Look at reading and seating of tumbler first: no shim helps there." in told
    assert "Restore the dimension that sets idler: see above by how much." in told
    assert "feed needs 2 to 9 thou of shim" in told


def test_where_the_reading_is_doubted_nothing_is_asked_to_be_bought(tmp_path: Path) -> None:
    # 0.165 - 0.15 = 0.015 to 0.115 of shim would do, and the thinnest is 0.30
    found = planned(tmp_path, gap("0.165 mm"), "part,thickness_mm,on_hand\nS-30,0.30,2\n")
    again = "Read g again before you buy anything: if it stands, g needs 0.015 to 0.115 mm."
    assert again in steps(found)
    assert "of shim that suits" not in steps(found)
    letter = " ".join(letter_content(found, "mm", "2026-05-03")["gaps"][0]["sentences"])
    assert "has to be repeated first" in letter
    assert "What is needed" not in letter


@pytest.mark.parametrize(("size", "helps"), [("0.30", True), ("0.90", False)])
def test_buying_is_offered_only_where_it_was_tried_and_helps(tmp_path: Path, size: str, helps: bool) -> None:
    # 0.40 less 0.30 is 0.10, inside; 0.90 would be 0.50 of preload
    (tmp_path / "offers.csv").write_text(f"part,thickness_mm,price\nC-1,{size},2\n", encoding="utf-8")
    job = f'catalogues = ["offers.csv"]\n{gap("0.40 mm ± 0.01 mm")}'
    told = steps(planned(tmp_path, job, "part,thickness_mm,on_hand\nS-10,0.10,1\n"))
    assert ("What the catalogues offer makes it better: shimopt" in told) is helps
    assert "See whether the catalogues" not in told
    assert "g needs 0.26 to 0.34 mm of shim that suits to be sure." in told


def test_no_part_known_comes_near_and_nothing_is_asked_to_be_bought(tmp_path: Path) -> None:
    # 4.00 ± 0.10; the thickest part known is 0.50, three of it 1.50: nothing reaches 4.1 - 0.15 = 3.95
    (tmp_path / "offers.csv").write_text("part,thickness_mm,price\nC-1,0.50,2\n", encoding="utf-8")
    job = f'catalogues = ["offers.csv"]\n{gap("4.0 mm ± 0.1 mm")}'
    found = planned(tmp_path, job, "part,thickness_mm,on_hand\nS-10,0.10,1\n")
    assert "beyond_parts" in {reason.code for reason in found.reasons}
    assert "of shim" not in steps(found)
    letter = " ".join(letter_content(found, "mm", "2026-05-03")["gaps"][0]["sentences"])
    assert "No part known here is that thick: the measurement has to be checked before" in letter


@pytest.mark.parametrize(
    ("terms", "said"),
    [
        ('[[supplier]]\nname = "Holm"\npostage = 5\n', "shimopt order JOB (for today alone: shimopt plan JOB --buy)"),
        ("", "plan JOB --buy (shimopt order JOB once [[supplier]] states the postage of Holm)"),
    ],
)
def test_an_order_is_only_named_where_it_can_be_made(tmp_path: Path, terms: str, said: str) -> None:
    """0.30 and a window of 0.05 to 0.15: S-20 would do, and Holm sells it."""
    folder = tmp_path / "nothing-there"
    folder.mkdir()
    (folder / "catalogue.csv").write_text("part,thickness_mm,price,currency,supplier\nS-20,0.20,1,GBP,Holm\n")
    job = 'catalogues = ["catalogue.csv"]\n' + gap("0.30 mm") + terms
    assert said in steps(planned(folder, job, "part,thickness_mm,on_hand\nS-10,0.10,1\n"))


def test_a_size_that_is_short_by_one_comes_before_a_finer_gauge(tmp_path: Path) -> None:
    # 0.449 ± 0.02 is surely inside with 0.319 to 0.379: S-34 ± 0.002 leaves 0.087 to 0.131, and there is one; S-30
    # leaves 0.127 to 0.171, read to 0.001 still 0.146 to 0.152, and pieces known to 0.002 no micrometer knows better
    two = gap("0.449 mm ± 0.02 mm") + gap("0.449 mm ± 0.02 mm").replace('"g"', '"h"')
    drawer = "part,thickness_mm,tolerance_mm,on_hand\nS-30,0.30,0.002,1\nS-34,0.34,0.002,{}\n"
    found = planned(tmp_path, two, drawer.format(1))
    (unsure,) = (name for name, after in found.outcome.gaps.items() if after.verdict == "unproven")
    assert f"One more S-34 would make {unsure} sure." in steps(found)
    assert "finer gauge" not in steps(found)
    letter = letter_content(found, "mm", "2026-05-03")
    assert "One more S-34 would make it sure." in " ".join(letter["warnings"])
    assert planned(tmp_path, two, drawer.format(2)).outcome.doable
    # of several that each would serve one sentence
    three = two + gap("0.449 mm ± 0.02 mm").replace('"g"', '"i"')
    many = planned(tmp_path, three, drawer.format(1).replace("0.002,1\n", "0.002,2\n", 1))
    first, second = (name for name, after in many.outcome.gaps.items() if after.verdict == "unproven")
    assert f"One more S-34 would make one of {first} and {second} sure." in steps(many)


def test_a_worn_piece_explains_what_is_lacking(tmp_path: Path) -> None:
    # 1.78 by measure of 2.00 as marked is in and 0.48 to 0.50 is read: 2.26 to 2.28 less 0.10 to 0.25 is 2.03 to 2.16.
    # No T is that thick, and the reading is not to blame: 0.22 wore off
    text = (
        '[[place]]\nname = "g"\nparts = ["T-*"]\npieces = { min = 1, max = 1 }\n'
        'installed = [{ part = "T-2", measured = "1.78 mm" }]\n[[gap]]\nname = "g"\n'
        'feeler = { go = 0.48, no_go = 0.50 }\nwindow = { min = 0.10, max = 0.25, source = "manual" }\n'
    )
    found = planned(tmp_path, text, "part,thickness_mm,on_hand\nT-2,2.00,0\n")
    letter = " ".join(letter_content(found, "mm", "2026-05-03")["gaps"][0]["sentences"])
    said = " ".join(reason_words(reason, Speaker.of(found.job)) for reason in found.reasons)
    assert "T-2 is worn: marked 2.00 mm, it measures 1.78 mm. Put it aside." in str(
        sheet_content(found, "mm", "x")["out"]
    )
    for told in (letter, said):
        assert "T-2 is worn: marked 2.00 mm, it measures 1.78 mm." in told
        assert "in the drawer" not in told
        assert "measurement" not in told
    [worn] = [note.words for note in notes(found, Speaker.of(found.job), chances=False) if "worn" in note.words]
    assert worn == "g: T-2 is worn: marked 2.00 mm, it measures 1.78 mm."


def test_a_limit_of_pieces_that_nobody_stated_is_named_where_it_stands_in_the_way(tmp_path: Path) -> None:
    """30.5 less 4 to 12 is 18.5 to 26.5: 2 x 7 + 3 are 17, with a fourth 20. 50.5 wants 38.5, and there are 34."""
    gaps = "".join(
        f'[[gap]]\nname = "{n}"\nfeeler = {{ go = {go}, no_go = {go + 1} }}\n' for n, go in (("a", 30), ("b", 14))
    )
    text = f'title = "W"\nunit = "thou"\ndrawer = "drawer.csv"\n[window]\nmin = 4\nmax = 12\nsource = "sheet"\n{gaps}'
    drawer = "part,thickness_thou,on_hand\nS2,2,4\nS3,3,4\nS7,7,2\n"

    def said(job: str) -> str:
        found = decide(load_job(write_job(tmp_path, job, drawer)))
        letter = " ".join(letter_content(found, "thou", "2026-05-03")["gaps"][0]["sentences"])
        return f"{headline(found, Speaker.of(found.job))} {steps(found)} {letter}"

    three = said(text)
    assert three.startswith("With at most 3 pieces in a place the drawer cannot do it: a stays 18.5 thou too loose")
    assert "One piece more in a place would bring a inside: allow it (`most_pieces`, 3 where nothing says it)" in three
    assert "Even the thickest stack of at most 3 pieces that is left, 13 thou" in three
    four = said(f"{text}[stacks]\nmost_pieces = 4\n")
    assert "at most" not in four
    assert "both gaps come inside" in four
    # where all that there is would not do, no limit is to blame
    short = said(text.replace("go = 30, no_go = 31", "go = 50, no_go = 51"))
    assert short.startswith("The drawer cannot do it")
    assert "at most 3 pieces" not in short


UNSURE = """
unit = "thou"
drawer = "drawer.csv"
window = {{ min = 2, max = 5, source = "list" }}
{more}
[[place]]
name = "cover"
came_out = ["V-10", "V-05"]
{place}
[[gap]]
name = "play"
cover_gap = {{ go = 17, no_go = 18 }}
effects = {{ cover = 1 }}
"""
TINS = "part,thickness_thou,tolerance_thou,on_hand\nV-02,2,0.1,2\nV-03,3,0.1,2\nV-05,5,0.1,1\nV-10,10,0.2,0\n"


@pytest.mark.parametrize(
    ("more", "place", "limit"),
    [
        ("", "", "3 are assumed to be the most there, where nothing says more: write most_pieces = 4 only"),
        ("stacks = { most_pieces = 3 }", "", "at most 3 are allowed there: write most_pieces = 4 only"),
        ("stacks = { most_pieces = 4 }", "", ""),
        # exactly so many go there
        ("", "pieces = { min = 3, max = 3 }", ""),
    ],
)
def test_the_limit_of_pieces_is_named_where_one_more_makes_sure(
    tmp_path: Path, more: str, place: str, limit: str
) -> None:
    """10 + 5 + 5 less 17 to 18 is 2 to 3, ± 0.4: 1.6 to 3.4; 10 + 5 + 3 + 3 is 3 to 4, ± 0.5: within 2 to 5."""
    found = decide(load_job(write_job(tmp_path, UNSURE.format(more=more, place=place), TINS)))
    assert found.outcome.gaps["play"].verdict == ("inside" if "4" in more else "unproven")
    say = Speaker.of(found.job)
    why = " ".join(" ".join(answer.lines) for answer in why_answers(found, found.account("play"), say))
    told = f"With 4 pieces at cover (V-10 + 2 x V-03 + V-05) play would be sure; {limit}"
    for said in (steps(found), why):
        assert (told in said) is bool(limit), said


def test_a_limit_of_one_piece_is_named_too_but_for_what_takes_exactly_one(tmp_path: Path) -> None:
    """30.5 less 4 to 12 is 18.5 to 26.5: one of 14 is not thick enough, two are too thick; 14 + 8 is 22."""
    text = 'unit = "thou"\ndrawer = "drawer.csv"\nwindow = { min = 4, max = 12, source = "s" }\n'
    text += '[[place]]\nname = "a"\npieces = { min = MIN, max = 1 }\n'
    text += '[[gap]]\nname = "a"\nfeeler = { go = 30, no_go = 31 }\n'
    for least, named in ((0, True), (1, False)):
        found = decide(
            load_job(
                write_job(tmp_path, text.replace("MIN", str(least)), "part,thickness_thou,on_hand\nS8,8,1\nS14,14,1\n")
            )
        )
        say = Speaker.of(found.job)
        first = headline(found, say)
        assert first.startswith("With at most one piece in a place the drawer cannot do it") is named
        assert (
            "one piece more than the 1 allowed there would do"
            in " ".join(reason_words(one, say) for one in found.reasons)
        ) is named


def test_no_piece_more_is_wanted_where_what_is_there_would_do(tmp_path: Path) -> None:
    """0.30 ± 0.01 with S-20 in: with S-10 + S-20, 0.20 ± 0.01, it were surely inside, and both are there."""
    gap_of = '[[gap]]\nname = "g"\nvalue = "0.300 mm ± 0.01 mm"\n[[place]]\nname = "g"\ninstalled = ["S-20"]\n'
    text = f'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.10\nmax = 0.30\nsource = "s"\n{gap_of}'
    found = decide(
        load_job(write_job(tmp_path, text, "part,thickness_mm,on_hand\nS-10,0.10,2\nS-20,0.20,0\nS-30,0.30,0\n"))
    )
    assert found.outcome.gaps["g"].verdict == "unproven"
    assert not found.remedies.more
    letter = letter_content(found, "mm", "2026-05-03")
    assert "One more" not in f"{steps(found)} {letter['warnings']}"


@pytest.mark.parametrize("reading", ["feeler = { no_go = 0.05 }", "value = 0"])
def test_a_letter_wants_nothing_for_what_reads_as_nothing(tmp_path: Path, reading: str) -> None:
    """With R-10 out it were 0.10 to 0.15 at most, and 0.20 is asked: nothing that is bought helps there."""
    text = (
        'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.20\nmax = 0.40\nsource = "s"\n[[place]]\nname = "d"\n'
        f'installed = ["R-10"]\n[[gap]]\nname = "d"\n{reading}\n'
    )
    found = decide(load_job(write_job(tmp_path, text, "part,thickness_mm,on_hand\nR-10,0.10,0\n")))
    watch = " ".join(letter_content(found, "mm", "2026-05-03")["watch"])
    assert "gets what is wanted" not in watch
    assert "Next the workshop finds out what d hides, which reads as nothing" in watch
