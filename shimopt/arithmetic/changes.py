"""What changes at every place: what comes out and where it goes, what stays, what goes in and where it comes from.

And in which order: a place that is opened is emptied, then filled again.
Every screen and paper is made from this, none from a stack alone: where the last shim comes out there is none either.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, thickness_of, turnover
from shimopt.job import Job

# the names of no place, see job/places.py
BENCH, DRAWER, ORDER = "bench", "drawer", "order"


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece (a stock line's index), and the place, drawer, order or bench that it comes from or goes to.

    On the bench lies what came out for the reading, `out_of` which place.
    """

    line: int
    other: str
    out_of: str = ""


@dataclass(frozen=True, slots=True)
class PlaceChange:
    """One place: what comes `out` of it, what `stays` in it, what goes `into` it.

    `thicker` is by how much the place grows by best estimate [nm]; `stays_out` came out of it for the reading and goes
    nowhere.
    """

    place: str
    out: tuple[Piece, ...] = ()
    stays: Stack = ()
    into: tuple[Piece, ...] = ()
    thicker: Fraction = Fraction(0)
    stays_out: Stack = ()

    @property
    def was_in(self) -> Stack:
        """The pieces that were in."""
        return tuple(sorted((*self.stays, *(piece.line for piece in self.out))))

    @property
    def back(self) -> Stack:
        """What had come out of it for the reading and goes in again."""
        return tuple(piece.line for piece in self.into if piece.other == BENCH and piece.out_of == self.place)

    @property
    def new(self) -> Stack:
        """What goes in and had not come out of it for the reading."""
        back = Counter(self.back)
        return tuple(sorted((Counter(piece.line for piece in self.into) - back).elements()))

    @property
    def held(self) -> bool:
        """Whether anything was in."""
        return bool(self.out or self.stays)

    @property
    def changed(self) -> bool:
        """Whether anything comes out or goes in."""
        return bool(self.out or self.into)

    @property
    def opened(self) -> bool:
        """Whether something was in and does not stay as it is."""
        return self.held and self.changed


@dataclass(frozen=True, slots=True)
class Shift:
    """All that the job comes to: one place gains so much thickness [nm] as another loses.

    `of_pieces` where pieces go from one into the other, and nothing else does.
    """

    source: str
    target: str
    thick: Fraction
    of_pieces: bool


@dataclass(frozen=True)
class Changes:
    """The change of every place, `at` its name in job order, and what they come to over the job."""

    at: Mapping[str, PlaceChange]

    def __iter__(self) -> Iterator[PlaceChange]:
        return iter(self.at.values())

    @property
    def nothing(self) -> bool:
        """Whether every place stays as it is."""
        return not any(change.changed for change in self)

    @property
    def opened(self) -> list[str]:
        """Places in which something was and which do not stay as they are."""
        return [change.place for change in self if change.opened]

    @property
    def filled(self) -> list[str]:
        """Places in which nothing was and into which something goes."""
        return [change.place for change in self if change.into and not change.held]

    @property
    def left(self) -> list[str]:
        """Places in which something was and which stay as they are."""
        return [change.place for change in self if change.held and not change.changed]

    @property
    def empty(self) -> list[str]:
        """Places in which nothing was and into which nothing goes."""
        return [change.place for change in self if not change.held and not change.changed]

    def going_in(self, source: str | None = None) -> list[Piece]:
        """Every piece that goes in; of one `source` only, where it is given."""
        return [piece for change in self for piece in change.into if source in (None, piece.other)]

    @property
    def between_places(self) -> list[Piece]:
        """Every piece that goes from one place into another; `other` is where it comes from."""
        return [piece for piece in self.going_in() if piece.other not in (BENCH, DRAWER, ORDER)]

    @property
    def to_drawer(self) -> list[Piece]:
        """Every piece that comes out and goes into no other place."""
        return [piece for change in self for piece in change.out if piece.other == DRAWER]

    @property
    def shift(self) -> Shift | None:
        """What moves from one place to another, where that is all: one gains what the other loses."""
        changed = [change for change in self if change.changed]
        if len(changed) != 2:
            return None
        less, more = sorted(changed, key=lambda change: change.thicker)
        if not less.opened or less.thicker + more.thicker or not more.thicker:
            return None
        return Shift(less.place, more.place, more.thicker, len(self.between_places) == len(self.going_in()))


def changes_of(job: Job, stacks: Mapping[str, Stack]) -> Changes:
    """What a plan changes, place by place.

    A place's own pieces go back into it first, what came out of it for the reading too. Then come pieces out of places
    that act together with it, then out of others, then what came out there for the reading, then the drawer, places in
    job order; what none of them has is to be ordered. What comes out and serves nowhere goes to the drawer.
    """
    bench = {place.name: Counter(place.came_out) for place in job.places if place.came_out}
    # what came out for the reading is counted as on hand
    drawer = Counter({i: line.on_hand for i, line in enumerate(job.stock)}) - sum(bench.values(), Counter[int]())
    return _changes(job, {place.name: place.installed for place in job.places}, stacks, bench, drawer)


def visit_of(job: Job) -> Changes:
    """What was changed up to the last record: the pieces that are in since, against those that were in at the reading.

    What came out for the reading went back in, or stayed out; what went in and came out of no place counts as from the
    drawer. Where nothing was recorded, nothing was changed.
    """
    now = {place.name: place.installed for place in job.places}
    if not job.records:
        return _changes(job, now, now, {}, None)
    came_out = {name: Counter(job.began_with[name]) - Counter(held) for name, held in job.read_with.items()}
    return _changes(job, job.read_with, now, {name: pieces for name, pieces in came_out.items() if pieces}, None)


def _changes(
    job: Job,
    before: Mapping[str, Stack],
    after: Mapping[str, Stack],
    bench: Mapping[str, Counter[int]],
    drawer: Counter[int] | None,
) -> Changes:
    """Parameters: bench, by place what came out of it for the reading; drawer, how many of each line lie in it, None
    where it had all that went in.
    """
    turned = {place.name: turnover(before.get(place.name, ()), after.get(place.name, ())) for place in job.places}
    free: defaultdict[int, list[str]] = defaultdict(list)
    for name, (_, out) in turned.items():
        for line in out:
            free[line].append(name)
    into: dict[str, list[Piece]] = {name: [] for name in turned}
    goes: dict[str, list[Piece]] = {name: [] for name in turned}
    wanted = {name: list(new) for name, (new, _) in turned.items()}
    for name in bench:
        for line in turned[name][0]:
            if bench[name][line] > 0:
                # its own lies beside it: nobody carries another like it over
                bench[name][line] -= 1
                wanted[name].remove(line)
                into[name].append(Piece(line, BENCH, name))
    for name, lines in wanted.items():
        for line in list(lines):
            if near := next((other for other in free[line] if other in job.acting_with[name]), ""):
                free[line].remove(near)
                lines.remove(line)
                into[name].append(Piece(line, near))
                goes[near].append(Piece(line, name))
    for name, lines in wanted.items():
        for line in lines:
            if free[line]:
                came = Piece(line, free[line].pop(0))
                goes[came.other].append(Piece(line, name))
            elif lies := _on_bench(bench, line):
                bench[lies][line] -= 1
                came = Piece(line, BENCH, lies)
            elif drawer is None or drawer[line] > 0:
                came = Piece(line, DRAWER)
                if drawer is not None:
                    drawer[line] -= 1
            else:
                came = Piece(line, ORDER)
            into[name].append(came)
    for line, names in free.items():
        for name in names:
            goes[name].append(Piece(line, DRAWER))
    changes = {}
    for name, (new, out) in turned.items():
        stays = Counter(after.get(name, ())) - Counter(new)
        changes[name] = PlaceChange(
            name,
            out=tuple(sorted(goes[name], key=lambda piece: piece.line)),
            stays=tuple(sorted(stays.elements())),
            into=tuple(sorted(into[name], key=lambda piece: piece.line)),
            thicker=thickness_of(new, job.stock).best - thickness_of(out, job.stock).best,
            stays_out=tuple(sorted((+bench[name]).elements())) if name in bench else (),
        )
    return Changes(changes)


def _on_bench(bench: Mapping[str, Counter[int]], line: int) -> str:
    """The place out of which a piece of this line came for the reading and still lies there; or none."""
    return next((name for name, pieces in bench.items() if pieces[line] > 0), "")


@dataclass(frozen=True, slots=True)
class Move:
    """One piece (a stock line's index) from where to where; `out_of` is the place from which it came to the bench."""

    line: int
    source: str
    target: str
    out_of: str | None = None


def moves_of(changes: Changes) -> tuple[Move, ...]:
    """Every piece that is moved, one row each; nothing of a place that stays as it is.

    First all that comes out, own pieces that go back too, then all that goes in, then what is left over to the drawer.
    """
    opened = [change for change in changes if change.changed]
    out = [Move(i, change.place, BENCH) for change in opened for i in change.was_in]
    goes_in = []
    for change in opened:
        back = [Move(i, BENCH, change.place, change.place) for i in change.stays]
        new = [
            Move(piece.line, piece.other, change.place)
            if piece.other in (DRAWER, ORDER)
            else Move(piece.line, BENCH, change.place, piece.out_of)
            if piece.other == BENCH
            else Move(piece.line, BENCH, change.place, piece.other)
            for piece in change.into
        ]
        goes_in += sorted((*back, *new), key=lambda move: move.line)
    over = [
        Move(piece.line, BENCH, DRAWER, change.place)
        for change in opened
        for piece in change.out
        if piece.other == DRAWER
    ]
    return (*out, *goes_in, *sorted(over, key=lambda move: move.line))
