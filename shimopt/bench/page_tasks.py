"""What a planning process makes for further pages: why of a gap, papers, an order, a drawer. Nothing is changed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from shimopt.bench.customer_view import customer_data
from shimopt.bench.drawer_view import drawer_data
from shimopt.bench.gap_view import gap_data
from shimopt.bench.record_view import record_data
from shimopt.bench.shown_plan import planned
from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import Decision, decide
from shimopt.watch import ORDER_STEPS, Watch
from shimopt.words.bench_page_words import LABELS


def decided(watch: Watch, path: str) -> Decision:
    """The plan of a job as its files are now. Raises InputError."""
    return decide(load_job(path), watch=watch)


def gap(watch: Watch, path: str, number: int) -> dict[str, Any] | None:
    """Why one gap gets what it gets; None where there is none of this number."""
    plan, version, so_far = planned(watch, path)
    names = [gap.name for gap in plan.job.gaps]
    if not 0 < number <= len(names):
        return None
    return {"data": gap_data(plan, names[number - 1]), "version": version, "said": so_far}


def record_page(watch: Watch, path: str) -> dict[str, Any]:
    """What is asked after fitting, and of which plan."""
    plan, version, so_far = planned(watch, path)
    return {"data": record_data(plan), "version": version, "said": so_far}


def customer(watch: Watch, path: str) -> dict[str, Any]:
    """What a customer sees."""
    return customer_data(decided(watch, path))


def paper(watch: Watch, path: str, kind: str, ending: str, back: str) -> bytes:
    """A sheet or a letter as a PDF, or as a page for a browser, which leads back to an address."""
    from shimopt.render.papers.letter import letter_content
    from shimopt.render.papers.sheet import sheet_content

    plan = decided(watch, path)
    content_of = sheet_content if kind == "sheet" else letter_content
    return _set(content_of(plan, plan.job.unit, _today()), ending, back)


def history(_: Watch, paths: tuple[str, ...]) -> dict[str, Any]:
    """What the records of jobs tell; jobs that cannot be read are named, and left out."""
    from shimopt.bench.history_view import history_data

    return history_data([Path(path) for path in paths])


def order(watch: Watch, path: str) -> dict[str, Any]:
    """What to buy so that one order is enough."""
    from shimopt.bench.order_view import order_data

    return order_data(_order(watch, load_job(path)))


def card(watch: Watch, path: str, ending: str, back: str) -> bytes:
    """The bench card of an order, as `paper`."""
    from shimopt.render.papers.sheet import card_content

    job = load_job(path)
    found = _order(watch, job)
    if not found.answered:
        rule, remedy = "there is no card: no gap can be ordered for", "look at the order"
        raise InputError.at(path, rule, remedy)
    return _set(card_content(found, job.unit, _today()), ending, back)


def drawer(_: Watch, path: str, of_job: bool) -> dict[str, Any]:
    """The drawer of a job, `of_job` as that job sees it; `key` tells it from every other."""
    job = load_job(path)
    return {"key": job.drawer_key, "data": drawer_data(job, of_job=of_job)}


def _order(watch: Watch, job: Job) -> Any:
    from shimopt.ordering.merged_jobs import with_coming
    from shimopt.ordering.order import make_order

    limited = Watch(watch.left(), ORDER_STEPS)
    return make_order(with_coming([job]), watch=limited)


def _today() -> str:
    return datetime.now(UTC).astimezone().date().isoformat()


def _set(content: dict[str, Any], ending: str, back: str) -> bytes:
    from shimopt.render.papers.typeset import typeset

    content = content | {"back": {"address": back, "words": LABELS["back"]}}
    day = datetime.now(UTC).astimezone()
    return typeset(content, Path(f"paper.{ending}"), "a4", datetime(day.year, day.month, day.day, tzinfo=UTC)).file
