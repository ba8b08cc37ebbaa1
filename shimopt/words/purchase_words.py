"""What is to be bought, in words."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.outcome import packs_to_buy
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.names import money_text, part_text, plural

__all__ = ["cost_text", "purchase_words"]


def purchase_words(decision: Decision) -> list[str]:
    """One line per kind of piece: how many, in which packs, from whom, for how much."""
    job = decision.job
    said = []
    for i, pieces in decision.outcome.to_buy.items():
        packs = [
            f"{plural(count, 'pack')} of {offer.pack}{f' from {shown(offer.supplier)}' if offer.supplier else ''} for "
            f"{money_text(job, count * Fraction(offer.price or 0))}"
            for offer, count in packs_to_buy(job.stock[i].offers, pieces)
        ]
        said.append(f"{part_text(job, i)}: {plural(pieces, 'piece')}, {', '.join(packs) or 'no price stated'}.")
    return said


def cost_text(decision: Decision) -> str:
    """The cost with its currency, or that it is not known."""
    if decision.cost is None:
        return "not known"
    return money_text(decision.job, decision.cost) if decision.cost else "0"
