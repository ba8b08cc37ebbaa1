"""What a shop's history tells, in sentences: how thick a supplier's sizes run, how well a gauge repeats."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal

from shimopt.errors import Problem, shown
from shimopt.job.learnt_sizes import LearntSize
from shimopt.learning.gauge_pairs import ENOUGH_PAIRS, GaugeKnown
from shimopt.learning.history import History
from shimopt.learning.supplier_sizes import FEWEST_PIECES, SizeOf, Spread
from shimopt.words.speaker import Speaker, begun, listed, plural

NEVER_SURE = (
    "None of this makes a gap sure: a piece that nobody measured may be anything that its label allows. It tells what "
    "to expect, and what to measure; only chances count it, where a job says so."
)
NOTHING_KNOWN = "Nothing was measured, nothing read twice, and nothing recorded."
# digits after the point: a micrometre, as near as a micrometer reads
_DIGITS = {"mm": 3, "um": 0, "in": 5, "thou": 2}
_MOST_NAMED, _MOST_LOTS = 4, 8


def speaker_of(unit: str) -> Speaker:
    """Who says the lengths of a history."""
    return Speaker(unit, digits=_DIGITS[unit])


def size_title(size: SizeOf, unit: str) -> str:
    """Whose pieces, of what marking, and how many."""
    aside = f", {len(size.aside)} of them set aside" if size.aside else ""
    counted = f"{plural(len(size.pieces) + len(size.aside), 'piece')} of {plural(len(size.lots), 'lot')}{aside}"
    return f"{shown(size.supplier)}, {Speaker(unit)(size.marked)}: {counted}"


def size_lines(size: SizeOf, unit: str) -> Iterator[str]:
    """How thick they run, what one more of them measures, and how many more have to be measured."""
    say = speaker_of(unit)
    if size.mean is None or size.next_lot is None:
        yield "No tolerance is printed for them: fill in tolerance, then they can be held against it."
        return
    if not size.enough:
        missing = plural(FEWEST_PIECES - len(size.pieces), "more piece")
        yield f"Too few to say how thick they run: the label stands until {missing} were measured."
        return
    yield runs_words(size, unit)
    label = Speaker(unit).bracket(size.printed.low, size.printed.high)
    if size.knows_next_lot:
        yield f"One of a lot that nobody measured: {_range(size.next_lot, say)}; its label says {label}."
    else:
        known = f"what was measured leaves {_range(size.next_lot, say)}"
        yield f"Of a lot that nobody measured the label knows more: {label}; {known}. {_more_lots(size)}"
    yield from _lots_lines(size, say)
    if size.aside:
        named = [f"{piece.name} ({say(piece.thickness)})" for piece in size.aside]
        yield f"Does not belong to the others: {listed(named, _MOST_NAMED)}. Measure it again, and look at its label."


def sizes_note(history: History) -> Iterator[str]:
    """How a job counts with what is known better than a label says."""
    if known := len(_for_jobs(history)):
        them = "it" if known == 1 else "them"
        told = f"{plural(known, 'size')} known better than the label: -o sizes.toml writes {them}"
        yield f"{told} ready to paste into job.toml (true_size), so that chances count {them}."


def _for_jobs(history: History) -> list[LearntSize]:
    """Each supplier's marking and lot once: of two tolerances the first."""
    found = dict[tuple[str, int, str], LearntSize]()
    for size in (one for known in history.sizes for one in known.for_jobs):
        found.setdefault((size.supplier, size.marked, size.of_lot), size)
    return list(found.values())


def true_size_tables(history: History) -> str:
    """What a job says of such sizes, as the last lines of its file."""
    return "\n".join(map(_true_size, _for_jobs(history)))


def _true_size(size: LearntSize) -> str:
    lengths = {"marked": size.marked, "mean": size.mean, "lot": size.lot, "piece": size.piece}
    lengths |= {"offset": size.offset} if size.offset else {}
    told = [f"supplier = {json.dumps(size.supplier, ensure_ascii=False)}"]
    told += [f"of_lot = {json.dumps(size.of_lot, ensure_ascii=False)}"] if size.of_lot else []
    told += [f'{key} = "{Decimal(nm).scaleb(-6).normalize():f} mm"' for key, nm in lengths.items()]
    return "\n".join(["[[true_size]]", *told, ""])


def _lots_lines(size: SizeOf, say: Speaker) -> Iterator[str]:
    """What one more piece of a lot measures, and of which lots too little is known."""
    told = [f"{_lot(lot)} {_range(known, say)}" for lot, known in size.of_lot.items() if size.knows(lot)]
    if told:
        yield f"One more piece of a lot: {listed(told, _MOST_LOTS)}."
    wanted = [f"{more} of {_lot(lot)}" for lot, more in size.more_of_lot.items() if more is not None]
    if wanted:
        yield f"To know a lot better than its label, measure so many more: {listed(wanted, _MOST_LOTS)}."


def _lot(name: str) -> str:
    return f"lot {name}" if name else "those that name none"


def runs_words(size: SizeOf, unit: str) -> str:
    """The caution `this maker's 0.20 mm run 0.020 mm thick`, or that nothing says so."""
    if size.mean is None:
        return ""
    say, off = speaker_of(unit), size.runs_off
    mean = f"{_range(size.mean, say)} on average"
    if off is None:
        return f"They measure {mean}: nothing says that they run thick or thin."
    low, high = size.printed.low, size.printed.high
    middle = (
        ""
        if size.marked == size.printed.best
        else f" of the middle of their label ({Speaker(unit).bracket(low, high)})"
    )
    how = f"{say(abs(off))} {'thick' if off > 0 else 'thin'}{middle}"
    return f"This maker's {Speaker(unit)(size.marked)} run {how}: {mean}, 19 times in 20."


def _range(known: Spread, say: Speaker) -> str:
    return say.bracket(known.low, known.high)


def _more_lots(size: SizeOf) -> str:
    if size.more_lots is None:
        return "A dozen lots more would not change that: measure what you fit."
    return f"Measure 5 pieces of {'one more lot' if size.more_lots == 1 else f'each of {size.more_lots} more lots'}."


def pieces_notes(history: History) -> Iterator[str]:
    """What was taken from elsewhere, and what was left out."""
    pieces = [piece for size in history.sizes for piece in size.pieces]
    if unstated := sum(not piece.error_stated for piece in pieces):
        yield f"How far the micrometer may be off is not stated for {plural(unstated, 'piece')}: taken as exact."
    if assumed := sum(piece.by_catalogue for piece in pieces):
        yield f"{plural(assumed, 'piece')} named no supplier: taken is the only one that the catalogue has."
    if any(not piece.lot for piece in pieces):
        yield "Pieces that name no lot count as one lot."
    if history.nameless:
        names = [piece.name for piece in history.nameless]
        yield f"Left out, since nobody says who sold them: {listed(names, _MOST_NAMED)}. Fill in supplier."
    if history.unmarked:
        names = [piece.name for piece in history.unmarked]
        yield f"Left out, since nobody says what they are marked: {listed(names, _MOST_NAMED)}. Fill in thickness."


def counted_apart(asked: Problem) -> str:
    """Where nobody can be asked: which two names may be one supplier."""
    name, where = shown(asked.value), shown(asked.where)
    return f"{begun(where)}: {name}: {asked.rule}. They are counted apart here until they are written alike."


def gauge_lines(gauge: GaugeKnown, unit: str) -> Iterator[str]:
    """How well a gauge repeats, and what that rests on."""
    say, known = speaker_of(unit), gauge.known
    pairs = f"{plural(known.pairs, 'pair')} of readings, {known.same} of which read the same"
    of_records = f", {gauge.recorded} of which records predicted and found" if gauge.recorded else ""
    if not known.shows:
        tells = (
            "finer than its graduation shows" if known.finer else "coarser than its graduation, so it says nothing yet"
        )
        yield f"Repeats to {say(round(known.high))} or better: {tells} ({pairs}{of_records})."
    elif gauge.enough:
        held = f"{say.bracket(round(known.low), round(known.high))} 19 times in 20"
        yield f"One reading is off by {say(round(known.middle))} (standard deviation; {held}): {pairs}{of_records}."
    else:
        held = say.bracket(round(known.low), round(known.high))
        yield f"One reading is off by {held} (standard deviation, 19 times in 20): {pairs}{of_records}."
    if not gauge.enough:
        missing = ENOUGH_PAIRS - known.pairs
        yield f"That is a range: {plural(missing, 'more pair')} give a figure. Read a gap twice, without looking."
    if gauge.enough and known.shows:
        key = f'repeatability = {{ feeler = "{say(round(known.middle))}" }}'
        yield f"In job.toml, so that chances count it: {key} (or indicator, for a dial)."
    if known.wild:
        yield f"Probably slips, and hardly counted: {listed([pair.name for pair in known.wild], _MOST_NAMED)}."


def gauge_notes(history: History) -> Iterator[str]:
    """What was left out."""
    if history.nameless_pairs:
        names = [one.pair.name for one in history.nameless_pairs]
        yield f"Left out, since nobody says with which gauge: {listed(names, _MOST_NAMED)}."
    if any(gauge.recorded for gauge in history.gauges):
        yield "Where a record is compared with what it predicted, both are taken as read by the gauge that it names."
