"""What is worth saying of a job as it is stated, and what the answer takes for granted because nobody stated it.

Slips that only may be some are told here; what is likely enough to stop a job never comes this far.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from math import floor
from typing import Literal

from shimopt.arithmetic import Outcome
from shimopt.arithmetic.clearance import Stack, turnover
from shimopt.assembly import tool_error
from shimopt.assembly.torque import SMALL_TOOL
from shimopt.job import EffectSource, Gap, Job
from shimopt.job.gap import Window
from shimopt.job.reading_slips import slips_of
from shimopt.job.size_slips import SizeSlip, size_slips
from shimopt.job.slip_evidence import Against, Slip
from shimopt.job.window_slips import WindowSlip, window_slips
from shimopt.readings.instruments import FEWEST_PULLS
from shimopt.reasons import job_facts as facts
from shimopt.reasons import shared_reasons as taken
from shimopt.reasons import slip_facts as slips
from shimopt.reasons.gap_reasons import Reason
from shimopt.seats import Finding
from shimopt.seats.finding import Fact, Grade, of_piece

# by the term of a reading that nobody stated
_ASSUMED: dict[str, type[taken.FigureAssumed]] = {
    "repeatability": taken.RepeatabilityAssumed,
    "resolution": taken.ResolutionAssumed,
    "permissible_error": taken.PermissibleErrorAssumed,
    "dimension": taken.DimensionAssumed,
    "gasket": taken.GasketAssumed,
}


def assumptions(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    """All assumptions: of the readings in job order, then of the pieces that are fitted, then of heat."""
    found = [reason for gap in job.gaps for reason in _of_reading(gap)]
    likely = tuple(gap.name for gap in job.gaps if gap.reading.basis == "95 %")
    found += [taken.ErrorsIndependent(about="", names=likely)] if likely else []
    found += _of_gauges(job)
    found += _of_pieces(job, stacks)
    found += _as_learnt(job, stacks)
    warm = tuple(gap.name for gap in job.gaps if gap.heat is not None)
    return [*found, taken.HeatUniform(about="", names=warm)] if warm else found


def _of_reading(gap: Gap) -> list[Reason]:
    found: list[Reason] = []
    for term in gap.reading.terms:
        if term.assumed:
            names = (term.name,) if term.name else ()
            half = term.half if term.as_read is None else term.as_read
            if term.code == "crush":
                found.append(
                    taken.CrushAssumed(about=gap.name, names=names, half=half, spread=term.count or Fraction(0))
                )
            else:
                found.append(_ASSUMED[term.code](about=gap.name, names=names, half=half))
        if term.code == "repeats" and gap.reading.basis == "worst case":
            found.append(taken.FarthestPull(about=gap.name))
    return found


def _of_gauges(job: Job) -> list[Reason]:
    """How well the gauges repeat, where the job says so."""
    by_deviation: dict[int, list[Gap]] = {}
    for gap in job.gaps:
        if gap.reading.repeats is not None:
            by_deviation.setdefault(gap.reading.repeats, []).append(gap)
    return [
        taken.GaugeRepeats(
            about="",
            names=tuple(gap.name for gap in gaps),
            half=Fraction(deviation),
            coarse=tuple(gap.name for gap in gaps if gap.least_chance is None and _coarser(gap)),
        )
        for deviation, gaps in by_deviation.items()
    ]


def _coarser(gap: Gap) -> bool:
    """Whether two standard deviations of a gauge reach beyond what its reading is called sure by."""
    read = gap.reading.bracket
    return 2 * (gap.reading.repeats or 0) > max(read.high - read.best, read.best - read.low)


def _of_pieces(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    fitted = [job.stock[i].part for stack in stacks.values() for i in stack]
    found: list[Reason] = []
    if any(not part.measured and not part.thickness.exact for part in fitted):
        found.append(taken.UnmeasuredIndependent(about=""))
    if any(part.measured and not part.thickness.exact for part in fitted):
        if job.micrometer is None:
            found.append(taken.MeasuredIndependent(about=""))
        else:
            shared = job.micrometer
            names = (shared.name,) if shared.name else ()
            found.append(taken.MicrometerShared(about="", names=names, half=shared.error, source=shared.source))
    return found


def _as_learnt(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    """Pieces that are fitted, of which records say how thick they run."""
    fitted = dict.fromkeys(index for stack in stacks.values() for index in stack if index in job.learnt)
    names = tuple(dict.fromkeys(job.stock[index].part.name for index in fitted))
    return [taken.SizesLearnt(about="", names=names)] if names else []


def about_sizes(job: Job, stacks: Mapping[str, Stack]) -> list[Finding]:
    """Cautions on pieces that nobody measured and that go in, of suppliers whose pieces run thick or thin."""
    found = []
    for place in job.places:
        for index in dict.fromkeys(turnover(place.installed, stacks.get(place.name, place.installed))[0]):
            size, part = job.learnt.get(index), job.stock[index].part
            if size is not None and (off := size.runs_off(part.thickness)):
                fact = facts.SizeRunsOff(supplier=size.supplier, marked=size.marked, off=off)
                found.append(of_piece(part, place.name, "caution", fact))
    return found


def about_readings(job: Job) -> list[Finding]:
    """Spots that differ, an indicator that was pulled too seldom, a blade that did not go."""
    found = []
    for gap in job.gaps:
        reading = gap.reading
        if reading.tilt and reading.spots is not None:
            tilted = facts.SpotsTilted(low=reading.spots.low, high=reading.spots.high, apart=reading.tilt)
            found.append(Finding(place=gap.name, grade="caution", fact=tilted))
        between_teeth = any(source.teeth is not None for source in gap.effect_sources)
        if reading.pulls is not None and between_teeth:
            grade: Grade = "caution" if reading.pulls == 1 else "note"
            found.append(Finding(place=gap.name, grade=grade, fact=facts.SmallestRoundWheel(readings=reading.pulls)))
        elif reading.pulls is not None and reading.pulls < FEWEST_PULLS:
            fact = facts.FewPulls(pulls=reading.pulls, fewest=FEWEST_PULLS)
            found.append(Finding(place=gap.name, grade="caution", fact=fact))
        # what turns too hard or too easily hides nothing that is not told by that
        if reading.no_preload_assumed and not job.turns_wrong(gap.name):
            read = reading.found
            blades = reading.kind not in ("value", "indicator", "built_up")
            opens = job.opened_by_more(gap)
            assumed: Fact = facts.NoPreloadAssumed(low=read.low, high=read.high, opens=opens, by_blade=blades)
            if reading.opens:
                assumed = facts.CoverFreeAssumed(high=-read.low, bare=job.stands_bare(gap))
            found.append(Finding(place=gap.name, grade="note", fact=assumed))
    return found


def not_by_chance(stated: Job, job: Job, outcome: Outcome) -> list[Finding]:
    """A note on every gap whose stated chance does not decide in the job that was planned; a caution where it would."""
    found = []
    for gap in stated.gaps:
        if gap.least_chance is not None and job.gap[gap.name].least_chance is None:
            now = outcome.gaps[gap.name]
            fact = facts.DecidedByBrackets(least=gap.least_chance, chance=Fraction(now.chance))
            found.append(Finding(place=gap.name, grade="caution" if now.verdict == "unproven" else "note", fact=fact))
    return found


def about_tools(job: Job) -> list[Finding]:
    """A caution on every range of torque that the tool, by its class, need not keep to."""
    found = []
    for entry in job.tightening:
        torque, largest = entry.torque, entry.tool_max or entry.torque.setting
        # of a small setting without a tool nobody knows the class
        known = entry.tool_max is not None or torque.setting > SMALL_TOOL
        off, keeps = tool_error(largest), (torque.high - torque.low) / 2 / torque.setting
        if known and 0 < keeps < off:
            fact = facts.ToolTooCoarse(fastener=entry.name, off=off * 100, needed=Fraction(floor(keeps * 1000), 10))
            found.append(Finding(grade="caution", fact=fact))
    return found


def about_effects(job: Job) -> list[Finding]:
    """A note for every effect that is computed or that names its source, in job order."""
    return [
        Finding(place=gap.name, grade="note", fact=_effect(gap.name, source))
        for gap in job.gaps
        for source in gap.effect_sources
    ]


def _effect(gap: str, of: EffectSource) -> Fact:
    place, effect, source = of.place, of.effect, of.source
    if of.kind == "bevel" and of.teeth is not None and of.angle is not None:
        return facts.EffectFromBevel(
            place=place, gap=gap, effect=effect, source=source, teeth=of.teeth, angle=of.angle, on=of.on
        )
    if of.kind == "trial" and of.low is not None and of.high is not None:
        return facts.EffectFromTrial(place=place, gap=gap, effect=effect, source=source, low=of.low, high=of.high)
    by: Literal["geometry", "two readings"] = "two readings" if of.teeth is None else "geometry"
    return facts.EffectFromFigure(place=place, gap=gap, effect=effect, source=source, computed=of.geometry, by=by)


def not_read(job: Job) -> list[Finding]:
    """Columns that nobody reads."""
    return [Finding(grade="note", fact=facts.ColumnNotRead(file=file, column=column)) for file, column in job.not_read]


def suspicions(job: Job) -> Iterator[Finding]:
    """A caution for every reading, window and size that looks like a slip, with its likely meaning if there is one."""
    yield from (Finding(place=slip.gap, grade="caution", fact=_far_off(slip)) for slip in slips_of(job))
    for window in window_slips(job):
        if not window.stops:
            yield Finding(place=window.gap, grade="caution", fact=_of_window(window, job.gap[window.gap].window))
    for size in size_slips(job):
        part = size.line.part
        yield Finding(part=part.name, piece=part.piece, grade="caution", fact=_of_size(size))


def _far_off(slip: Slip) -> Fact:
    against: Against = "window"
    if slip.why in ("neighbours", "window and pieces", "first reading"):
        against = slip.why
    if slip.meant is None:
        return slips.ReadingFarOff(reading=slip.reading, usual=slip.usual, against=against, terms=slip.terms)
    how = slip.unit or ("ten times too large" if slip.meant < slip.reading else "a zero too many")
    return slips.ReadingSuspect(
        reading=slip.reading, usual=slip.usual, against=against, meant=slip.meant, how=how, point=slip.point
    )


def _of_window(slip: WindowSlip, window: Window) -> Fact:
    low, high = Fraction(window.min or 0), Fraction(window.max or 0)
    return slips.WindowSuspect(
        low=low,
        high=high,
        meant_low=low * slip.factor,
        meant_high=high * slip.factor,
        unit=slip.unit,
        narrow=slip.narrow,
    )


def _of_size(slip: SizeSlip) -> Fact:
    return slips.SizeSuspect(
        thickness=slip.thickness,
        typed_in=slip.line.typed_in,
        meant=slip.meant,
        unit=slip.unit,
        others=slip.others,
        offered=slip.line.row is None and bool(slip.line.offers),
    )
