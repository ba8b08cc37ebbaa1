"""What is to be bought, in words."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.outcome import packs_to_buy
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.names import plural
from shimopt.words.speaker import Speaker

__all__ = ["cost_text", "purchase_words"]


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
    return said


def cost_text(decision: Decision, say: Speaker) -> str:
    """The cost with its currency, or that it is not known."""
    if decision.cost is None:
        return "not known"
    return say.money(decision.cost) if decision.cost else "0"
