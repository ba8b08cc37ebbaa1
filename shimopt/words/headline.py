"""The one sentence that answers, where the plan starts, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.needed import aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job, clusters_of
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import BeyondParts, TooTightWithThinnest
from shimopt.reasons.kept import OpenedToo
from shimopt.reasons.shared_reasons import NoStacksForAll, NotWithin, WindowsFight
from shimopt.words.change_words import job_words
from shimopt.words.digits import with_digits
from shimopt.words.first_words import first_steps, in_and_hidden, suspects, unsettled
from shimopt.words.found_words import as_read_now, find_out_first, found_first_words, found_steps, not_read_since
from shimopt.words.level_words import not_ruled_out
from shimopt.words.outside_words import kept_by_others, misses_as_found, outside_then, spoiled
from shimopt.words.reading_words import basis_text
from shimopt.words.running_words import recorded_torques
from shimopt.words.speaker import Speaker, begun, listed, plural, stack_wanted
from shimopt.words.trial_words import trial_doubt
from shimopt.words.ways_out_words import opened_words

__all__ = ["headline", "next_steps", "start_words"]

_NO_DRAWER_COULD = {"shims_not_allowed", "below_window", "above_window", "read_again_first"}


def headline(decision: Decision, say: Speaker) -> str:
    """What was found outside; can it be done, and with what, or what stands in the way; what is not ruled out."""
    found = found_first_words(decision, say)
    doubt = trial_doubt(decision)
    buts = [f"But {doubt}"] if doubt else []
    if again := suspects(decision):
        buts.append(f"But measure {listed(again, 3)} again before anything is fitted.")
    said = (
        found,
        *in_and_hidden(decision, say),
        as_read_now(decision, _answer(decision, say)),
        *buts,
        _asked(decision),
        not_ruled_out(decision.levels, say),
    )
    return " ".join(filter(None, said))


def _asked(decision: Decision) -> str:
    """What has to be answered before the plan can be relied on."""
    asked = list(dict.fromkeys(one.place for one in decision.findings if one.code in _ASKED))
    if not asked:
        return ""
    return f"But how far the packs move {listed(asked, 3)} is assumed: answer the question below before you fit them."


def _only_probably(names: Sequence[str]) -> str:
    return f"{'is' if len(names) == 1 else 'are'} only probably inside"


def _answer(decision: Decision, say: Speaker) -> str:
    who = "Drawer and purchase" if decision.buy else "The drawer"
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if outside:
        return f"{_what_stands_in_the_way(decision, outside, who)}: {_misses(decision, outside, say)}."
    changes, what = decision.changes, job_words(decision, say)
    unproven = [name for name, found in decision.outcome.gaps.items() if found.verdict == "unproven"]
    unmet = [name for name, found in decision.outcome.balances.items() if found.met is False]
    if hidden := [name for name in unproven if decision.job.gap[name].may_be_tight]:
        others = [name for name in unproven if name not in hidden]
        more = f"; {listed(others, 3)} {_only_probably(others)}" if others else ""
        return f"If {listed(hidden, 3)} {'is' if len(hidden) == 1 else 'are'} not tight already: {what}{more}."
    if unproven or unmet:
        unread = set(unproven) <= {*not_read_since(decision)}
        why = ", not read since it was fitted" if unread else ""
        but = [f"{listed(unproven, 3)} {_only_probably(unproven)}{why}"] if unproven else []
        but += [f"{listed(unmet, 3)} {'stays' if len(unmet) == 1 else 'stay'} more uneven than asked"] if unmet else []
        return f"Every gap is inside by its best estimate ({what}), but {' and '.join(but)}."
    if changes.nothing:
        are = _all_gaps(len(decision.outcome.gaps))
        if calculated := not_read_since(decision):
            of_these = f", {listed(calculated, 3)}" if len(calculated) < len(decision.outcome.gaps) else ""
            return f"Nothing to fit: {are} inside{of_these} by calculation only."
        return f"Nothing to fit: {are} inside as read."
    if changes.opened or changes.left:
        return _at_the_machine(decision, say)
    open_still = unsettled(decision) and not find_out_first(decision)
    fit = _fitting(decision, say)
    return f"As it is read: {fit}" if open_still else begun(fit)


def _fitting(decision: Decision, say: Speaker) -> str:
    """What goes into places in which nothing was, how many stay empty, and that all comes inside."""
    changed = [change for change in decision.changes if change.changed]
    others = len(decision.changes.at) - len(changed)
    if len(changed) == 1:
        fit = f"fit {_into(changed[0], say)} at {shown(changed[0].place)}"
        left = f", leave {plural(others, 'place')} alone" if others else ""
    else:
        fit = f"fit {plural(len(decision.changes.going_in()), 'piece')} in {len(changed)} places"
        left = f", leave {others} alone" if others else ""
    gaps = len(decision.outcome.gaps)
    come = {1: "the gap comes", 2: "both gaps come"}.get(gaps, f"all {gaps} gaps come")
    return f"{fit}{left}: {come} inside{_purchase(decision, say)}."


def _into(change: PlaceChange, say: Speaker) -> str:
    return say.stack(tuple(piece.line for piece in change.into), change.place)


def _at_the_machine(decision: Decision, say: Speaker) -> str:
    """What is to be done where pieces were in, and what becomes of it."""
    changed, all_gaps = [change for change in decision.changes if change.changed], decision.job.gaps
    moved = {gap.name: gap for change in changed for gap in decision.job.moved_by[change.place]}
    told = next(iter(moved.values())) if len(changed) == len(moved) == 1 else None
    then = ""
    if told is not None and not told.reading.opens:
        about = with_digits(say, decision).about(told)
        read, after = about.as_read(told.reading.bracket), about.as_after(decision.outcome.gaps[told.name].after)
        then = f": {about.bare.clearance(read.low, read.high)} becomes {about.clearance(after.low, after.high)}"
    said = f"{begun(job_words(decision, say, then))}."
    if not then or len(all_gaps) > 1:
        said += f" Then {_all_gaps(len(all_gaps))} inside."
    bought, cost = sum(decision.outcome.to_buy.values()), decision.cost
    return f"{said} To buy: {say.money(cost)}." if bought and cost is not None else said


def _what_stands_in_the_way(decision: Decision, outside: list[str], who: str) -> str:
    codes: dict[str, set[str]] = {name: set() for name in outside}
    for reason in decision.reasons:
        if reason.about in codes:
            codes[reason.about].add(reason.code)
    if all(codes[name] & _NO_DRAWER_COULD for name in outside):
        return "No shim can do it"
    fights = [reason.names for reason in decision.reasons if isinstance(reason, WindowsFight) and len(reason.names) > 1]
    if fights and set(outside) <= {name for names in fights for name in names}:
        all_of = "both" if len(fights) == 1 and len(fights[0]) == 2 else "all"
        return f"The windows of {' and of '.join(listed(names, 3) for names in fights)} cannot {all_of} hold"
    if any(codes[name] & {"left_by_priority", "left_together_by_priority"} for name in outside):
        return "The job's own priority leaves gaps outside"
    if kept := kept_by_others(decision, outside):
        return f"Not all come right while {listed(kept, 3)} {'keeps' if len(kept) == 1 else 'keep'} what is in"
    if not all(found.proven for found in decision.levels if found.name == "outside"):
        return "No way was found before the search stopped"
    if not any(decision.job.there) and not decision.buy:
        return "A shim is needed, and the drawer is empty"
    return f"{who} cannot do it"


def _all_gaps(count: int) -> str:
    return {1: "the gap is", 2: "both gaps are"}.get(count, f"all {count} gaps are")


def _misses(decision: Decision, outside: list[str], say: Speaker) -> str:
    said, taken_out = [], spoiled(decision)
    for name in outside[:2]:
        found, gap, near = decision.outcome.gaps[name], decision.job.gap[name], decision.nearest.get(name)
        before = f" ({misses_as_found(taken_out[name], say)})" if name in taken_out else ""
        stays = f"{shown(name)} {outside_then(decision, gap, say)}{before}"
        if near is not None and near.off and near.off != found.off:
            stays += f" (the best that is left would still miss by {say(near.off)})"
        said.append(stays)
    if len(outside) > 2:
        said.append("1 more is outside" if len(outside) == 3 else f"{len(outside) - 2} more are outside")
    return " and ".join(said) if len(said) < 3 else f"{', '.join(said[:-1])}, and {said[-1]}"


def _purchase(decision: Decision, say: Speaker) -> str:
    bought = sum(decision.outcome.to_buy.values())
    if not bought:
        return ", nothing to buy" if decision.buy else ""
    cost = decision.cost
    price = "" if cost is None else f" for {say.money(cost)}"
    return f", {bought} of them to buy{price}"


def start_words(job: Job) -> str:
    """Where the plan starts, if not from the first readings."""
    if not job.records:
        return ""
    last = job.records[-1]
    who = f" by {shown(last.person)}" if last.person else ""
    start = f"Starts from what was recorded on {shown(last.date[:10])}{who}; --from-start passes over it."
    return start + recorded_torques(job)


_NEEDS_A_SIZE = {
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
_MOST_SIZES = 4
_MOST_AGAIN = 4
_ASKED = ("gear_share_asked", "gear_way_asked")
_SUSPECT = ("reading_suspect", "reading_far_off")


def next_steps(decision: Decision, say: Speaker) -> list[str]:
    """Sentences that say what would change the answer or finish the job."""
    again = [finding.place for finding in decision.findings if finding.code in (*_SUSPECT, "spots_tilted")]
    again = list(dict.fromkeys(again))
    steps = first_steps(decision)
    steps += [f"Measure {shown(name)} again before you fit or buy anything." for name in again[:_MOST_AGAIN]]
    if len(again) > _MOST_AGAIN:
        steps.append(f"{len(again) - _MOST_AGAIN} more gaps want measuring again too: see above.")
    asked = [shown(finding.place) for finding in decision.findings if finding.code in _ASKED]
    steps = [*found_steps(decision), *steps]
    steps += [f"Answer the question about {name} in the job before anything is fitted." for name in asked]
    job = decision.job
    doubted = {finding.place for finding in decision.findings if finding.code in _SUSPECT}
    # why it reads so comes before any size
    doubted |= {*find_out_first(decision)}
    doubted |= {r.about for r in decision.reasons if isinstance(r, BeyondParts) and r.searched}
    unlikely = [r.about for r in decision.reasons if isinstance(r, TooTightWithThinnest) and r.doubtful]
    doubted |= set(unlikely)
    if unlikely:
        steps.append(f"Read {listed(unlikely, 4)} again before you buy anything.")
    for codes, what in _FIRST.items():
        if names := [r.about for r in decision.reasons if r.code in codes and r.about not in doubted]:
            steps.append(what.format(listed(names, 4)))
    opened = {r.about: r for r in decision.reasons if isinstance(r, OpenedToo)}
    for places in dict.fromkeys(reason.names for reason in opened.values()):
        steps.append(f"Write keep = false at {listed(places)} and plan again: changed too, {_comes(opened, places)}.")
    settled = {*doubted, *opened}
    short = [r.about for r in decision.reasons if r.code in _NEEDS_A_SIZE and r.about not in settled]
    # one place alone moves it, though that moves others too
    short += [
        name
        for r in decision.reasons
        if isinstance(r, NoStacksForAll)
        for name in r.names
        if len(r.names) == 1 and len(job.gap[name].effects) == 1 and name not in settled
    ]
    steps += filter(None, (_size_wanted(job, job.gap[name], say) for name in short[:_MOST_SIZES]))
    if len(short) > _MOST_SIZES:
        steps.append(f"{len(short) - _MOST_SIZES} more gaps lack a size: see what they need above.")
    unproven = any(found.verdict == "unproven" for found in decision.outcome.gaps.values())
    unmet = [r.about for r in decision.reasons if isinstance(r, NotWithin)]
    unmet = [
        b.name for b in job.balances if b.name in unmet and any(_takes_shims(job.gap[g]) for g in job.gaps_behind(b))
    ]
    if (
        (short or unproven or unmet)
        and not decision.buy
        and not find_out_first(decision)
        and any(line.offers for line in job.stock)
    ):
        steps += _of_buying(
            decision, [*short, *(n for n, g in decision.outcome.gaps.items() if g.verdict == "unproven")]
        )
    steps += _to_be_sure(decision)
    steps += _sure_by_size(decision, say, opened)
    if more := [name for name in unmet if name in decision.remedies.one_more]:
        within = f"would bring {listed(more, 4)} within: allow it only where the seat bears it."
        steps.append(f"One piece more in a place than is allowed now {within}")
    if (calculated := not_read_since(decision)) and not find_out_first(decision):
        steps.append(f"Read {listed(calculated, 4)}: nobody has since it was fitted.")
    if decision.screening.bores_unchecked:
        steps.append("Measure the bores and shafts that were not checked, and write them down.")
    if decision.outcome.doable and not find_out_first(decision):
        fit = _work(decision)
        fit = f"Only then: {fit[:1].lower()}{fit[1:]}" if unsettled(decision) else fit
        steps.append(f"{fit} measure again in the final assembly. The machine maker's data come first.")
    return list(dict.fromkeys(steps))


def _sure_by_size(decision: Decision, say: Speaker, opened: Mapping[str, OpenedToo]) -> list[str]:
    """Which size would be sure, of gaps that nothing makes sure with what is planned."""
    tried, job = decision.remedies, decision.job
    helped = {*tried.finer, *tried.measured, *tried.both, *tried.effects, *opened, *not_read_since(decision)}
    # of what may be tight already nobody knows that it needs anything
    hidden = [gap.name for gap in job.gaps if gap.may_be_tight]
    left = [
        name
        for name, found in decision.outcome.gaps.items()
        if found.verdict == "unproven" and name not in helped and name not in hidden
    ]
    wanted = [job.gap[n] for n in left if _takes_shims(job.gap[n]) and needed(job, job.gap[n]) is not None]
    return [_size_wanted(job, gap, say) for gap in wanted[:_MOST_SIZES]]


def _comes(opened: Mapping[str, OpenedToo], places: tuple[str, ...]) -> str:
    """What comes of it where these places are opened too."""
    served = [name for name, reason in opened.items() if reason.names == places]
    how = {opened_words(opened[name]) for name in served}
    return f"{listed(served, 4)} {'comes' if len(served) == 1 else 'come'} {how.pop() if len(how) == 1 else 'inside'}"


def _of_buying(decision: Decision, gaps: Sequence[str]) -> list[str]:
    """What the catalogues do for it, where that was tried; a job too large for that is worth trying.

    One order covers all that the final readings may be; where places act together, or only balances want more, all
    stacks are chosen anew.
    """
    alone = {name for cluster in clusters_of(decision.job) if cluster.alone for name in cluster.gaps}
    ask = "shimopt order JOB" if gaps and alone.issuperset(gaps) else "shimopt plan JOB --buy"
    match decision.remedies.bought:
        case True:
            return [f"What the catalogues offer makes it better: {ask}"]
        case False:
            return []
    return [f"See whether the catalogues offer what serves: {ask}"]


def _to_be_sure(decision: Decision) -> list[str]:
    """What would tell for certain of gaps that are inside by their best estimate: each was tried."""
    tried, steps = decision.remedies, []
    either = [name for name in tried.finer if name in tried.measured]
    for names, what in (
        (either, "Read {} with a finer gauge, or measure the pieces with a micrometer."),
        ([name for name in tried.finer if name not in either], "Read {} with a finer gauge."),
        ([name for name in tried.measured if name not in either], "Measure the pieces of {} with a micrometer."),
        (tried.both, "Read {} with a finer gauge, and measure the pieces with a micrometer."),
        (
            tried.effects,
            "Take the trial readings of {} again, further apart: how far a shim moves it is not well known.",
        ),
    ):
        if names:
            steps.append(what.format(listed(names, 4)))
    return steps


def _work(decision: Decision) -> str:
    changes = decision.changes
    if changes.nothing:
        return "Leave it as it is;"
    if not changes.going_in():
        return "Take out what is listed, then"
    return "Change what is listed, then" if changes.opened else "Fit the stacks as listed, then"


def _takes_shims(gap: Gap) -> bool:
    return gap.seat is None or gap.seat.shims_allowed


def _size_wanted(job: Job, gap: Gap, say: Speaker) -> str:
    span, sure = needed(job, gap), True
    if span is None or span.most == 0:
        span, sure = aimed(job, gap), False
    if span is None:
        return ""
    likely = basis_text(gap, plain=True)
    end = (likely or " to be sure") if sure else ""
    places = [place for place, _ in gap.effects if place != gap.name]
    end = f" at {listed(places)}{end}" if places else end
    size = f"{say(span.least)} or more" if span.most is None else say.bracket(span.least, span.most)
    fewest = max((job.place[place].fewest_pieces for place, _ in gap.effects), default=0)
    if fewest > 1:
        return f"{shown(gap.name)} needs {stack_wanted(fewest, size)}{end}; each piece has to suit."
    if span.most is None:
        return f"{shown(gap.name)} needs {say(span.least)} of shim or more that suits{end}."
    return f"{shown(gap.name)} needs {say.bracket(span.least, span.most)} of shim that suits{end}."
