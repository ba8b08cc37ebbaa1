"""What stands over the rows of a card: what is settled before any of them counts, and how the gap stands to be read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt
from typing import Any

from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.lengths import UNITS
from shimopt.ordering.after_fitting import least_room
from shimopt.ordering.demand import Demand
from shimopt.ordering.order_result import Order
from shimopt.planner import FOUND_OUT
from shimopt.probability import Error, Student, half_width, scaled
from shimopt.readings.reading import LIKELY_SHARE, Term
from shimopt.reasons import suspicions
from shimopt.reasons.about_places import about_places, about_what_stays
from shimopt.reasons.about_trial import about_record, trial_doubts
from shimopt.reasons.as_stated import about_readings
from shimopt.reasons.job_facts import NotAsInService, NotAsPredicted
from shimopt.seats import Finding
from shimopt.words.card_words import WITHIN_ONE_ROW, WITHIN_THE_ROW, fit_words, named, rubbing
from shimopt.words.digits import OF_A_GAUGE
from shimopt.words.finding_words import finding_words
from shimopt.words.first_words import blind_words, first_of_gap
from shimopt.words.shortfall_words import rubbed_in, rubbed_words
from shimopt.words.speaker import Speaker, begun, listed
from shimopt.words.table_words import turned
from shimopt.words.trial_words import is_tightened, state_words

# what is settled before one row alone counts begins so; what a row would fit, and stops
_OF_A_ROW, _STOPS = "where a row says", "no row fits"
_FOR_EVERY_GAP = "For every gap below."
_FEW = 5  # so many cards stand on a page as they are


@dataclass(frozen=True, slots=True)
class OverRows:
    """What is settled `first` at every card, by number, and at every table, by number; `lines` are all that stands
    over their rows."""

    first: Mapping[str, Sequence[str]]
    cards: Sequence[Sequence[str]]
    tables: Sequence[Sequence[str]]


@dataclass(frozen=True, slots=True)
class _Stated:
    """What is found about a job's gaps as they are stated, by gap; of the parts on their seats, by place."""

    job: Job
    findings: Mapping[str, list[Finding]]
    otherwise: Mapping[str, list[Finding]]
    readings: Mapping[str, list[Finding]]
    parts: Mapping[str, list[Finding]]

    @classmethod
    def of(cls, job: Job, of_parts: Iterable[Finding]) -> _Stated:
        readings = about_readings(job)
        stated = (*suspicions(job), *readings, *about_places(job))
        return cls(job, *map(_by_place, (stated, about_record(job), readings, of_parts)))


def _by_place(findings: Iterable[Finding]) -> dict[str, list[Finding]]:
    found: dict[str, list[Finding]] = {}
    for one in findings:
        found.setdefault(one.place, []).append(one)
    return found


def over_rows(order: Order, say: Speaker) -> OverRows:
    """What stands over the rows of all cards and tables: worked out once, for it looks at whole jobs."""
    stated = [_Stated.of(job, found.findings) for job, found in zip(order.jobs, order.screenings, strict=True)]
    holes = {hole.gap for hole in order.holes}
    first: dict[str, Sequence[str]] = {}
    cards, tables = [], []

    def told(demand: Demand, fits: Sequence[Mapping[str, Stack]], left: Mapping[str, Stack]) -> list[str]:
        found = _first_of(order, demand, fits, left, stated[demand.job], say)
        if found:
            first[named(order, demand.job, demand.gap.name)] = found
        return found

    for number, (demand, card) in enumerate(zip(order.demands, order.cards, strict=True)):
        # where a row says stop, what is in stays
        left = {demand.place.name: demand.place.installed} if number in holes else {}
        settled = told(demand, [{demand.place.name: stack} for stack in dict.fromkeys(card.stacks)], left)
        # a card's row stops where it would lay soft pieces so: beyond today's bracket nothing else hangs on it
        settled = [words.replace(f"{_OF_A_ROW} fit", _STOPS, 1) for words in settled]
        name, within = named(order, demand.job, demand.gap.name), {band.stack for band in card.bands}
        if not rubbing(order, number) & within:
            still = [words for words in settled if not words.startswith(_STOPS)]
            first.pop(name, None)
            first |= {name: still} if still else {}
        room = least_room(demand, card, order.stock)
        cards.append(_lines(settled, [demand], stated[demand.job], say, room=room))
    for table in order.tables:
        fits = [box.stacks for box in table.boxes]
        settled = list(dict.fromkeys(words for demand in table.demands for words in told(demand, fits, {})))
        read = [demand for demand in table.demands if demand.gap.name not in turned(table)]
        # where there are no rows a plan knows how well each gap is known
        known = {_known_to(demand, True, say, Fraction(0)) for demand in read if table.rowless}
        tables.append([line for line in _lines(settled, read, stated[table.job], say, many=True) if line not in known])
    return OverRows(first, cards, tables)


def _lines(
    settled: Sequence[str],
    demands: Sequence[Demand],
    stated: _Stated,
    say: Speaker,
    *,
    many: bool = False,
    room: Fraction = Fraction(0),
) -> list[str]:
    # what no blade can tell is found out first, too
    blind = [
        words
        for demand in demands
        for one in stated.readings.get(demand.gap.name, ())
        if (words := blind_words(stated.job, one, say))
    ]
    lines = [
        f"{'' if words.startswith(_STOPS) else 'first: '}{words.removesuffix('.')}" for words in (*settled, *blind)
    ]
    of_all = [line for line in lines if not line.startswith((f"first: {_OF_A_ROW}", _STOPS))]
    lines += ["only once that is settled does a row count"] if of_all else []
    for demand in demands:
        for doubt in demand.doubts:
            if isinstance(doubt.fact, NotAsInService):
                how = "under a nipped cover" if is_tightened(doubt.fact) else "as in service"
                lines.append(f"rows count only for a reading {how}, not as today's ({state_words(doubt.fact.state)})")
    lines += filter(None, (_known_to(demand, many, say, room) for demand in demands))
    return list(dict.fromkeys(lines))


def _known_to(demand: Demand, named_: bool, say: Speaker, room: Fraction) -> str:
    """How well a reading has to be known for rows that no pair of blades tells; empty where blades do.

    Parameter: room, how much further off it may be with which all rows still serve [nm].
    """
    if demand.pairs or not demand.below + demand.above:
        return ""
    below, above = demand.read_room
    # ends that look alike are told as one
    known = f"± {say(below)}" if say(below) == say(above) else f"-{say.bare(below)} +{say(above)}"
    which = f"{shown(demand.gap.name)}: " if named_ else ""
    # what the blades themselves may be off by is no distance between them
    own = [term.half for term in demand.gap.reading.terms if term.code == "blade_error"]
    off = 2 * sum(own, Fraction(0)) if demand.gap.final_reading is None else Fraction(0)
    wide = say(demand.below + demand.above - off)
    match demand.told_by:
        case "pair":
            meant, apart = "middle: half-way between the blade that goes and the one that does not", "they"
        case "spots":
            meant, apart = "mean: of all spots, each half-way between its two blades, or its snug one", "the pairs"
        case "snug":
            meant, apart = "snug: the blade that is a tight pull", "blades"
        case _:
            if pulls := _as_pulled(demand, say, room):
                return f"{which}rows count for {pulls}; any other reading has to be known to {known}, else plan again"
            return f"{which}rows count for a reading known to {known} or better; with a coarser one plan again"
    mean = " on average" if demand.told_by == "spots" else ""
    return f"{which}{meant}; where {apart} are more than {wide} apart{mean}, plan again"


def _as_pulled(demand: Demand, say: Speaker, room: Fraction) -> str:
    """Which pulls of a dial all rows serve: by how far they may be apart; empty where that is unknown.

    No further than leaves no more open than today's; as far as today's where the rows have the room for any such pulls.

    Of n pulls within a range r the spread is at most r * sqrt(k * (n - k) / (n * (n - 1))): k, half of them, at one
    end and the others at the other. Of more pulls it is less.
    """
    reading, spread = demand.gap.reading, Fraction(0)
    if reading.kind != "indicator" or demand.gap.final_reading is not None:
        return ""
    repeats = next((term for term in reading.terms if term.code == "repeats"), None)
    if repeats is None or reading.basis == "worst case" or not repeats.count:
        return ""
    pulls = int(repeats.count)
    for error in repeats.errors:
        if isinstance(error, Student):
            spread = error.square * pulls
    lever = next((term.count for term in reading.terms if term.code == "lever" and term.count), Fraction(1))
    half = pulls // 2
    square = spread * pulls * (pulls - 1) / (half * (pulls - half)) / lever**2
    step = Fraction(UNITS[say.unit], 10 ** OF_A_GAUGE[say.unit])
    apart, today = isqrt(int(square / step**2)) * step, repeats.apart or Fraction(0)
    beside = ""
    if today > apart:
        # any pulls as far apart as today's: spread more by this, so that the whole is further off by less
        more = isqrt(int(today**2 / square * 10**12)) + 1
        wider = Fraction(half_width([e for t in reading.terms for e in _scaled(t, more)], LIKELY_SHARE))
        if wider - Fraction(half_width([e for t in reading.terms for e in t.errors], LIKELY_SHARE)) < room:
            apart = today
        else:
            beside = ", or just as today's"
    how = f"within {say(apart)} of each other" if apart else "all alike"
    return f"{pulls} pulls or more of today's dial {how}{beside}"


def _scaled(term: Term, more: int) -> Iterable[Error]:
    """A term's errors, those of pulls so many millionths as far."""
    return [scaled(one, Fraction(more, 10**6)) for one in term.errors] if term.code == "repeats" else term.errors


def _first_of(
    order: Order,
    demand: Demand,
    fits: Sequence[Mapping[str, Stack]],
    left: Mapping[str, Stack],
    stated: _Stated,
    say: Speaker,
) -> list[str]:
    """What is in and must not stay, a reading in doubt, what a stack would spoil: of one gap, by what rows `fits`.

    What only a stop leaves in is asked about as it lies there; nothing is fitted with it.
    """
    job, stopped = stated.job, order.screenings[demand.job].stopped
    gap, name = demand.gap, named(order, demand.job, demand.gap.name)
    findings = list(stated.findings.get(gap.name, ()))
    laid: list[tuple[Mapping[str, Stack], list[Finding]]] = []
    for stacks in (*fits, left):
        for place, stack in stacks.items():
            both = Counter(job.place[place].installed) & Counter(stack)
            # a spring comes out before the gap is read again, whatever its row says then
            stays = tuple(i for i in both.elements() if not (stacks is left and job.stock[i].part.is_spring))
            there = about_what_stays(job, job.place[place], stays, stopped.get(place, {}))
            findings += [one for one in there if one not in findings]
        if stacks is not left:
            laid.append((stacks, rubbed_in([one for p in stacks for one in stated.parts.get(p, ())], job, stacks)))
    # what was predicted is a clause that goes on from the name
    told = [
        (f"{name}{'' if isinstance(one.fact, NotAsPredicted) else ':'}", finding_words(one, say))
        for one in stated.otherwise.get(gap.name, ())
        if not (isinstance(one.fact, NotAsPredicted) and one.fact.likely in FOUND_OUT)
    ]
    otherwise = [f"{which} {words}: find that out before anything is fitted" for which, words in told]
    if gap.window.wants_preload and gap.window.min is None:
        otherwise.append(f"{name}: nothing states how much preload it may have: state that as the `min` of its window")
    # another state than in service has a line of its own
    doubts = (one for one in trial_doubts(job, gap) if not isinstance(one.fact, NotAsInService))
    trial = [f"{name}: {finding_words(one, say)}" for one in doubts]
    rubbed = _rubbed(order, job, laid, say)
    return [*otherwise, *trial, *rubbed, *first_of_gap(gap, job, findings, say)]


def _rubbed(
    order: Order, job: Job, laid: Sequence[tuple[Mapping[str, Stack], Sequence[Finding]]], say: Speaker
) -> list[str]:
    """What turns on soft pieces: of all rows, or of that row alone that lays them so."""
    of_all = [one for one in dict.fromkeys(one for _, soft in laid for one in soft) if all(one in s for _, s in laid)]
    said = rubbed_words(of_all, say)
    for stacks, soft in laid:
        row = "; ".join(fit_words(order, job.place[place], stack) for place, stack in stacks.items())
        rest = [one for one in soft if one not in of_all]
        likewise = f"; {listed([say.known(*one.known_by) for one in rest[1:]])} likewise" if rest[1:] else ""
        said += [f"{_OF_A_ROW} {row}: {words}{likewise}" for words in rubbed_words(rest[:1], say)]
    return said


def said_once(cards: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Cards of a paper; what holds of the rows of all is said once over them where they are many."""
    more = {f"{begun(WITHIN_THE_ROW)}.": f"{begun(WITHIN_ONE_ROW)}."}
    notes = [card["notes"] for card in cards if card["rows"]] if len(cards) > _FEW else []
    each = dict.fromkeys(note for card in notes for note in card)
    said = [note for note in each if all(note in card or more.get(note) in card for card in notes)]
    kept = [{**card, "notes": [note for note in card["notes"] if note not in said]} for card in cards]
    return {"rules": [_FOR_EVERY_GAP, *said] if said else [], "cards": kept}
