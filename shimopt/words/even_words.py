"""How even balances come out, and why no more even: for the screen, and for the letter."""

from __future__ import annotations

from collections.abc import Collection

from shimopt.errors import shown
from shimopt.job import Balance, Job
from shimopt.planner import Decision
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.job_facts import PacksInterchanged
from shimopt.reasons.kept_back import EvenIfOpened
from shimopt.words.reading_words import both_units
from shimopt.words.speaker import Speaker, listed
from shimopt.words.ways_out_words import way_out_told


def even_words(reason: Reason, say: Speaker) -> str:
    """Of a balance, and of the purchase; empty for other kinds."""
    match reason:
        case shared.BalanceSetAside():
            are = "is" if len(reason.names) == 1 else "are"
            return f"not compared while {listed(reason.names)} {are} outside."
        case shared.NotWithin():
            closer = "nothing more even was found before the search stopped"
            if not isinstance(reason, shared.NotWithinFound):
                closer = _no_more_even(reason)
            unsuited = f" {listed(reason.names)} would, but a stop keeps them off that seat." if reason.names else ""
            return (
                f"{say(reason.after)} uneven, {say(reason.over)} more than the {say(reason.within)} asked; "
                f"{closer}.{unsuited}"
            )
        case shared.LeftUneven():
            return f"{say(reason.after)} uneven and left so: no limit is stated (`within`)."
        case shared.NoPrice():
            return "has no price, so the cost is not known."
    return ""


def _no_more_even(reason: shared.NotWithin) -> str:
    """What is proven of a balance that stays too uneven, with all that it holds for."""
    stays = f"while what is in at {listed(reason.kept, 4)} stays, " if reason.kept else ""
    first = (
        f" and is as good at {', '.join(map(shown, reason.first))}, put first by the job's priority,"
        if reason.first
        else ""
    )
    even = "is, of all balances together, nearer to their limits" if reason.together else "is more even"
    return f"{stays}no plan that serves the gaps as well{first} {even}"


def cleared_up_first(decision: Decision) -> set[str]:
    """The gaps that are to be cleared up first: what is planned for them is kept back, and how alike they come out."""
    return {*decision.to_find_out, *decision.doubted}


def settled_before(job: Job, balance: Balance, waits: Collection[str]) -> str:
    """`upper 1 has to be cleared up first`: why a balance is not compared yet; else empty."""
    behind = [gap.name for name in balance.places for gap in job.moved_by[name]]
    names = [name for name in dict.fromkeys((*balance.gaps, *behind)) if name in waits]
    return f"{listed(names, 4)} {'has' if len(names) == 1 else 'have'} to be cleared up first" if names else ""


def balance_words(decision: Decision, say: Speaker) -> list[str]:
    """How alike the places that belong together come out."""
    said, waits = list[str](), cleared_up_first(decision)
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        start = f"{shown(balance.name)} ({listed(balance.members, 4)})"
        if why := settled_before(decision.job, balance, waits):
            said.append(f"{start}: not compared: {why}.")
            continue
        if found.met is None:
            said.append(f"{start}: not compared while one of them is outside.")
            continue
        after = both_units(found.spread_after, found.spread_after, say)
        asked = ""
        if balance.within is not None:
            asked = f"; at most {both_units(balance.within, balance.within, say)} is asked"
            asked += "" if found.met else _not_given(decision, balance, say)
        come = "their packs come out equal" if balance.places else "they come out alike"
        meant = _meant(balance, say)
        right = "come out as they should" if found.met is not False else "do not come out as they should"
        come = f"{'their packs' if balance.places else 'they'} {right}, {meant}" if meant else come
        alike = come if not found.spread_after else f"{come}{',' if meant else ''} to within {after}"
        if meant and found.met is False:
            alike = f"{come}: they are off by {after}"
        if found.may_be is not None and found.may_be > found.spread_after:
            alike += f" by best estimate, and may be up to {both_units(found.may_be, found.may_be, say)} apart"
        said.append(f"{start}: {alike}{asked}.")
    return said


def _not_given(decision: Decision, balance: Balance, say: Speaker) -> str:
    """Why it is not as alike as asked: impossible only where that is proven of these parts, whatever was in."""
    facts = (one.fact for one in decision.findings)
    if any(isinstance(fact, PacksInterchanged) and fact.balance == balance.name for fact in facts):
        return ". Their packs are interchanged: exchanged, they are as they should be"
    about = [reason for reason in decision.reasons if reason.about == balance.name]
    if way := next((reason for reason in about if isinstance(reason, EvenIfOpened)), None):
        return f". {way_out_told(way, lambda low, high: both_units(low, high, say), say)}".removesuffix(".")
    if balance.name in decision.remedies.one_more:
        return ", which would take one piece more in a place than is allowed"
    proven = [one for one in about if isinstance(one, shared.NotWithin) and not isinstance(one, shared.NotWithinFound)]
    if any(not (one.kept or one.first or one.together) for one in proven):
        return ", which these parts cannot give"
    return ", which is not reached"


def _meant(balance: Balance, say: Speaker) -> str:
    """Which of them is meant to be larger than the others, and by how much."""
    more = "thicker" if balance.places else "larger"
    return " and ".join(f"{shown(name)} {both_units(by, by, say)} {more}" for name, by in balance.offset.items() if by)
