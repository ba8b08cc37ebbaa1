"""Parts of a long catalogue for which another can stand in, so that they need not be looked at."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from shimopt.job import Job
from shimopt.parts import StockLine
from shimopt.seats import Screening

__all__ = ["without_stand_ins"]


class _Terms(NamedTuple):
    """What a plan may know of a line of which there is none: as thick, as well known, and at the same prices."""

    thickness: object
    measured: bool
    prices: tuple[tuple[Decimal, int], ...]


def without_stand_ins(job: Job, screening: Screening, supply: Mapping[int, int]) -> dict[str, tuple[int, ...]]:
    """By place, the lines that suit, less those for which an earlier one can stand in wherever they suit.

    That is so for two lines that are to be bought alike, if the earlier one suits every place which the later one
    suits, and asks for no more caution there. Put in for the other everywhere, it changes no level (whole packs hold
    for both together what they hold for each), and comes first in natural order: so a best plan never has the later.

    Equal packs are tied by the parts in them: in a job that has such, all lines stay.
    """
    if job.equal or not any(supply[i] > there for i, there in enumerate(job.there)):
        return dict(screening.suits)
    kinds = [(screening.suits[place.name], screening.cautions[place.name]) for place in job.places]
    suiting: dict[int, set[int]] = {}
    careful: dict[int, set[int]] = {}
    for at, (suits, cautions) in enumerate(dict.fromkeys(kinds)):
        for i in suits:
            suiting.setdefault(i, set()).add(at)
            careful.setdefault(i, set()).update({at} if i in cautions else ())
    kept: dict[_Terms, list[int]] = {}
    for i in sorted(suiting):
        if job.there[i] or not supply[i]:
            continue
        alike = kept.setdefault(_terms(job.stock[i]), [])
        if not any(suiting[i] <= suiting[one] and careful[one] & suiting[i] <= careful[i] for one in alike):
            alike.append(i)
    looked_at = {i for alike in kept.values() for i in alike}
    looked_at |= {i for i in suiting if job.there[i]}
    fewer = {suits: tuple(i for i in suits if i in looked_at) for suits in {*screening.suits.values()}}
    return {place: fewer[suits] for place, suits in screening.suits.items()}


def _terms(line: StockLine) -> _Terms:
    prices = ((offer.price, offer.pack) for offer in line.offers if offer.price is not None)
    return _Terms(line.part.thickness, line.part.measured, tuple(sorted(prices)))
