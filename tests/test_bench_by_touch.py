"""The bench page by a finger: what is tapped is kept at once and sent soon; no older answer passes for the newest."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.bench_browser import (
    AS_READ,
    DEMO,
    FAINT_TEXTS,
    bench,
    bench_at,
    in_file,
    job_of,
    opened,
    says,
    until,
    until_in_file,
)
from tests.bench_server import Server, job_text, laid_job, reading, served

pytestmark = pytest.mark.browser
_KEPT = "Object.keys(localStorage).filter((name) => name.startsWith('reading ')).length"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    for name in ("tapped", "pad", "lost", "away", "still", "locked", "differ", "why"):
        laid_job(folder / name, AS_READ)
    shutil.copytree(DEMO / "slipway-winch", folder / "slipway-winch")
    laid_job(folder / "dial", job_text(east="indicator = { readings = [10, 10.5] }"))
    with served(folder) as server:
        yield server, folder


def tap(page: Any, where: str, nth: int = 0) -> None:
    # at once, for the page may be shown anew meanwhile
    page.locator(where).nth(nth).evaluate("shown => shown.scrollIntoView({ block: 'center' })")
    page.locator(where).nth(nth).tap()


def on_the_pad(page: Any, field: str, keys: str) -> None:
    """A number on the page's own pad, not taken over yet."""
    tap(page, field)
    for key in keys:
        tap(page, f"#pad [data-key='{key}']")


@contextmanager
def with_its_clock_stopped(chromium: Any, server: Server, name: str) -> Iterator[Any]:
    """A browser at a job's page, whose clock from then on goes only as it is told."""
    with bench(chromium, server) as page:
        page.clock.install(time=0)
        opened(page, server, name)
        # whatever came with the opening is over by then
        page.clock.pause_at(3600)
        yield page


def sent_half_a_second_later(page: Any) -> None:
    """By the page's own clock: not a moment sooner, and by then."""
    sent = list[str]()
    page.on("request", lambda request: sent.append(request.url) if request.url.endswith("/reading") else None)
    page.clock.run_for(499)
    assert page.evaluate(_KEPT) == 1
    assert sent == []
    with page.expect_request("**/reading"):
        page.clock.run_for(1)


def test_a_tap_is_sent_half_a_second_later(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with with_its_clock_stopped(chromium, server, "tapped") as page:
        tap(page, "#gap-1 .step")
        sent_half_a_second_later(page)
        until_in_file(folder, "tapped", "east", {"go": 16, "no_go": 17})


def test_a_number_from_the_pad_is_sent_half_a_second_later(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with with_its_clock_stopped(chromium, server, "pad") as page:
        on_the_pad(page, "#gap-1 [name=go]", "14")
        # the blade that is set beside it is told before it is taken over
        assert page.inner_text(".pad-next") == "does not go, thou: 15"
        # the page hears of it a moment after it has closed, and begins to count then
        page.eval_on_selector("#pad", "(pad) => pad.addEventListener('close', () => pad.classList.add('heard'))")
        tap(page, "#pad [data-key=ok]")
        page.wait_for_selector("#pad.heard", state="attached")
        sent_half_a_second_later(page)
        until_in_file(folder, "pad", "east", {"go": 14, "no_go": 15})


def test_a_further_pull_of_a_dial_goes_behind_those_that_were_read(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench_at(chromium, server, "dial") as page:
        # with a keyboard at hand by its keys
        tap(page, "#gap-1 [name=readings]")
        for key in ("8", "Backspace", "9", "Enter"):
            page.keyboard.press(key)
        until(lambda: "readings = [10, 10.5, 9]" in (folder / "dial" / "job.toml").read_text(encoding="utf-8"))


def test_a_tap_is_kept_before_it_is_sent_and_goes_out_though_its_page_is_gone(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench_at(chromium, server, "lost") as page:
        # a page that ends before its own moment to send comes
        page.evaluate("window.setTimeout = () => 0")
        tap(page, "#gap-1 .step")
        says(page, "#state", "kept here, not sent: 1")
        assert page.evaluate(_KEPT) == 1
        # a second tap is the same reading, seen again
        tap(page, "#gap-1 .step")
        assert page.evaluate(_KEPT) == 1
        assert in_file(folder, "lost", "east") == {"go": 17, "no_go": 18}
        second = page.context.new_page()
        opened(second, server, "lost")
        until_in_file(folder, "lost", "east", {"go": 15, "no_go": 16})


def test_while_a_reading_is_kept_here_the_answer_is_said_to_be_by_earlier_ones(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, _ = shop
    with bench_at(chromium, server, "away") as page:
        assert page.locator(".earlier:visible").count() == 0
        page.context.set_offline(True)
        tap(page, "#gap-1 .step")
        assert page.locator(".earlier:visible").all_inner_texts() == [
            "by earlier readings",
            *["by an earlier reading"] * 2,
        ]
        # no verdict stands there that is another reading's: of shared pieces, not the other gap's either
        assert not any(page.locator(f"#gap-{n} .verdict").is_visible() for n in (1, 2))
        # pale is what goes by it, notes included, and can be read all the same
        weights = "(es) => [...new Set(es.map((e) => getComputedStyle(e).fontWeight))]"
        assert page.eval_on_selector_all("#gap-1 .does dd, .answer div p, .notes li span", weights) == ["400"]
        assert page.evaluate(FAINT_TEXTS, 4.5) == []
        page.context.set_offline(False)
        until(lambda: page.locator(".earlier:visible").count() == 0)


def test_places_that_are_no_gap_are_pale_too_and_a_tick_stands_only_where_it_helps(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    """A bare number beside a preload may be play or preload: only a word settles that."""
    server, _ = shop
    with bench_at(chromium, server, "slipway-winch") as page:
        page.context.set_offline(True)
        page.fill("#gap-1 [name=value]", "0.04")
        page.press("#gap-1 [name=value]", "Enter")
        says(page, "#state", "kept here, not sent: 1")
        assert page.locator(".place .earlier:visible").count() == 2
        weights = "(es) => es.map((e) => getComputedStyle(e).fontWeight)"
        assert set(page.eval_on_selector_all(".place dd", weights)) == {"400"}
        assert page.evaluate(FAINT_TEXTS, 4.5) == []
        page.context.set_offline(False)
        says(page, "#gap-1 .told", "0.04 by itself may be play or preload")
        assert page.locator("label.checked:visible").count() == 0
        page.fill("#gap-1 [name=value]", "preload 40")
        page.press("#gap-1 [name=value]", "Enter")
        says(page, "#gap-1 .told", "tick “Read again, it is as typed”")
        assert page.locator("#gap-1 label.checked").is_visible()


def test_nothing_moves_under_the_thumb_when_a_reading_is_sent(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench_at(chromium, server, "still") as page:
        before = page.locator("#gap-1").bounding_box()["y"] + page.evaluate("scrollY")
        page.locator("#gap-1 .step").first.tap()
        kept = page.locator("#gap-1").bounding_box()["y"] + page.evaluate("scrollY")
        says(page, "#state", "✓ sent")
        assert (kept, page.locator("#gap-1").bounding_box()["y"] + page.evaluate("scrollY")) == (before, before)


def test_the_first_line_of_a_long_answer_can_be_seen(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench_at(chromium, server, "still") as page:
        page.evaluate("document.querySelector('.answer > div').prepend('Found outside. '.repeat(300))")
        tops = "['.answer', '.answer > div'].map((what) => document.querySelector(what).getBoundingClientRect().top)"
        box, text = page.evaluate(tops)
        assert text >= box


def test_while_one_of_two_readings_has_to_be_chosen_nothing_says_what_to_fit(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    name = job_of(server, "differ")
    with bench_at(chromium, server, "differ") as page:
        for counter, by in enumerate("ab", 1):
            server.post(f"/job/{name}/reading", reading(counter, bench=by * 16, go=f"{19 + counter}", no_go="25"))
        says(page, ".answer", "east: two readings differ. Choose one before anything is fitted.")
        assert "S-" not in page.inner_text(".answer") + page.inner_text("#gap-1 .does")
        assert page.inner_text("#gap-1 .verdict").split() == ["?", "to", "be", "chosen"]
        # what is left of shared pieces for the others nobody knows either
        assert page.inner_text("#gap-2 .verdict").split() == ["?", "waits"]
        page.goto("/")
        says(page, ".jobs .unproven[href*=differ]", "east: two readings differ")
        for paper in ("sheet.html", "letter.pdf", "order", "gap/1"):
            told = server.get(f"/job/{name}/{paper}")
            assert (told.status, "one must be chosen" in told.text) == (400, True), paper
        # before anything is typed there
        assert "east: two readings differ" in server.get(f"/job/{name}/record").text.partition("<form")[0]
        asked = server.post(f"/job/{name}/customer", {"days": "14"}).data["address"]
        told = server.get(f"/c/{asked.rpartition('/c/')[2]}")
        assert (told.status, "being measured again" in told.text, "<a" in told.text) == (503, True, False)
        opened(page, server, "differ")
        tap(page, "#gap-1 .differ button", 1)
        until_in_file(folder, "differ", "east", {"go": 21, "no_go": 25})
        says(page, ".answer", "Fit S-")


def test_why_is_told_of_the_reading_just_given_and_anew_with_the_next(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench_at(chromium, server, "why") as page:
        asked = list[str]()
        page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
        for _ in range(3):
            tap(page, "#gap-1 .step")
        tap(page, "#gap-1 >> text=Why")
        says(page, ".account", "14 to 15 thou")
        assert asked == []
        # written there by an editor
        laid_job(folder / "why", AS_READ.replace("go = 17, no_go = 18", "go = 20, no_go = 21"))
        says(page, ".account", "20 to 21 thou")


def test_while_a_reading_cannot_be_written_the_page_says_so_by_itself(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    file = folder / "locked" / "job.toml"
    with bench_at(chromium, server, "locked") as page:
        file.chmod(0o444)
        tap(page, "#gap-1 .step[data-step='1']", 1)
        says(page, ".answer", "does not stand in the job's file yet")
        says(page, ".answer", "read-only")
        says(page, "#gap-1 .does", "not planned yet")
        file.chmod(0o644)
        says(page, ".answer", "Fit")
