"""The incoming check: is a piece in hand what its label says, is it fit to be used at all, and on which seat?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.job import Job, Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.measured import MeasuredPiece, read_measured
from shimopt.parts.standards import STRIP_SOURCE, stainless, strip_tolerance
from shimopt.seats import stack_facts as facts
from shimopt.seats.all_rules import OnSeat, on_seat
from shimopt.seats.finding import Fact, Finding, Grade, Suits
from shimopt.tables.read import Source

# common practice, no source: a ring whose spots differ by more is a wedge, dished or dirty
_UNEVEN = 10_000
# common practice, no source: a calliper reads to about ±0.025 mm, which is not good enough for a shim
_COARSE = 20_000
# common practice, no source: what a diameter without a tolerance may differ from its label
_DIAMETER_PLAY = 100_000
_DIAMETER_SOURCE = "no tolerance stated: 0.1 mm either way, common practice"
# common practice, no source: a piece is taken for a part without a tolerance if its thickness is so near, as a share
_LOOKS_LIKE = Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class Checked:
    """A piece and what was found: of itself, of its label (None: not known), and on every seat that it was tried on."""

    piece: MeasuredPiece
    findings: tuple[Finding, ...]
    as_labelled: bool | None
    seats: Mapping[str, OnSeat]

    @property
    def best_verdict(self) -> Suits:
        """The best verdict of all seats."""
        verdicts = {answer.verdict for answer in self.seats.values()}
        return "suits" if "suits" in verdicts else "caution" if "caution" in verdicts else "stop"


def check_pieces(
    job: Job,
    measured: Source,
    seats: Iterable[Seat],
    parts: Collection[str] = (),
    *,
    ordered: Collection[Part] | None = None,
) -> list[Checked]:
    """Check every piece of a table on these seats of a job, or only pieces of these `parts`.

    `ordered`: the table is a parcel, and a piece is of the part of its name that was ordered, if one was. What was, or
    what a catalogue describes, need not be measured. Raises InputError.
    """
    labels, as_marked = _labels(job.stock), frozenset[str]()
    if ordered is not None:
        named = {part.name: part for part in ordered}
        once = {name for name in named if len({part for part in ordered if part.name == name}) == 1}
        labels, as_marked = labels | named, (_described(job.stock) - named.keys()) | once
    pieces = read_measured(measured, labels, frozenset(seat.name for seat in job.seats), as_marked=as_marked)
    taking = [seat for seat in seats if seat.shims_allowed]
    return [check_piece(one, taking, labels.values()) for one in pieces if not parts or one.part.name in parts]


def tags_in(job: Job, measured: Source, seats: Iterable[Seat]) -> set[tuple[str, str | None]]:
    """Name and tag of every piece in a table, measured or not. Raises InputError."""
    labels = _labels(job.stock)
    pieces = read_measured(measured, labels, frozenset(seat.name for seat in seats), as_marked=frozenset(labels))
    return {(one.part.name, one.part.piece) for one in pieces}


def _labels(stock: Iterable[StockLine]) -> dict[str, Part]:
    """What each label means: a part that is offered first, else one of the drawer that is known by its marking."""
    labels: dict[str, Part] = {}
    for line in sorted(stock, key=lambda line: not line.offers):
        if not line.part.measured:
            labels.setdefault(line.part.name, line.part)
    return labels


def _described(stock: Iterable[StockLine]) -> frozenset[str]:
    """The names under which the catalogues offer one part only, of these dimensions and no others."""
    offered = Counter(line.part.name for line in stock if line.offers and not line.part.measured)
    return frozenset(name for name, count in offered.items() if count == 1)


def check_piece(piece: MeasuredPiece, seats: Iterable[Seat], known: Iterable[Part]) -> Checked:
    """Check one piece on the seat that its row names, or on all of them; `known` are parts that it might be instead."""
    own = [*_condition(piece), *_instrument(piece)]
    as_labelled, told = _label(piece, known)
    own += told
    answers = {}
    for seat in seats:
        if piece.seat in ("", seat.name):
            answer = on_seat(piece.part, seat)
            answers[seat.name] = OnSeat((*own, *answer.findings), answer.not_checked)
    return Checked(piece, tuple(own), as_labelled, answers)


def _say(piece: MeasuredPiece, grade: Grade, fact: Fact) -> Finding:
    return Finding(part=piece.part.name, piece=piece.part.piece, grade=grade, fact=fact)


def _condition(piece: MeasuredPiece) -> list[Finding]:
    found = []
    if piece.burr:
        found.append(_say(piece, "stop", facts.Burr(burr=piece.burr)))
    apart = max(piece.spots, default=0) - min(piece.spots, default=0)
    # what the instrument itself leaves open is no unevenness, nor is what differs from piece to piece
    if piece.count == 1 and apart > _UNEVEN and apart > 2 * (piece.error or 0):
        found.append(_say(piece, "caution", facts.UnevenThickness(apart=apart, allowed=_UNEVEN)))
    return found


def _instrument(piece: MeasuredPiece) -> list[Finding]:
    if piece.error is None and not piece.spots:
        return []
    if piece.error is None:
        return [_say(piece, "note", facts.NoMeasuringError())]
    if piece.error >= _COARSE:
        return [_say(piece, "caution", facts.CoarseInstrument(error=piece.error))]
    return []


def _source(label: Part, what: Literal["thickness", "inner", "outer"]) -> str:
    """Whose tolerance it is that the label's own row does not state; empty where it does."""
    if not getattr(label, what).exact:
        return ""
    return STRIP_SOURCE if what == "thickness" else _DIAMETER_SOURCE


def _label(piece: MeasuredPiece, known: Iterable[Part]) -> tuple[bool | None, list[Finding]]:
    """Whether all that was measured agrees with the label; None where nobody knows what the label means."""
    label = piece.label
    if label is None:
        return None, [_say(piece, "note", facts.LabelNotKnown())]
    if not label.judges_labels:
        return None, [_say(piece, "note", facts.LabelUnconfirmed(provenance=label.provenance))]
    differ: list[tuple[Literal["thickness", "inner", "outer"], Bracket, Bracket]] = []
    diameters: tuple[Literal["inner", "outer"], ...] = ("inner", "outer")
    promised = _promised(label, piece.part.material)
    if promised is not None and _apart(piece.part.thickness, promised):
        differ.append(("thickness", piece.part.thickness, promised))
    for what in diameters:
        says, is_now = getattr(label, what), getattr(piece.part, what)
        if what in piece.measured and says is not None:
            wide = Bracket.between(says.low - _DIAMETER_PLAY, says.high + _DIAMETER_PLAY) if says.exact else says
            if _apart(is_now, wide):
                differ.append((what, is_now, wide))
    other = next((p.name for p in known if p.name != label.name and _could_be(piece.part, p)), "") if differ else ""
    found = [
        _say(
            piece,
            "caution",
            facts.NotAsLabelled(
                is_now=read.best,
                least=says.low,
                most=says.high,
                what=what,
                other=other,
                source=_source(label, what),
            ),
        )
        for what, read, says in differ
    ]
    if promised is None:
        found.append(_say(piece, "note", facts.LabelHasNoTolerance(thickness=label.thickness.best)))
    return (False if differ else None if promised is None or not piece.spots else True), found


def _promised(part: Part, material: str) -> Bracket | None:
    """The thickness that a label promises: with its tolerance, else with that of stainless strip; None if not known."""
    marked = part.marked if part.marked is not None else round(part.thickness.best)
    if not part.thickness.exact:
        return part.thickness
    half = strip_tolerance(marked) if stainless(material) else None
    return None if half is None else Bracket.between(marked - half, marked + half)


def _apart(one: Bracket, other: Bracket) -> bool:
    return one.high < other.low or one.low > other.high


def _could_be(piece: Part, part: Part) -> bool:
    """Whether a known part has the thickness and the bore that were measured."""
    near = part.thickness.best * _LOOKS_LIKE
    promised = _promised(part, part.material) or Bracket.between(part.thickness.best - near, part.thickness.best + near)
    if part.measured or not promised.low <= piece.thickness.best <= promised.high:
        return False
    if piece.inner is None or part.inner is None:
        return True
    return abs(piece.inner.best - part.inner.best) <= _DIAMETER_PLAY + (part.inner.high - part.inner.low) / 2
