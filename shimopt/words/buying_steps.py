"""What is to be done next about buying: what the catalogues would do, how to ask for it, what is bought first."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.arithmetic.play_left import waiting
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.words.choice_words import below_smallest, for_what_waits
from shimopt.words.first_words import open_gaps
from shimopt.words.found_words import find_out_first
from shimopt.words.speaker import listed


def of_buying(decision: Decision, gaps: Sequence[str]) -> list[str]:
    """What the catalogues do for it, where that was tried; a job too large for that is worth trying.

    One order covers all that the final readings may be; where only balances want more, all stacks are chosen anew.
    """
    job = decision.job
    waits = waiting(job)
    covered = any(name not in waits and _can_be_sure(job.gap[name]) for name in gaps)
    ask = _ask(job) if covered else "shimopt plan JOB --buy"
    if waits:
        ask = "shimopt plan JOB --buy (shimopt order JOB once preloads are set)"
    match decision.remedies.bought:
        case True:
            # an order is for the machine as it stands in the job
            record = "" if decision.changes.nothing else ". Record first what you fit."
            return [f"What the catalogues offer makes it better: {ask}{record}"]
        case False:
            return []
    return [f"See whether the catalogues offer what serves: {ask}"]


def _can_be_sure(gap: Gap) -> bool:
    """Whether the window is wide enough for a final reading like today's: else no order serves it at every reading."""
    low, high = gap.window.min, gap.window.max
    read = gap.reading.found
    open_ = 2 * gap.final_reading if gap.final_reading is not None else sum(gap.again or (read.high - read.low,))
    return low is None or high is None or open_ <= high - low


def buying_first(decision: Decision) -> list[str]:
    """That what is listed to be bought is bought first; through an order where a supplier sends no so small one."""
    if not decision.outcome.to_buy or find_out_first(decision):
        return []
    below = below_smallest(decision)
    if not below:
        if open_gaps(decision):
            return ["Only then buy what is listed under Buy."]
        return [f"Buy what is listed under Buy{_otherwise_than_ordered(decision.job)}."]
    if for_what_waits(decision):
        less = f"Buy what is listed under Buy: less than the smallest order of {listed(below, 4)}."
        return [f"{less} Ask whether it is sent so, or add to it: shimopt order JOB comes once preloads are set."]
    return [f"Buy through shimopt order JOB: what is listed is below the smallest order of {listed(below, 4)}."]


def _otherwise_than_ordered(job: Job) -> str:
    """Why an order can ask for something else, where one can be made."""
    from shimopt.ordering.refused_terms import without_terms

    asked = "the fewest pieces for today's readings; what costs least for all final readings: shimopt order JOB"
    return "" if without_terms(job) else f", {asked}"


def _ask(job: Job) -> str:
    """How to ask for an order; where terms are not stated by which it could be made, what has to be stated."""
    # few plans have anything to order
    from shimopt.ordering.refused_terms import without_terms

    if nobody := without_terms(job):
        return f"shimopt plan JOB --buy (shimopt order JOB once [[supplier]] states the postage of {listed(nobody, 4)})"
    return "shimopt order JOB (for today alone: shimopt plan JOB --buy)"
