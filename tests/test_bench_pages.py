"""The pages of the bench as text: they say what the command line says, and what somebody typed stays text."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from shimopt.bench.drawer_view import drawer_data
from shimopt.bench.gap_view import gap_data
from shimopt.bench.in_hand import InHand
from shimopt.bench.index_view import row_data
from shimopt.bench.job_view import job_data
from shimopt.bench.order_view import order_data
from shimopt.bench.page_templates import page, static
from shimopt.bench.reading_said import said_in
from shimopt.bench.record_view import record_data
from shimopt.errors import Problem
from shimopt.job import load_job
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.planner import Decision, before_reasons, chosen_stacks, decide
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.order_screen import order_lines
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import why_lines
from shimopt.words.button_words import by_buttons, refused_here
from tests.bench_server import laid_job
from tests.command import Run
from tests.test_order_partly_together import QUARTER, TWENTY
from tests.test_order_partly_together import job as equal_packs

DEMO = Path(__file__).parents[1] / "demo_data"
# all demos, and jobs that go wrong
FOLDERS = sorted(
    file.parent for where in (DEMO, Path(__file__).parent / "data" / "advice") for file in where.glob("*/job.toml")
)
# sentences of the screen that name commands or its table
_OF_THE_SCREEN = ("Reasons: “Why”", "More: --full", "add --", "All lengths in")
# a number by itself: no part's name, no date
_NUMBER = re.compile(r"(?<![\w.,/-])\d+(?:\.\d+)?(?![\w/]|\.\d|-\w)")
_OF_THE_FILE = re.compile(
    r"`[^`]*`|\w+_\w+|\w+\.toml|\[\[\w+|found:|(?<!computer, whether it is right and enough: )shimopt \w+"
)


def given(decision: Decision, stage: str = "reasons") -> dict[str, Any]:
    """What the server hands to the template of a job."""
    readings = [
        {"gap": gap.name, "n": n, "form": "value", "now": {"value": "1"}, "can": True, "why_not": None, "differs": None}
        for n, gap in enumerate(decision.job.gaps, 1)
    ]
    job = {
        "id": "job-1",
        "version": "1",
        "stage": stage,
        "data": job_data(decision, stage),
        "readings": readings,
        "blades": ["1", "2"],
    }
    return {"job": job, "form": {"token": "t"}, "me": {"name": "", "local": True}, "said": None, "errors": None}


def test_a_field_says_preload_where_the_file_has_a_minus(tmp_path: Path) -> None:
    """Nothing on the page explains a sign; and a bare number is not taken there."""
    preload = 'window = { preload = [0.01, 0.07], source = "sheet 12" }'
    text = f'unit = "mm"\ndrawer = "drawer.csv"\n{preload}\n\n[[gap]]\nname = "east"\nvalue = "-0.03 mm ± 0.005 mm"\n'
    file = laid_job(tmp_path, text, "part,thickness_mm,on_hand\nS-10,0.1,4\n")
    shown = given(decide(load_job(file)))
    shown["job"]["readings"][0]["now"] = InHand.read(file).gaps["east"].told()
    form = page("job", **shown).partition("reads, mm")[2].partition("</form>")[0]
    assert 'value="preload 0.03 mm ± 0.005 mm"' in form
    assert "say which: preload 0.03, or play 0.03" in form
    # sent as it stands, it is what was there
    said = said_in({"value": "preload 0.03 mm ± 0.005 mm"})
    assert InHand.read(file).says("east", said)


def asked_by_the_bench() -> dict[str, Any]:
    """What the server hands to every template."""
    me = {"name": "", "local": True}
    return {"form": {"token": "t"}, "me": me, "said": None, "errors": None, "pages": ()}


def seen(text: str) -> str:
    """What a reader sees of a page, what stands in its fields too, spaces made one."""
    text = re.sub(r'<input (?!type="hidden")[^>]*\bvalue="([^"]*)"[^>]*>', r" \1 ", text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def said_on_the_terminal(lines: Sequence[tuple[str, object]], title: str) -> list[str]:
    """What a screen says, as a page says it, without signs, titles and what names a command."""
    texts = [by_buttons(" ".join(text.split())).lstrip("✓✗?!→> ").strip() for text, _ in lines]
    texts = [text.removeprefix(f"{title}. ") for text in texts]
    return [text for text in texts if not any(one in text for one in _OF_THE_SCREEN)]


def not_on_the_page(told: str, texts: Sequence[str]) -> list[str]:
    """Sentences that a page does not have word for word, and numbers that it does not have digit for digit."""
    words = [text for text in texts if text.endswith(".") and "├" not in text and text not in told]
    numbers = {number for text in texts for number in _NUMBER.findall(text)} - {*_NUMBER.findall(told)}
    return [*words, *sorted(numbers)]


@pytest.mark.parametrize("folder", FOLDERS, ids=[folder.name for folder in FOLDERS])
def test_the_pages_say_what_the_command_line_says_of_the_same_folder(folder: Path) -> None:
    decision = decide(load_job(folder))
    job, hand = decision.job, InHand.read(folder / "job.toml")
    rows = [row | {"now": hand.gaps[row["gap"]].told()} for row in given(decision)["job"]["readings"]]
    shown = given(decision)
    shown["job"]["readings"] = rows
    on_screen = said_on_the_terminal(short_lines(decision, job.unit, 100_000, UNICODE), job.title)
    pages = {"job": page("job", **shown)}
    assert not_on_the_page(seen(pages["job"]), on_screen) == []
    for n, gap in enumerate(job.gaps, 1):
        about = {"job": {"id": "job-1", "version": "1"}, "n": n, "data": gap_data(decision, gap.name)}
        pages["gap"] = page("gap", **asked_by_the_bench() | about)
        # the answer to the whole job stands first, and on the page of the job
        why = said_on_the_terminal(why_lines(decision, [gap.name], job.unit, 100_000), job.title)[1:]
        assert not_on_the_page(seen(pages["gap"]), why) == []
    order = make_order([job])
    asked = said_on_the_terminal(order_lines(order, job.unit, 100_000), job.title)
    assert len(on_screen) > 2
    assert not_on_the_page(order_seen(order), asked) == []
    record = {"job": {"id": "job-1"}, "data": record_data(decision)}
    pages |= {"order": order_page(order), "record": page("record", **asked_by_the_bench() | record)}
    # a page's policy refuses a style in its text
    assert not any(" style=" in text for text in pages.values())
    # who reads a page sees neither the job's file nor a terminal
    assert [(name, found) for name, text in pages.items() for found in _OF_THE_FILE.findall(seen(text))] == []


def order_page(order: Order) -> str:
    return page("order", **asked_by_the_bench() | {"job": {"id": "job-1"}, "data": order_data(order)})


def order_seen(order: Order) -> str:
    return seen(order_page(order))


def test_the_page_of_an_order_says_at_which_readings_nothing_serves_equal_packs(tmp_path: Path) -> None:
    """Where one gap reads 0.25 to 0.30 and the other 0.35 to 0.40: by hand in the file that the job is from."""
    told = order_seen(make_order([load_job(equal_packs(tmp_path, TWENTY + QUARTER))]))
    assert "left: 0.25 goes, 0.30 does not; right: 0.35 goes, 0.40 does not (chance" in told
    assert told.count("Whatever goes in, with equal packs") == 2


@pytest.mark.parametrize(
    ("on_the_terminal", "on_the_page"),
    [
        ("Buy through shimopt order JOB: it is listed.", "Buy through “Order”: it is listed."),
        ("It is there: shimopt order JOB (for today alone: shimopt plan JOB --buy)", "It is there: “Order”"),
        ("and 3 more: shimopt sheet JOB", "and 3 more: “Sheet”"),
        ("8 more: shimopt plan JOB --full", "8 more: “Why”"),
        ("by what `shimopt plan JOB` lists, read again", "by what the job's page lists, read again"),
        ("Starts from what was recorded; --from-start passes over it.", "Starts from what was recorded."),
        (
            "The readings are written into the job: shimopt record JOB",
            "The readings are written into the job: “Record”",
        ),
        ("If that is this job: shimopt hold JOB --free.", "If that is this job: “Let go of the pieces”."),
        # no button does these
        ("whether it is enough: shimopt order JOB --came FILE", "whether it is enough: shimopt order JOB --came FILE"),
        ("What may bring it inside: shimopt plan JOB --buy.", "What may bring it inside: shimopt plan JOB --buy."),
    ],
)
def test_what_a_button_does_is_said_by_its_words(on_the_terminal: str, on_the_page: str) -> None:
    assert by_buttons({"lines": [on_the_terminal], "n": 1}) == {"lines": [on_the_page], "n": 1}
    shown_lines = seen(page("wrong", **asked_by_the_bench() | {"title": "", "said": [on_the_terminal]}))
    assert on_the_page in shown_lines


@pytest.mark.parametrize(
    ("where", "value", "rule", "remedy", "told"),
    [
        (
            '[[gap]] 1 "east", feeler',
            "{ go = 14, no_go = 13 }",
            "the blade that goes is not thinner",
            "swap go and no_go",
            "East: the blade that goes is not thinner (14 goes, 13 does not). Swap them.",
        ),
        (
            'after["east"]',
            "7-8x",
            "this is not a length",
            'write it like "0.35 mm"',
            'East: this is not a length (7-8x). Write it like "0.35 mm".',
        ),
        ("after", "", "no reading was given", "give one", "No reading was given. Give one."),
        (
            "--after",
            "east=178",
            "178 thou? 178 um was probably meant",
            'write it as "east=178, checked"',
            "East: 178 thou? 178 um was probably meant. Write it as “178, checked”.",
        ),
        (
            "east",
            "",
            "17 to 18 mm was probably meant",
            "add checked = true to the gap",
            "East: 17 to 18 mm was probably meant. Tick “Read again, it is as typed”.",
        ),
    ],
)
def test_what_is_refused_is_told_of_its_gap_and_not_of_a_file(
    where: str, value: str, rule: str, remedy: str, told: str
) -> None:
    error = Problem("", where, value, rule, remedy).to_dict()
    assert refused_here(error, "" if where.startswith("after") else where if "--" in where else "east")["text"] == told


def test_what_was_typed_into_a_form_comes_back_as_it_was_typed() -> None:
    typed = "shimopt order JOB"
    assert f'value="{typed}"' in page("new", **asked_by_the_bench() | {"typed": {"title": typed}})


def test_before_its_reasons_are_known_a_plan_says_no_more_than_its_counts() -> None:
    chosen = chosen_stacks(load_job(DEMO / "swing-bridge"))
    data = job_data(before_reasons(chosen), "plan")
    assert data["answer"] == ["5 of 5 gaps inside. Reasons and cautions follow."]
    # they follow by themselves where there is script
    for stage, by_hand in (("plan", 1), ("reasons", 0)):
        text = page("job", **asked_by_the_bench() | {"job": {"id": "j", "stage": stage, "data": data}})
        assert text.count("<noscript>") == by_hand
    assert [row["text"] for row in data["gaps"][0]["work"]] == ["R-07", "tin 1"]


def test_a_job_that_has_something_to_settle_is_not_shown_as_right() -> None:
    """The winch's backlash has to be read again once its preload is set."""
    assert row_data(decide(load_job(DEMO / "slipway-winch")))["verdict"] == "unproven"
    assert row_data(decide(load_job(DEMO / "swing-bridge")))["verdict"] == "inside"
    assert row_data(decide(load_job(DEMO / "fulling-mill")))["verdict"] == "outside"


def test_what_somebody_typed_is_only_ever_text() -> None:
    typed = "<script>alert(1)</script>\"'&"
    job = {
        "unit": "thou",
        "title": typed,
        "window": {"min": 4, "max": 12, "source": typed},
        "gap": [{"name": typed, "feeler": {"go": 9, "no_go": 10}}],
    }
    from shimopt.job import job_from
    from shimopt.parts.drawer_and_catalogues import Stock

    text = page("job", **given(decide(job_from(job, Stock(())))))
    assert "<script>alert" not in text
    assert typed in html.unescape(text)


def test_a_gap_lies_on_its_strip_where_it_was_read_and_comes_to() -> None:
    """The scale is straight: from 4 to 12 thou as many pixels an inch as from 10.5 to 17.5 (best estimates)."""
    data = job_data(decide(load_job(DEMO / "swing-bridge")), "reasons")
    drawn = ElementTree.fromstring(data["gaps"][0]["strip"])
    by_class = {one.get("class"): one for one in drawn.iter() if one.get("class")}
    window, shim = (by_class[name] for name in ("window", "shim"))
    a_thou = float(window.get("width") or 0) / (12 - 4)
    assert float(shim.get("width") or 0) / a_thou == pytest.approx(7, abs=0.02)
    # its left edge is where the gap comes to: 6.5 thou from the window's lower end
    left = float(shim.get("x") or 0) - float(window.get("x") or 0)
    assert left / a_thou == pytest.approx(10.5 - 4, abs=0.02)


def test_after_a_record_a_strip_begins_where_it_was_measured(run: Run, tmp_path: Path) -> None:
    """14.5 was read, W-08 went in and 2.5 was found: out again it comes to 10.5, and nothing stands at 10.5 to 14.5."""
    bridge = Path(shutil.copytree(DEMO / "swing-bridge", tmp_path / "bridge"))
    run("record", bridge, "--person", "W. Ames", "--instrument", "blades", "--after", "lower 2=2 to 3")
    job = bridge / "job.toml"
    decision = decide(load_job(job))
    [card] = [card for card in job_data(decision, "reasons")["gaps"] if card["name"] == "lower 2"]
    assert "measured 2.0 to 3.0 thou" in card["strip"]
    by_class = {one.get("class"): one for one in ElementTree.fromstring(card["strip"]).iter() if one.get("class")}
    window, out = by_class["window"], by_class["shim-out"]
    a_thou = float(window.get("width") or 0) / (12 - 4)
    assert float(out.get("width") or 0) / a_thou == pytest.approx(8, abs=0.02)
    left = float(out.get("x") or 0) - float(window.get("x") or 0)
    assert left / a_thou == pytest.approx(2.5 - 4, abs=0.02)


def test_script_and_style_are_small_enough_for_a_slow_wi_fi() -> None:
    assert sum(len(static(name)) for name in ("bench.js", "bench.css")) <= 40 * 1024


def test_a_drawer_is_called_by_its_file_and_not_by_where_it_lies_on_the_computer() -> None:
    assert drawer_data(load_job((DEMO / "swing-bridge").resolve()))["name"] == "swing-bridge/drawer.csv"


@pytest.mark.parametrize("name", ["fulling-mill", "quarry-tram", "swing-bridge"])
def test_a_card_has_the_numbers_of_the_plan_s_table_with_its_digits_and_its_star(name: str) -> None:
    decision = decide(load_job(DEMO / name))
    table = "\n".join(text for text, _ in short_lines(decision, decision.job.unit, 2000, UNICODE))
    cards = [card for card in job_data(decision, "reasons")["gaps"] if card["then"] != "same"]
    assert cards
    for card in cards:
        number, star = card["then"].removesuffix("*"), "*" * card["then"].endswith("*")
        assert f" {card['then']} " in table
        assert f" {number} {card['unit']}{star} " in card["strip"]
