"""The drawer to keep in sentences: what it serves, how sure that is, what to buy for it, what nothing serves."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from shimopt.errors import shown
from shimopt.learning.assortment import Assortment
from shimopt.learning.kit_bought import KitLine, goods_of, suppliers_of
from shimopt.learning.other_sizes import Tried
from shimopt.parts import StockLine
from shimopt.words.exact_words import exact_sizes
from shimopt.words.speaker import Speaker, listed, plural

_TOO_FEW = 20
# what is known more closely is told without an error [jobs]
_TOLD = 0.005


class KitAnswer(NamedTuple):
    """All that is told of a drawer to keep; `postage` by supplier where the jobs state it.

    `of_spread`: nobody had these jobs, a spread of readings was stated.
    """

    found: Assortment
    lines: Sequence[KitLine]
    finer: Tried
    wider: Tried
    currency: str
    postage: dict[str, Decimal]
    parts: Sequence[StockLine]
    of_spread: bool = False

    @property
    def exact(self) -> int:
        """How many of the part sizes state no tolerance, and are taken as exact."""
        return sum(line.part.thickness.exact for line in self.parts)


def headline(answer: KitAnswer) -> str:
    """What the kit serves."""
    found = answer.found
    if not answer.lines:
        bare = f"{found.served:.1f} of {plural(found.jobs, 'job')} need no shims"
        return f"No drawer of this budget adds anything: {bare}."
    return (
        f"Keep {plural(sum(line.pieces for line in answer.lines), 'piece')} of {plural(len(answer.lines), 'size')}: "
        f"of {plural(found.jobs, 'job')} between two deliveries {found.served:.1f} are served without an order."
    )


def standing_lines(answer: KitAnswer) -> list[str]:
    """How that was found, how sure it is, and what simpler drawers would serve."""
    found = answer.found
    counted = [need for need in found.needs if need.not_counted is None]
    nothing = sum(need.needs_nothing for need in counted)
    had = "lengths of the spread that you stated" if answer.of_spread else "jobs that you had"
    alike = f"Each season is drawn from {len(counted)} {had}, each as likely as another"
    bare = f"; {nothing} of them {'needs' if nothing == 1 else 'need'} nothing" if nothing else ""
    lines = [f"{alike}{bare}."]
    if len(counted) < _TOO_FEW:
        lines.append(f"{plural(len(counted), 'job')} say little: from {_TOO_FEW} on the count begins to hold.")
    if found.error >= _TOLD:
        served = f"{found.served:.2f} ± {found.error:.2f}"
        lines.append(f"Tried on seasons that it was not chosen by: {served} jobs, 19 times in 20.")
    # more than all of them nothing serves, whatever is drawn
    sure = "" if found.exact or found.bound >= found.jobs else ", but for a chance of 1 in 20"
    lines.append(f"No drawer of this budget serves more than {found.bound:.2f} jobs{sure}.")
    others = f"by what was used {found.by_use:.2f} jobs, the same count of each {found.equally:.2f} jobs"
    if found.gains_little:
        lines.append(f"The gain is small ({others}): a drawer filled by what was used does as well.")
    else:
        lines.append(f"Simpler drawers of this budget: {others}.")
    if answer.exact:
        exact = f"Taken as exact, for no tolerance is stated: {listed(exact_sizes(answer.parts))}."
        lines.append(f"{exact} As they really come, they may serve fewer jobs: state their tolerance.")
    return lines


def kept_lines(answer: KitAnswer, say: Speaker) -> list[str]:
    """Which pieces of a part to keep, where it lies in the drawer in several rows and not all of it is kept."""
    lines = []
    for line in answer.lines:
        kept = [(row.part, min(count, there), there) for row, count, there in line.rows if there]
        if len(line.rows) > 1 and any(count < there for _, count, there in kept):
            said = [
                f"{count} of {there} {'measured' if part.measured else 'of'} {say(part.thickness.best)}"
                for part, count, there in kept
            ]
            new = line.pieces - sum(count for _, count, _ in kept)
            lines.append(f"Of {shown(line.line.part.name)} keep {listed([*said, *([f'{new} new'] if new else [])])}.")
    return lines


def buying_lines(answer: KitAnswer) -> list[str]:
    """What to buy now to get there."""
    if not any(line.packs for line in answer.lines):
        return ["Nothing has to be bought for it."]
    goods = goods_of(answer.lines)
    lines = ["Price not known for all of it." if goods is None else f"Goods: {_money(goods, answer.currency)}."]
    for supplier, cost in suppliers_of(answer.lines).items():
        named = shown(supplier) if supplier else "No supplier named"
        if supplier in answer.postage:
            postage = _money(answer.postage[supplier], answer.currency)
            lines.append(f"{named}: {_money(cost, answer.currency)}, postage {postage}.")
        else:
            lines.append(f"{named}: {_money(cost, answer.currency)}; postage is not stated.")
    return lines


def never_lines(answer: KitAnswer) -> list[str]:
    """Jobs that these parts never serve, and those that were not counted."""
    lines = []
    if never := answer.found.never:
        lines.append(f"Never served by these sizes: {listed([need.name for need in never], 6)}.")
    for why in dict.fromkeys(need.not_counted for need in answer.found.needs if need.not_counted):
        names = [need.name for need in answer.found.needs if need.not_counted == why]
        lines.append(f"Not counted, {why}: {listed(names, 6)}.")
    return lines


def sizes_lines(answer: KitAnswer, say: Speaker) -> list[str]:
    """What a finer step or a thicker size would add."""
    finer, wider = answer.finer, answer.wider
    return [
        f"Sizes halfway between these would serve {finer.more:.2f} more of {plural(answer.found.jobs, 'job')}, "
        f"one of {say(wider.sizes[-1])} {wider.more:.2f} more, in a drawer of the same budget."
    ]


def packs_words(line: KitLine) -> str:
    """What is bought of a part: `2 packs of 5`."""
    if not line.packs:
        return ""
    pack = line.offer.pack if line.offer else 1
    return plural(line.packs, "piece") if pack == 1 else f"{plural(line.packs, 'pack')} of {pack}"


def cost_words(line: KitLine, currency: str) -> str:
    """What that costs."""
    return "" if not line.packs else "price not known" if line.cost is None else _money(line.cost, currency)


def _money(amount: Decimal, currency: str) -> str:
    return f"{amount:,.2f} {shown(currency)}".strip()
