"""Findings in words. A sentence does not repeat the place or part that the finding names."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.job.learnt_sizes import LearntSize
from shimopt.lengths import as_decimal, spelled
from shimopt.parts import StockLine
from shimopt.reasons import job_facts as stated
from shimopt.reasons import slip_facts as slips
from shimopt.seats import Finding
from shimopt.seats.finding import Fact
from shimopt.words.fit_words import form_words, part_words, stack_words
from shimopt.words.found_words import not_as_predicted_words
from shimopt.words.read_steps import cover_rests, known_shim
from shimopt.words.speaker import Speaker, chance_text, listed
from shimopt.words.trial_words import trial_words

# digits after the point: a micrometre
_NEAR = {"mm": 3, "um": 0, "in": 5, "thou": 2}
_SLIPS = ("ten times too large", "a zero too many")


def finding_words(finding: Finding, say: Speaker) -> str:
    """The finding as one sentence. Raises TypeError for a kind that has none."""
    fact = finding.fact
    said = part_words(fact, say) or stack_words(fact, say) or _reading_words(fact, say)
    said = said or _effect_words(fact) or _place_words(fact, say) or trial_words(fact, say)
    if not said:
        raise TypeError(f"no words for {type(fact).__name__}")
    return said


def runs_off_words(supplier: str, marked: Fraction | int, off: Fraction | int, say: Speaker) -> str:
    """How much thicker a supplier's pieces run than the middle of their label, to a micrometre.

    `Kestrel's 0.20 mm run 0.014 mm thick, by your records`.
    """
    near = Speaker(say.unit, digits=_NEAR[say.unit])
    way = "thick" if off > 0 else "thin"
    return f"{shown(supplier)}'s {say(marked)} run {near(off if off > 0 else -off)} {way}, by your records"


class RunsOff(NamedTuple):
    """Parts of one supplier and marking that run `off` the middle of their label [nm], by records; and the words."""

    parts: list[str]
    size: LearntSize
    off: Fraction
    words: str


def runs_off_told(job: Job, lines: Sequence[StockLine], say: Speaker) -> list[RunsOff]:
    """Of which of these parts records say that they run thick or thin, as the job hands it on."""
    told = dict[str, RunsOff]()
    for number, size in job.learnt.items():
        line = job.stock[number]
        if (off := size.runs_off(line.part.thickness)) and line in lines:
            words = runs_off_words(size.supplier, size.marked, off, say)
            parts = told.setdefault(words, RunsOff([], size, off, words)).parts
            parts += [] if line.part.name in parts else [line.part.name]
    return [*told.values()]


def _reading_words(fact: Fact, say: Speaker) -> str:
    """Of a reading and of what else the job states; empty for other kinds."""
    match fact:
        case stated.SpotsTilted():
            return (
                f"the spots read from {say.bare(fact.low)} to {say(fact.high)}, {say(fact.apart)} more apart than "
                "their brackets allow: tilted or dirty; clean it, seat it and read it again"
            )
        case stated.NoPreloadAssumed():
            again = f"if it may be tight, turn it with a spring balance, or read it again {known_shim(fact.opens)}"
            return f"{assumed_clause(fact, say)}: {again}"
        case stated.CoverFreeAssumed():
            return (
                f"the thinnest blade did not go: read as 0 to {say(fact.high)}, assuming that the cover does not rest "
                f"on the case yet; {cover_rests(bare=fact.bare)}"
            )
        case stated.SmallestRoundWheel(readings=1):
            return "one reading, and a wheel runs out: read it at four places round the wheel, the smallest counts"
        case stated.SmallestRoundWheel():
            return f"the smallest of {fact.readings} readings counts: a wheel runs out, and there it is tightest"
        case stated.SizeRunsOff():
            return f"{runs_off_words(fact.supplier, fact.marked, fact.off, say)}: measure it before it is fitted"
        case stated.FewPulls():
            pulls = "one pull" if fact.pulls == 1 else f"{fact.pulls} pulls"
            return (
                f"{pulls} on the indicator say nothing about how well it repeats: push and pull at least "
                f"{fact.fewest} times"
            )
        case slips.ReadingSuspect():
            return f"{suspect_said(fact, say)} Measure it again"
        case slips.ReadingFarOff():
            return f"{_far_off(fact, say)}: measure it again before anything is fitted"
        case slips.WindowSuspect():
            why = "narrower than the blades that read it" if fact.narrow else "above all that is read, and every piece"
            meant = say.bracket(fact.meant_low, fact.meant_high)
            if fact.unit:
                meant = f"{Speaker(fact.unit).bracket(fact.meant_low, fact.meant_high)} ({meant})"
            return f"its window, {say.bracket(fact.low, fact.high)}, is {why}: was {meant} meant?"
        case slips.SizeSuspect():
            found, meant = spelled(fact.thickness, fact.typed_in), spelled(fact.meant, fact.unit)
            if fact.others:
                by = "catalogue" if fact.offered else "drawer"
                slipped = ": a decimal point may have slipped; " if fact.unit == fact.typed_in else ": "
                return (
                    f"is {found} by the {by}, and {listed(fact.others, 3)} are of another order{slipped}"
                    f"was {meant} meant? Measure it"
                )
            if fact.meant > fact.thickness:
                return f"is {found} by the drawer, far thinner than all else there: was {meant} meant? Measure it"
            return (
                f"is {found} by the drawer, far thicker than all else there and of no use here: was {meant} meant? "
                "Measure it, or call it a spacer"
            )
        case stated.NotAsPredicted():
            return not_as_predicted_words(fact, say)
        case stated.ColumnNotRead():
            return f"column {shown(fact.column)} of {shown(fact.file)} is not one that shimopt reads"
        case stated.DecidedByBrackets():
            return (
                f"the chance of {chance_text(fact.least)} that the job asks for does not decide here, for several gaps "
                f"or places act together: the whole bracket has to be inside (its chance is {chance_text(fact.chance)})"
            )
    return ""


def interchanged_words(balance: str, places: Sequence[str]) -> str:
    """That packs went in the other way round."""
    return (
        f"the packs at {listed(places)} are interchanged: exchange them, and {shown(balance)} is as it is asked to be"
    )


def assumed_clause(fact: stated.NoPreloadAssumed, say: Speaker) -> str:
    """What a reading of nothing assumes, without what is to be done about it."""
    more = " more" if fact.low < 0 else ""
    shows = "no blade can show" if fact.by_blade else "neither blade nor dial shows"
    return f"read as {say.clearance(fact.low, fact.high)}, assuming that there is no{more} preload, which {shows}"


def unlike_words(places: Sequence[str], packs: Sequence[str]) -> str:
    """Packs that must match and do not, each with what is in it."""
    held = listed([f"{place} holds {pack}" for place, pack in zip(map(shown, places), packs, strict=True)])
    return f"{listed(places)} must match piece for piece, and do not: {held}"


def _compared(fact: slips.ReadingFarOff, say: Speaker) -> str:
    usual = say(fact.usual)
    if fact.against == "first reading":
        return f"its first reading ({usual})"
    if fact.against == "neighbours":
        return f"its neighbours (about {usual})"
    return f"its window{' with what must be in' if fact.against == 'window and pieces' else ''} ({usual})"


def _far_off(fact: slips.ReadingFarOff, say: Speaker) -> str:
    found = f"reads {say(fact.reading)}, far from {_compared(fact, say)}"
    return f"{found}{slip_in(fact.terms)}"


def slip_in(terms: Sequence[str]) -> str:
    """Which dimension of a sum explains what it comes to, in a clause; empty where none does."""
    if not terms:
        return ""
    return f", and a slip in {shown(terms[0]) if len(terms) == 1 else f'one of {listed(terms, 4)}'} explains it"


def suspect_said(fact: slips.ReadingSuspect | slips.ReadingFarOff, say: Speaker) -> str:
    """What looks wrong about a reading, and what was probably meant, as a sentence that asks for nothing."""
    if not isinstance(fact, slips.ReadingSuspect):
        return f"{_far_off(fact, say)}."
    ratio = Fraction(fact.reading) / fact.usual
    times = f"{float(ratio):.0f} times" if ratio > 1 else f"1/{float(1 / ratio):.0f} of"
    closed_up = " closed up" if fact.against == "first reading" else ""
    start = f"reads {say(fact.reading)}{closed_up}, {times} {_compared(fact, say)}"
    if fact.how in _SLIPS:
        return f"{start}: a decimal point may have slipped; was {say(fact.meant)} meant?"
    other = f" or {say(fact.point)}" if fact.point is not None else ""
    return f"{start}: was {spelled(fact.meant, fact.how)} ({say(fact.meant)}){other} meant?"


def _effect_words(fact: Fact) -> str:
    """Where an effect's figure comes from, without a full stop; empty for other kinds."""
    match fact:
        case stated.EffectFromBevel():
            pinion, wheel = fact.teeth
            return (
                f"{_effect(fact)}, from bevel geometry ({pinion} and {wheel} teeth, {_plain(fact.angle)} degrees, "
                f"shafts at right angles, shim on the {fact.on}){_source(fact)}"
            )
        case stated.EffectFromTrial():
            if fact.low == fact.high:
                return f"{_effect(fact)}, from two readings with different packs, taken as exact{_source(fact)}"
            return (
                f"{_effect(fact)}, from two readings with different packs, which allow {_plain(fact.low)} to "
                f"{_plain(fact.high)}; the brackets and chances above carry that{_source(fact)}"
            )
        case stated.EffectFromFigure():
            start = f"{_effect(fact)}, as stated{_source(fact)}"
            if fact.computed is None:
                return start
            if fact.effect == fact.computed:
                return f"{start}; {fact.by} agrees"
            off = abs(fact.effect / fact.computed - 1) * 100 if fact.computed else Fraction(0)
            return f"{start}; {fact.by} would give {_plain(fact.computed)}, {float(off):.2g} % off"
    return ""


def _place_words(fact: Fact, say: Speaker) -> str:
    """Of places as the job states them, the question with both answers; empty for other kinds."""
    match fact:
        case stated.GearShareAsked():
            return (
                f"is the {fact.on} held between the packs at {listed(fact.places)}? Then it moves by half of each: "
                "write share = 0.5 in each. Does each move it in full, as is assumed? Then write share = 1"
            )
        case stated.GearWayAsked():
            return (
                f"more at any of {listed(fact.places)} pushes the {fact.on} out of mesh. Do the packs sit on both "
                "sides of it? Then write into_mesh = true at the one that pushes it in. Do they sit on one side? Then "
                "write into_mesh = false in each"
            )
        case stated.CrushedWasIn():
            return (
                f"was in during the reading, of {shown(fact.material)}, and is counted as {say(fact.thickness)} thick, "
                "as marked: crushed it is thinner. Measure what comes out, or read the gap again without it"
            )
        case stated.SpringWasIn():
            return (
                f"was in during the reading and is {form_words(shown(fact.form))}: it gives, and is counted as "
                f"{say(fact.thickness)} thick all the same. Read the gap again without it before it is changed"
            )
        case stated.InDoesNotSuit():
            why = finding_words(Finding(grade="stop", fact=fact.why), say)
            return f"is in and stays, and does not suit: {why}"
        case stated.InWhereNoneGoes():
            because = f" ({shown(fact.why)})" if fact.why else ""
            reads = f": {shown(fact.gap)} then reads {say.clearance(fact.low, fact.high)}" if fact.gap else ""
            return (
                f"{say.row(fact.pack)} {_is(fact.pack)} in, and no shim may lie there{because}. Is that the fixed part "
                f"itself? Then leave it out of the job. Else take it out{reads}"
            )
        case stated.MoreInThanTaken():
            return f"{say.row(fact.pack)} {_is(fact.pack)} in and stay, and at most {fact.most} may lie there"
        case stated.MoreInThanAssumed():
            return (
                f"{len(fact.pack)} pieces are in; {fact.most} are assumed where nothing says more: write most_pieces = "
                f"{len(fact.pack)} where the seat bears it"
            )
        case stated.PacksInterchanged():
            return interchanged_words(fact.balance, fact.places)
        case stated.PacksNotAlike():
            return unlike_words(fact.places, [say.row(pack) for _, pack in fact.packs])
        case stated.ToolTooCoarse():
            return (
                f"{shown(fact.fastener)}: the tool may be off by {_plain(fact.off)} % (ISO 6789), which is more than "
                f"the torque called for leaves: take one good to {_plain(fact.needed)} %"
            )
        case stated.SeatsAsked():
            return (
                f"{listed(fact.places, 3)} name no seat with sizes and share one drawer: any piece of it may be "
                "planned in any of them. Give each a seat, or `parts`, so that only what fits there is planned"
            )
    return ""


def _is(pack: Stack) -> str:
    return "is" if len(pack) == 1 else "are"


_Effect = stated.EffectFromFigure | stated.EffectFromBevel | stated.EffectFromTrial


def _effect(fact: _Effect) -> str:
    return f"effect of {shown(fact.place)} on {shown(fact.gap)}: {_plain(fact.effect)}"


def _source(fact: _Effect) -> str:
    return f", from {shown(fact.source)}" if fact.source else ""


def _plain(number: Fraction) -> str:
    """An effect as people read it: a decimal where it is one, else a fraction."""
    rounded = round(number, 6)
    if rounded != number:
        return f"{number.numerator}/{number.denominator}"
    return as_decimal(number, 6)
