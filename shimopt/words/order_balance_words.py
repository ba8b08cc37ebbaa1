"""Whether the balances of an order keep within their limits wherever the final readings fall, and where they do not."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.ordering.order_result import Order
from shimopt.ordering.unevenness import Uneven, unevenness
from shimopt.words.bill_words import packs_text
from shimopt.words.card_words import named, readings_text
from shimopt.words.money_words import money
from shimopt.words.order_part_words import of_blades
from shimopt.words.speaker import Speaker, listed
from shimopt.words.table_words import readings_together_text

# what a balance is to what is bought
_NOT_BY_BALANCE = (
    " What is bought goes by its cost, not by this: a plan of these readings that may buy says whether other pieces "
    "keep it."
)
# of so many rows it is told how they read
_MOST_ROWS = 3


def balance_words(order: Order, say: Speaker, *, at_bench: bool = False) -> list[str]:
    """Whether balances keep within their limits wherever the final readings fall, and where they would not.

    Parameter: at_bench, whether it stands on the paper for the bench, where nothing is bought.
    """
    texts, other = [], _NOT_BY_BALANCE if order.market.buys and not at_bench else ""
    for one in unevenness(order):
        if one.worst is None:
            continue
        name, within = shown(one.balance.name), say(Fraction(one.balance.within or 0))
        worst = f"{say(one.most)} at worst" if one.most > one.worst else ""
        if one.met:
            at_worst, more = f", {worst}" if worst else "", ""
            if one.where:
                more = f" By best estimate it is kept; it may be more where they read {_read_where(order, one, say)}."
                more += " --keep-balances goes by best estimates, too." if order.keeps_balances and not at_bench else ""
                more += _held_after_fitting(one, within)
            kept = f"{name}: uneven by {say(one.worst)} at most by best estimate{at_worst}; {within} may be."
            texts.append(f"{kept}{more}")
            continue
        if one.table is not None:
            at_worst = f" ({worst})" if worst else ""
            table = order.tables[one.table]
            read = [f"({readings_together_text(order, table, row, say)})" for row in one.rows[:_MOST_ROWS]]
            read += [f"by {len(one.rows) - len(read)} more rows"] if len(one.rows) > len(read) else []
            texts.append(
                f"{name}: uneven by {say(one.worst)} at most{at_worst}, and {within} may be. It may be more where they "
                f"read {' or '.join(read)}: their rows count for the gaps.{'' if at_bench else _kept_by(order, one)}"
                f"{_held_after_fitting(one, within)}"
            )
            continue
        ends = [_read_at(order, *end, say) for end in (one.widest, one.narrowest) if end is not None]
        # the packs of a table have no reading of their own
        at_these = f"With {listed(ends)} it" if len(ends) > 1 else "It"
        at_worst = f" ({worst})" if worst else ""
        tried = " --keep-balances does no more for gaps that do not act together." if order.keeps_balances else other
        texts.append(
            f"{name}: each row takes the other gaps as they are today. {at_these} is uneven by "
            f"{say(one.worst)}{at_worst}, and {within} may be: where they read {_read_where(order, one, say)}, plan "
            f"again from them.{tried}{_held_after_fitting(one, within)}"
        )
    return texts


def _kept_by(order: Order, one: Uneven) -> str:
    """What a table's balance is kept by, and what that costs more; or that nothing on offer keeps it."""
    kept = order.balanced
    if kept is None or kept.cost is None or order.cost is None:
        nothing = " Nothing on offer keeps it there." if order.keeps_balances and order.searched_together else ""
        return nothing or (_NOT_BY_BALANCE if order.market.buys and not order.keeps_balances else "")
    left = [row for other in unevenness(kept) if other.balance == one.balance for row in other.rows]
    if len(left) >= len(one.rows):
        return " Nothing on offer keeps it there." if kept.searched_together else _NOT_BY_BALANCE
    bought = listed([packs_text(kept, line) for line in kept.lines], len(kept.lines))
    dearer = money(order, kept.cost - order.cost)
    where = "at every reading" if not left else f"at all readings but {len(left)}"
    found = "" if kept.proven else ", the cheapest found"
    return (
        f" What is bought goes by its cost: {bought} in its place, {money(order, kept.cost)}, {dearer} more{found}, "
        f"keeps it {where}: shimopt order JOB --keep-balances."
    )


def _held_after_fitting(one: Uneven, within: str) -> str:
    """What shows on the bench, without a computer, whether gaps that are meant alike came out so."""
    if not one.read_again:
        return ""
    names = listed(one.balance.members, len(one.balance.members))
    return (
        f" After fitting read {'both' if len(one.balance.members) == 2 else 'all'} again: {names} have to stand within "
        f"{within} of each other; where they do not, stop and plan again."
    )


def _read_where(order: Order, one: Uneven, say: Speaker) -> str:
    """`(front: 0.414 to 0.427 mm; rear: 0.44 to 0.453 mm)`: readings at which it is more than it may be."""
    told = [
        f"({'; '.join(_read_from(order, gap, *ends, say) for gap, ends in readings)})"
        for readings in one.where[:_MOST_ROWS]
    ]
    told += [f"at {len(one.where) - len(told)} more pairs of rows"] if len(one.where) > len(told) else []
    return " or ".join(told)


def _read_from(order: Order, gap: int, start: Fraction, end: Fraction, say: Speaker) -> str:
    demand = order.answered[gap]
    name, read = named(order, demand.job, demand.gap.name), readings_text(order, demand, start, end, say)
    if demand.step is not None and start == end and demand.pairs and start not in demand.pairs:
        # a row of blades further out
        own, sign = of_blades(order, demand, say), demand.gap.reading.sign
        read = f"{own(sign * start - demand.step / 2)} goes, {own(sign * start + demand.step / 2)} does not"
    return f"{name}: {read}"


def _read_at(order: Order, gap: int, at: Fraction, say: Speaker) -> str:
    """A gap as it is read at a best estimate, by a pair of blades or by what is half-way between them."""
    demand = order.answered[gap]
    name = named(order, demand.job, demand.gap.name)
    if demand.pairs:
        return f"{name} read as {readings_text(order, demand, at, at, say)}"
    sign = demand.gap.reading.sign
    return f"{name} read at {'a middle of ' if demand.told_by == 'pair' else ''}{say.clearance(sign * at, sign * at)}"
