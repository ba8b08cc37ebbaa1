"""The bench page in a browser: what is refused is said at its gap, wherever it was sent from; a held job's page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.bench_browser import (
    AS_READ,
    bench,
    bench_at,
    filled,
    in_file,
    job_of,
    kept_here,
    laid_stock,
    says,
    typed,
    until,
    until_in_file,
)
from tests.bench_server import Server, laid_job, reading, served

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    for name in ("refused", "away", "record", "slip", "pair"):
        laid_job(folder / name, AS_READ)
    laid_stock(folder, "stocked", "holder")
    with served(folder) as server:
        yield server, folder


def test_the_page_after_a_hold_goes_on_showing_what_is_new(chromium: Any, shop: tuple[Server, Path]) -> None:
    """17 to 18 less 10 is 7 to 8; 13 to 14 less 5 is 8 to 9: both in 4 to 12."""
    server, folder = shop
    with bench_at(chromium, server, "stocked") as page:
        page.click("form[action$='/hold'] button")
        says(page, ".said", "S-10 (stock:main)")
        says(page, ".answer", "Fit S-10")
        # another bench reads it again
        asked = server.post(f"/job/{job_of(server, 'stocked')}/reading", reading(1, go="13", no_go="14"))
        assert asked.status == 200
        until_in_file(folder, "stocked", "east", {"go": 13, "no_go": 14})
        says(page, ".answer", "Fit S-05")
        assert page.input_value("#gap-1 [name=go]") == "13"
        # and is loaded again by its own address
        page.reload(wait_until="commit")
        says(page, ".answer", "Fit S-05")


def test_what_is_refused_is_not_called_sent(chromium: Any, shop: tuple[Server, Path]) -> None:
    """430 thou is 25 times what was read before."""
    server, folder = shop
    with bench_at(chromium, server, "refused") as page:
        typed(page, 1, 16, 17)
        says(page, "#state", "✓ sent")
        until_in_file(folder, "refused", "east", {"go": 16, "no_go": 17})
        typed(page, 1, 430, 431)
        says(page, "#state", "not taken: east")
        says(page, "#gap-1 .told", "tick “Read again, it is as typed”")
        assert "stale" in page.get_attribute("#gap-1", "class")
        assert "sent" not in page.inner_text("#state")
        typed(page, 1, 15, 16)
        says(page, "#state", "✓ sent")


def test_a_kept_reading_that_is_refused_from_another_page_is_not_lost(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench_at(chromium, server, "away") as page:
        kept_here(page, 429, 430)
        # cut off until its page is gone, which tries again and again
        page.goto("/", wait_until="commit")
        page.unroute("**/reading")
        says(page, "#state", "1 not taken: Winch, east 429/430")
        # it stays until the job's page has shown it
        page.reload(wait_until="commit")
        says(page, "#state", "1 not taken: Winch, east 429/430")
        page.goto(f"/job/{job_of(server, 'away')}", wait_until="commit")
        says(page, "#gap-1 .told", "was probably meant")
        assert page.input_value("#gap-1 [name=go]") == "429"
        assert in_file(folder, "away", "east") == {"go": 17, "no_go": 18}
        page.goto("/", wait_until="commit")
        page.wait_for_selector(".jobs")
        assert page.inner_text("#state") == ""


def test_what_is_typed_after_fitting_outlives_a_way_that_is_gone_and_a_page_loaded_again(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench(chromium, server) as page:
        where = f"/job/{job_of(server, 'record')}/record"
        page.goto(where, wait_until="commit")
        after = {"after.1.go": "7", "after.1.no_go": "8", "person": "A. Roe", "instrument": "blades"}
        filled(page, after)
        page.context.set_offline(True)
        page.click("text=Write the record")
        button = "main [type=submit]"
        until(
            lambda: page.evaluate(f"document.querySelector('{button}').validationMessage").startswith(
                "No way to the computer"
            )
        )
        page.context.set_offline(False)
        page.reload(wait_until="commit")
        says(page, ".drafted", "not written yet")
        assert {name: page.input_value(f"[name='{name}']") for name in after} == after
        # somebody changes the drawer meanwhile
        with (folder / "record" / "drawer.csv").open("a", encoding="utf-8") as drawer:
            drawer.write("S-90,90,4\n")
        page.reload(wait_until="commit")
        says(page, ".drafted", "changed meanwhile: look again")
        assert {name: page.input_value(f"[name='{name}']") for name in after} == after
        page.click("text=Write the record")
        says(page, "h1", "What was recorded")
        assert "record" in (folder / "record" / "job.toml").read_text(encoding="utf-8")
        # once it is written nothing of it comes back
        page.goto(where, wait_until="commit")
        page.wait_for_selector("[name=person]")
        assert page.input_value("[name=person]") == ""
        # a piece that is typed is kept likewise, until it lies there
        page.goto(f"/drawer/{job_of(server, 'record')}", wait_until="commit")
        filled(page, {"thickness": "3", "at": "tray 3"})
        page.reload(wait_until="commit")
        says(page, ".drafted", "not written yet")
        assert page.input_value("[name=at]") == "tray 3"
        page.click("text=Add it")
        says(page, ".said", "lies in the drawer")
        assert page.input_value("[name=at]") == ""


def test_what_is_held_and_what_the_plan_takes_beside_it_are_told_apart(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    """22 to 23 less 15 is 7 to 8, in 4 to 12; less 10 alone it is 12 to 13."""
    server, _ = shop
    with bench_at(chromium, server, "holder") as page:
        says(page, ".answer", "Fit S-10")
        page.click("text=Hold these pieces")
        says(page, ".actions", "S-10.")
        assert page.locator(".actions >> text=Hold these pieces").count() == 0
        typed(page, 1, 22, 23)
        says(page, ".actions", "not held: S-05")
        page.wait_for_selector('body[data-stage="reasons"][data-current]')
        says(page, ".answer", "Fit S-10 + S-05")
        page.click("text=Hold these pieces")
        says(page, ".said", "S-05")
        until(lambda: "not held" not in page.inner_text(".actions"))


def test_what_is_no_blade_of_the_set_has_no_blade_beside_it_made_up(chromium: Any, shop: tuple[Server, Path]) -> None:
    """0.43 in a job in thou is the 17 thou of a metric set; 1.5 is the first blade of the set."""
    server, folder = shop
    with bench_at(chromium, server, "slip") as page:
        page.fill("#gap-1 [name=go]", "0.43")
        page.press("#gap-1 [name=go]", "Tab")
        assert page.input_value("#gap-1 [name=no_go]") == ""
        page.fill("#gap-1 [name=no_go]", "0.46")
        page.press("#gap-1 [name=no_go]", "Enter")
        says(page, "#gap-1 .told", "was probably meant")
        assert in_file(folder, "slip", "east") == {"go": 17, "no_go": 18}
        # a blade of the set has its neighbour
        page.fill("#gap-2 [name=go]", "12")
        page.press("#gap-2 [name=go]", "Tab")
        assert page.input_value("#gap-2 [name=no_go]") == "13"


def test_a_reading_of_another_bench_is_taken_over_whole(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench_at(chromium, server, "pair") as page:
        page.focus("#gap-1 [name=go]")
        asked = server.post(f"/job/{job_of(server, 'pair')}/reading", reading(1, bench="b" * 16, go="13", no_go="14"))
        assert asked.status == 200
        says(page, ".answer", "Fit S-05 at east")
        assert [page.input_value(f"#gap-1 [name={name}]") for name in ("go", "no_go")] == ["17", "18"]
        page.evaluate("document.activeElement.blur()")
        until(lambda: page.input_value("#gap-1 [name=no_go]") == "14")
        assert page.input_value("#gap-1 [name=go]") == "13"
