"""What finishes the job, and what is set first where one gap tells nothing before another is."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from shimopt.assembly import turns
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import ReadsAsNothing
from shimopt.words.doubt_words import doubted
from shimopt.words.first_words import looked_at_first, open_gaps
from shimopt.words.found_words import find_out_first, not_read_since
from shimopt.words.shortfall_words import all_measured
from shimopt.words.speaker import listed
from shimopt.words.trial_words import set_since

ONLY_THEN = "Only then: "


def bevel_packs(decision: Decision) -> list[str]:
    """The packs behind bevel gears that are changed, or were at the last visit: they move the tooth contact too."""
    changed = {one.place for of in (decision.changes, decision.visit) for one in of if one.changed}
    packs = [s.place for gap in decision.job.gaps for s in gap.effect_sources if s.teeth and s.place in changed]
    return list(dict.fromkeys(packs))


def only_then(words: str, open_still: Collection[str]) -> str:
    """What is only done once these gaps are settled."""
    return f"{ONLY_THEN}{words[:1].lower()}{words[1:]}" if open_still else words


def last_steps(decision: Decision, play: Sequence[tuple[str, str]], *, whole: bool) -> list[str]:
    """What finishes the job; of packs on both sides their sum comes before how they are divided."""
    if not play:
        if all_measured(decision):
            # it was measured in the final assembly
            return ["Leave it as it is."]
        contact = ", and look at the tooth contact (marking)" if bevel_packs(decision) else ""
        return [f"{_work(decision)} measure again in the final assembly{contact}."]
    change = ": how the packs are divided may change" if whole else ""
    contact = ", look at the tooth contact (marking)" if bevel_packs(decision) else ""
    outside = {name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"}
    done = set_since(decision)
    return [
        f"Read {shown(gap)} again now that {shown(other)} is set{contact}, record it and plan again{change}."
        if other in done - outside
        else f"{_set_first(other, outside)}. Then read {shown(gap)} again{contact}, record both and plan again{change}."
        for gap, other in play
    ]


def surer_first(decision: Decision) -> bool:
    """Whether something is to be fitted that is inside by its best estimate alone: what makes it surer comes before."""
    found = decision.outcome.gaps.values()
    moved = {gap.name for one in decision.changes if one.changed for gap in decision.job.moved_by[one.place]}
    unsure = any(decision.outcome.gaps[name].verdict == "unproven" for name in moved)
    return unsure and all(one.verdict != "outside" for one in found)


def has_to_hold(decision: Decision, gaps: Sequence[str]) -> str:
    """Which of the changed places behind them may not stay empty, and how many pieces each has to hold."""
    behind = [cluster for cluster in decision.job.clusters if {*gaps} & {*cluster.gaps}]
    places = [decision.job.place[name] for cluster in behind for name in cluster.places]
    held = [place for place in places if decision.changes.at[place.name].changed]
    said = [f"{shown(place.name)} has to hold {place.fewest_pieces} or more" for place in held if place.fewest_pieces]
    return f" ({'; '.join(said)})" if said else ""


def _set_first(other: str, outside: Collection[str]) -> str:
    """What is set before another gap is read again; what stays outside by it is not called set."""
    if other in outside:
        return f"Bring {shown(other)} as near first as what is listed does"
    return f"Set {shown(other)} first, by all that is listed"


def _work(decision: Decision) -> str:
    changes = decision.changes
    if changes.nothing:
        return "Leave it as it is;"
    if not changes.going_in():
        return "Take out what is listed, then"
    return "Change what is listed, then" if changes.opened else "Fit the stacks as listed, then"


def right_beside(decision: Decision) -> list[str]:
    """That what comes right is done, where another gap reads as nothing and is looked into first."""
    outcome, job = decision.outcome, decision.job
    if not any(isinstance(reason, ReadsAsNothing) for reason in decision.reasons) or find_out_first(decision):
        return []
    waits = {*doubted(decision), *open_gaps(decision), *looked_at_first(decision)}
    right = {name for name, found in outcome.gaps.items() if found.verdict == "inside"} - waits
    fine = [place for cluster in job.clusters if {*cluster.gaps} <= right for place in cluster.places]
    apart = [one.place for one in decision.changes if one.changed and one.place in fine]
    return (
        [f"What is listed at {listed(apart, 4)} hangs on none of that: do it, then measure it again."] if apart else []
    )


def since_fitted(decision: Decision) -> list[str]:
    """What is done where nobody has read a gap since it was fitted: its running torque may say that it is right."""
    job, changes = decision.job, decision.changes.at
    calculated = not_read_since(decision)
    turned = {name: torque for name in calculated if (torque := job.turned(name)) is not None}
    right = [name for name, torque in turned.items() if turns(torque, job.gap[name].running) == "right"]
    moved = [name for name in right if any(changes[place].changed for place, _ in job.gap[name].effects)]
    moved += [name for name in right if job.right_but_by_length(name) and name not in moved]
    said = (
        ([name for name in calculated if name not in turned], "Read {}: nobody has since it was fitted."),
        ([name for name in right if name not in moved], "Leave {} as set: by the running torque it is right."),
        (
            [name for name in turned if job.gap[name].running is None],
            "Compare the running torque of {} with the maker's figure.",
        ),
    )
    return [words.format(listed(names, 4)) for names, words in said if names]
