"""Who said what of each gap, as the log tells it: what is to be written, and where two benches say otherwise.

Of each bench its newest reading of a gap counts. While all that counts says the same, the newest of it is to stand in
the job's file. Where it does not, nothing is written until somebody has chosen one; from then on that one counts alone.
So does one that was read anew, with what stood there in sight, after that was settled (`settled`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from shimopt.bench.devices import HERE
from shimopt.bench.reading_said import Said, said_of
from shimopt.bench.reading_written import ToWrite
from shimopt.bench.readings_log import Entry

# common practice, no source: who reads a gap so long after another reads it anew
_A_GOOD_WHILE = timedelta(minutes=10)
# a device by its id, and one of its benches
Giver = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One entry of the log: what a bench said of a gap, and what stood in the job's file then (`over`).

    `form` names the form that it came by, where it came without script. A bench is one of its device alone: another
    device that calls itself the same is another bench; but `was` are devices, shut out since, that this bench was of
    before it joined anew. What is read `anew` takes the place of all that was said before.
    """

    seq: int
    device: str
    bench: str
    counter: int
    job: str
    gap: str
    said: Said
    at: str
    over: Any
    form: str = ""
    was: tuple[str, ...] = ()
    anew: bool = False

    @classmethod
    def of(cls, entry: Mapping[str, Any]) -> Reading:
        """The reading that an entry tells."""
        said = said_of(entry["said"])
        own = {key: entry[key] for key in ("seq", "bench", "counter", "job", "gap", "at", "over")}
        device, form, was = entry.get("device", HERE.id), entry.get("form", ""), tuple(entry.get("was", ()))
        return cls(said=said, **own, device=device, form=form, was=was, anew=entry.get("anew", False))

    @property
    def giver(self) -> Giver:
        """Which bench gave it."""
        return self.device, self.bench


@dataclass
class GapBook:
    """What counts of one gap: by bench; and what was said since the file was last known to agree.

    `in_file` is what stands in the job's file, where somebody wrote there what none of the benches said;
    `refused` why the newest reading cannot stand there; `picked` the reading that was chosen last.
    """

    by_bench: dict[Giver, Reading] = field(default_factory=dict)
    unwritten: list[Reading] = field(default_factory=list)
    chosen: bool = False
    in_file: Any = None
    refused: list[Any] | None = None
    picked: int = 0

    @property
    def differs(self) -> bool:
        """Whether one must be chosen."""
        first, *others = self.by_bench.values() or [None]
        unlike = first is not None and any(not first.said.same_reading(one.said) for one in others if one is not None)
        return unlike or self.in_file is not None

    @property
    def newest(self) -> Reading | None:
        """The newest reading that counts."""
        return max(self.by_bench.values(), key=lambda one: one.seq, default=None)

    def say(self, reading: Reading) -> None:
        """A bench says so; what it said later on already stands."""
        last = self.by_bench.get(reading.giver)
        if last is None or last.counter < reading.counter:
            if reading.anew:
                self.by_bench.clear()
            for device in reading.was:
                self.by_bench.pop((device, reading.bench), None)
            self.by_bench[reading.giver] = reading
            self.unwritten.append(reading)
            self.chosen, self.refused = False, None

    def settled(self, now: datetime) -> bool:
        """Whether all that counts was chosen, or said a good while ago: who reads it now disputes nothing."""
        return not self.differs and all(
            one.seq == self.picked or now - datetime.fromisoformat(one.at) > _A_GOOD_WHILE
            for one in self.by_bench.values()
        )

    def choose(self, seq: int) -> None:
        """One reading counts alone; or what stands in the file does."""
        one = next((one for one in self.by_bench.values() if one.seq == seq), None)
        self.by_bench = {} if one is None else {one.giver: one}
        self.unwritten = [] if one is None else [one]
        self.chosen, self.in_file, self.picked = one is not None, None, seq

    def wrote(self, seq: int) -> None:
        """A reading stands in the file; what was said since is still to be written."""
        self.unwritten = [one for one in self.unwritten if one.seq > seq]
        self.chosen, self.in_file = self.chosen and bool(self.unwritten), None

    def stands_otherwise(self, now: Any) -> None:
        """What stands in the file is none of what was said here."""
        self.in_file = now

    def move_on(self) -> None:
        """Somebody has given the file another reading since: what was said before counts no longer."""
        self.by_bench = {}

    def refuse(self, seq: int, why: list[Any] | None = None) -> None:
        """A reading cannot stand in the file: it counts no longer."""
        self.refused = why
        self.by_bench = {bench: one for bench, one in self.by_bench.items() if one.seq != seq}
        self.unwritten = [one for one in self.unwritten if one.seq != seq]

    def to_write(self) -> ToWrite | None:
        """What is to be written now."""
        if self.differs or not self.unwritten or (newest := self.newest) is None:
            return None
        over = None if self.chosen else tuple(one.over for one in self.unwritten)
        return ToWrite(newest.seq, newest.gap, newest.said, over)


class ReadingsBook:
    """All gaps of all jobs; and every reading by its bench and counter, so that none is taken twice."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self._gaps: dict[str, dict[str, GapBook]] = {}
        self._known: dict[Giver, dict[int, Reading]] = {}
        self._by_seq: dict[int, Reading] = {}
        self._forms: dict[str, Reading] = {}
        self.benches: list[Giver] = []
        for entry in entries:
            self.take(entry)

    def take(self, entry: Entry) -> None:
        """What an entry of the log changes."""
        match entry["kind"]:
            case "reading":
                reading = Reading.of(entry)
                self._by_seq[reading.seq] = reading
                if reading.giver not in self._known:
                    self.benches.append(reading.giver)
                self._known.setdefault(reading.giver, {})[reading.counter] = reading
                self._forms |= {reading.form: reading} if reading.form else {}
                self.gap(reading.job, reading.gap).say(reading)
            case "chosen":
                self.gap(entry["job"], entry["gap"]).choose(entry["of"])
            case "written":
                for seq in entry["of"]:
                    self._of(seq).wrote(seq)
            case "refused":
                self._of(entry["of"]).refuse(entry["of"], entry["why"])
            case "otherwise":
                self._of(entry["of"]).stands_otherwise(entry["now"])

    def gap(self, job: str, gap: str) -> GapBook:
        """What counts of a gap."""
        return self._gaps.setdefault(job, {}).setdefault(gap, GapBook())

    def known(self, giver: Giver, counter: int) -> Reading | None:
        """The reading that a bench gave under a number."""
        return self._known.get(giver, {}).get(counter)

    def by_form(self, form: str) -> Reading | None:
        """The reading that came by a form."""
        return self._forms.get(form)

    def next_counter(self, giver: Giver) -> int:
        """The number of a bench's next reading, where the page gives none."""
        return max(self._known.get(giver, {}), default=0) + 1

    def forget(self, seq: int) -> None:
        """A reading that could not be kept was never given."""
        reading = self._by_seq.pop(seq)
        self._known[reading.giver].pop(reading.counter)
        self._forms.pop(reading.form, None)
        self.gap(reading.job, reading.gap).refuse(seq)

    def of_job(self, job: str) -> Mapping[str, GapBook]:
        """What counts of the gaps of a job, as far as anything was said."""
        return self._gaps.get(job, {})

    def to_write(self, job: str) -> list[ToWrite]:
        """What is to be written into the file of a job."""
        found = (book.to_write() for book in self.of_job(job).values())
        return [one for one in found if one is not None]

    def named(self, giver: Giver) -> str:
        """What a bench is called: by the order in which they came."""
        return f"bench {self.benches.index(giver) + 1}" if giver in self.benches else "bench"

    def _of(self, seq: int) -> GapBook:
        reading = self._by_seq[seq]
        return self.gap(reading.job, reading.gap)
