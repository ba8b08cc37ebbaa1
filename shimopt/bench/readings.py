"""Readings from the benches: looked at, kept on disk, answered; then written into the job's file by whoever plans."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

from shimopt.bench.alone_view import alone_data
from shimopt.bench.freshness import Signature, signature_of
from shimopt.bench.in_hand import InHand
from shimopt.bench.reading_said import Said
from shimopt.bench.reading_written import ToWrite, Written
from shimopt.bench.readings_book import GapBook, Reading, ReadingsBook
from shimopt.bench.readings_log import ReadingsLog
from shimopt.errors import InputError, Problem
from shimopt.words.bench_words import AGAIN, not_in_plan_words, said_words, the_file_words, when_words
from shimopt.words.button_words import refused_here

# who gave it, and when: of what stands in the job's file nobody knows
_UNKNOWN = {"device": "", "at": "", "when": ""}


@dataclass(frozen=True, slots=True)
class Given:
    """A reading as it came: on which device, by which of its benches, under which number of its own, of which gap.

    `form` names the form, where it came by one; `seen` what its page showed of the gap then (`seen_as`), where it says.
    """

    device: str
    bench: str
    counter: int
    gap: str
    said: Said
    form: str = ""
    seen: str = ""


def seen_as(told: Any) -> str:
    """A short name for what a page shows that a gap reads."""
    return sha256(repr(told).encode()).hexdigest()[:12]


def _read(path: Path, files: tuple[str, ...]) -> tuple[InHand, Signature]:
    """The job, and the marks of its files from before it was read."""
    while True:
        before = signature_of(files)
        hand = InHand.read(path)
        if hand.job.inputs == files:
            return hand, before
        files = hand.job.inputs


class NotKeptError(Exception):
    """A reading could not be kept, or its job not be read: it was not taken, and is to be sent again."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(problems)


class TakenOtherwiseError(Exception):
    """The bench gave another reading under this number."""


class Readings:
    """All that the benches said, with the log behind it."""

    def __init__(self, log: ReadingsLog) -> None:
        self._log, self._book = log, ReadingsBook(log.entries)
        self._hands: dict[str, tuple[InHand, Signature]] = {}
        self._keeping: dict[int, asyncio.Future[None]] = {}
        self._being_written: set[str] = set()

    def in_hand(self, job: str, path: Path) -> InHand:
        """The job as its files are, with what is still to be written into them. Raises InputError."""
        known = self._hands.get(job)
        if known is not None and (job in self._being_written or known[1] == signature_of(known[0].job.inputs)):
            return known[0]
        hand, signature = _read(path, known[0].job.inputs if known is not None else (str(path),))
        for name, book in self._book.of_job(job).items():
            settled = book.newest if name in hand.gaps and not book.unwritten and not book.differs else None
            if settled is not None and not hand.says(name, settled.said):
                book.move_on()
        for one in self._book.to_write(job):
            if one.gap in hand.gaps and hand.why_not() is None:
                hand = hand.with_said(one.gap, one.said)
        self._hands[job] = hand, signature
        return hand

    async def take(
        self, job: str, path: Path, given: Given, let_in: Callable[[str], bool] = lambda _: True
    ) -> tuple[Reading, bool]:
        """Take a reading: kept on disk when this returns; and whether it is new.

        Raises InputError where it cannot be read, TakenOtherwiseError, NotKeptError. Parameter: let_in, whether a
        device is still let in; a bench of one that is not goes on on the device that it joined anew as.
        """
        book = self._book
        giver = (given.device, given.bench)
        known = book.by_form(given.form) if given.form else book.known(giver, given.counter)
        if known is not None:
            if (known.job, known.gap) != (job, given.gap) or not known.said.was_typed_as(given.said):
                raise TakenOtherwiseError
            await self._kept(known.seq)
            return known, False
        try:
            hand = self.in_hand(job, path)
        except InputError as error:
            # half saved, or broken by hand: that is no fault of the reading
            raise NotKeptError(error.problems) from error
        if given.gap not in hand.gaps:
            rule, remedy = "the job has no gap of this name", "load the page again"
            raise InputError.at(path.name, rule, remedy, where="gap", value=given.gap)
        now_there = hand.gaps[given.gap]
        said = given.said.in_unit(hand.job.unit, str(now_there.value) if now_there.form == "value" else "")
        changed = hand.with_new(given.gap, said)
        others, now = () if given.form else book.gap(job, given.gap).by_bench, datetime.now(UTC)
        was = [device for device, bench in others if bench == given.bench and not let_in(device)]
        entry = {
            "kind": "reading",
            "job": job,
            "gap": given.gap,
            "device": given.device,
            "bench": given.bench,
            "counter": given.counter or book.next_counter(giver),
            "said": said.to_dict(),
            "over": self._over(job, given, hand),
            "at": now.isoformat(timespec="seconds"),
            **({"form": given.form} if given.form else {}),
            **({"was": was} if was else {}),
            **({"anew": True} if self._anew(job, given, hand, now) else {}),
        }
        reading = self._add(entry)
        if not book.gap(job, given.gap).differs:
            self._hands[job] = changed, self._hands[job][1]
        try:
            await self._kept(reading["seq"])
        except InputError as error:
            book.forget(reading["seq"])
            self._hands.pop(job, None)
            raise NotKeptError(error.problems) from error
        return Reading.of(reading), True

    def _over(self, job: str, given: Given, hand: InHand) -> Any:
        """What a reading may be put over: what stands there, unless somebody changed that by hand after it was read."""
        told, newest = hand.gaps[given.gap].told(), self._book.gap(job, given.gap).newest
        ours = newest is not None and hand.says(given.gap, newest.said)
        return told if ours or given.seen in ("", seen_as(told)) else given.seen

    def _anew(self, job: str, given: Given, hand: InHand, now: datetime) -> bool:
        """Whether a reading was made with what stands there in sight, and that was settled before."""
        in_sight = given.seen == seen_as(hand.gaps[given.gap].told())
        return in_sight and self._book.gap(job, given.gap).settled(now)

    def _add(self, entry: Mapping[str, Any], *, urgent: bool = True) -> dict[str, Any]:
        """Add an entry to log and book at one stroke; `_kept` tells when it is on disk, where it is `urgent`."""
        numbered, done = self._log.add(entry, urgent=urgent)
        self._keeping[numbered["seq"]] = done
        done.add_done_callback(partial(self._is_kept, numbered["seq"]))
        self._book.take(numbered)
        return numbered

    def _is_kept(self, seq: int, done: asyncio.Future[None]) -> None:
        # looked at here too: of what became of a reading nobody waits to hear that it is on disk
        done.exception()
        self._keeping.pop(seq, None)

    async def _kept(self, seq: int) -> None:
        if (done := self._keeping.get(seq)) is not None:
            await asyncio.shield(done)

    async def choose(self, job: str, gap: str, seq: int) -> bool:
        """One of several readings counts from now on, 0 for what stands in the file; False where there is no choice."""
        book = self._book.gap(job, gap)
        known = {one.seq for one in book.by_bench.values()} | ({0} if book.in_file is not None else set())
        if seq not in known:
            return False
        entry = {"kind": "chosen", "job": job, "gap": gap, "of": seq}
        added = self._add({**entry, "at": datetime.now(UTC).isoformat(timespec="seconds")})
        self._hands.pop(job, None)
        await self._kept(added["seq"])
        return True

    def being_written(self, job: str, now: bool) -> None:
        """Its files are being changed by us, or no longer: what is in hand is what will stand there."""
        (self._being_written.add if now else self._being_written.discard)(job)

    def to_write(self, job: str) -> list[ToWrite]:
        """What is to be written into the job's file."""
        return self._book.to_write(job)

    def not_in_plan(self, job: str) -> tuple[Problem, ...]:
        """What was taken of a job, and does not stand in its file: by this nothing can be planned."""
        return tuple(
            Problem("", name, "", *not_in_plan_words(said_words(newest.said.to_dict()), differs=book.differs))
            for name, book in self._book.of_job(job).items()
            if (newest := book.newest) is not None and (book.differs or book.unwritten)
        )

    def differing(self, job: str) -> list[str]:
        """The gaps of a job that two benches read differently, and nobody has chosen yet."""
        return [name for name, book in self._book.of_job(job).items() if book.differs]

    def wrote(self, job: str, found: Written, before: Signature, after: Signature) -> None:
        """What became of it; the marks of the job's files before and after."""
        self.being_written(job, False)
        if found.written:
            # were that lost, it would be found written
            self._add({"kind": "written", "of": list(found.written)}, urgent=False)
        for seq, now in found.otherwise:
            self._add({"kind": "otherwise", "of": seq, "now": now})
        for seq, problems in found.refused:
            self._add({"kind": "refused", "of": seq, "why": [problem.to_dict() for problem in problems]})
        known = self._hands.get(job)
        if found.otherwise or found.refused:
            self._hands.pop(job, None)
        elif known is not None and known[1] == before:
            # what was written is what is in hand already
            self._hands[job] = known[0], after

    def answer(self, job: str, path: Path, reading: Reading) -> dict[str, Any]:
        """What a bench is told at once: this gap alone."""
        told = {key: getattr(reading, key) for key in ("bench", "counter", "seq", "gap", "job")}
        differs = self._book.gap(job, reading.gap).differs
        answered = {**told, "taken": True, "differs": differs, "errors": [], "alone": None, "why_not_alone": None}
        if self.differing(job):
            # of what is shared nobody knows how much is left
            return answered | {"why_not_alone": AGAIN}
        try:
            one = self.in_hand(job, path).alone(reading.gap)
            if one.seat is None or one.why_not is not None:
                return answered | {"why_not_alone": one.why_not}
            bracket = one.gap.reading.bracket
            return answered | {"alone": alone_data(one, bracket, one.seat.best(bracket, one.gap.window))}
        except Exception:  # it is kept, and is not to be sent again; what else is wrong is told on the job's page
            return answered

    def shown(self, job: str, path: Path) -> list[dict[str, Any]]:
        """What each gap of a job reads now, whether the page can change it, and where benches differ.

        Raises InputError where the job cannot be read.
        """
        hand, books = self.in_hand(job, path), self._book.of_job(job)
        rows, why = [], hand.why_not()
        for number, (name, gap) in enumerate(hand.gaps.items(), start=1):
            told = {"gap": name, "n": number, "form": gap.form, "now": gap.told(), "spots": gap.spots}
            told |= {"seen": seen_as(gap.told())}
            told |= {"can": why is None, "why_not": why, "differs": self._differing(books.get(name))}
            told |= {"dimensions": gap.dimensions()}
            refused = books[name].refused if name in books else None
            told |= {"refused": refused and [refused_here(one, name) for one in refused]}
            rows.append(told)
        return rows

    def recorded(self, job: str, path: Path) -> bool:
        """Whether what was fitted is recorded. Raises InputError where the job cannot be read."""
        return bool(self.in_hand(job, path).job.records)

    def number(self, job: str, path: Path, gap: str) -> int:
        """Which gap of its job it is, from 1; 0 where it is none, or its job cannot be read."""
        try:
            names = list(self.in_hand(job, path).gaps)
        except InputError:
            return 0
        return names.index(gap) + 1 if gap in names else 0

    def _differing(self, book: GapBook | None) -> list[dict[str, Any]] | None:
        if book is None or not book.differs:
            return None
        told = [
            {
                "seq": one.seq,
                "bench": self._book.named(one.giver),
                "device": one.device,
                "by": one.bench,
                "said": said_words(one.said.to_dict()),
                "at": one.at,
                "when": when_words(datetime.fromisoformat(one.at).astimezone(), datetime.now(UTC).astimezone()),
            }
            for one in sorted(book.by_bench.values(), key=lambda one: one.seq)
        ]
        if book.in_file is not None:
            told.append({"seq": 0, "bench": the_file_words(), "said": said_words(book.in_file)} | _UNKNOWN)
        return told
