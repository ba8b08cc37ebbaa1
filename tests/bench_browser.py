"""The bench page in a browser, for tests: a page of its own, what is typed and tapped on it, what it is waited for."""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.bench_server import Server, job_text, laid_job
from tests.stocks import in_file as in_file_of_stock
from tests.stocks import shim

DEMO = Path(__file__).parents[1] / "demo_data"
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
AS_READ = job_text(east="feeler = { go = 17, no_go = 18 }", west="feeler = { go = 9, no_go = 10 }")
TO_SEND = 60_000  # the longest that anything is waited for, on a machine that does much else [ms]

TOO_SMALL_OR_NEAR = """() => {
  const what = "main button, main a, nav a, main summary, main label.choice, main input";
  const within = (e) => e.type === "hidden" || (e.tagName === "INPUT" && e.closest("label.choice, label.checked"));
  const boxes = [...document.querySelectorAll(what)]
    .filter((e) => e.checkVisibility() && !within(e)).map((e) => [e, e.getBoundingClientRect()]);
  const told = [], named = (e) => e.outerHTML.slice(0, 90);
  for (const [e, box] of boxes) if (box.height < 63.5 || box.width < 63.5) told.push("small: " + named(e));
  for (const [e, a] of boxes) for (const [f, b] of boxes) if (e !== f && !e.contains(f) && !f.contains(e)) {
    const x = Math.max(a.left, b.left) - Math.min(a.right, b.right);
    const y = Math.max(a.top, b.top) - Math.min(a.bottom, b.bottom);
    if (Math.max(x, y) < 11.5) told.push("near: " + named(e) + " | " + named(f));
  }
  return told;
}"""

# the ratio of WCAG 2.2, 1.4.3: relative luminance of text and of what lies behind it
FAINT_TEXTS = """(least) => {
  const light = (c) => { const [r, g, b] = c.match(/[0-9.]+/g).slice(0, 3).map((v) => { v /= 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
    if (!/, 0\\)$/.test(c) && c !== "transparent") return c; } return "rgb(255, 255, 255)"; };
  return [...document.querySelectorAll("main *, nav *")].filter((e) => e.checkVisibility() &&
      !e.closest("svg, [aria-hidden]") && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
    .filter((e) => { const [a, b] = [light(getComputedStyle(e).color), light(behind(e))].sort((x, y) => y - x);
      return (a + 0.05) / (b + 0.05) < least; }).map((e) => e.outerHTML.slice(0, 120));
}"""


def laid_stock(folder: Path, *names: str) -> None:
    """Jobs of one gap, which take their pieces from a stock beside them."""
    in_file_of_stock(folder, shim("S-10", 0.254, 2), shim("S-05", 0.127, 2))
    alone = job_text(east="feeler = { go = 17, no_go = 18 }")
    for name in names:
        laid_job(folder / name, alone.replace('"drawer.csv"', '"stock:main"'))


@contextmanager
def bench(chromium: Any, server: Server, size: dict[str, int] = PHONE, **options: Any) -> Iterator[Any]:
    """A page of a browser of its own; whatever goes wrong on it is an error."""
    context = chromium.new_context(viewport=size, has_touch=size is PHONE, **({"base_url": at(server)} | options))
    context.set_default_timeout(TO_SEND)
    page, wrong = context.new_page(), list[str]()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if "Content Security" in line.text else None)
    yield page
    context.close()
    assert wrong == []


def at(server: Server) -> str:
    return f"http://127.0.0.1:{server.port}"


def job_of(server: Server, name: str) -> str:
    return next(part.split('"')[0] for part in server.get("/").text.split('href="/job/')[1:] if part.startswith(name))


def opened(page: Any, server: Server, name: str) -> None:
    """A job's page, once all is worked out."""
    page.goto(f"/job/{job_of(server, name)}", wait_until="commit")
    page.wait_for_selector('body[data-stage="reasons"]')


@contextmanager
def bench_at(chromium: Any, server: Server, name: str, size: dict[str, int] = PHONE) -> Iterator[Any]:
    """A browser of its own at a job's page, once all is worked out."""
    with bench(chromium, server, size) as page:
        opened(page, server, name)
        yield page


def says(page: Any, where: str, text: str) -> None:
    from playwright.sync_api import expect

    expect(page.locator(where)).to_contain_text(text, timeout=TO_SEND)


def in_file(folder: Path, job: str, gap: str) -> Any:
    raw = tomllib.loads((folder / job / "job.toml").read_text(encoding="utf-8"))
    return next(one for one in raw["gap"] if one["name"] == gap)["feeler"]


def until(true: Callable[[], bool]) -> None:
    """Asks again and again (page.wait_for_function can't: it needs eval, which the pages' own rules forbid)."""
    ends = time.monotonic() + TO_SEND / 1000
    while not true() and time.monotonic() < ends:
        time.sleep(0.02)
    assert true()


def until_in_file(folder: Path, job: str, gap: str, feeler: Any) -> None:
    until(lambda: in_file(folder, job, gap) == feeler)


def typed(page: Any, gap: int, go: int, no_go: int) -> None:
    """A reading by the keyboard."""
    for name, value in (("go", go), ("no_go", no_go)):
        page.fill(f"#gap-{gap} [name={name}]", str(value))
    page.press(f"#gap-{gap} [name=no_go]", "Enter")


def filled(page: Any, fields: Mapping[str, str]) -> None:
    """What is typed into the fields of these names."""
    for name, text in fields.items():
        page.fill(f"[name='{name}']", text)


def kept_here(page: Any, go: int, no_go: int) -> None:
    """A reading of the first gap that does not get through; whoever leaves its page then says yes to that."""
    page.route("**/reading", lambda route: route.abort())
    typed(page, 1, go, no_go)
    says(page, "#state", "kept here, not sent: 1")
    page.on("dialog", lambda dialog: dialog.accept())
