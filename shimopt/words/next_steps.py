"""What to do next: what comes before the work, what would change the answer, what finishes the job."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from shimopt.arithmetic import thickness_of
from shimopt.arithmetic.needed import needed
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import BeyondParts, ReadsAsNothing, TooTightWithThinnest
from shimopt.reasons.job_facts import BLIND, PacksInterchanged, SeatsAsked
from shimopt.reasons.kept_back import EvenIfOpened, OpenedToo
from shimopt.reasons.shared_reasons import NoPlaceMoves, NoStacksForAll, NotWithin
from shimopt.seats.finding import Fact, Lack
from shimopt.seats.stack_facts import NotChecked
from shimopt.words.buying_steps import buying_first, of_buying
from shimopt.words.customer_words import to_settle
from shimopt.words.doubt_words import doubted, measured_steps, suspects
from shimopt.words.first_words import (
    blind_gaps,
    fighting,
    first_steps,
    made_worse,
    open_gaps,
    read_with_spring,
)
from shimopt.words.found_words import (
    find_out_first,
    found_steps,
    left_as_set,
    looked_at_before_closing,
    not_read_since,
)
from shimopt.words.last_steps import has_to_hold, last_steps, only_then, right_beside, since_fitted, surer_first
from shimopt.words.outside_words import SO_FAR, left_by_cut_off
from shimopt.words.read_steps import gauged, otherwise_read
from shimopt.words.reading_worth_words import rather_pulled
from shimopt.words.shortfall_words import fuller_steps, one_more_steps
from shimopt.words.size_words import size_of, size_text, size_to_get, size_wanted
from shimopt.words.speaker import Speaker, begun, listed
from shimopt.words.stock_words import held_words
from shimopt.words.trial_words import not_as_in_service, read_with_play
from shimopt.words.ways_out_words import less_sure_words, opened_words

_NEEDS_A_SIZE = {
    "all_elsewhere",
    "not_thick_enough",
    "no_size_between",
    "too_tight_with_thinnest",
    "nothing_suits",
    "nothing_on_hand",
    "drawer_ran_out",
}
# what comes before any shim, by what keeps gaps outside
_FIRST = {
    ("below_window", "above_window"): "Look at reading and seating of {} first: no shim helps there.",
    ("shims_not_allowed",): "Restore the dimension that sets {}: see above by how much.",
}
_PLAN_AGAIN = f"Plan again with more time, or more steps: not all was tried {SO_FAR}."
_MOST_SIZES = 4
MOST_ROWS = 40  # of so many gaps each has a row on the short screen
MAKERS = "The machine maker's data come first."


def next_steps(decision: Decision, say: Speaker, *, whole: bool = True) -> list[str]:
    """Sentences that say what would change the answer or finish the job.

    Not `whole` leaves out what the short screen says elsewhere: which readings are measured again in its first lines,
    sizes beside the gaps where something is on offer.
    """
    job = decision.job
    held = [held_words(one, job.title) for one in decision.remedies.held]
    again = [_PLAN_AGAIN] if left_by_cut_off(decision) else []
    steps = [*again, *found_steps(decision, say, whole=whole), *first_steps(decision), *held]
    steps += measured_steps(decision, named=whole)
    if covers := not_as_in_service(decision, tightened=True):
        steps.append(f"Read {listed(covers, 4)} again with the cover only nipped.")
    if trial := not_as_in_service(decision):
        how_far = "it may move" if len(trial) == 1 else "each may move"
        steps.append(f"Read {listed(trial, 4)} again as in service, or state how far {how_far} (`shift`).")
    steps += [_answer_first(one.place) for one in decision.findings if to_settle(one)]
    # what has to be measured again sets nothing yet
    play = [(name, other) for name, other in read_with_play(decision) if other not in doubted(decision)]
    unlikely = [r.about for r in decision.reasons if isinstance(r, TooTightWithThinnest) and r.doubtful]
    if unlikely:
        sizes = [(name, size_of(job, job.gap[name])) for name in unlikely[:4]]
        needs = [f"{shown(name)} needs {size_text(size, say)}" for name, size in sizes if size is not None]
        stands = f": if it stands, {listed(needs)}" if needs else ""
        steps.append(f"Read {listed(unlikely, 4)} again before you buy anything{stands}.")
    read_first = _doubted(decision)
    for codes, what in _FIRST.items():
        if names := [r.about for r in decision.reasons if r.code in codes and r.about not in read_first]:
            steps.append(what.format(listed(names, 4)))
    # the short screen has readings that look like slips in its first lines, and this among its cautions
    steps += _before_anything(decision, say) if whole or not suspects(decision) else []
    for fight in fighting(decision):
        all_of = f"both {listed(fight)} right" if len(fight) == 2 else f"all of {listed(fight, 4)} right"
        if whole or decision.changes.nothing:
            steps.append(f"No shim makes {all_of}: look at their windows and readings before anything is fitted.")
        else:
            # the first line says that they cannot both hold
            steps.append(f"Look at windows and readings of {listed(fight, 4)} before anything is fitted.")
    if worse := made_worse(decision):
        steps.append(
            f"What is listed makes {listed(worse, 4)} worse: look at windows and readings, and see which other sizes "
            f"can be had, before anything is fitted{has_to_hold(decision, worse)}."
        )
    if play and not decision.outcome.doable and not find_out_first(decision):
        waits = {*worse, *(name for fight in fighting(decision) for name in fight)}
        steps += [only_then(words, waits) for words in last_steps(decision, play, whole=whole)]
    if bare := [r.about for r in decision.reasons if isinstance(r, NoPlaceMoves) and r.off]:
        steps.append(f"No place moves {listed(bare, 4)}: write a [[place]] of the same name in the job, or `effects`.")
    opened = _opened(decision)
    for places in dict.fromkeys(reason.names for reason in opened.values()):
        steps.append(f"Write keep = false at {listed(places)} and plan again: changed too, {_comes(opened, places)}.")
    steps += _evened(decision, say)
    short = _short_of_size(decision)
    on_offer = not decision.buy and any(line.offers for line in job.stock)
    if whole or not on_offer:
        wanted = size_wanted if whole else size_to_get
        if len(short) > _MOST_SIZES and not whole:
            # they have it in their rows, of very many the first
            where = "shimopt plan JOB --full says which" if len(job.gaps) > MOST_ROWS else "see above which"
            steps.append(f"{len(short)} gaps lack a size: {where}.")
        else:
            steps += filter(None, (wanted(job, job.gap[name], say) for name in short[:_MOST_SIZES]))
            if len(short) > _MOST_SIZES:
                steps.append(f"{len(short) - _MOST_SIZES} more gaps lack a size: see above which.")
    steps += _totals_wanted(decision, say)
    unproven = any(found.verdict == "unproven" for found in decision.outcome.gaps.values())
    unmet = [r.about for r in decision.reasons if isinstance(r, NotWithin)]
    unmet = [b.name for b in job.balances if b.name in unmet and any(job.takes_shims(g) for g in job.gaps_behind(b))]
    # of places that act together nothing says how thick one has to be, but it was tried
    if (short or unproven or unmet or decision.remedies.bought) and on_offer and not find_out_first(decision):
        steps += of_buying(
            decision, [*short, *(n for n, g in decision.outcome.gaps.items() if g.verdict == "unproven")]
        )
    steps += [*fuller_steps(decision, say), *_to_be_sure(decision, say)]
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if outside and not steps and not suspects(decision):
        steps.append(f"Read {listed(outside, 4)} again, and see which other sizes can be had: nothing here helps.")
    steps += _sure_by_size(decision, say, opened)
    steps += one_more_steps(decision, unmet)
    if not find_out_first(decision):
        steps += since_fitted(decision)
    if whole and bores_to_measure(decision):
        steps.append("Measure the bores and shafts that were not checked, and write them down.")
    steps += buying_first(decision)
    if decision.outcome.doable and not find_out_first(decision):
        others = (open_gaps(decision) - {gap for gap, _ in play}) | {*looked_at_before_closing(decision)}
        makers = f" {MAKERS}" if whole else ""
        steps += [only_then(f"{words}{makers}", others) for words in last_steps(decision, play, whole=whole)]
    elif surer_first(decision) and not find_out_first(decision):
        steps += [only_then(words, steps) for words in last_steps(decision, [], whole=whole)]
    return list(dict.fromkeys([*steps, *right_beside(decision), *_turned(decision)]))


def steps_said_above(decision: Decision) -> list[str]:
    """The steps that the first lines of a plan have said already."""
    asked = [one.place for one in decision.findings if to_settle(one)]
    return [*first_steps(decision), *map(_answer_first, asked)]


def surer_steps(decision: Decision, say: Speaker) -> list[str]:
    """The steps that make surer what is inside by its best estimate."""
    return [*fuller_steps(decision, say), *_to_be_sure(decision, say), *_sure_by_size(decision, say, _opened(decision))]


def _answer_first(asked: str) -> str:
    return f"Answer the question about {shown(asked)} in the job before anything is fitted."


def _before_anything(decision: Decision, say: Speaker) -> list[str]:
    """How gaps are read that are outside by a reading of nothing."""
    nothing = [reason.about for reason in decision.reasons if isinstance(reason, ReadsAsNothing)]
    blind = [one.place for one in decision.findings if isinstance(one.fact, BLIND)]
    nothing += [name for name in blind if decision.outcome.gaps[name].verdict == "outside" and name not in nothing]
    steps = otherwise_read(decision.job, nothing, say)
    return [f"{begun(step)}: before anything is done there." for step in steps]


def seats_asked(decision: Decision) -> set[str]:
    """The places for which a seat is asked for already."""
    return {place for one in decision.findings if isinstance(one.fact, SeatsAsked) for place in one.fact.places}


def lacks_bore(fact: Fact, *lacking: Lack) -> bool:
    """Whether the bore could not be checked at a place, for want of any of these, or of anything."""
    missing = fact.missing if isinstance(fact, NotChecked) else ()
    return any(one.rule == "bore" and (not lacking or one.what in lacking) for one in missing)


def bores_to_measure(decision: Decision) -> bool:
    """Whether a bore was not checked that matters: no flat shim under a cover, no place whose seat is asked for."""
    moved, asked = decision.job.moved_by, seats_asked(decision)
    places = [one.place for one in decision.findings if lacks_bore(one.fact) and one.place not in asked]
    return any(not all(gap.reading.opens for gap in moved[place]) for place in places)


def sizes_wanted(decision: Decision, say: Speaker) -> dict[str, str]:
    """By gap that lacks a size, which thickness of shim would do: `21 to 24 thou`, `6 thou or more`, or which stack."""
    job = decision.job
    sizes = {name: size_of(job, job.gap[name]) for name in _short_of_size(decision)}
    return {name: size_text(size, say) for name, size in sizes.items() if size is not None}


def _doubted(decision: Decision) -> set[str]:
    """Gaps of which the reading comes before any size."""
    names = {*doubted(decision), *find_out_first(decision)}
    names |= {r.about for r in decision.reasons if isinstance(r, BeyondParts) and r.searched}
    return names | {r.about for r in decision.reasons if isinstance(r, TooTightWithThinnest) and r.doubtful}


def _opened(decision: Decision) -> dict[str, OpenedToo]:
    return {reason.about: reason for reason in decision.reasons if isinstance(reason, OpenedToo)}


def _short_of_size(decision: Decision) -> list[str]:
    """Gaps that a size would bring inside which nobody has."""
    job, settled = decision.job, {*_doubted(decision), *_opened(decision), *open_gaps(decision)}
    short = [r.about for r in decision.reasons if r.code in _NEEDS_A_SIZE and r.about not in settled]
    # one place alone moves it, though that moves others too
    return short + [
        name
        for r in decision.reasons
        if isinstance(r, NoStacksForAll)
        for name in r.names
        if len(r.names) == 1 and len(job.gap[name].effects) == 1 and name not in settled
    ]


def _sure_by_size(decision: Decision, say: Speaker, opened: Mapping[str, OpenedToo]) -> list[str]:
    """Which size would be sure, of gaps that nothing makes sure with what is planned."""
    tried, job = decision.remedies, decision.job
    helped = {
        *tried.finer,
        *tried.measured,
        *tried.both,
        *tried.effects,
        *tried.final,
        *tried.more,
        *opened,
        *not_read_since(decision),
    }
    # of what may be tight already nobody knows that it needs anything
    hidden = [gap.name for gap in job.gaps if gap.may_be_tight]
    left = [
        name
        for name, found in decision.outcome.gaps.items()
        if found.verdict == "unproven" and name not in helped and name not in hidden
    ]
    wanted = [job.gap[n] for n in left if job.takes_shims(n) and needed(job, job.gap[n]) is not None]
    return [size_wanted(job, gap, say) for gap in wanted[:_MOST_SIZES]]


def _turned(decision: Decision) -> list[str]:
    """What tells of a preload that is not surely right by its length: how it turns, where that is stated."""
    gaps = [decision.job.gap[name] for name, found in decision.outcome.gaps.items() if found.verdict == "unproven"]
    return [
        f"Turn {shown(gap.name)} once it is fitted: its running torque ({shown(str(gap.running))}) tells whether it is "
        "right."
        for gap in gaps[:_MOST_SIZES]
        if gap.window.wants_preload and gap.running is not None and gap.name not in left_as_set(decision)
    ]


def _totals_wanted(decision: Decision, say: Speaker) -> list[str]:
    """How much shim in all a gap needs that several places move alike, where no stacks that can be had do it."""
    job, said = decision.job, []
    for reason in decision.reasons:
        if not isinstance(reason, NoStacksForAll) or len(reason.names) > 1:
            continue
        gap = job.gap[reason.about]
        if len(gap.effects) < 2 or gap.window.min is None or gap.window.max is None or gap.name in doubted(decision):
            continue
        effects, places = {effect for _, effect in gap.effects}, [place for place, _ in gap.effects]
        if len(effects) == 1 and (effect := effects.pop()):
            held = sum((thickness_of(job.place[name].installed, job.stock).best for name in places), Fraction(0))
            ends = [held + (end - gap.reading.bracket.best) / effect for end in (gap.window.min, gap.window.max)]
            least, most = max(min(ends), Fraction(0)), max(ends)
            if most <= 0:
                continue
            where = f"{', alike' if reason.alike else ''} at {listed(places)}"
            said.append(f"{shown(gap.name)} needs {say.bracket(least, most)} of shim in all{where}.")
    return said


def _evened(decision: Decision, say: Speaker) -> list[str]:
    """Which places to open too, that a balance comes within what is asked; not where its packs are to be exchanged."""
    other_way = {one.fact.balance for one in decision.findings if isinstance(one.fact, PacksInterchanged)}
    return [
        f"Write keep = false at {listed(one.names)} and plan again: changed too, {shown(one.about)} is even to "
        f"{say(one.spread)}{less_sure_words(one)}."
        for one in decision.reasons
        if isinstance(one, EvenIfOpened) and one.about not in other_way
    ]


def _comes(opened: Mapping[str, OpenedToo], places: tuple[str, ...]) -> str:
    """What comes of it where these places are opened too."""
    served = [name for name, reason in opened.items() if reason.names == places]
    how = {opened_words(opened[name]) for name in served}
    comes = f"{listed(served, 4)} {'comes' if len(served) == 1 else 'come'} {how.pop() if len(how) == 1 else 'inside'}"
    return f"{comes}{less_sure_words(opened[served[0]])}"


def _to_be_sure(decision: Decision, say: Speaker) -> list[str]:
    """What would tell for certain of gaps that are inside by their best estimate: each was tried."""
    first = {*read_with_spring(decision), *doubted(decision), *find_out_first(decision)}
    tried, again = decision.remedies, first
    finer, both = gauged(decision.job, tried.finer), gauged(decision.job, tried.both)
    others = [name for name in (*tried.finer, *tried.both) if name not in (*finer, *both)]
    # what hides in a reading of nothing is looked for, however surely it would else be inside
    others += [name for name in blind_gaps(decision) if name not in others]
    steps = [f"{begun(step)}." for step in otherwise_read(decision.job, others, say)]
    measured = [*tried.measured, *(name for name in tried.both if name not in both)]
    wanting: dict[int, list[str]] = {}
    for name, line in tried.more.items():
        if name not in again:
            wanting.setdefault(line, []).append(name)
    # each was tried by itself
    if len(wanting) > _MOST_SIZES - 2:
        parts = [f"{shown(decision.job.stock[line].part.name)} (one of {len(of)})" for line, of in wanting.items()]
        steps.append(f"One more piece would make one gap sure: {', '.join(parts)}.")
    else:
        for line, of in wanting.items():
            which = shown(of[0]) if len(of) == 1 else f"one of {listed(of, 4)}"
            steps.append(f"One more {shown(decision.job.stock[line].part.name)} would make {which} sure.")
    pulled = rather_pulled(decision, finer)
    finer = [name for name in finer if name not in pulled]
    either = [name for name in finer if name in measured]
    for names, what in (
        (pulled, "Read {} again with the same dial, three more pulls: that tells as much as a finer one."),
        (either, "Read {} with a finer gauge, or measure the pieces with a micrometer."),
        ([name for name in finer if name not in either], "Read {} with a finer gauge."),
        (tried.final, "Read {} again in the final assembly, as finely as can be: `shift` counts until then."),
        (tried.settled, "Read in the final assembly already? Write shift = 0 at {}: by that sure."),
        ([name for name in measured if name not in either], "Measure the pieces of {} with a micrometer."),
        (both, "Read {} with a finer gauge, and measure the pieces with a micrometer."),
        (
            tried.effects,
            "Take the trial readings of {} again, further apart: how far a shim moves it is not well known.",
        ),
    ):
        # what is read again without what gave way comes first, and tells more than any gauge
        if told := [name for name in names if name not in again]:
            steps.append(what.format(listed(told, 4)))
    return steps
