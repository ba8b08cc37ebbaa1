"""How much of an answer rests on numbers taken as exact, for the screen and for the letter."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.job import Job
from shimopt.parts import StockLine
from shimopt.planner import Decision
from shimopt.reasons.shared_reasons import CrushAssumed, SplitByName, SplitNotStated
from shimopt.seats.part_facts import PressureLimitFromMemory
from shimopt.words.speaker import listed, number_word, plural


def exact_counts(decision: Decision) -> dict[str, tuple[int, int]]:
    """How many readings, part sizes, and bores and shafts state no tolerance: (taken as exact, of all).

    Of the part sizes, `measured_sizes` were measured and no error is stated.
    """
    return counts_of([decision.job], _that_count(decision))


def counts_of(jobs: Sequence[Job], used: Sequence[StockLine]) -> dict[str, tuple[int, int]]:
    """The same of jobs, and of the kinds of piece that count."""
    gaps = [gap for job in jobs for gap in job.gaps]
    seats = {gap.seat for gap in gaps} | {place.seat for job in jobs for place in job.places}
    shafts = {seat.name: seat.shaft for seat in seats if seat is not None and seat.shaft is not None}
    bores = [line.part.inner for line in used if line.part.inner is not None]
    # a bore or a shaft decides nothing where its counterpart is not given
    diameters = [*bores, *shafts.values()] if bores and shafts else []
    levers = sum(term.code == "lever" for gap in gaps for term in gap.reading.terms)
    expanding = [part for gap in gaps if gap.heat is not None for part in (*gap.heat.housing, *gap.heat.shaft)]
    return {
        "readings": (sum(gap.reading.taken_as_exact for gap in gaps), len(gaps)),
        "part_sizes": (sum(line.part.thickness.exact for line in used), len(used)),
        "measured_sizes": (_measured(used), len(used)),
        "diameters": (sum(bracket.exact for bracket in diameters), len(diameters)),
        "lever_angles": (levers, levers),
        "coefficients": (len(expanding), len(expanding)),
    }


def _that_count(decision: Decision) -> list[StockLine]:
    """The kinds of piece that the answer rests on: on hand, in the machine, out for the reading, and to buy."""
    job = decision.job
    return [line for i, line in enumerate(job.stock) if job.there[i] or (decision.buy and line.offers)]


def _measured(lines: Sequence[StockLine]) -> int:
    return sum(line.part.thickness.exact and line.part.measured for line in lines)


def exactness(decision: Decision) -> str:
    """What was taken as exact because no tolerance is stated."""
    readings, all_readings = exact_counts(decision)["readings"]
    first = [f"{readings} of {plural(all_readings, 'reading')}"] if readings else []
    return taken_as_exact([decision.job], _that_count(decision), first)


def taken_as_exact(jobs: Sequence[Job], used: Sequence[StockLine], first: Sequence[str] = ()) -> str:
    """The same of jobs, and of the kinds of piece that count, after what is said `first`."""
    counts = counts_of(jobs, used)
    diameters, all_diameters = counts["diameters"]
    said = [*first, *exact_sizes(used)]
    if diameters:
        said.append(f"{diameters} of {plural(all_diameters, 'bore')} and shafts")
    if levers := counts["lever_angles"][0]:
        said.append("the angle of the lever" if levers == 1 else f"the angles of {levers} levers")
    if counts["coefficients"][0]:
        said.append("the coefficients of expansion")
    if not said:
        return ""
    return f"Taken as exact, for no tolerance is stated: {listed(said)}."


def exact_sizes(lines: Sequence[StockLine]) -> list[str]:
    """How many part sizes are taken as exact, those that were measured apart from those that are as marked."""
    measured = _measured(lines)
    marked = sum(line.part.thickness.exact for line in lines) - measured
    of = plural(len(lines), "part size")
    if not measured:
        return [f"{marked} of {of}"] if marked else []
    if not marked:
        return [f"{measured} of {of} as measured (no error stated)"]
    return [f"{marked} of {of} as marked", f"{measured} of {len(lines)} as measured (no error stated)"]


def exact_grounds(counts: dict[str, tuple[int, int]], *, measured: bool) -> list[str]:
    """The same of readings and shims in a letter. `measured`: whether any shim was."""
    said = []
    (readings, all_readings), (sizes, all_sizes) = counts["readings"], counts["part_sizes"]
    if readings:
        said.append(_exactly(readings, all_readings))
    if sizes:
        as_measured = counts["measured_sizes"][0]
        said.append(_kinds(sizes - as_measured, as_measured, all_sizes, measured=measured))
    return said


def _exactly(count: int, of: int) -> str:
    if of == 1:
        return "The measurement is taken as exact (no ± given)."
    if count == of:
        return "All measurements are taken as exact (no ± given)."
    are = "is" if count == 1 else "are"
    return f"{number_word(count).capitalize()} of {of} measurements {are} taken as exact (no ± given)."


def _kinds(marked: int, as_measured: int, of: int, *, measured: bool) -> str:
    if marked == of and not measured:
        return "All shims are taken as marked; none was measured."
    if as_measured == of:
        return "All shims are taken as measured (no error stated)."
    first = marked or as_measured
    start = f"{number_word(first).capitalize()} of {of} kinds of shim {'is' if first == 1 else 'are'} taken as "
    if not marked:
        return f"{start}measured (no error stated)."
    also = f", and {number_word(as_measured)} as measured (no error stated)" if as_measured else ""
    return f"{start}marked, without tolerance{also}."


def taken_words(decision: Decision) -> list[str]:
    """What may decide and is from memory or common practice, a sentence each."""
    said = []
    if crushed := [name for one in decision.assumptions if isinstance(one, CrushAssumed) for name in one.names]:
        spread = max(one.spread for one in decision.assumptions if isinstance(one, CrushAssumed))
        said.append(f"How far {listed(crushed, 3)} is crushed is assumed: \u00b1{float(spread):g} % (common practice).")
    stacks, stock = decision.stacks, decision.job.stock
    fitted = {(place, stock[i].part.name) for place, stack in stacks.items() for i in stack}
    limits = {
        shown(one.fact.source)
        for one in decision.findings
        if isinstance(one.fact, PressureLimitFromMemory) and (one.place, one.part) in fitted
    }
    if limits:
        said.append(f"The limit pressure of {listed(sorted(limits), 3)} is from memory: look it up.")
    return said


def split_words(decision: Decision) -> list[str]:
    """Places that share a total of which nothing states the split."""
    return [
        f"Nothing states how {listed(one.names, 4)} share their total: the fewest places changed decide, then the "
        "fewest pieces, then what was in."
        for one in decision.reasons
        if isinstance(one, SplitNotStated) and not isinstance(one, SplitByName)
    ]
