"""What jobs' records say: what was predicted of each gap, what was found, and what came back.

A gap came back where it was read outside its window after a fitting, or where a later record changes what is in one of
its places.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from pathlib import Path
from statistics import median

from shimopt.job import Gap, Job, load_job
from shimopt.job.gap import Window
from shimopt.job.record import Record, RecordedGap, measured_anew
from shimopt.job.slip_evidence import FAR
from shimopt.learning.wear import Dated, Estimate, LeftOut, no_day
from shimopt.lengths import Bracket
from shimopt.parts.drawer import FittedPiece
from shimopt.parts.part import natural_key
from shimopt.probability import Student, half_width
from shimopt.readings.reading import LIKELY_SHARE, from_nothing

# of fewer readings no average is told
_FEWEST_READ = 5
# further from the middle one than so many times what is usual, or what it may be off: no part of an average
_FAR_OFF = 6.0
# what a median deviation is to a standard deviation, of a normal distribution
_NORMAL = 1.4826


@dataclass(frozen=True, slots=True)
class Visit:
    """One gap in one record [nm]; `found` is what was read then, None where nobody read it.

    `fitted`: pieces went into or out of its places, or it is the job's first record: else it was only read. `again`: a
    later record changes them; its date, "" where none does. `later`: when it was read outside with the same pieces in,
    and how far. `delivered`: who delivered what went in, and in which lot, "" where nobody knows.
    """

    _: KW_ONLY
    machine: str
    job: str
    gap: str
    seat: str
    date: str
    gauge: str
    predicted: Bracket
    found: Bracket | None
    window: Window
    fitted: bool
    again: str = ""
    machined: bool = False
    delivered: tuple[tuple[str, str], ...] = ()
    later: tuple[str, Fraction] | None = None

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Who delivered what went in: by name and, where the lot is known, by `NAME, lot LOT` too."""
        lots = [f"{supplier}, lot {lot}" for supplier, lot in self.delivered if lot]
        return tuple(dict.fromkeys([*(supplier for supplier, _ in self.delivered), *lots]))

    @property
    def outside(self) -> Fraction:
        """How far outside its window it was read, 0 inside and where it was not read."""
        return Fraction(0) if self.found is None else self.window.off(self.found.best)

    @property
    def as_predicted(self) -> bool | None:
        """Whether what was found can be what was predicted; None where it was not read."""
        if self.found is None:
            return None
        return _agree(RecordedGap(self.predicted, self.found))

    @property
    def apart(self) -> float:
        """How much larger it was found than predicted [nm]; 0 where it was not read."""
        return 0.0 if self.found is None else float(self.found.best - self.predicted.best)

    @property
    def room(self) -> float:
        """How far that may be off [nm]."""
        return sum(float(of.high - of.low) / 2 for of in (self.found, self.predicted) if of is not None)

    @property
    def slipped(self) -> bool:
        """Whether its reading is probably a slip: outside, and of another order than what was predicted and allowed."""
        if self.found is None or not self.outside:
            return False
        ends = (self.predicted.low, self.predicted.high, self.window.min or 0, self.window.max or 0)
        return abs(self.found.best) >= FAR * max(abs(Fraction(end)) for end in ends) > 0

    @property
    def no_day(self) -> LeftOut | None:
        """Why its date says nothing of wear; None where it does."""
        return no_day(self.date)

    @property
    def came_back(self) -> bool:
        """Whether it was outside, then or later, or was opened again."""
        return self.fitted and bool(self.outside or self.again or self.later)


@dataclass(frozen=True, slots=True)
class Needs:
    """What one gap of a machine was at each reading, as if nothing were in its places [nm]; and what it has to become.

    `place` is the one that sets it, None where several do: then what goes in is not told. `held` is what is in there
    now, `effect` by how much it changes the gap. `left_out`: readings that do not count, by date.
    """

    machine: str
    gap: str
    readings: tuple[Dated, ...]
    window: Window
    place: str | None
    effect: Fraction
    held: Fraction
    left_out: tuple[tuple[str, LeftOut], ...] = ()


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What became of the fittings of one seat, machine or gauge, in the order of their dates."""

    name: str
    fitted: tuple[Visit, ...]

    @property
    def read(self) -> list[Visit]:
        """Those that were read after they were fitted."""
        return [visit for visit in self.fitted if visit.found is not None]

    @property
    def far(self) -> list[Visit]:
        """Those, no slips, that were found so far from where all others were that they say nothing of an average."""
        apart = {visit: visit.apart for visit in self.read if not visit.slipped}
        if len(apart) <= _FEWEST_READ:
            return []
        middle = median(apart.values())
        usual = _NORMAL * median(abs(off - middle) for off in apart.values())
        by = {visit: abs(off - middle) / max(usual, visit.room, 1.0) for visit, off in apart.items()}
        found = sorted((visit for visit in by if by[visit] > _FAR_OFF), key=lambda visit: -by[visit])
        return found[: max(1, len(apart) // 10)]

    @property
    def off(self) -> Estimate | None:
        """How much larger than predicted gaps were found on average, without slips and what is far from all others;
        None where few were read.
        """
        far = self.far
        apart = [visit.apart for visit in self.read if not visit.slipped and visit not in far]
        if len(apart) < _FEWEST_READ:
            return None
        mean = sum(apart) / len(apart)
        square = sum((one - mean) ** 2 for one in apart) / (len(apart) - 1) / len(apart)
        half = half_width([Student(Fraction(square), len(apart) - 1)], LIKELY_SHARE) if square else 0
        return Estimate(mean, mean - half, mean + half)

    @property
    def came_back(self) -> list[Visit]:
        """Those that were outside, then or later, or were opened again."""
        return [visit for visit in self.fitted if visit.came_back]


def _agree(recorded: RecordedGap) -> bool:
    """Whether what was read can be what was predicted."""
    read, predicted = recorded.read, recorded.predicted
    return read is None or (read.low <= predicted.high and predicted.low <= read.high)


def outcomes_by(visits: Sequence[Visit], names_of: Callable[[Visit], Sequence[str]]) -> list[Outcomes]:
    """The fittings by what `names_of` says of each, in natural order; those of which it says nothing are left out."""
    fitted = sorted((visit for visit in visits if visit.fitted), key=lambda visit: (visit.date, visit.job))
    names = {name for visit in fitted for name in names_of(visit)} - {""}
    return [
        Outcomes(name, tuple(visit for visit in fitted if name in names_of(visit)))
        for name in sorted(names, key=lambda name: (natural_key(name), name))
    ]


def as_first_read(file: Path) -> Job:
    """A job as it was before anything was fitted, with all its records. Raises InputError."""
    job = load_job(file)
    return replace(load_job(file, from_start=True), records=job.records) if job.records else job


def visits_of_job(name: str, job: Job) -> tuple[list[Visit], list[Needs]]:
    """All records of a job as it was first read, gap by gap, and what each gap was at every reading."""
    if not job.records:
        return [], []
    machine = job.about.get("machine") or job.title
    visits = [visit for gap in job.gaps for visit in _visits(job, gap, machine, name)]
    return visits, [needs for gap in job.gaps if (needs := _needs(job, gap, machine, name)).readings or needs.left_out]


def _visits(job: Job, gap: Gap, machine: str, name: str) -> Iterator[Visit]:
    places = [place for place, _ in gap.effects]
    changes = [number for number in range(len(job.records)) if _changed(job, number, places)]
    for number, record in enumerate(job.records):
        recorded = record.gaps.get(gap.name)
        if recorded is None:
            continue
        later = next((at for at in changes if at > number), None)
        fitted = number == 0 or number in changes
        yield Visit(
            machine=machine,
            job=name,
            gap=gap.name,
            seat=gap.seat.name if gap.seat is not None else "",
            date=record.date[:10],
            gauge=record.instrument,
            predicted=recorded.predicted,
            found=recorded.read,
            window=gap.window,
            fitted=fitted,
            again="" if later is None or not fitted else job.records[later].date[:10],
            machined=bool(recorded.machined),
            delivered=_delivered(job, number, places),
            later=_later(job, gap, number, later) if fitted else None,
        )


def _later(job: Job, gap: Gap, number: int, changed: int | None) -> tuple[str, Fraction] | None:
    """When a gap was first read outside after a record, before the one that changed it; and how far."""
    for record in job.records[number + 1 : changed]:
        recorded = record.gaps.get(gap.name)
        if recorded is not None and recorded.read is not None and (off := gap.window.off(recorded.read.best)):
            return record.date[:10], off
    return None


def _delivered(job: Job, number: int, places: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Who delivered what went into these places by a record, and in which lot."""
    told = list[tuple[str, str]]()
    for place in places:
        now = job.records[number].places.get(place, ())
        into = [*now]
        for piece in measured_anew(job.records[number - 1].places.get(place, ()) if number else (), now):
            # of pieces alike the one that came from there too
            same = [one for one in into if one == piece]
            if same:
                into.remove(
                    next((one for one in same if (one.supplier, one.lot) == (piece.supplier, piece.lot)), same[0])
                )
        told += [(piece.supplier, piece.lot) for piece in into if piece.supplier]
    return tuple(dict.fromkeys(told))


def _changed(job: Job, number: int, places: Sequence[str]) -> bool:
    """Whether a record has something else in these places than the one before."""
    if not number:
        return False
    before, after = job.records[number - 1], job.records[number]
    return any(
        Counter((piece.part, piece.piece) for piece in before.places.get(place, ()))
        != Counter((piece.part, piece.piece) for piece in after.places.get(place, ()))
        for place in places
    )


def _needs(job: Job, gap: Gap, machine: str, name: str) -> Needs:
    readings, left_out = list[Dated](), list[tuple[str, LeftOut]]()

    def take(record: Record, read: Bracket, pieces: dict[str, list[Bracket]], stack: str, why: LeftOut | None) -> None:
        if why := why or no_day(record.date[:10]):
            left_out.append((record.date[:10], why))
        else:
            readings.append(replace(_dated(record, gap, read, pieces), stack=stack))

    first, reading = job.records[0], gap.reading
    pieces = {
        place: [job.stock[line].part.thickness for line in job.place[place].installed] for place, _ in gap.effects
    }
    take(first, reading.found, pieces, "", LeftOut.NOTHING if reading.no_preload_assumed else None)
    stack = ""
    for number, record in enumerate(job.records):
        recorded = record.gaps.get(gap.name)
        if recorded is not None and recorded.machined:
            # another face from here on: what was before says nothing of it
            readings.clear()
            left_out.clear()
        fitted = number == 0 or _changed(job, number, [place for place, _ in gap.effects])
        # it stays in, and errs alike, until another is fitted
        stack = f"{name}, {number}" if fitted else stack
        # found otherwise than predicted at once something was wrong with pieces or seating: that is no wear
        off = recorded is not None and fitted and not recorded.machined and not _agree(recorded)
        if recorded is not None and recorded.read is not None:
            pieces = {place: [one.thickness for one in record.places.get(place, ())] for place, _ in gap.effects}
            nothing = LeftOut.NOTHING if from_nothing(recorded.read) else None
            take(record, recorded.read, pieces, stack, LeftOut.OFF if off else nothing)
    alone = len(gap.effects) == 1
    place, effect = gap.effects[0] if alone else (None, Fraction(0))
    held = sum((piece.thickness.best for piece in _held(job.records[-1], place)), Fraction(0))
    return Needs(machine, gap.name, tuple(readings), gap.window, place, effect, held, tuple(left_out))


def _held(record: Record, place: str | None) -> tuple[FittedPiece, ...]:
    return () if place is None else record.places.get(place, ())


def _dated(record: Record, gap: Gap, read: Bracket, pieces: dict[str, list[Bracket]]) -> Dated:
    """A reading less what the pieces that were in did to it, with the errors of both."""
    value, square = read.best, Fraction(0)
    for place, effect in gap.effects:
        for piece in pieces[place]:
            value -= effect * piece.best
            square += (effect * (piece.high - piece.low) / 2) ** 2 / 3
    return Dated(
        record.date[:10], value, (read.high - read.low) / 2, square, own=Fraction(gap.reading.repeats or 0) ** 2
    )


def needs_of_machines(found: Sequence[Needs]) -> list[Needs]:
    """Each gap of a machine once, with the readings of all its jobs; the newest job says what it needs."""
    together = dict[tuple[str, str], Needs]()
    for needs in sorted(found, key=lambda one: max((reading.date for reading in one.readings), default="")):
        key = needs.machine, needs.gap
        before, out = (together[key].readings, together[key].left_out) if key in together else ((), ())
        readings = tuple(sorted((*before, *needs.readings), key=lambda reading: reading.date))
        together[key] = replace(needs, readings=readings, left_out=tuple(sorted((*out, *needs.left_out))))
    return [together[key] for key in sorted(together, key=lambda key: tuple(map(natural_key, key)))]
