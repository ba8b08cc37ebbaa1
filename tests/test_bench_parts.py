"""The parts of the bench page by themselves: planning processes, lines of news, slow senders, forms, blades."""

from __future__ import annotations

import asyncio
import os
import pickle
import signal
import subprocess
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.exceptions import HTTPException

from shimopt.bench import guard
from shimopt.bench.blade_set import blades_of
from shimopt.bench.devices import Pairing
from shimopt.bench.feed import Feed, Listener
from shimopt.bench.form_tokens import FormTokens
from shimopt.bench.freshness import signature_of
from shimopt.bench.planners import DroppedError, Planners
from shimopt.errors import FaultError, InputError
from tests.bench_server import laid_job, ran
from tests.processes import started


def with_planner(what: Callable[[Planners], Awaitable[None]]) -> None:
    """Do something with one planning process."""

    async def doing() -> None:
        planners = Planners(1)
        planners.start()
        try:
            await asyncio.wait_for(what(planners), 60)
        finally:
            await planners.close()

    ran(doing())


def test_a_plan_is_told_in_stages_dropped_when_it_is_stale_and_made_anew_where_its_process_died(tmp_path: Path) -> None:
    file = str(laid_job(tmp_path))

    async def what(planners: Planners) -> None:
        stages: list[str] = []
        request = planners.request("plan", file, (file,), (), told=lambda answer: stages.append(answer["stage"]))
        found = await request.found
        assert (stages, found["stage"]) == (["plan"], "reasons")
        # one is under way, another waits: both are dropped, and the third is answered
        stale = [planners.request("plan", file, (file,), ()) for _ in range(2)]
        for one in stale:
            one.drop()
        fresh = await planners.ask("plan", file, (file,), ())
        assert fresh["version"] == found["version"]
        for one in stale:
            with pytest.raises(DroppedError):
                await one.found
        # urgent ones overtake: the last asked is done before those that nobody waits for
        order: list[str] = []
        asked = [planners.request("plan", file, (file,), (), turn=turn) for turn in (2, 2, 0)]
        for name, one in zip("abc", asked, strict=True):
            one.found.add_done_callback(lambda _, name=name: order.append(name))
        await asyncio.gather(*(one.found for one in asked))
        assert order.index("c") < order.index("b")
        with pytest.raises(InputError, match="no such job file"):
            await planners.ask("plan", f"{file}.gone", (file,), ())
        with pytest.raises(FaultError, match="KeyError"):
            await planners.ask("nonsense")
        os.kill(planners.processes[0], signal.SIGKILL)
        assert (await planners.ask("plan", file, (file,), ()))["stage"] == "reasons"

    with_planner(what)


def test_reasons_wait_while_another_reading_waits_for_its_plan(tmp_path: Path) -> None:
    file = str(laid_job(tmp_path))

    async def what(planners: Planners) -> None:
        whole = await planners.ask("plan", file, (file,), ())
        chosen = planners.request("plan", file, (file,), (), False, turn=0)
        first = await chosen.found
        assert (first["stage"], first["version"]) == ("plan", whole["version"])
        order: list[str] = []
        explained = planners.request("reasons", file, first["files"], first["signature"], after=chosen)
        urgent = planners.request("plan", file, (file,), (), False, turn=0)
        for name, one in (("reasons", explained), ("plan", urgent)):
            one.found.add_done_callback(lambda _, name=name: order.append(name))
        await asyncio.gather(explained.found, urgent.found)
        assert order == ["plan", "reasons"]
        # of the stacks that are kept, and planned anew where none are, the same is told as at once
        again = await planners.ask("reasons", file, first["files"], ())
        assert explained.found.result() == again == whole

    with_planner(what)


def test_a_task_that_goes_on_is_done_by_who_began_it(tmp_path: Path) -> None:
    file = str(laid_job(tmp_path))

    async def doing() -> None:
        planners = Planners(2)
        planners.start()
        try:
            first = planners.request("plan", file, (file,), (), False)
            found = await first.found
            others = [planners.request("plan", file, (file,), ()) for _ in range(3)]
            asked = [
                planners.request("reasons", file, found["files"], found["signature"], after=first) for _ in range(3)
            ]
            await asyncio.gather(*(one.found for one in (*others, *asked)))
            assert {one.process for one in asked} == {first.process}
            assert {one.process for one in others} != {first.process}
        finally:
            await planners.close()

    ran(doing())


def test_a_planning_process_whose_server_is_gone_ends_without_a_word(tmp_path: Path) -> None:
    file = str(laid_job(tmp_path))
    pipe = subprocess.PIPE
    asked = started(module="shimopt.bench.planning_process", text=False, stdin=pipe, stdout=pipe, stderr=pipe)
    asked.stdout.close()
    asked.stdin.write(pickle.dumps((1, "drawer", (file,))))
    asked.stdin.flush()
    assert (asked.wait(30), asked.stderr.read()) == (0, b"")
    asked.stdin.close()
    asked.stderr.close()


def test_an_empty_journal_beside_a_database_is_no_change_and_a_full_one_is(tmp_path: Path) -> None:
    stock = tmp_path / "stock.db"
    stock.write_bytes(b"pages")
    before = signature_of([str(stock)])
    # whoever opens the database only to read it makes one
    (tmp_path / "stock.db-wal").touch()
    assert signature_of([str(stock)]) == before
    (tmp_path / "stock.db-wal").write_bytes(b"frames")
    assert signature_of([str(stock)]) != before


def test_a_page_that_takes_no_news_in_is_let_go_and_all_lines_end_together() -> None:
    async def doing() -> None:
        feed = Feed()
        slow, quick = feed.lines(Listener("winch")), feed.lines(Listener())
        assert (await anext(slow), await anext(quick)) == (b"retry: 2000\n\n",) * 2
        assert feed.looked_at == {"winch"}
        for number in range(100):
            feed.say("answer", number=number)
            assert f'"number": {number}' in (await anext(quick)).decode()
        assert feed.looked_at == set()
        with pytest.raises(StopAsyncIteration):
            await anext(slow)
        feed.close()
        with pytest.raises(StopAsyncIteration):
            await anext(quick)

    ran(doing())


def test_a_body_that_never_comes_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "_TO_SEND", 0.01)

    async def page(_: Any, receive: Any, __: Any) -> None:
        with pytest.raises(HTTPException, match="did not come whole"):
            await receive()

    async def never() -> Any:
        await asyncio.Event().wait()

    async def nothing(_: Any) -> None:
        pass

    guarded = guard.Guard(page, guard.Hosts(guard.LOOPBACK, 80), lambda _: None, ())
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/",
        "client": ("127.0.0.1", 9),
        "headers": [(b"host", b"localhost"), (b"origin", b"http://localhost")],
    }
    ran(guarded(scope, never, nothing))


def test_a_form_is_of_who_it_was_made_for_and_works_once() -> None:
    tokens = FormTokens(b"k" * 32)
    token = tokens.make("here")
    stem = tokens.stem(token, "here")
    assert stem is not None
    assert [tokens.spend(stem), tokens.spend(stem)] == [True, False]
    assert tokens.stem(token, "somebody else") is None
    assert FormTokens(b"another" * 5).stem(token, "here") is None
    # each digit of it counts
    assert all(tokens.stem(token[:at] + "g" + token[at + 1 :], "here") is None for at in range(len(token)))


def test_a_code_holds_for_one_device_and_not_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    now = 1000.0
    monkeypatch.setattr("shimopt.bench.devices.monotonic", lambda: now)
    pairing = Pairing()
    assert not pairing.use("", "a")
    code, minutes = pairing.offer()
    assert (len(code), code.isdigit(), minutes) == (6, True, 5)
    assert pairing.use(code, "a")
    assert not pairing.use(code, "a")
    code = pairing.offer()[0]
    now += 301
    assert not pairing.use(code, "a")
    assert pairing.offer()[0] != ""
    assert not pairing.too_often("b")
    # 20 wrong codes of any devices within a minute, and nobody is asked for another
    for number in range(20):
        pairing.use("wrong", f"{number}")
    assert pairing.too_often("new")
    now += 61
    assert not pairing.too_often("new")


def test_the_shops_own_blades_come_in_the_jobs_unit(tmp_path: Path) -> None:
    # the set of DIN 2275 with 0.05 to 1.00 mm is among the usual ones
    assert {"0.05", "0.1", "0.15", "0.95", "1"} <= set(blades_of(tmp_path, "mm"))
    (tmp_path / "blades.txt").write_text("0.05 mm, 0.1mm   # thin\n2 thou\n", encoding="utf-8")
    # 2 thou are 0.0508 mm, 0.05 mm are 1.97 thou
    assert blades_of(tmp_path, "mm") == ["0.05", "0.0508", "0.1"]
    assert blades_of(tmp_path, "thou") == ["1.97", "2", "3.94"]
    for wrong in ("0.05\n0.1\n", "1 mm", "0 mm, 1 mm", "1 mm, 1 m", "x" * 20_000):
        (tmp_path / "blades.txt").write_text(wrong, encoding="utf-8")
        with pytest.raises(InputError):
            blades_of(tmp_path, "mm")
