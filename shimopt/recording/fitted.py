"""What was really fitted: as planned, or something else, as it is typed: `right hub=H5 + 2 x S-02`.

Everything that follows is worked out from it: what should be found, the record, the drawer's counts.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial

from shimopt.arithmetic.clearance import Stack, thickness_of, unlike
from shimopt.arithmetic.interchanged import interchanged
from shimopt.arithmetic.outcome import gaps_after
from shimopt.errors import InputError, Problem, RefusedError, did_you_mean
from shimopt.job import Balance, Gap, Job
from shimopt.job.installed import installed_line
from shimopt.job.places import InstalledTable, a_thickness
from shimopt.lengths import Bracket, LengthError
from shimopt.parts import Part, StockLine
from shimopt.parts.drawer import FittedPiece
from shimopt.parts.part import called
from shimopt.planner import Decision
from shimopt.recording.measured_anew import by_new_measure, measured_anew
from shimopt.recording.readings_after import PLUS, length_typed, with_points
from shimopt.recording.which_piece import Meant
from shimopt.seats import Finding, fitting_order, lies_otherwise
from shimopt.seats.all_rules import on_place_all

_WHERE = "--fitted"
_AS_PLANNED = "as planned"
_NOTHING = ("nothing", "none")
_HOW = (
    'write all that is in it now, like "NAME=H5", "NAME=H5 + 2 x S-02", "NAME=0.2 + 0.25", '
    '"NAME=H5 measured 0.148 mm" or "NAME=nothing"'
)
_PIECE = re.compile(
    r"(?:(?P<count>\d{1,2})\s*[x×]\s*)?(?P<part>.+?)(?:\s*\[(?P<tag>[^\[\]]+)\])?(?:\s+measured\s+(?P<measured>.+))?"
)
# as plans and cards print it: TW-95 (measured 88 thou), TW-95 (not measured)
_PRINTED = re.compile(r"\s*\((not measured|measured [^()]+)\)$")
_UNMEASURED = " not measured"


@dataclass(frozen=True)
class Fitted:
    """What is in every place after the visit.

    `job` is the job with a stock line for every piece that is in, those measured when they were fitted included;
    `stacks` are in its lines; `others` names the places in which something else is than planned; `unsuited` holds
    what must not be fitted where it is; `anew`, by place, what was measured where it is: as it was known, and as it
    is now; `as_it_was` where nothing was to be fitted yet, so that what was in counts as in; `turned` the places
    whose pieces were typed in another order than they go in, with that order; `as_first` the gaps that read what
    was predicted before they were found otherwise.
    """

    job: Job
    stacks: Mapping[str, Stack]
    others: tuple[str, ...] = ()
    unsuited: tuple[Finding, ...] = ()
    anew: Mapping[str, Sequence[tuple[Part, Part]]] = field(default_factory=dict)
    as_it_was: bool = False
    turned: Mapping[str, Stack] = field(default_factory=dict)
    as_first: tuple[str, ...] = ()

    @property
    def predicted(self) -> dict[str, Bracket]:
        """What every gap should be with that."""
        thickness = {
            place.name: thickness_of(self.stacks.get(place.name, ()), self.job.stock) for place in self.job.places
        }
        return {name: found.after for name, found in gaps_after(self.job, self.stacks, thickness).items()}

    @property
    def unlike(self) -> list[tuple[str, ...]]:
        """The places that must hold equal packs, and do not."""
        return [names for names in self.job.equal if unlike(self.job, self.stacks, names)]

    @property
    def interchanged(self) -> list[Balance]:
        """Balances of two packs that went in the other way round."""
        return list(interchanged(self.job, self.stacks))

    @property
    def pieces(self) -> dict[str, tuple[FittedPiece, ...]]:
        """The pieces in every place that is not empty, in the order in which they go in, or were said to lie."""
        stock, found = self.job.stock, {}
        for place in self.job.places:
            stack = self.turned.get(place.name) or fitting_order(self.stacks.get(place.name, ()), stock, place.seat)
            if stack:
                known, stay = self._known_before(place.name), Counter(place.installed)
                pieces = []
                for i in stack:
                    piece, part = FittedPiece.of(stock[i].part), stock[i].part
                    # of what was in, only an earlier record says where it came from
                    if stay[i]:
                        stay[i] -= 1
                    else:
                        piece = replace(piece, supplier=part.supplier, lot=part.lot)
                    pieces.append(_as_known(piece, known))
                found[place.name] = tuple(pieces)
        return found

    def _known_before(self, place: str) -> list[FittedPiece]:
        """What was in by the last record, and what was measured there where it is, with what it was taken for."""
        last = self.job.records[-1].places.get(place, ()) if self.job.records else ()
        known = [*last]
        for was, now in self.anew.get(place, ()):
            earlier = next((k for k in known if k == FittedPiece.of(was)), FittedPiece.of(was))
            known.append(replace(earlier, thickness=now.thickness, was=(*earlier.was, was.thickness)))
        return known


def _as_known(piece: FittedPiece, known: list[FittedPiece]) -> FittedPiece:
    """The piece, with what a record says of it: where it came from, what it was taken for before it was measured."""
    same = next((one for one in known if one == piece), None)
    if same is None:
        return piece
    known.remove(same)
    return same


def fitted_by_default(decision: Decision) -> Fitted:
    """The plan's own stacks; what was in where nothing is to be fitted before something is found out or read again."""
    job, stacks = decision.job, decision.stacks
    was = {place.name: tuple(sorted(place.installed)) for place in job.places}
    other = {name for name in was if was[name] != tuple(sorted(stacks.get(name, ())))}
    read_again = {place for gap in decision.waiting for place, _ in job.gap[gap].effects}
    wait = bool(other) and (bool(decision.to_find_out) or other <= read_again)
    return Fitted(job, was, as_it_was=True) if wait else Fitted(job, stacks)


def found_as_first(fitted: Fitted, found: Mapping[str, Bracket]) -> dict[str, Bracket]:
    """What was predicted at first of gaps that are nearer to that than to what they read since, with the same in."""
    if not fitted.job.records:
        return {}
    job, first, since = fitted.job, fitted.job.records[-1].gaps, fitted.predicted

    def the_same(gap: Gap) -> bool:
        return all(
            sorted(fitted.stacks.get(place, ())) == sorted(job.place[place].installed) for place, _ in gap.effects
        )

    return {
        name: first[name].predicted
        for name, read in found.items()
        if name in first
        and the_same(job.gap[name])
        and abs(read.best - first[name].predicted.best) < abs(read.best - since[name].best)
    }


def fitted_otherwise(decision: Decision, texts: Iterable[str]) -> Fitted:
    """What was said of some places, by default in all others; `as planned` says that of all.

    Raises InputError with all that is wrong.
    """
    texts = list(texts)
    job, problems = decision.job, list[Problem]()
    as_planned = any(text.strip().casefold() == _AS_PLANNED for text in texts)
    start = Fitted(job, decision.stacks) if as_planned else fitted_by_default(decision)
    known = list(job.stock)
    said: dict[str, list[StockLine]] = {}
    for text in texts:
        if text.strip().casefold() == _AS_PLANNED:
            continue
        name, sign, pieces = _place_and_pieces(text, job)
        wrong = partial(Problem, "", _WHERE)
        if not sign or not name or not pieces:
            problems.append(wrong(text, "what was fitted names its place", _HOW))
        elif name not in job.place:
            remedy = did_you_mean(name, job.place, f"it has {', '.join(list(job.place)[:8])}")
            problems.append(wrong(text, "the job has no place of this name", remedy))
        elif name in said:
            problems.append(wrong(text, "this place is given twice", "give each place once, with all its pieces"))
        else:
            said[name] = list(_lines(pieces, decision, name, known, problems))
    if not problems:
        fitted = _with(decision, start, said)
        problems += _in_two_places(fitted)
    if problems:
        raise InputError(problems)
    return replace(fitted, unsuited=tuple(_unsuited(fitted)))


def _place_and_pieces(text: str, job: Job) -> tuple[str, str, str]:
    """The place, the sign and what is in it; places and parts may have the sign in their names."""
    signs = [at for at, sign in enumerate(text) if sign == "="]
    at = next((at for at in reversed(signs) if text[:at].strip() in job.place), signs[0] if signs else len(text))
    return text[:at].strip(), text[at : at + 1], text[at + 1 :].strip()


def _lines(
    text: str, decision: Decision, place: str, known: list[StockLine], problems: list[Problem]
) -> Iterator[StockLine]:
    """The stock line of every piece in one place; what is wrong is added to `problems`."""
    if text.casefold() in _NOTHING:
        return
    job, meant = decision.job, Meant(decision, place)
    by_name: dict[str, list[StockLine]] = {}
    for line in known:
        by_name.setdefault(line.part.name, []).append(line)
    error = (job.micrometer.error if job.micrometer else None) or 0

    def wrong(value: str, rule: str, remedy: str) -> Problem:
        return Problem("", _WHERE, value, rule, remedy)

    for piece in _pieces(text, by_name):
        typed = piece if piece in by_name else _PRINTED.sub(r" \1", piece)
        new = typed not in by_name and typed.endswith(_UNMEASURED)
        found = None if typed in by_name else _PIECE.fullmatch(typed.removesuffix(_UNMEASURED))
        part, tag, count = (found["part"], found["tag"], int(found["count"] or 1)) if found else (piece, None, 1)
        measured = None
        if not part or not count:
            rule = "a plus sign has a piece on both sides" if not part else "none of a piece is not in"
            problems.append(wrong(piece or text, rule, _HOW))
            continue
        try:
            if found and found["measured"]:
                measured = a_thickness(length_typed(found["measured"], job.unit))
        except RefusedError as refused:
            problems.append(wrong(piece, refused.rule, _HOW))
            continue
        if part.casefold() in _NOTHING and part not in by_name:
            problems.append(wrong(piece, "nothing stands alone", f"leave it out, or {_HOW}"))
            continue
        if part not in by_name and (thick := _so_thick(part, job.unit, by_name)):
            if len(thick) > 1:
                rule, remedy = "several parts are so thick", f"name one: {', '.join(thick[:8])}"
                problems.append(wrong(piece, rule, remedy))
                continue
            (part,) = thick
        if measured is not None and (as_known := meant.measured(part, measured)):
            yield from [as_known] * count
            continue
        if tag is None and measured is None and not new:
            if rule := meant.unclear(part):
                problems.append(wrong(piece, rule, "name the one that is in now so, with its brackets"))
                continue
            for _ in range(count):
                if (at := meant.line(part)) is None:
                    break
                yield job.stock[at]
                count -= 1
            if not count:
                continue
        table = InstalledTable.model_construct(part=part, piece=tag, measured=measured)
        known_as = installed_line(table, by_name, error, wrong, problems)
        if known_as is not None:
            yield from [known_as] * count


def _so_thick(typed: str, unit: str, by_name: Mapping[str, list[StockLine]]) -> list[str]:
    """The parts that are so thick as typed, in `unit` where it names none."""
    try:
        nm = length_typed(with_points(typed), unit).best
    except LengthError:
        return []
    return [name for name, lines in by_name.items() if any(_called(line) == nm for line in lines)]


def _called(line: StockLine) -> Fraction | int:
    """What a mechanic calls it: as marked, else as it is [nm]."""
    return line.part.thickness.best if line.part.marked is None else line.part.marked


def _pieces(text: str, names: Mapping[str, object]) -> Iterator[str]:
    """What stands between the plus signs, but for those that belong to a part's name."""
    between = PLUS.split(text)
    while between:
        most = next((n for n in range(len(between), 1, -1) if "+".join(between[:n]).strip() in names), 1)
        yield "+".join(between[:most]).strip()
        between = between[most:]


def _with(decision: Decision, start: Fitted, said: Mapping[str, list[StockLine]]) -> Fitted:
    """What is in by default with what was said, every piece as a line of the stock."""
    job, stock = decision.job, list(decision.job.stock)

    def at(part: Part) -> int:
        found = next((i for i, line in enumerate(stock) if line.part == part), None)
        if found is None:
            stock.append(StockLine(part, 0))
        return len(stock) - 1 if found is None else found

    typed = {name: [at(line.part) for line in lines] for name, lines in said.items()}
    stacks = dict(start.stacks) | {name: tuple(sorted(lines)) for name, lines in typed.items()}
    turned = {n: tuple(of) for n, of in typed.items() if lies_otherwise(of, stock, job.place[n].seat)}
    anew = {name: measured_anew(decision, name, [line.part for line in lines]) for name, lines in said.items()}

    # what was measured where it is went neither out nor in
    def stands(lines: Stack, name: str) -> tuple[int, ...]:
        parts = by_new_measure([job.stock[i].part for i in lines], anew.get(name, ()))
        return tuple(sorted(map(at, parts)))

    places = [replace(place, installed=stands(place.installed, place.name)) for place in job.places]
    others = [name for name in said if stacks[name] != stands(start.stacks.get(name, ()), name)]
    job = replace(job, places=tuple(places), stock=tuple(stock))
    return replace(start, job=job, stacks=stacks, others=tuple(others), anew=anew, turned=turned)


def _in_two_places(fitted: Fitted) -> Iterator[Problem]:
    """A tag names one piece, which is in one place."""
    tagged = Counter((p.part, p.piece) for pieces in fitted.pieces.values() for p in pieces if p.piece is not None)
    for (part, tag), count in tagged.items():
        if count > 1:
            rule = "a tag names one piece, and this one would be in twice"
            yield Problem("", _WHERE, called(part, tag), rule, "say what is in the other place too")


def _unsuited(fitted: Fitted) -> Iterator[Finding]:
    for name in fitted.others:
        parts = [fitted.job.stock[i].part for i in dict.fromkeys(fitted.stacks[name])]
        for part, answer in zip(parts, on_place_all(parts, fitted.job.place[name]), strict=True):
            for finding in answer.findings:
                if finding.grade == "stop":
                    yield replace(finding, place=name, part=part.name, piece=part.piece)
