"""The bench page in a browser: a phone and a desk, without script too, off the Wi-Fi midway, two benches at once."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.bench_browser import (
    AS_READ,
    DEMO,
    DESK,
    PHONE,
    TO_SEND,
    TOO_SMALL_OR_NEAR,
    bench,
    bench_at,
    filled,
    in_file,
    job_of,
    kept_here,
    laid_stock,
    opened,
    says,
    typed,
    until,
    until_in_file,
)
from tests.bench_server import Server, laid_job, served
from tests.command import Run
from tests.conftest import MAPPED_HOST
from tests.test_pages_in_a_browser import smallest_text, wider_than_the_screen

pytestmark = pytest.mark.browser
SIZES = [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")]
# a job for every test that changes one
WINCHES = (
    "full",
    "poison",
    "pages",
    "tapped-phone",
    "tapped-desk",
    "held",
    "offline",
    "again",
    "seen",
    "differ",
    "bare",
    "whole-phone",
    "whole-desk",
    "metric",
    "alone",
)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    for name in ("swing-bridge", "slipway-winch", "fulling-mill"):
        shutil.copytree(DEMO / name, folder / name)
    for name in WINCHES:
        laid_job(folder / name, AS_READ)
    laid_stock(folder, "stocked")
    with served(folder) as server:
        yield server, folder


def address_of(server: Server, where: str) -> str:
    """The address of a page of a job that is called by its folder's name."""
    if not where.startswith("/job/"):
        return where
    name, _, rest = where.removeprefix("/job/").partition("/")
    return f"/job/{job_of(server, name)}{f'/{rest}' if rest else ''}"


# fields of figures whose label names no unit
WITHOUT_UNIT = """() => [...document.querySelectorAll(".digits label")].map((e) => e.textContent)
  .filter((text) => !/, (mm|um|in|thou)\\b/.test(text))"""
# how much of a dialog lies under its edge, or outside the screen [px]
CUT_OFF = """(what) => { const it = document.querySelector(what), box = it.getBoundingClientRect();
  return Math.max(0, it.scrollHeight - it.clientHeight, -box.top, box.bottom - innerHeight); }"""
BARE_PAGES = ("/", "/new", "/drawer", "/history", "/pair", "/devices", "/nowhere")
OF_A_JOB = ("", "/gap/1", "/gap/4", "/record", "/order")
PAGES = (
    *BARE_PAGES,
    *(f"/job/swing-bridge{page}" for page in OF_A_JOB),
    "/job/slipway-winch",
    "/job/fulling-mill/gap/1",
)
AT_THE_DESK = ("/", "/job/swing-bridge")


@pytest.mark.parametrize("size", SIZES)
def test_every_page_fits_the_hand_and_keeps_nobody_out(chromium: Any, shop: tuple[Server, Path], size: Any) -> None:
    """Axe is the accessibility checker of https://github.com/dequelabs/axe-core; it finds nothing."""
    from axe_playwright_python.sync_playwright import Axe

    server, _ = shop
    axe = Axe()
    # axe is put into the page, which our rules for scripts forbid
    with bench(chromium, server, size, bypass_csp=True) as page:
        for where in PAGES:
            page.goto(address_of(server, where), wait_until="commit")
            page.wait_for_selector("h1")
            assert wider_than_the_screen(page) == [], where
            assert page.evaluate(TOO_SMALL_OR_NEAR) == [], where
            assert smallest_text(page) >= 13, where
            assert page.evaluate(WITHOUT_UNIT) == [], where
            # colours, names and landmarks are the same at the desk
            found = axe.run(page).response["violations"] if size is PHONE or where in AT_THE_DESK else []
            assert [(one["id"], one["nodes"][0]["html"]) for one in found] == [], where


@pytest.mark.parametrize("size", SIZES)
def test_a_tap_becomes_an_answer_and_stands_in_the_job(
    chromium: Any, shop: tuple[Server, Path], run: Run, size: Any
) -> None:
    server, folder = shop
    name = "tapped-phone" if size is PHONE else "tapped-desk"
    with bench_at(chromium, server, name, size) as page:
        says(page, "#gap-1 .does", "S-10")
        # three blades thinner: the one that does not go keeps beside the one that goes
        for _ in range(3):
            page.locator("#gap-1 .step").first.click()
        assert [page.input_value(f"#gap-1 [name={name}]") for name in ("go", "no_go")] == ["14", "15"]
        says(page, "#state", "sent")
        until_in_file(folder, name, "east", {"go": 14, "no_go": 15})
        says(page, "#gap-1 .does", "S-07")
        # what the command line says of the same folder
        told = " ".join(run("plan", folder / name)[1].split())
        says(page, ".answer", told[: told.index(" Winch.")])
        assert "7 to 8 ✓" in told
        assert "then 7 to 8 thou ✓" in page.inner_text("#gap-1 .strip")


def test_the_first_answer_is_of_this_gap_alone_and_says_so(chromium: Any, shop: tuple[Server, Path]) -> None:
    """14 to 15 less 7 is 7 to 8, in 4 to 12."""
    server, _ = shop
    with bench_at(chromium, server, "alone") as page:
        # the whole plan does not come
        page.route("**/job/*", lambda route: route.abort())
        typed(page, 1, 14, 15)
        says(page, "#gap-1 .told", "this gap alone")
        says(page, "#gap-1 .does", "S-07")
        says(page, "#gap-1 .strip", "then 7 to 8 thou ✓")


def test_a_button_that_is_held_runs_through_the_blades(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench_at(chromium, server, "held") as page:
        before = int(page.input_value("#gap-2 [name=go]"))
        page.locator("#gap-2 .links").scroll_into_view_if_needed()
        box = page.locator("#gap-2 .step").nth(1).bounding_box()
        page.mouse.move(box["x"] + 30, box["y"] + 30)
        page.mouse.down()
        until(lambda: int(page.input_value("#gap-2 [name=go]")) >= before + 4)
        page.mouse.up()
        stopped = page.input_value("#gap-2 [name=go]")
        page.wait_for_timeout(300)
        assert page.input_value("#gap-2 [name=go]") == stopped
        # by keyboard one step at a time
        page.locator("#gap-2 .step").nth(1).press("Enter")
        assert int(page.input_value("#gap-2 [name=go]")) == int(stopped) + 1


def test_off_the_wi_fi_a_reading_is_kept_shown_and_sent_once_there_is_a_way(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench_at(chromium, server, "offline") as page:
        page.context.set_offline(True)
        typed(page, 1, 20, 21)
        says(page, "#state", "kept here, not sent: 1")
        typed(page, 1, 21, 22)
        says(page, "#state", "kept here, not sent: 2")
        # the other gap was planned with the earlier reading, and takes from the same pieces
        says(page, "#gap-2.stale .earlier", "earlier reading")
        assert in_file(folder, "offline", "east") != {"go": 21, "no_go": 22}
        # whoever leaves is warned
        asked = list[str]()
        page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
        page.close(run_before_unload=True)
        page.wait_for_timeout(200)
        assert asked == ["beforeunload"]
        page.context.set_offline(False)
        says(page, "#state", "✓ sent")
        until_in_file(folder, "offline", "east", {"go": 21, "no_go": 22})


def test_a_page_loaded_again_before_its_reading_was_sent_still_has_it(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench_at(chromium, server, "again") as page:
        kept_here(page, 23, 24)
        page.reload(wait_until="commit")
        says(page, "#state", "kept here, not sent: 1")
        assert page.input_value("#gap-1 [name=go]") == "23"
        page.unroute("**/reading")
        says(page, "#state", "✓ sent")
        until_in_file(folder, "again", "east", {"go": 23, "no_go": 24})


def test_a_reading_that_the_computer_cannot_take_holds_up_no_other_and_none_goes_by_without_it(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench_at(chromium, server, "poison") as page:

        def refused(route: Any) -> None:
            if '"gap":"east"' in (route.request.post_data or ""):
                route.fulfill(status=500, content_type="application/json", body='{"errors": []}')
            else:
                route.continue_()

        page.route("**/reading", refused)
        typed(page, 1, 20, 21)
        typed(page, 2, 14, 15)
        # what is routed goes on only while something is asked of the page
        says(page, "#state", "kept here, not sent: 1. The computer cannot take it at this moment.")
        until_in_file(folder, "poison", "west", {"go": 14, "no_go": 15})
        # nothing is recorded from here by a plan that does not know of it
        record = page.context.new_page()
        record.goto(f"/job/{job_of(server, 'poison')}/record")
        filled(record, {"after.1.go": "9", "after.1.no_go": "10", "person": "M. Hale", "instrument": "blades"})
        record.click("main [type=submit]")
        told = record.eval_on_selector("main [type=submit]", "(button) => button.validationMessage")
        assert "still on their way" in told
        page.unroute("**/reading")
        says(page, "#state", "✓ sent")
        until_in_file(folder, "poison", "east", {"go": 20, "no_go": 21})
        assert "record" not in tomllib.loads((folder / "poison" / "job.toml").read_text(encoding="utf-8"))


def test_pieces_are_held_by_the_plan_that_knows_the_reading_just_given(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, _ = shop
    with bench_at(chromium, server, "stocked") as page:
        says(page, ".answer", "Fit S-10")
        # 13 to 14 less S-05 is 8 to 9: the other piece; and the button is pressed with the reading on its way
        for name, value in (("go", "13"), ("no_go", "14")):
            page.fill(f"#gap-1 [name={name}]", value)
        page.click("form[action$='/hold'] button")
        told = page.eval_on_selector("form[action$='/hold'] button", "(button) => button.validationMessage")
        assert "still on their way" in told
        says(page, ".answer", "Fit S-05")
        page.wait_for_selector('body[data-stage="reasons"]')
        page.click("form[action$='/hold'] button")
        says(page, ".said", "S-05 (stock:main)")


def test_two_pages_of_one_browser_keep_each_what_it_read(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench_at(chromium, server, "pages") as page:
        second = page.context.new_page()
        second.set_default_timeout(TO_SEND)
        opened(second, server, "pages")
        # both count at the same moment, and each keeps what it read before it sees what the other kept
        for one in (page, second):
            one.evaluate("localStorage.setItem('counter', '6')")
            one.route("**/reading", lambda route: route.abort())
        typed(page, 1, 20, 21)
        second.evaluate("localStorage.setItem('counter', '6')")
        typed(second, 2, 14, 15)
        says(second, "#state", "kept here, not sent: 2")
        for one in (page, second):
            one.unroute("**/reading")
        says(page, "#state", "✓ sent")
        until_in_file(folder, "pages", "east", {"go": 20, "no_go": 21})
        until_in_file(folder, "pages", "west", {"go": 14, "no_go": 15})


def test_where_the_browser_has_no_room_readings_are_counted_and_sent_all_the_same(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench(chromium, server) as page:
        page.add_init_script("Storage.prototype.setItem = () => { throw new DOMException('full'); }")
        opened(page, server, "full")
        for go in (25, 26):
            typed(page, 1, go, go + 1)
            until_in_file(folder, "full", "east", {"go": go, "no_go": go + 1})
        says(page, "#state", "✓ sent")


def test_a_server_that_is_killed_loses_no_reading_and_doubles_none(chromium: Any, tmp_path: Path) -> None:
    laid_job(tmp_path / "winch", AS_READ)
    with served(tmp_path) as first, bench(chromium, first) as page:
        opened(page, first, "winch")
        first.kill()
        typed(page, 1, 20, 21)
        says(page, "#state", "kept here, not sent: 1")
        with served(tmp_path, "--port", str(first.port)):
            says(page, "#state", "✓ sent")
            until_in_file(tmp_path, "winch", "east", {"go": 20, "no_go": 21})


def test_a_phone_joins_reads_over_plain_http_and_keeps_its_readings_once_it_is_shut_out(
    chromium: Any, tmp_path: Path
) -> None:
    """Plain http by another name than localhost is no secure context: what needs one is not there."""
    laid_job(tmp_path / "winch", AS_READ)
    with served(tmp_path, "--network", "--name", MAPPED_HOST) as server:
        code = server.code()
        with bench(chromium, server, base_url=f"http://{MAPPED_HOST}:{server.port}") as page:
            page.goto("/")
            assert page.evaluate("isSecureContext") is False
            page.fill("[name=code]", code)
            page.fill("[name=name]", "vice")
            page.click("text=/^Pair$/")
            page.click(".jobs >> text=Winch")
            page.wait_for_selector("#gap-1 .step")
            typed(page, 1, 20, 21)
            says(page, "#state", "✓ sent")
            until_in_file(tmp_path, "winch", "east", {"go": 20, "no_go": 21})
            # from a phone too a customer's address can be sent on, by the name that others know
            page.click("text=Show the customer")
            says(page, "h1", "The customer's address")
            assert page.input_value("#address").startswith(f"http://{MAPPED_HOST}:{server.port}/c/")
            page.reload(wait_until="commit")
            says(page, "button", "Copy it")
            page.click("text=Back to the job")
            page.wait_for_selector("#gap-1 .step")
            device = re.search(r'name="id" value="([0-9a-f]+)"', server.get("/devices").text)
            assert device is not None
            assert server.post("/devices/revoke", {"id": device[1]}).status == 200
            typed(page, 1, 22, 23)
            says(page, "#state", "kept here, not sent: 1. This device is not let in any more")
            asked = list[str]()
            page.on("dialog", lambda dialog: (asked.append(page.url), dialog.accept()))
            page.goto("/pair", wait_until="commit")
            # who joins anew is not asked whether to leave: joining is what sends it
            filled(page, {"code": "000000", "name": "vice"})
            page.click("text=/^Pair$/")
            says(page, ".wrong", "This code does not hold")
            assert page.input_value("[name=name]") == "vice"
            page.fill("[name=code]", re.findall(r'class="code">(\d+)', server.get("/pair").text)[0])
            page.click("text=/^Pair$/")
            until_in_file(tmp_path, "winch", "east", {"go": 22, "no_go": 23})
            assert [where for where in asked if where.endswith("/pair")] == []


def test_a_page_that_nobody_looks_at_closes_its_stream(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench(chromium, server) as page:
        ended = list[str]()
        page.on("requestfailed", lambda request: ended.append(request.url))
        opened(page, server, "swing-bridge")
        page.evaluate(
            """() => { Object.defineProperty(document, "hidden", { value: true, configurable: true });
                       document.dispatchEvent(new Event("visibilitychange")); }"""
        )
        page.wait_for_timeout(200)
        assert any("/events" in url for url in ended)


def test_what_one_bench_reads_another_sees_by_itself(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench(chromium, server) as one, bench(chromium, server, DESK) as other:
        opened(one, server, "seen")
        opened(other, server, "seen")
        typed(one, 2, 15, 16)
        until_in_file(folder, "seen", "west", {"go": 15, "no_go": 16})
        until(lambda: other.input_value("#gap-2 [name=go]") == "15")
        says(other, "#gap-2 .does", "S-")


def test_two_benches_that_differ_are_both_shown_and_one_is_chosen(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench(chromium, server) as one, bench(chromium, server, DESK) as other:
        opened(one, server, "differ")
        opened(other, server, "differ")
        other.context.set_offline(True)
        typed(other, 1, 12, 13)
        says(other, "#state", "kept here")
        typed(one, 1, 25, 26)
        until_in_file(folder, "differ", "east", {"go": 25, "no_go": 26})
        other.context.set_offline(False)
        for page in (one, other):
            says(page, "#gap-1 .differ", "12 goes")
            says(page, "#gap-1 .differ", "25 goes")
        # each says which of them is its own
        assert one.locator("#gap-1 .differ form", has_text="this device").inner_text().count("25 goes") == 1
        assert other.locator("#gap-1 .differ form", has_text="this device").inner_text().count("12 goes") == 1
        one.locator("#gap-1 .differ form", has_text="12 goes").locator("button").click()
        until_in_file(folder, "differ", "east", {"go": 12, "no_go": 13})
        until(lambda: other.locator("#gap-1 .differ").count() == 0)


def test_a_thumb_that_scrolls_over_a_button_changes_no_reading(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, _ = shop
    with bench_at(chromium, server, "swing-bridge") as page:
        before = page.input_value("#gap-1 [name=go]")
        # as a browser tells it that takes the finger over for scrolling
        for event in ("pointerdown", "pointercancel"):
            page.locator("#gap-1 .step").first.dispatch_event(event, {"pointerId": 1, "button": 0, "bubbles": True})
        assert page.input_value("#gap-1 [name=go]") == before


def test_a_reading_that_looks_like_another_unit_is_asked_about_and_taken_once_looked_at_again(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    """0.43 and 0.46 in a job in thou are the 17 and 18 thou of a metric set."""
    server, folder = shop
    with bench_at(chromium, server, "metric") as page:
        page.fill("#gap-1 [name=go]", "0.43")
        page.fill("#gap-1 [name=no_go]", "0.46")
        page.press("#gap-1 [name=no_go]", "Enter")
        says(page, "#gap-1 .told", "mm")
        assert in_file(folder, "metric", "east") == {"go": 17, "no_go": 18}
        page.check("#gap-1 [name=checked]")
        until(lambda: float(in_file(folder, "metric", "east")["go"]) == 0.43)


def test_what_a_customer_sees_is_the_letter_and_nothing_of_the_shop(chromium: Any, shop: tuple[Server, Path]) -> None:
    from axe_playwright_python.sync_playwright import Axe

    server, _ = shop
    with bench(chromium, server, PHONE, bypass_csp=True) as page:
        opened(page, server, "swing-bridge")
        page.tap("text=Show the customer")
        page.tap("[data-copy]")
        # it is in the clipboard, or stands chosen to be taken there
        assert page.evaluate("getSelection().toString()") == page.input_value("#address")
        answer = page.goto(page.input_value("#address"))
        assert answer.headers["cache-control"] == "no-store"
        says(page, ".answer", "All five clearances will be inside")
        # day and hour as on a clock on the wall
        assert re.search(r"\d{4}-\d\d-\d\d, \d\d:\d\d$", page.inner_text("main"))
        assert page.locator("a, button, form, script").count() == 0
        assert wider_than_the_screen(page) == []
        assert smallest_text(page) >= 11
        assert [one["id"] for one in Axe().run(page).response["violations"]] == []


def test_without_script_forms_do_the_same(chromium: Any, shop: tuple[Server, Path]) -> None:
    server, folder = shop
    with bench(chromium, server, java_script_enabled=False) as page:
        page.goto(f"/job/{job_of(server, 'bare')}")
        page.fill("#gap-2 [name=go]", "13")
        page.fill("#gap-2 [name=no_go]", "14")
        page.click("#gap-2 >> text=Send this reading")
        assert page.input_value("#gap-2 [name=go]") == "13"
        until_in_file(folder, "bare", "west", {"go": 13, "no_go": 14})
        # no button stands there that does nothing
        assert page.locator(".step:visible, .with-script:visible").count() == 0


def test_the_big_view_can_be_read_from_two_metres(chromium: Any, shop: tuple[Server, Path]) -> None:
    """Letters are read from as far as 200 times their height (common practice): 10 mm, on a phone about 60 CSS px."""
    server, _ = shop
    with bench_at(chromium, server, "swing-bridge") as page:
        page.click("[data-big='1']")
        assert page.inner_text("#far .main dd") == "R-07"
        size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('#far .main dd')).fontSize)")
        # capitals are about 0.7 of a font's size
        assert size * 0.7 >= 60
        assert wider_than_the_screen(page) == []
        # all of it, and all keys of the pad, are in sight on a phone that lies on its side too
        page.set_viewport_size({"width": 844, "height": 390})
        assert page.evaluate(CUT_OFF, "#far") == 0
        page.click("#far [data-key=close]")
        until(lambda: page.evaluate("history.state") is None)
        page.tap("#gap-1 [name=go]")
        assert page.evaluate(CUT_OFF, "#pad") == 0
        # the phone's own Back closes what lies on top, and leaves nothing
        page.go_back()
        page.wait_for_selector("#pad[open]", state="hidden")
        assert page.locator("#gap-1 .step").first.is_visible()
        page.click("[data-big='1']")
        page.go_back()
        page.wait_for_selector("#far[open]", state="hidden")
        assert page.locator("#gap-1 .step").first.is_visible()


@pytest.mark.parametrize("size", SIZES)
def test_from_nothing_to_what_to_fit_on_a_few_screens(chromium: Any, shop: tuple[Server, Path], size: Any) -> None:
    """17 to 18 less 7 is 10 to 11, 20 to 21 less 10 is 10 to 11, both in 4 to 12."""
    server, folder = shop
    title = f"Capstan {size['width']}"
    with bench(chromium, server, size) as page:
        page.goto("/", wait_until="commit")
        page.click("text=New job")
        page.fill("[name=title]", title)
        page.click("text=Next")
        filled(page, {"min": "4", "max": "12", "source": "sheet 7"})
        page.click("text=Next")
        for n, name, go, no_go in ((1, "left", "17", "18"), (2, "right", "20", "21")):
            filled(page, {f"gap.{n}.name": name, f"gap.{n}.go": go, f"gap.{n}.no_go": no_go})
            page.click("text=Another gap" if n == 1 else "text=Next")
        page.fill("[name=sizes]", "7 x 1, 10 x 1")
        # by keyboard alone the last field is the last screen's end
        page.press("[name=sizes]", "Enter")
        page.wait_for_selector('body[data-stage="reasons"]')
        says(page, "#gap-1 .does", "7 thou")
        says(page, "#gap-2 .does", "10 thou")
        page.click("[data-big='2']")
        assert page.inner_text("#far .main dd") == "10\u00a0thou"
        # back behind all that was typed is a form with nothing typed, from its first screen on
        page.go_back()
        page.go_back()
        page.wait_for_selector("[name=title]:visible")
        assert page.input_value("[name=title]") == ""
    assert (folder / title.lower().replace(" ", "-") / "job.toml").exists()


def test_a_new_job_with_mistakes_comes_back_with_all_of_them_and_all_that_was_typed(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, _ = shop
    with bench(chromium, server, java_script_enabled=False) as page:
        page.goto("/new")
        filled(page, {"title": "<b>Mill</b>", "min": "12", "max": "4", "source": "sheet", "gap.1.name": "x"})
        page.press("[name=title]", "Enter")
        says(page, "main > .wrong", "The least is above the largest")
        says(page, "main > .wrong", "x: its reading is missing. Write what was read.")
        # and at its field, which is in sight
        says(page, "label:has([name=min]) + .wrong", "The least is above the largest")
        assert page.locator("[name=min]").is_visible()
        assert page.input_value("[name=title]") == "<b>Mill</b>"
        # nothing of that can be ticked away
        assert page.locator("[name=sure]").count() == 0


def test_a_new_job_that_looks_unlikely_is_shown_where_it_does_and_written_once_that_is_ticked(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    """0.43 to 0.45 mm is 17 to 18 thou; no blades are so near to one another in thou."""
    server, folder = shop
    typed_in = ({"title": "Slipped"}, {"min": "4", "max": "12", "source": "sheet 7"})
    with bench(chromium, server) as page:
        page.goto("/new")
        for fields in (*typed_in, {"gap.1.name": "left", "gap.1.go": "0.43", "gap.1.no_go": "0.45"}):
            filled(page, fields)
            page.click("text=Next")
        page.click("text=Write the job")
        says(page, "main > .wrong", "0.43 to 0.45 mm, was probably meant")
        assert page.locator(".screen:visible").count() == 1
        assert page.locator("[name='gap.1.no_go'][aria-invalid]:visible").count() == 1
        page.reload(wait_until="commit")
        page.wait_for_selector("[name='gap.1.no_go'][aria-invalid]:visible")
        page.check("[name=sure]")
        page.click("text=Next")
        page.click("text=Write the job")
        page.wait_for_selector('body[data-stage="reasons"]')
    assert (folder / "slipped" / "job.toml").exists()


def test_each_screen_of_a_new_job_says_what_is_wrong_with_it_and_an_empty_gap_is_none(
    chromium: Any, shop: tuple[Server, Path]
) -> None:
    server, folder = shop
    with bench(chromium, server) as page:
        page.goto("/new")
        page.fill("[name=title]", "Sluice")
        page.check("[name=unit][value=mm]")
        page.click("text=Next")
        says(page, "label:has([name=min])", "(mm)")
        filled(page, {"min": "0,3", "max": "0,1", "source": "plate"})
        page.click("text=Next")
        says(page, ".wrong", "The least is above the largest")
        assert page.get_attribute("[name=min]", "aria-invalid") == "true"
        # no least
        page.fill("[name=min]", "")
        page.click("text=Next")
        page.fill("[name='gap.1.name']", "gate")
        page.click("text=Next")
        says(page, ".wrong", "Its reading is missing")
        page.fill("[name='gap.1.go']", "0.2")
        page.fill("[name='gap.1.no_go']", "0.15")
        page.click("text=Another gap")
        says(page, ".wrong", "The blade that goes must be thinner")
        page.fill("[name='gap.1.no_go']", "0.25")
        page.click("text=Another gap")
        page.wait_for_selector("[name='gap.2.name']")
        # the phone's own Back turns one screen back; a page that is loaded again has all that was typed
        page.go_back()
        page.wait_for_selector("[name='gap.1.name']:visible")
        page.go_forward()
        page.wait_for_selector("[name='gap.2.name']:visible")
        page.reload(wait_until="commit")
        page.wait_for_selector("[name='gap.2.name']:visible")
        says(page, ".drafted", "not written yet")
        assert page.input_value("[name='gap.1.no_go']") == "0.25"
        # it was tapped by mistake
        page.click("text=Next")
        page.fill("[name=sizes]", "0.15 x 1")
        page.click("text=Write the job")
        page.wait_for_selector('body[data-stage="reasons"]')
        # once it is written nothing of it comes back
        page.goto("/new", wait_until="commit")
        page.wait_for_selector("[name=title]:visible")
        assert page.input_value("[name=title]") == ""
    made = tomllib.loads((folder / "sluice" / "job.toml").read_text(encoding="utf-8"))
    assert [gap["name"] for gap in made["gap"]] == ["gate"]
    assert (made["window"]["min"], made["window"]["max"]) == ("none", 0.1)


@pytest.mark.parametrize("size", SIZES)
def test_a_whole_job_from_the_first_reading_to_the_letter(chromium: Any, shop: tuple[Server, Path], size: Any) -> None:
    server, folder = shop
    name = "whole-phone" if size is PHONE else "whole-desk"
    with bench_at(chromium, server, name, size) as page:
        typed(page, 1, 14, 15)
        says(page, "#gap-1 .does", "S-07")
        page.wait_for_selector('body[data-stage="reasons"]')
        page.click("#gap-1 >> text=Why")
        says(page, ".account", "14 to 15 thou")
        page.click("text=Back to the job")
        page.click(".actions >> text=/^Sheet$/")
        says(page, "body", "Bench sheet")
        page.go_back()
        page.click(".actions >> text=Record")
        # what should be in stands there; the first by its blades, the second as text by the keys of a phone's numbers
        says(page, "#gap-1", "S-07")
        page.fill("[name='after.1.go']", "7")
        page.fill("[name='after.1.no_go']", "8")
        page.click("#gap-2 summary")
        page.fill("[name='after.2']", "9-10")
        page.fill("[name=person]", "A. Roe")
        page.fill("[name=instrument]", "blades")
        page.click("text=Write the record")
        says(page, ".answer", "Both gaps read as predicted")
        raw = tomllib.loads((folder / name / "job.toml").read_text(encoding="utf-8"))
        assert raw["record"][0]["person"] == "A. Roe"
        drawer = (folder / name / "drawer.csv").read_text(encoding="utf-8")
        assert "S-07,7,3" in drawer
        assert "S-07: 4 in the drawer, now 3" in page.inner_text("main")
        page.click(".actions >> text=/^Letter$/")
        says(page, "body", "7 to 8 thou")
        page.goto(f"/job/{job_of(server, name)}/record")
        says(page, ".visit", "A. Roe, blades")
        says(page, ".visit", "S-07")
