"""What need not be looked at: options that another of the same place beats, parts for which another can stand in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import combinations, product
from typing import NamedTuple

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates.options import Option
from shimopt.job import Job
from shimopt.parts import StockLine
from shimopt.seats import Screening


class _Merit(NamedTuple):
    """An option's shares of the levels before those that depend on other places, and of the levels after them."""

    before: tuple[int, ...]
    after: tuple[int, ...]


def without_beaten(
    options: Sequence[Option],
    levels: Sequence[str],
    plentiful: frozenset[int],
    shared: frozenset[str],
    *,
    capped: bool = False,
) -> tuple[Option, ...]:
    """The options that no other beats, in natural order after the first: every choice starts from leaving it as it is.

    Parameters: levels, all levels in their order; plentiful, stock lines that cannot run out; shared, those of the
    levels that depend on other places too (`excess`, `spread` of a balance); capped, whether there is a limit to the
    pieces of all places together, so that pieces are scarce as such.

    One option beats another when it takes no scarce piece that the other leaves (capped: and no more pieces), and is
    better at the first level where they differ, or equal at all and earlier in natural order. At a shared level nothing
    is known but that equal clearances have equal effect, so beyond it only options of the same clearance are compared.
    """
    cut = next((at for at, level in enumerate(levels) if level in shared), len(levels))

    def merit_of(option: Option) -> _Merit:
        shares = [option.share.get(level, 0) for level in levels]
        return _Merit(tuple(shares[:cut]), tuple(shares[cut:]))

    def scarce(option: Option) -> Stack:
        return tuple(i for i in option.stack if i not in plentiful)

    # by what options take: the best merit before the cut, and the best of each clearance after it
    least: dict[tuple[Stack, int], tuple[int, ...]] = {}
    first: dict[tuple[Stack, int, tuple[int, ...], object], tuple[tuple[int, ...], Stack]] = {}
    judged = [(option, scarce(option), merit_of(option)) for option in options]
    for option, taken, (before, after) in judged:
        pieces = len(option.stack) if capped else 0
        least[taken, pieces] = min(least.get((taken, pieces), before), before)
        key = (taken, pieces, before, _alike(option, cut < len(levels)))
        first[key] = min(first.get(key, (after, option.stack)), (after, option.stack))

    def beaten(option: Option, taken: Stack, before: tuple[int, ...], after: tuple[int, ...]) -> bool:
        for size in range(len(taken) + 1):
            for part, pieces in product(set(combinations(taken, size)), range(len(option.stack) + 1 if capped else 1)):
                if (part, pieces) not in least:
                    continue
                if least[part, pieces] < before:
                    return True
                rival = first.get((part, pieces, before, _alike(option, cut < len(levels))))
                if rival is not None and rival < (after, option.stack):
                    return True
        return False

    kept = [option for option, taken, merit in judged[1:] if not beaten(option, taken, *merit)]
    return (options[0], *sorted(kept, key=lambda option: option.stack))


def _alike(option: Option, has_shared_level: bool) -> object:
    """What two options must have in common to be compared beyond the cut."""
    if option.change is not None:
        return option.change, option.carries
    return (option.best, option.outside) if has_shared_level else None


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
