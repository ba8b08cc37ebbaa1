"""Who said what of each gap, against the slow, obvious answer; and the log, where the disk gives out."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shimopt.bench.reading_said import said_in
from shimopt.bench.readings import Given, NotKeptError, Readings, seen_as
from shimopt.bench.readings_book import ReadingsBook
from shimopt.bench.readings_log import ReadingsLog
from tests.bench_server import laid_job, ran

BENCHES = ("a" * 16, "b" * 16, "c" * 16)


def said(seq: int, bench: str, counter: int, go: int) -> dict[str, Any]:
    told = {"value": f"{go}"}
    entry = {"seq": seq, "kind": "reading", "job": "j", "gap": "g", "bench": bench, "counter": counter}
    return entry | {"said": told, "over": {"value": "0"}, "at": ""}


@st.composite
def histories(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Readings of three benches, some of which come late, choices among what was said, and what was written."""
    entries: list[dict[str, Any]] = []
    counters = dict.fromkeys(BENCHES, 0)
    for seq in range(1, draw(st.integers(1, 14)) + 1):
        kind = draw(st.sampled_from(["reading", "reading", "reading", "chosen", "written"]))
        before = [one for one in entries if one["kind"] == "reading"]
        if kind == "reading" or not before:
            bench = draw(st.sampled_from(BENCHES))
            counters[bench] += 1
            # a number that comes late is that of a reading that was on its way for long
            entries.append(said(seq, bench, counters[bench], draw(st.integers(1, 3))))
        elif kind == "chosen":
            of = draw(st.sampled_from(before))["seq"]
            entries.append({"seq": seq, "kind": "chosen", "job": "j", "gap": "g", "of": of})
        else:
            entries.append({"seq": seq, "kind": "written", "of": [draw(st.sampled_from(before))["seq"]]})
    return entries


def obvious(entries: list[dict[str, Any]]) -> tuple[dict[tuple[str, str], str], bool]:
    """What each bench said last since somebody chose, and whether that differs: entry by entry."""
    counts: dict[tuple[str, str], tuple[int, str]] = {}
    for entry in entries:
        if entry["kind"] == "reading":
            counts["here", entry["bench"]] = entry["seq"], entry["said"]["value"]
        elif entry["kind"] == "chosen":
            counts = {bench: one for bench, one in counts.items() if one[0] == entry["of"]}
    return {bench: value for bench, (_, value) in counts.items()}, len({value for _, value in counts.values()}) > 1


@given(histories())
def test_the_newest_of_each_bench_counts_and_nothing_is_written_while_they_differ(
    entries: list[dict[str, Any]],
) -> None:
    book = ReadingsBook(entries).gap("j", "g")
    counts, differ = obvious(entries)
    assert {bench: one.said.value for bench, one in book.by_bench.items()} == counts
    assert book.differs is differ
    to_write = book.to_write()
    if differ or not counts:
        assert to_write is None
    elif to_write is not None:
        assert to_write.said.value in counts.values()
        assert to_write.seq == max(one.seq for one in book.by_bench.values())


@given(histories(), st.integers(0, 14))
def test_a_book_that_is_read_again_from_its_log_is_the_same(entries: list[dict[str, Any]], cut: int) -> None:
    once, twice = ReadingsBook(entries), ReadingsBook(entries[:cut])
    for entry in entries[cut:]:
        twice.take(entry)
    assert once.gap("j", "g") == twice.gap("j", "g")


def test_a_reading_that_was_overtaken_by_a_later_one_of_its_bench_does_not_count() -> None:
    book = ReadingsBook([said(1, BENCHES[0], 5, 17), said(2, BENCHES[0], 4, 16)]).gap("j", "g")
    assert [one.said.value for one in book.by_bench.values()] == ["17"]


def test_a_reading_that_the_disk_does_not_take_is_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = laid_job(tmp_path)

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings, fsync = Readings(log), os.fsync

        def full(_: int) -> None:
            raise OSError(28, "No space left on device")

        async def take(counter: int, go: str) -> bool:
            told = said_in({"go": go, "no_go": "30"})
            return (await readings.take("winch", file, Given("here", BENCHES[0], counter, "east", told)))[1]

        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(NotKeptError):
            await take(1, "20")
        assert readings.to_write("winch") == []
        monkeypatch.setattr(os, "fsync", fsync)
        # sent again, as a bench does that heard no "sent"
        assert await take(1, "20")
        assert not await take(1, "20")
        assert [one.seq for one in readings.to_write("winch")] == [2]
        log.close()
        again = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        assert [entry["said"]["go"] for entry in again.entries] == ["20"]
        again.close()

    ran(doing())


def test_who_reads_a_gap_anew_with_what_stands_there_in_sight_disputes_nothing_that_was_settled(tmp_path: Path) -> None:
    file = laid_job(tmp_path)

    async def doing() -> None:
        log = ReadingsLog(tmp_path / "kept" / "readings.jsonl")
        readings = Readings(log)

        async def reads(bench: str, counter: int, go: int, seen: bool = True) -> bool:
            now = readings.in_hand("j", file).gaps["east"].told()
            given = Given(
                "here", bench, counter, "east", said_in({"value": f"{go}"}), "", seen_as(now) if seen else "0"
            )
            await readings.take("j", file, given)
            return readings.differing("j") == ["east"]

        assert not await reads(BENCHES[0], 1, 9)
        # so soon after another nobody knows whether it was looked at
        assert await reads(BENCHES[1], 1, 10)
        # what is disputed is not settled by one more
        assert await reads(BENCHES[2], 1, 11)
        assert await readings.choose("j", "east", 1)
        assert await reads(BENCHES[1], 2, 10, seen=False)
        assert await readings.choose("j", "east", 1)
        # chosen, and in sight
        assert not await reads(BENCHES[2], 2, 12)
        log.close()
        # long ago, and in sight; the log tells the same when it is read again
        kept = tmp_path / "kept" / "readings.jsonl"
        kept.write_text(re.sub('"at": ?"[^"]*"', '"at": "2026-01-01T08:00:00+00:00"', kept.read_text()))
        log = ReadingsLog(kept)
        readings = Readings(log)
        assert readings.differing("j") == []
        assert not await reads(BENCHES[0], 3, 13)
        assert await reads(BENCHES[1], 3, 14)
        log.close()

    ran(doing())
