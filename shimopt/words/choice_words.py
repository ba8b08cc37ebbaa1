"""The rows of the trade-off in words: what so many pieces give."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.job import Job
from shimopt.reasons import Alternative
from shimopt.words.names import listed, plural
from shimopt.words.speaker import Speaker

__all__ = ["choice_words"]

_MOST_NAMED = 4


def choice_words(row: Alternative, job: Job, say: Speaker) -> str:
    """One row as a sentence or two."""
    said = f"{_fitted(row, say)}{' (this plan)' if row.is_plan else ''}: {_verdicts(row, job, say)}."
    if job.balances:
        spreads = [f"{shown(name)} {say(found.spread_after)}" for name, found in row.outcome.balances.items()]
        said += f" Uneven: {', '.join(spreads)}."
    if row.outcome.to_buy:
        cost = row.cost(job)
        price = "at a price that is not known" if cost is None else f"for {say.money(cost)}"
        said += f" {plural(sum(row.outcome.to_buy.values()), 'piece')} to buy {price}."
    return said if row.proven else f"{said} Not proven to be the best of its kind."


def _fitted(row: Alternative, say: Speaker) -> str:
    filled = {place: stack for place, stack in row.choice.stacks.items() if stack}
    if not filled:
        return "Nothing fitted"
    pieces = plural(row.pieces, "piece")
    if len(filled) > _MOST_NAMED:
        return f"{pieces} in {len(filled)} places"
    return f"{pieces}, {listed([f'{say.stack(stack)} on {place}' for place, stack in filled.items()])}"


def _verdicts(row: Alternative, job: Job, say: Speaker) -> str:
    outside = [name for name, found in row.outcome.gaps.items() if found.verdict == "outside"]
    unproven = [name for name, found in row.outcome.gaps.items() if found.verdict == "unproven"]
    inside = len(job.gaps) - len(outside) - len(unproven)
    said = [f"{inside} of {plural(len(job.gaps), 'gap')} surely inside"]
    if unproven:
        said.append(f"{listed(unproven, _MOST_NAMED)} not surely")
    if outside:
        named = [f"{name} {say(row.outcome.gaps[name].off)}" for name in outside]
        said.append(f"outside by: {listed(named, _MOST_NAMED)}")
    moved = [name for name, stack in row.choice.stacks.items() if stack and name in row.outcome.gaps]
    if moved and len(moved) <= _MOST_NAMED:
        after = [f"{name} {say(row.outcome.gaps[name].after.best)}" for name in moved]
        said.append(f"clearance {listed(after)}")
    return "; ".join(said)
