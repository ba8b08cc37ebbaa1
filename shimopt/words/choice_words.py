"""What so many pieces would give, and what is bought of them."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.outcome import packs_to_buy
from shimopt.arithmetic.play_left import waiting
from shimopt.errors import shown
from shimopt.job import Job, Supplier
from shimopt.planner import Decision
from shimopt.reasons.alternatives import Alternative
from shimopt.words.money_words import rate_words
from shimopt.words.speaker import Speaker, listed, plural

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
    return f"{pieces}, {listed([f'{say.stack(stack, place)} on {place}' for place, stack in filled.items()])}"


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


def purchase_words(decision: Decision, say: Speaker) -> list[str]:
    """One line per kind of piece: how many, in which packs, from whom, for how much."""
    job = decision.job
    said = []
    for i, pieces in decision.outcome.to_buy.items():
        packs = [
            f"{plural(count, 'pack')} of {offer.pack}{f' from {shown(offer.supplier)}' if offer.supplier else ''} for "
            f"{say.money(count * Fraction(offer.price or 0))}"
            for offer, count in packs_to_buy(job.stock[i].offers, pieces)
        ]
        said.append(f"{say.part(i)}: {plural(pieces, 'piece')}, {', '.join(packs) or 'no price stated'}.")
    through = "" if for_what_waits(decision) else ": shimopt order JOB"
    said += [f"{shown(name)}: that is below its smallest order{through}." for name in below_smallest(decision)]
    charged = {offer.charged_in for i in decision.outcome.to_buy for offer in job.stock[i].offers}
    return [*said, *rate_words([job], charged)]


def senders(decision: Decision) -> dict[Supplier, Fraction]:
    """The suppliers of what is to be bought of which the job states terms, each with what its goods come to."""
    goods: dict[str, Fraction] = {}
    for i, pieces in decision.outcome.to_buy.items():
        for offer, count in packs_to_buy(decision.job.stock[i].offers, pieces):
            goods[offer.supplier] = goods.get(offer.supplier, Fraction(0)) + count * Fraction(offer.price or 0)
    return {terms: goods[terms.name] for terms in decision.job.suppliers if terms.name in goods}


def below_smallest(decision: Decision) -> list[str]:
    """The suppliers that do not send so little as a plan buys of them."""
    return [terms.name for terms, cost in senders(decision).items() if cost < terms.smallest_order]


def for_what_waits(decision: Decision) -> bool:
    """Whether something is bought for gaps that no order answers yet."""
    job, waits = decision.job, waiting(decision.job)
    bought = [
        place
        for place in job.places
        if {i.line for i in decision.changes.at[place.name].into} & {*decision.outcome.to_buy}
    ]
    return any(gap.name in waits for place in bought for gap in job.moved_by[place.name])


def cost_text(decision: Decision, say: Speaker) -> str:
    """The cost with its currency, or that it is not known."""
    if decision.cost is None:
        return "not known"
    return say.money(decision.cost) if decision.cost else "0"
