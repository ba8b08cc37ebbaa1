"""Who asks for the bench page: what one may do to the others, how much may be asked for, and what ends when."""

from __future__ import annotations

import asyncio
import json
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.exceptions import HTTPException

from shimopt.bench import devices, form_tokens
from shimopt.bench.devices import DEVICE_LASTS, Devices
from shimopt.bench.feed import Feed, Listener
from shimopt.bench.form_tokens import FormTokens
from shimopt.bench.kept_apart import KeptApart
from shimopt.bench.page_making import MOST, MOST_OF_ONE, PageMaking
from shimopt.bench.reading_said import said_in
from shimopt.bench.readings import Given, Readings
from shimopt.bench.readings_book import ReadingsBook
from shimopt.bench.readings_log import ReadingsLog
from shimopt.errors import InputError
from tests.bench_server import laid_job, ran


def test_a_device_that_takes_the_name_of_anothers_bench_is_another_bench() -> None:
    told = {"kind": "reading", "job": "j", "gap": "g", "bench": "a" * 16, "over": None, "at": ""}
    book = ReadingsBook(
        [
            {**told, "seq": 1, "device": "here", "counter": 1, "said": {"value": "17"}},
            {**told, "seq": 2, "device": "vice", "counter": 2**53 - 1, "said": {"value": "99"}},
            {**told, "seq": 3, "device": "here", "counter": 2, "said": {"value": "18"}},
        ]
    )
    gap = book.gap("j", "g")
    assert {(device, one.said.value) for (device, _), one in gap.by_bench.items()} == {("here", "18"), ("vice", "99")}
    assert gap.differs
    # and its numbers are its own
    assert book.known(("vice", "a" * 16), 1) is None


def test_a_browser_that_joined_anew_goes_on_as_the_bench_it_was() -> None:
    told = {"kind": "reading", "job": "j", "gap": "g", "bench": "a" * 16, "over": None, "at": "", "counter": 1}
    book = ReadingsBook(
        [
            {**told, "seq": 1, "device": "vice", "said": {"value": "17"}},
            {**told, "seq": 2, "device": "vice anew", "said": {"value": "18"}, "was": ["vice"]},
        ]
    )
    assert not book.gap("j", "g").differs
    assert [one.said.value for one in book.gap("j", "g").by_bench.values()] == ["18"]


def test_of_a_device_that_is_let_in_no_bench_is_taken_over_and_of_one_that_is_shut_out_its_own(tmp_path: Path) -> None:
    file, let_in = laid_job(tmp_path / "winch"), {"vice", "lathe"}

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings, differs = Readings(log), list[bool]()
        for device, value in (("vice", "17"), ("lathe", "18"), ("vice anew", "19")):
            given = Given(device, "a" * 16, 1, "east", said_in({"go": value, "no_go": str(int(value) + 1)}))
            if device not in let_in:
                let_in.clear()
            reading, _ = await readings.take("winch", file, given, let_in.__contains__)
            differs.append(readings.answer("winch", file, reading)["differs"])
        log.close()
        assert differs == [False, True, False]

    ran(doing())


def test_only_the_bench_itself_hears_which_one_it_is_and_who_is_shut_out_hears_no_more() -> None:
    async def doing() -> None:
        feed = Feed()
        own = feed.lines(Listener("j", "vice", "a" * 16))
        others = [feed.lines(Listener("j", "vice", "b" * 16)), feed.lines(Listener("j", "lathe", "a" * 16))]
        for line in (own, *others):
            await anext(line)
        feed.say_reading("vice", "a" * 16, gap="east")
        heard = [(await anext(line)).decode() for line in (own, *others)]
        assert [json.loads(told.partition("data: ")[2])["own"] for told in heard] == [True, False, False]
        assert not any("aaaa" in told for told in heard)
        feed.shut_out("vice")
        for line in (own, others[0]):
            with pytest.raises(StopAsyncIteration):
                await anext(line)
        feed.say("jobs")
        assert "event: jobs" in (await anext(others[1])).decode()

    ran(doing())


def test_a_form_from_before_a_restart_does_nothing_that_may_be_done_only_once() -> None:
    before, after = FormTokens(b"k" * 32), FormTokens(b"k" * 32)
    stem = after.stem(before.make("here"), "here")
    # a reading may still come by it: readings know themselves which forms they came by
    assert stem is not None
    assert not after.spend(stem)


def test_so_many_used_forms_are_remembered_and_no_form_is_used_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(form_tokens, "MOST_SPENT", 50)
    now = 1_000_000
    monkeypatch.setattr(form_tokens, "time", lambda: now)
    tokens, stems = FormTokens(b"k" * 32), list[str]()
    old = tokens.make("here")
    for _ in range(200):
        now += 1
        stem = tokens.stem(tokens.make("here"), "here")
        assert stem is not None
        assert tokens.spend(stem)
        stems.append(stem)
    assert len(tokens._spent) == 50
    assert not any(tokens.spend(stem) for stem in stems)
    # what nobody remembers any more is as good as used
    unused = tokens.stem(old, "here")
    assert unused is not None
    assert not tokens.spend(unused)


def test_a_device_comes_back_for_a_year_and_no_further_one_joins_than_may(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(devices, "_MOST_DEVICES", 3)
    today = date(2026, 3, 1)
    monkeypatch.setattr(devices, "_today", lambda: today)
    known = Devices(KeptApart(tmp_path))
    tokens = [known.join(name) for name in "abc"]
    with pytest.raises(InputError, match="As many devices"):
        known.join("d")
    assert all(known.known(token) for token in tokens)
    today += timedelta(days=DEVICE_LASTS)
    assert Devices(KeptApart(tmp_path)).known(tokens[0]) is not None
    today += timedelta(days=1)
    assert Devices(KeptApart(tmp_path)).known(tokens[0]) is None
    assert known.known(tokens[0]) is None
    assert known.listed()["devices"] == []
    assert known.known(known.join("d")) is not None


def test_two_that_join_at_the_same_moment_are_both_let_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = KeptApart(tmp_path)
    known, save = Devices(kept), kept.save

    def slow(name: str, rows: list[dict[str, Any]]) -> None:
        time.sleep(0.02)
        save(name, rows)

    monkeypatch.setattr(kept, "save", slow)
    with ThreadPoolExecutor(4) as threads:
        tokens = list(threads.map(known.join, "abcd"))
    assert all(Devices(KeptApart(tmp_path)).known(token) for token in tokens)


class Slow:
    """Planning processes that are never done by themselves."""

    def __init__(self) -> None:
        self.asked: list[Any] = []

    def request(self, *task: Any, turn: int = 1) -> Any:
        self.asked.append(_Asked(task, turn))
        return self.asked[-1]

    def done(self) -> list[Any]:
        return [one.task for one in self.asked if not one.dropped]


class _Asked:
    def __init__(self, task: Any, turn: int) -> None:
        self.task, self.turn, self.dropped = task, turn, False
        self.found: asyncio.Future[Any] = asyncio.get_running_loop().create_future()

    def drop(self) -> None:
        self.dropped = self.found.cancelled() or not self.found.done()


async def stays() -> None:
    await asyncio.Event().wait()


async def turns() -> None:
    for _ in range(10):
        await asyncio.sleep(0)


def test_who_asks_for_the_same_waits_for_one_task_and_it_ends_with_the_last_of_them() -> None:
    async def doing() -> None:
        slow, gone = Slow(), asyncio.Event()
        making = PageMaking(slow)  # type: ignore[arg-type] # all that it needs of them

        async def leaves() -> None:
            await gone.wait()

        asked = [asyncio.create_task(making.shown(who, leaves, ("gap", "j"), version="1")) for who in "ab"]
        other = asyncio.create_task(making.shown("c", stays, ("gap", "j"), version="2"))
        await turns()
        # one page at a time: a process stays free for readings; a change does not wait for pages
        assert [one.task for one in slow.asked] == [("gap", "j")]
        change = asyncio.create_task(making.changed("d", ("record", "j")))
        await turns()
        assert [(one.task, one.turn) for one in slow.asked] == [(("gap", "j"), 1), (("record", "j"), 0)]
        gone.set()
        for one in asked:
            with pytest.raises(HTTPException):
                await one
        await turns()
        assert slow.asked[0].dropped
        slow.asked[1].found.set_result("recorded")
        assert await change == "recorded"
        slow.asked[2].found.set_result("why")
        assert await other == "why"

    ran(doing())


def test_so_much_is_asked_for_at_once_by_one_and_by_all() -> None:
    async def doing() -> None:
        making, kept = PageMaking(Slow()), list[asyncio.Task[Any]]()  # type: ignore[arg-type] # all that it needs

        async def ask(who: str, number: int) -> None:
            kept.append(asyncio.create_task(making.shown(who, stays, ("gap", number))))
            await turns()

        for number in range(MOST_OF_ONE + 1):
            await ask("a", number)
        with pytest.raises(HTTPException) as refused:
            await kept.pop()
        assert refused.value.status_code == 429
        for number in range(MOST):
            await ask(f"another {number}", number)
        assert sum(not one.done() for one in kept) == MOST
        for one in kept:
            one.cancel()
        await asyncio.gather(*kept, return_exceptions=True)
        # who has left makes room
        await ask("a", 0)
        assert not kept[-1].done()
        kept[-1].cancel()

    ran(doing())


def test_what_anybody_may_ask_for_is_made_once_as_long_as_nothing_changes() -> None:
    async def doing() -> None:
        slow = Slow()
        making = PageMaking(slow)  # type: ignore[arg-type] # all that it needs of them
        for version in ("1", "1", "2"):
            asked = asyncio.create_task(making.shown("", stays, ("customer", "j"), version=version, keep=True))
            await turns()
            if not slow.asked[-1].found.done():
                slow.asked[-1].found.set_result(version)
            assert await asked == version
        assert len(slow.asked) == 2

    ran(doing())
