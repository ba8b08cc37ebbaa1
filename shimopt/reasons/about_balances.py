"""Why a balance is as uneven as it is: set aside, left so, or not to be had within what is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shimopt.arithmetic import off_by
from shimopt.arithmetic.clearance import after_with, stays
from shimopt.job import Balance
from shimopt.job.levels import Level
from shimopt.parts import natural_key
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.shared_reasons import BalanceSetAside, LeftUneven, NotWithin, NotWithinFound


def about_balances(chosen: Chosen, supply: Mapping[int, int]) -> list[Reason]:
    """The reasons of all balances in job order; `supply` counts the pieces of each stock line that can be had."""
    return [reason for balance in chosen.job.balances for reason in _of_balance(chosen, balance, supply)]


def _of_balance(chosen: Chosen, balance: Balance, supply: Mapping[int, int]) -> Iterator[Reason]:
    outcome, within = chosen.outcome, balance.within
    found = outcome.balances[balance.name]
    before, after = found.spread_before, found.spread_after
    if found.met is None:
        outside = tuple(n for n in chosen.job.gaps_behind(balance) if outcome.gaps[n].verdict == "outside")
        yield BalanceSetAside(about=balance.name, names=outside)
    elif within is None:
        if after:
            yield LeftUneven(about=balance.name, before=before, after=after)
    elif not found.met:
        proven = all(level.proven for level in chosen.choice.levels if level.name == "excess")
        yield (NotWithin if proven else NotWithinFound)(
            about=balance.name,
            names=_unsuited_that_would_even(chosen, balance, supply),
            before=before,
            after=after,
            within=within,
            over=after - within,
            kept=tuple(place.name for place in chosen.job.places if stays(chosen.job, place)),
            first=_put_first(chosen),
            together=len(_counted(chosen)) > 1,
        )


# what comes before evenness where the job says nothing: the gaps themselves
_GAPS = (Level.OUTSIDE, Level.MISS, Level.UNPROVEN, Level.DOUBT)


def _put_first(chosen: Chosen) -> tuple[str, ...]:
    """The levels that the job's priority puts before evenness."""
    levels = list(chosen.job.levels)
    return tuple(level for level in levels[: levels.index(Level.EXCESS)] if level not in _GAPS)


def _counted(chosen: Chosen) -> list[str]:
    """The balances that state a limit and are compared."""
    found = chosen.outcome.balances
    return [one.name for one in chosen.job.balances if one.within is not None and found[one.name].met is not None]


def _unsuited_that_would_even(chosen: Chosen, balance: Balance, supply: Mapping[int, int]) -> tuple[str, ...]:
    """Parts on hand that would make the balance more even if they were allowed on the seat; of gaps only."""
    if balance.places:
        return ()
    job = chosen.job
    even = {name: chosen.outcome.gaps[name].after.best - balance.offset.get(name, 0) for name in balance.gaps}
    spread = max(even.values()) - min(even.values())
    names: list[str] = []
    for gap in (job.gap[name] for name in balance.gaps if name in job.alone):
        place = job.place[gap.effects[0][0]]
        for i in set(range(len(job.stock))) - set(chosen.screening.suits[place.name]):
            after = after_with(job, gap, (i,)).best
            others = {**even, gap.name: after - balance.offset.get(gap.name, 0)}
            closer = max(others.values()) - min(others.values()) < spread
            if supply[i] and closer and not off_by(after, gap.window):
                names.append(job.stock[i].part.name)
    return tuple(sorted(set(names), key=natural_key))
