"""The one sentence that answers, and where the plan starts."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.arithmetic.changes import PlaceChange
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import NotThickEnough
from shimopt.reasons.shared_reasons import TogetherNearest, WindowsFight
from shimopt.words.change_words import job_words, named_places
from shimopt.words.choice_words import senders
from shimopt.words.customer_words import to_settle
from shimopt.words.digits import few_digits, with_digits
from shimopt.words.done_words import all_fitted
from shimopt.words.doubt_words import measured_first
from shimopt.words.first_words import (
    blind_buts,
    in_and_hidden,
    nothing_yet_words,
    open_gaps,
    read_again,
    unanswered,
    unsettled,
    with_buts,
)
from shimopt.words.found_words import as_read_now, find_out_first, found_first_words, left_as_set, not_read_since
from shimopt.words.level_words import not_ruled_out
from shimopt.words.outside_words import SO_FAR, kept_by_others, misses_as_found, outside_then, spoiled
from shimopt.words.record_words import recorded_torques
from shimopt.words.shortfall_words import flat_words, read_again_then, rubbed, rubbed_words, too_few
from shimopt.words.speaker import Speaker, begun, listed, loose_or_tight, plural, probably
from shimopt.words.trial_words import trial_doubt

_TWO, _LONGEST_NAMED = 2, 60
_NO_DRAWER_COULD = {"shims_not_allowed", "below_window", "above_window", "read_again_first", "reads_as_nothing"}


def headline(decision: Decision, say: Speaker) -> str:
    """What was found outside; can it be done, and with what, or what stands in the way; what is not ruled out."""
    return " ".join(headlines(decision, say))


def headlines(decision: Decision, say: Speaker) -> list[str]:
    """The same, what stands before the work and the answer each by itself."""
    doubt = trial_doubt(decision, whole=False)
    buts = [
        *([doubt] if doubt else []),
        *too_few(decision, say),
        # what is set first is a step to take, where nothing is fitted yet
        *([] if nothing_yet_words(decision)[1] else read_again_then(decision)),
        *(f"{one}." for one in rubbed_words(rubbed(decision), say)),
    ]
    buts += [f"this holds only if {flat}: it is a spring." for flat in flat_words(decision, say)]
    buts += [*blind_buts(decision), *_asked(decision)]
    answer = as_read_now(decision, _answer(decision, say))
    if measured_first(decision) and not any(found.verdict == "outside" for found in decision.outcome.gaps.values()):
        answer = _if_so(answer)
    said = (
        found_first_words(decision, say),
        *in_and_hidden(decision, say),
        *measured_first(decision),
        " ".join(filter(None, (with_buts(answer, buts), not_ruled_out(decision.levels, say)))),
    )
    return list(filter(None, said))


def _asked(decision: Decision) -> list[str]:
    """What has to be answered before the plan can be relied on."""
    asked = list(dict.fromkeys(one.place for one in decision.findings if to_settle(one)))
    if not asked:
        return []
    then = "before it runs" if all_fitted(decision) else "before you fit anything"
    return [f"how the packs move {listed(asked, 3)} is assumed: answer the question below {then}."]


def _only_probably(decision: Decision, names: Sequence[str]) -> str:
    """`a is perhaps and b is only probably inside`: of gaps that are so by best estimate, and may be out."""
    unlikely = [name for name in names if probably(decision.outcome.gaps[name].chance) == "perhaps"]
    kinds = {"perhaps": unlikely, "only probably": [name for name in names if name not in unlikely]}
    told = [
        f"{listed(of_kind, 3)} {'are' if len(of_kind) > 1 else 'is'} {how}" for how, of_kind in kinds.items() if of_kind
    ]
    return f"{' and '.join(told)} inside"


def _answer(decision: Decision, say: Speaker) -> str:
    who = "Drawer and purchase" if decision.buy else "The drawer"
    gaps = decision.outcome.gaps
    outside = [name for name, found in gaps.items() if found.verdict == "outside"]
    if {*outside} & (open_ := unanswered(decision)):
        which, misses = listed([name for name in outside if name in open_], 3), _misses(decision, outside, say)
        return f"Whether {which} can come right is not known before a question is answered: as assumed {misses}."
    if outside:
        # what looks like a slip is measured again: no drawer is to blame for it
        again = read_again(decision)
        doubted = [name for name in outside if name in again]
        # nor is it where nobody knows yet that anything is wrong
        hidden = [name for name in outside if decision.job.untold(name)]
        known = [name for name in outside if name not in {*doubted, *hidden}]
        if hidden and not known:
            wrong = f"Whether anything is wrong with {listed(hidden, 3)} nobody knows before that."
            return " ".join(filter(None, (wrong, _all_the_same(decision, say))))
        as_read = f"{listed(doubted, 3)} {'is' if len(doubted) == 1 else 'are'} outside"
        wrong = f"As read, {as_read}."
        also = f"; {as_read} too as read" if doubted else ""
        if known:
            stands = _what_stands_in_the_way(decision, known, who)
            # what comes right is the greater part
            if len(gaps) > 2 * len(outside) and stands in ("No shim can do it", f"{who} cannot do it"):
                stands += f" for {len(known)} of {len(gaps)} gaps"
            wrong = f"{stands}: {_misses(decision, known, say)}{also}."
        wait, all_of_it = nothing_yet_words(decision)
        if wait and known:
            stands = _what_stands_in_the_way(decision, known, who)
            by_that = f"By what is listed {_misses(decision, known, say)}{also}."
            wrong = f"{wait}: {stands[:1].lower()}{stands[1:]}. {by_that}"
        return " ".join(filter(None, (wrong, "" if all_of_it else _all_the_same(decision, say))))
    changes, what = decision.changes, job_words(decision, say)
    # where the reading itself is in doubt, no chance says how likely it is inside
    again, as_set = {*read_again(decision), *left_as_set(decision)}, left_as_set(decision)
    unproven = [name for name, found in gaps.items() if found.verdict == "unproven" and name not in again]
    unmet = [name for name, found in decision.outcome.balances.items() if found.met is False]
    if hidden := [name for name in unproven if decision.job.gap[name].may_be_tight]:
        others = [name for name in unproven if name not in hidden]
        more = f"; {_only_probably(decision, others)}" if others else ""
        return f"If {listed(hidden, 3)} {'is' if len(hidden) == 1 else 'are'} not tight already: {what}{more}."
    if unproven or unmet:
        unread = set(unproven) <= {*not_read_since(decision)}
        why = ", not read since it was fitted" if unread else ""
        but = [f"{_only_probably(decision, unproven)}{why}"] if unproven else []
        but += [f"{listed(unmet, 3)} {'stays' if len(unmet) == 1 else 'stay'} more uneven than asked"] if unmet else []
        if named := named_places(decision, say):
            of_all = "every gap is inside by its best estimate, but " if len(gaps) > 1 else ""
            return f"{begun(named)}: {of_all}{' and '.join(but)}."
        return f"Every gap is inside by its best estimate ({what}), but {' and '.join(but)}."
    if changes.nothing:
        are = _all_gaps(len(decision.outcome.gaps))
        calculated = [name for name in not_read_since(decision) if name not in as_set]
        if as_set and not calculated:
            by = f"by {'its' if len(as_set) == 1 else 'their'} running torque"
            if len(as_set) < len(gaps):
                return f"Nothing to fit: {are} inside, {listed(as_set, 3)} {by}."
            return f"Nothing to fit: {listed(as_set, 3)} {'is' if len(as_set) == 1 else 'are'} right {by}."
        if calculated:
            of_these = f", {listed(calculated, 3)}" if len(calculated) < len(decision.outcome.gaps) else ""
            return f"Nothing to fit: {are} inside{of_these} by calculation only."
        return f"Nothing to fit{_settled(decision, ': {} inside as read', 'is', 'are')}."
    if changes.opened or changes.left:
        return _at_the_machine(decision, say)
    open_still = unsettled(decision) and not find_out_first(decision)
    fit = _fitting(decision, say)
    return f"As it is read: {fit}" if open_still else begun(fit)


def _all_the_same(decision: Decision, say: Speaker) -> str:
    """What is done for other gaps, where some stay outside; empty where nothing is."""
    changes = decision.changes
    if changes.nothing:
        return ""
    said = job_words(decision, say) if changes.opened or changes.left else _fitted(decision, say)
    again, gaps = read_again(decision), decision.outcome.gaps
    moved = {gap.name for change in changes if change.changed for gap in decision.job.moved_by[change.place]}
    unsure = [name for name in gaps if name in moved - again and gaps[name].verdict == "unproven"]
    said = f"{begun(said)}{f': {_only_probably(decision, unsure)}' if unsure else ''}."
    return _if_so(said) if measured_first(decision) else said


def _if_so(answer: str) -> str:
    """What is done if what looks wrong was read so all the same."""
    return f"If today's figures stand: {answer[:1].lower()}{answer[1:]}"


def _fitted(decision: Decision, say: Speaker) -> str:
    """What goes into places in which nothing was, and where: `fit R-07 at upper 1`, `fit 5 pieces in 3 places`."""
    changed = [change for change in decision.changes if change.changed]
    named = " and ".join(f"{_into(one, say)} at {shown(one.place)}" for one in changed)
    if len(changed) == 1 or (len(changed) == _TWO and len(named) <= _LONGEST_NAMED):
        return f"fit {named}"
    return f"fit {plural(len(decision.changes.going_in()), 'piece')} in {len(changed)} places"


def _fitting(decision: Decision, say: Speaker) -> str:
    """What goes into places in which nothing was, how many stay empty, and that all comes inside."""
    changed = [change for change in decision.changes if change.changed]
    others = len(decision.changes.at) - len(changed)
    left = f", leave {plural(others, 'place') if len(changed) == 1 else others} alone" if others else ""
    come = _settled(decision, ": {} inside", "comes", "come")
    return f"{_fitted(decision, say)}{left}{come}{_purchase(decision, say)}."


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
        said = " ".join(filter(None, (said, begun(_settled(decision, _others_come(decision), "is", "are")))))
    bought, cost = sum(decision.outcome.to_buy.values()), decision.cost
    return f"{said} To buy: {say.money(cost)}." if bought and cost is not None else said


def _others_come(decision: Decision) -> str:
    """`Then {} inside.`; of gaps for which nothing is changed that they are so as read."""
    job, known = decision.job, [gap for gap in decision.job.gaps if gap.name not in open_gaps(decision)]
    moved = {gap.name for change in decision.changes if change.changed for gap in job.moved_by[change.place]}
    return "Then {} inside." if moved & {gap.name for gap in known} else "{} inside as read."


def _what_stands_in_the_way(decision: Decision, outside: list[str], who: str) -> str:
    codes: dict[str, set[str]] = {name: set() for name in outside}
    for reason in decision.reasons:
        if reason.about in codes:
            codes[reason.about].add(reason.code)
    if all(codes[name] & _NO_DRAWER_COULD for name in outside):
        return "No shim can do it"
    # what no drawer could do is not put down to this one
    hopeless = [name for name in outside if codes[name] & _NO_DRAWER_COULD]
    but = f" (for {listed(hopeless, 3)} no shim could)" if hopeless else ""
    if not any(decision.job.gap[name].effects for name in outside):
        return f"No place moves {listed(outside, 3)}"
    fights = [reason.names for reason in decision.reasons if isinstance(reason, WindowsFight) and len(reason.names) > 1]
    fighting = {name for names in fights for name in names}
    hang_on = {n for cluster in decision.job.clusters if fighting & {*cluster.gaps} for n in cluster.gaps}
    if fighting & {*outside} and {*outside} <= hang_on:
        all_of = "both" if len(fights) == 1 and len(fights[0]) == 2 else "all"
        return f"The windows of {' and of '.join(listed(names, 3) for names in fights)} cannot {all_of} hold"
    if any(codes[name] & {"left_by_priority", "left_together_by_priority"} for name in outside):
        return "The job's own priority leaves gaps outside"
    if kept := kept_by_others(decision, outside):
        return f"Not all come right while {listed(kept, 3)} {'keeps' if len(kept) == 1 else 'keep'} what is in"
    if not all(found.proven for found in decision.levels if found.name == "outside"):
        return f"No way was found {SO_FAR}"
    if not any(line.on_hand for line in decision.job.stock) and not decision.buy:
        movers = (decision.job.place[place] for name in outside for place, _ in decision.job.gap[name].effects)
        needed = "Other shims are" if any(place.installed for place in movers) else "A shim is"
        return f"{needed} needed, and the drawer is empty{but}"
    limits = {r.pieces for r in decision.reasons if isinstance(r, NotThickEnough) and r.about in codes and r.pieces}
    limited = {r.about for r in decision.reasons if isinstance(r, NotThickEnough) and r.pieces}
    if len(limits) == 1 and limited >= {*outside}:
        (most,) = limits
        pieces = "one piece" if most == 1 else f"{most} pieces"
        return f"With at most {pieces} in a place {who[:1].lower()}{who[1:]} cannot do it"
    return f"{who} cannot do it{but}"


def _settled(decision: Decision, words: str, one: str, many: str) -> str:
    """`Then both gaps are inside.`: of all gaps, or of those of which nothing has to be settled; empty for none.

    What has to be settled is named by the sentences before and after, and is not called right.
    """
    names = list(decision.outcome.gaps)
    open_ = open_gaps(decision)
    if not open_:
        return words.format(_all_gaps(len(names), one, many))
    known = [name for name in names if name not in open_]
    which = shown(known[0]) if len(known) == 1 else f"the other {len(known)}"
    return words.format(f"{which} {one if len(known) == 1 else many}") if known else ""


def _all_gaps(count: int, one: str = "is", many: str = "are") -> str:
    return {1: f"the gap {one}", 2: f"both gaps {many}"}.get(count, f"all {count} gaps {many}")


def _misses(decision: Decision, outside: list[str], say: Speaker) -> str:
    said, taken_out = [], spoiled(decision)
    for name in outside[:2]:
        found, gap, near = decision.outcome.gaps[name], decision.job.gap[name], decision.nearest.get(name)
        before = f" ({misses_as_found(taken_out[name], say)})" if name in taken_out else ""
        stays = f"{shown(name)} {outside_then(decision, gap, say)}{before}"
        if nearest := next((r for r in decision.reasons if isinstance(r, TogetherNearest) and r.about == name), None):
            side = loose_or_tight(nearest.side_after)
            stays += f" (the nearest there is would be {few_digits(say, nearest.still)[0]} {side})"
        if near is not None and near.off and near.off != found.off:
            stays += f" (the best that is left would still miss by {few_digits(say, near.off)[0]})"
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
    # what a supplier asks for sending it stands in an order, not in a plan
    postage = " and postage" if price and any(terms.postage for terms in senders(decision)) else ""
    return f", {plural(bought, 'piece')} to buy{price}{postage}"


def start_words(job: Job) -> str:
    """Where the plan starts, if not from the first readings."""
    if not job.records:
        return ""
    last = job.records[-1]
    who = f" by {shown(last.person)}" if last.person else ""
    start = f"From the record of {shown(last.date[:10])}{who}; --from-start passes over it."
    return " ".join(filter(None, (start, worked_on(job)))) + recorded_torques(job)


def worked_on(job: Job) -> str:
    """What was done at the last visit otherwise than by shims: `crank float: collar faced 0.09 mm.`"""
    if not job.records:
        return ""
    done = job.records[-1].gaps.items()
    return " ".join(f"{shown(name)}: {shown(gap.machined, 200)}." for name, gap in done if gap.machined)
