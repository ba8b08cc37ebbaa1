"""What an order is told with beside its purchases: why, what it is worth, who takes what, what is left, how proven."""

from __future__ import annotations

from collections import Counter
from itertools import groupby

from shimopt.errors import shown
from shimopt.ordering.large_market_stacks import is_large
from shimopt.ordering.order_result import Order
from shimopt.words.bill_words import cost_text, days_text
from shimopt.words.order_part_words import order_part
from shimopt.words.order_words import level_text, order_reasons
from shimopt.words.speaker import Speaker
from shimopt.words.worth_words import OPTION_NAMES, at_least

# so many reasons of one kind are told gap by gap, more of them in one sentence
_MOST_APART = 4
WORTH_HEAD = ("", "cost", "arrives in", "one order is enough")
# what is proven is the cheapest for cards that hold each by itself
APART = (
    "Every card has pieces of its own, whatever the other gaps read. A plan of all final readings, which shares them "
    "out, may do with less: that is not looked at."
)


def why_words(order: Order) -> list[str]:
    """The reasons, those of many gaps that need nothing more joined."""
    texts = []
    for code, group in groupby(order_reasons(order), key=lambda reason: reason[1]):
        reasons = list(group)
        drawer = "The drawer, with what is on order, serves" if order.awaited else "The drawer serves"
        joined = {
            "nothing_needed": "Inside at every reading as they are",
            "drawer_serves": drawer,
            "order_serves": "What is bought goes into",
        }
        if code in joined and len(reasons) > _MOST_APART:
            texts.append(f"{joined[code]}: {', '.join(about for about, _, _ in reasons)}.")
        else:
            texts += [words for _, _, words in reasons]
    return texts


def worth_rows(order: Order) -> list[tuple[str, str, str, str]]:
    """A row for each way to order, under `WORTH_HEAD`; none where nothing is to buy."""
    if not any(any(option.packs) for option in order.options):
        return []
    return [
        (OPTION_NAMES[one.name], cost_text(order, one.cost), days_text(one.arrives_in_days), at_least(one))
        for one in order.options
    ]


def jobs_words(order: Order) -> list[str]:
    """What each of several jobs takes."""
    if len(order.jobs) == 1:
        return []
    texts = []
    for number, job in enumerate(order.jobs):
        aside: Counter[int] = Counter()
        for demand, card in zip(order.demands, order.cards, strict=True):
            if demand.job == number:
                aside += card.most_of
        parts = ", ".join(f"{n} x {order_part(order, i)}" for i, n in sorted(aside.items())) or "nothing"
        texts.append(f"{shown(job.title)}: {parts}.")
    return texts


def left_words(order: Order) -> list[str]:
    """What lies in the drawer afterwards; of an order that is no answer nothing is told."""
    texts = []
    for left in order.left if order.answered else ():
        count = f"{left.least}" if left.least == left.most else f"{left.least} to {left.most}"
        late = min(order.stock[left.part].coming, left.most)
        texts.append(f"{count} x {order_part(order, left.part)}" + (f" ({late} of them on order)" if late else ""))
    return [", ".join(texts) + "."] if texts else []


def proof_words(order: Order, say: Speaker) -> list[str]:
    """How far it is proven, and each level's value."""
    if not order.answered:
        return []
    start = "Proven best at every level" if order.proven else "Not proven best at every level"
    when = f"{'in' if order.proven else 'after'} {order.seconds:.2f} s"
    # of what buys nothing the money says nothing
    told = [level for level in order.levels if order.lines or level.name in ("open", "missing")]
    levels = [level_text(order, level, say) for level in told if level.name != "unpriced" or level.value]
    said = [f"{start}, {when}; every card checked again by plain arithmetic.", ", ".join(levels) + "."]
    searched = not is_large(order.market, order.demands) and (not order.tables or order.searched_together)
    in_parts = order.spend is not None and order.unlimited is not None and order.searched_together
    if not order.proven and in_parts:
        said.append("Within what may be spent, readings of places that act together are looked at in equal parts.")
    elif not order.proven and order.out_of_time:
        said.append("It stopped when its time was over: a longer `--time-limit` looks further, and may settle it.")
    elif not order.proven and order.lines and searched:
        said.append("It stopped after so many steps: `--steps 2000` looks further, and may settle it.")
    if any(table.open for table in order.tables):
        said.append("Of a table, readings not covered are its share of the lengths that its gaps may read together.")
    shared = (order.lines or not order.whole) and len(order.cards) + len(order.tables) > 1
    return [*said, APART] if shared else said
