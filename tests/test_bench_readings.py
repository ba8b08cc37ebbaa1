"""Readings from a page: on disk before the answer, taken once, written into the job's own file; benches that differ."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from shimopt.bench.form_tokens import FormTokens
from tests.bench_server import Server, job_text, laid_job, reading, served

BENCH_A, BENCH_B = "a" * 16, "b" * 16


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    file = laid_job(folder / "winch")
    with served(folder) as server:
        yield server, file


@pytest.fixture
def job(shop: tuple[Server, Path]) -> tuple[Server, str, Path]:
    """The job as it was at first, known to the page so."""
    server, file = shop
    name = server.job()
    # what a bench of the test before has said may still be on its way to the file, and come after this
    for tried in range(4):
        laid_job(file.parent)
        with suppress(*[AssertionError] * (tried < 3)):
            server.until(
                f"/job/{name}/answer",
                lambda told: told["readings"][0]["now"] == {"go": "17", "no_go": "18"},
                seconds=5.0 if tried < 3 else 60.0,
            )
            break
    return server, name, file


_COUNT = iter(range(1, 10_000))


def said(server: Server, name: str, bench: str = BENCH_A, gap: str = "east", **what: str) -> dict[str, object]:
    answer = server.post(f"/job/{name}/reading", reading(next(_COUNT), gap, bench, **what))
    assert answer.status == 200, answer.text
    told: dict[str, object] = answer.data
    return told


def in_file(file: Path, gap: str = "east") -> dict[str, object]:
    return next(one for one in tomllib.loads(file.read_text(encoding="utf-8"))["gap"] if one["name"] == gap)


def until_in_file(server: Server, name: str, file: Path, feeler: dict[str, int]) -> None:
    server.until(f"/job/{name}/answer", lambda _: in_file(file).get("feeler") == feeler)


def written(server: Server, name: str, gap: int, now: object) -> None:
    server.until(f"/job/{name}/answer", lambda told: told["readings"][gap]["now"] == now and told["stage"])


def test_a_reading_is_answered_alone_at_once_and_stands_in_the_job_file(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    before = file.read_text(encoding="utf-8")
    # 20 to 21 less S-10 leaves 10 to 11 of 4 to 12: one piece; the middle, 8, is nearer with S-10 + S-02, two pieces
    told = said(server, name, go="20", no_go="21")
    assert told["alone"]["stack"] == "S-10"  # type: ignore[index]
    assert told["alone"]["verdict"] == "inside"  # type: ignore[index]
    until_in_file(server, name, file, {"go": 20, "no_go": 21})
    # comments and all else stay
    assert file.read_text(encoding="utf-8") == before.replace("go = 17, no_go = 18", "go = 20, no_go = 21")


def test_the_same_reading_sent_again_is_taken_once_and_answered_alike(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    one = reading(next(_COUNT), go="21", no_go="22")
    with ThreadPoolExecutor(8) as threads:
        answers = list(threads.map(lambda _: server.post(f"/job/{name}/reading", one), range(16)))
    assert {answer.status for answer in answers} == {200}
    assert len({answer.data["seq"] for answer in answers}) == 1
    other = server.post(f"/job/{name}/reading", {**one, "no_go": "23"})
    assert other.status == 409
    until_in_file(server, name, file, {"go": 21, "no_go": 22})


def test_two_benches_that_differ_are_both_shown_and_one_is_chosen(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    first, second = said(server, name, go="20", no_go="21"), said(server, name, BENCH_B, go="23", no_go="24")
    assert (first["differs"], second["differs"]) == (False, True)
    east = server.get(f"/job/{name}/answer").data["readings"][0]
    assert [one["said"] for one in east["differs"]] == ["20 goes, 21 does not", "23 goes, 24 does not"]
    assert in_file(file)["feeler"] != {"go": 23, "no_go": 24}
    # pieces are shared: until one is chosen no card says what to fit, nor does a further reading
    cards = server.until(f"/job/{name}/answer", lambda told: told["data"]["verdict"] == "unproven")["data"]["gaps"]
    assert [(card["word"], card["under"]) for card in cards] == [("to be chosen", ""), ("waits", "")]
    assert cards[1]["work"] == [{"label": "", "text": "fit nothing before that is settled"}]
    assert said(server, name, gap="west", value="30")["alone"] is None
    chosen = server.post(f"/job/{name}/choose", {"gap": "east", "seq": str(second["seq"])})
    assert chosen.status == 200
    written(server, name, 0, {"go": "23", "no_go": "24"})
    until_in_file(server, name, file, {"go": 23, "no_go": 24})
    assert server.get(f"/job/{name}/answer").data["readings"][0]["differs"] is None
    assert server.post(f"/job/{name}/choose", {"gap": "east", "seq": str(first["seq"])}).status == 409


def test_two_benches_that_agree_need_no_choice(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    said(server, name, go="20", no_go="21")
    assert said(server, name, BENCH_B, go="20", no_go="21")["differs"] is False
    until_in_file(server, name, file, {"go": 20, "no_go": 21})


def test_what_the_command_line_or_an_editor_wrote_meanwhile_counts(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    said(server, name, go="20", no_go="21")
    until_in_file(server, name, file, {"go": 20, "no_go": 21})
    laid_job(file.parent, job_text(east="feeler = { go = 14, no_go = 15 }", west="value = 9"))
    written(server, name, 0, {"go": "14", "no_go": "15"})
    # another bench reads it again: what was read before the file was changed is no dispute any more
    assert said(server, name, BENCH_B, go="13", no_go="14")["differs"] is False
    until_in_file(server, name, file, {"go": 13, "no_go": 14})


@pytest.mark.parametrize(
    ("what", "rule"),
    [
        ({"go": "0.018", "no_go": "0.019"}, "probably meant"),
        ({"go": "19", "no_go": "18"}, "not thinner"),
        ({"go": "18"}, "one reading of one kind"),
        ({"go": "18", "no_go": "19", "value": "3"}, "one reading of one kind"),
        ({"value": "<b>"}, "length"),
        ({"value": "9" * 81}, "80 characters"),
        ({"readings": ["1", "2"] * 30}, "pulls"),
    ],
)
def test_what_is_no_reading_is_refused_with_its_remedy(
    job: tuple[Server, str, Path], what: dict[str, str], rule: str
) -> None:
    server, name, file = job
    answer = server.post(f"/job/{name}/reading", {**reading(next(_COUNT)), "go": "", "no_go": "", **what})
    assert answer.status == 400
    assert rule in answer.data["errors"][0]["text"]
    assert in_file(file)["feeler"] == {"go": 17, "no_go": 18}


def test_somebody_who_looked_again_may_say_so(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    told = said(server, name, go="0.018", no_go="0.019", checked="1")
    assert told["taken"] is True
    server.until(f"/job/{name}/answer", lambda _: in_file(file).get("checked") is True)


def test_without_script_a_form_gives_a_reading_once(job: tuple[Server, str, Path]) -> None:
    server, name, file = job
    token = FormTokens((file.parents[1] / ".shimopt-bench" / "key").read_bytes()).make("here")
    fields = {"token": token, "gap": "east", "go": "19", "no_go": "20"}
    answers = [server.form(f"/job/{name}/reading", fields) for _ in range(2)]
    assert [(one.status, one.headers["location"]) for one in answers] == [(303, f"/job/{name}#gap-1")] * 2
    assert in_file(file)["feeler"] == {"go": 19, "no_go": 20}


def test_a_cover_a_row_and_a_spot_are_read_in_their_own_form(tmp_path: Path) -> None:
    laid_job(
        tmp_path,
        job_text(
            cap="cover_gap = { go = 6, no_go = 7 }",
            face="feeler = [{ go = 16, no_go = 17 }, { go = 17, no_go = 18 }]   # two spots",
        ).replace("unit =", 'gaps = "gaps.csv"\nunit ='),
    )
    (tmp_path / "gaps.csv").write_text("gap,low_thou,high_thou\nrow one,14,15\n", encoding="utf-8")
    with served(tmp_path) as server:
        name = server.job()
        for counter, one in enumerate(
            [
                {"gap": "cap", "go": "7", "no_go": "8"},
                {"gap": "face", "go": "17", "no_go": "18", "spot": "1"},
                {"gap": "row one", "snug": "16", "step": "1"},
            ]
        ):
            told = server.post(f"/job/{name}/reading", {"bench": BENCH_A, "counter": counter + 1, **one})
            assert told.status == 200, told.text
        server.until(
            f"/job/{name}/answer", lambda _: "15.5,16.5" in (tmp_path / "gaps.csv").read_text(encoding="utf-8")
        )
        text = (tmp_path / "job.toml").read_text(encoding="utf-8")
        assert "cover_gap = { go = 7, no_go = 8 }" in text
        assert "feeler = [{ go = 17, no_go = 18 }, { go = 17, no_go = 18 }]   # two spots" in text


def test_a_job_that_is_half_saved_refuses_no_reading_and_takes_it_once_it_is_whole(
    job: tuple[Server, str, Path],
) -> None:
    server, name, file = job
    whole = file.read_bytes()
    sent = reading(next(_COUNT), "east", BENCH_A, go="20", no_go="21")
    file.write_bytes(whole + b"\n[[gap")
    answer = server.post(f"/job/{name}/reading", sent)
    assert (answer.status, "this is not TOML" in answer.text) == (503, True)
    file.write_bytes(whole)
    assert server.post(f"/job/{name}/reading", sent).data["taken"]
    until_in_file(server, name, file, {"go": 20, "no_go": 21})


def recorded(server: Server, name: str, version: str) -> Any:
    fields = {"person": "M. Hale", "instrument": "blades", "after.1": "10 to 11", "version": version}
    return server.post(f"/job/{name}/record", fields)


def test_a_record_sent_with_a_reading_on_its_way_is_refused_and_the_reading_stands(
    job: tuple[Server, str, Path],
) -> None:
    server, name, file = job
    version = server.get(f"/job/{name}/answer").data["version"]
    for go in range(20, 26):
        sent = reading(next(_COUNT), go=str(go), no_go=str(go + 1))
        assert server.post(f"/job/{name}/reading", sent).data["taken"]
        # at once: it is on disk, and perhaps not in the job's file yet
        answer = recorded(server, name, version)
        assert (answer.status, "changed the job since" in answer.text) == (400, True)
        assert in_file(file)["feeler"] == {"go": go, "no_go": go + 1}
    assert "[[record]]" not in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("what", ["hold", "record"])
def test_nothing_goes_by_a_plan_while_two_benches_differ(job: tuple[Server, str, Path], what: str) -> None:
    server, name, file = job
    for bench, go in (("a" * 16, 20), ("b" * 16, 23)):
        server.post(f"/job/{name}/reading", reading(next(_COUNT), bench=bench, go=str(go), no_go=str(go + 1)))
    told = server.until(f"/job/{name}/answer", lambda told: told["readings"][0]["differs"])
    version = server.get(f"/job/{name}/answer").data["version"]
    fields = {"person": "M. Hale", "instrument": "blades", "after.1": "10 to 11", "version": version}
    answer = server.post(f"/job/{name}/{what}", fields)
    assert (answer.status, answer.data["errors"][0]["where"]) == (400, "east")
    assert "one must be chosen" in answer.text
    assert "[[record]]" not in file.read_text(encoding="utf-8")
    server.post(f"/job/{name}/choose", {"gap": "east", "seq": str(told["readings"][0]["differs"][0]["seq"])})
    server.until(f"/job/{name}/answer", lambda told: not told["readings"][0]["differs"])
